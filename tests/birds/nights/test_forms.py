"""Lock-ins as text, CSV and JSON, and the command that prints them."""

from __future__ import annotations

import csv
import io
import json
import re

import numpy as np
import pytest

from daylatch.birds.nights import csv as nights_csv
from daylatch.birds.nights import json as nights_json
from daylatch.birds.nights import text as nights_text
from daylatch.birds.nights.nights import make_nights
from daylatch.birds.nights.summary import summarize_nights
from daylatch.plan.due import exactly
from sites import FALLBACKS, LONGYEARBYEN, LORD_HOWE, TAMPERE, UTRECHT, plan

MINUTE = np.timedelta64(1, "m")
SPAN = '[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-10\nreason = "order"\nshut = true\n'
LIMITS = '[open]\nnot_before = "07:00"\nfallback = "06:00"\n[close]\nfallback = "21:00"\n'


def made(spot, first, last, text="", hours=14):
    return summarize_nights(
        make_nights(exactly(plan(spot, first, last, text))), np.timedelta64(hours, "h")
    )


CASES = [
    (UTRECHT, "2027-02-01", "2027-04-10", SPAN),
    (TAMPERE, "2027-06-01", "2027-07-05", LIMITS),
    (LORD_HOWE, "2027-03-20", "2027-04-20", ""),
    (UTRECHT, "2027-02-08", "2027-02-09", SPAN),
    (UTRECHT, "2027-02-06", "2027-02-09", SPAN.replace("2027-02-10", "2028-12-31")),
]


def instant(text):
    """Return the instant of a date-time with its distance from UTC, read by Python alone."""
    from datetime import UTC, datetime  # noqa: PLC0415

    return np.datetime64(datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None), "m")


@pytest.mark.parametrize("case", CASES)
def test_csv_and_json_read_back_to_every_lock_in(case):
    summary = made(*case)
    nights = summary.nights
    rows = list(csv.DictReader(io.StringIO(nights_csv.render(summary).decode(), newline="")))
    data = json.loads(nights_json.render(summary))
    assert len(rows) == len(data["nights"]) == len(nights)
    for index, (row, night) in enumerate(zip(rows, data["nights"], strict=True)):
        assert row["date"] == night["date"] == str(nights.dates[index])
        assert instant(row["close_local"]) == instant(night["close"]) == nights.start_utc[index]
        assert row["close_utc"].endswith("Z")
        assert (
            int(row["open_span_min"]) == night["open_span_min"] == nights.open_span[index] // MINUTE
        )
        assert int(row["shut_days"]) == night["shut_days"] == nights.shut_days[index]
        if not nights.known[index]:
            assert row["next_open_local"] == row["lock_in_min"] == row["waking_min"] == ""
            assert night["next_open"] is night["lock_in_min"] is night["waking_min"] is None
            continue
        assert instant(row["next_open_utc"]) == instant(night["next_open"]) == nights.end_utc[index]
        assert int(row["lock_in_min"]) == night["lock_in_min"] == nights.length[index] // MINUTE
        assert int(row["dark_min"]) + int(row["waking_min"]) == int(row["lock_in_min"])
        assert abs(night["waking_min"] - nights.waking[index] / MINUTE) <= 0.5
        assert night["waking_min"] == int(row["waking_min"])


def test_json_totals_are_those_of_the_days():
    summary = made(UTRECHT, "2027-01-01", "2027-12-31", LIMITS + SPAN)
    data = json.loads(nights_json.render(summary))
    assert sum(month["lock_ins"] for month in data["months"]) == len(data["nights"]) == 362
    causes = data["summary"]["waking_min_by_rule"]
    assert set(causes) >= {"light", "offset", "limit", "span"}
    assert sum(causes.values()) == data["summary"]["waking_min"]
    assert data["shut_runs"] == [{"from": "2027-02-08", "until": "2027-02-10", "count": 3}]
    assert data["summary"]["longest"] == "2027-02-07"
    assert data["summary"]["longest_without_shut_day"][5:7] in ("12", "01")
    assert "count heads at dusk" in data["caution"]


@pytest.mark.parametrize("case", CASES)
def test_text_fits_a_terminal_and_holds_every_lock_in(case):
    summary = made(*case)
    text = nights_text.render(summary, daily=True).decode()
    assert max(map(len, text.splitlines())) <= 80
    total = sum(month.lock_ins for month in summary.months)
    assert total == len(summary.nights)
    for length in summary.nights.length[summary.nights.known]:
        minutes = int(length // MINUTE)
        assert f"{minutes // 60}:{minutes % 60:02d}" in text
    assert "count heads at dusk" in " ".join(text.split())


def test_each_form_tells_its_own_files_from_others():
    summary = made(*CASES[0])
    contents = {m: m.render(summary) for m in (nights_text, nights_csv, nights_json)}
    for module, own in contents.items():
        assert [module.wrote(content) for content in contents.values()].count(True) == 1
        assert module.wrote(own)
        assert not module.wrote(b"")
        assert not module.wrote(b'{"generator": {"name": "daylatch"}}')


HEAD = """\
daylatch nights
Alder Row (demo)
51.72 N 0.41 E, 2027-02-05 to 2027-02-24
A lock-in runs from closing to the next opening and belongs to its closing date
(wall clock of Europe/London; time-zone rules 2026f). Its waking part is light
enough for birds to be awake: the Sun less than 6° below the horizon. All
lengths are true hours, also across clock changes.

Longest lock-in       14 days 12 h 52 min from 2027-02-07: 8 days 0 h 56 min
                      dark, 6 days 11 h 56 min awake; 14 days of it shut all day
Longest single night  13 h 24 min from 2027-02-05: 13 h 09 min dark, 15 min
                      awake
Over 13 h 00 min      3 of 6 lock-ins: 2027-02-05 to 2027-02-07
Shut all day          14 days: 2027-02-08 to 2027-02-21
In all                shut in for 413 h, of which 157 h are light enough to be
                      awake
Awake because of      offset +5 h and dated spans +152 h

By month [hours:minutes]; for every night, add --daily
Median: half are shorter, half longer. Long: over 13 h 00 min.
         lock-ins                              door shut  of which  days shut
            begun  shortest  median  longest  long  in all     awake    all day
2027-02         6     12:17   12:53   348:52     3  413:13    157:14         14
"""


def test_the_command_prints_lock_ins(daylatch, alder_row):
    options = ("--from", "2027-02-05", "--until", "2027-02-24", "--longer-than", "13")
    ran = daylatch("nights", *options)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(HEAD)
    night = "\n 7 10:41  348:52 155:56\n"
    assert night not in ran.out
    assert night in daylatch("nights", *options, "--daily").out


def test_a_year_is_told_on_a_page_and_night_by_night_if_asked(daylatch, alder_row):
    ran = daylatch("nights", "--year", "2027")
    assert len(ran.out.splitlines()) < 45
    whole = daylatch("nights", "--year", "2027", "--daily")
    assert len(whole.out.splitlines()) > 140
    for form in ("csv", "json"):
        options = ("nights", "--year", "2027", "--to", form)
        assert daylatch(*options).out == daylatch(*options, "--daily").out


def test_the_longest_awake_is_told_where_it_is_another_lock_in():
    late = LIMITS.replace("07:00", "09:00")
    told = nights_text.render(made(UTRECHT, "2027-01-01", "2027-12-31", late)).decode()
    summary = made(UTRECHT, "2027-01-01", "2027-12-31", late)
    assert summary.longest_waking not in (summary.longest, summary.longest_night)
    date = summary.nights.dates[summary.longest_waking]
    hours, minutes = divmod(round(float(summary.nights.waking.max() / MINUTE)), 60)
    words = f"{hours} h {minutes:02d} min in the lock-in from {date}"
    assert f"\nLongest awake         {words}\n" in told
    # It is told already as the longest of all.
    assert "Longest awake" not in nights_text.render(made(*CASES[0])).decode()


@pytest.mark.parametrize(
    "case",
    [
        *CASES,
        (UTRECHT, "2027-01-01", "2027-12-31", LIMITS + SPAN),
        (LONGYEARBYEN, "2027-01-01", "2027-12-31", FALLBACKS),
        (LORD_HOWE, "2027-01-01", "2028-12-31", ""),
    ],
)
def test_months_and_rules_add_up_to_the_totals_beside_them(case):
    summary = made(*case)
    data = json.loads(nights_json.render(summary))
    months, totals = data["months"], data["summary"]
    for key in ("shut_min", "waking_min"):
        assert sum(month[key] for month in months) == totals[key], key
    assert sum(totals["waking_min_by_rule"].values()) == totals["waking_min"]
    for month, exact in zip(months, summary.months, strict=True):
        assert abs(month["waking_min"] - exact.waking / MINUTE) < 1
        assert abs(month["shut_min"] - exact.shut / MINUTE) < 2
        assert month["waking_min"] <= month["shut_min"]
    text = " ".join(nights_text.render(summary).decode().split())
    hours = int(re.search(r"of which (\d+) h are light enough", text)[1])
    causes = re.search(r"Awake because of (.*?) By month", text)[1]
    assert sum(map(int, re.findall(r"([+-]\d+) h", causes.replace("- ", "-")))) == hours


def test_the_command_writes_by_the_end_of_the_name(daylatch, alder_row):
    options = ("nights", "--year", "2027", "-o")
    for name, start in (("n.csv", b"date,"), ("n.json", b"{"), ("n.txt", b"daylatch nights")):
        assert daylatch(*options, name).status == 0
        written = alder_row.with_name(name)
        assert written.read_bytes().startswith(start)
        assert "already up to date" in daylatch(*options, name).err
    daylatch("plan", "--year", "2027", "--to", "json", "-o", "plan.json")
    ran = daylatch("nights", "--year", "2027", "-o", "plan.json")
    assert ran.status == 6
    assert "was not written by daylatch in this form" in ran.err


@pytest.mark.parametrize("hours", ["-1", "nan", "inf", "1e9", "x"])
def test_a_threshold_that_is_none_is_refused(daylatch, alder_row, hours):
    ran = daylatch("nights", "--longer-than", hours)
    assert ran.status == 2
    assert "longer-than" in ran.err
    assert ran.out == ""


def test_what_runs_into_the_range_is_no_all_clear():
    text = " ".join(
        nights_text.render(made(UTRECHT, "2027-02-08", "2027-02-09", SPAN)).decode().split()
    )
    assert (
        "Already under way a lock-in that began before these dates, with all of them shut" in text
    )
    assert "none of the lock-ins that begin in these dates" in text
    data = json.loads(nights_json.render(made(UTRECHT, "2027-02-09", "2027-02-12", SPAN)))
    assert data["summary"]["running"] == {"from": "2027-02-09", "until": "2027-02-10", "count": 2}
