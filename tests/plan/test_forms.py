"""Text, CSV and JSON: their shape, their marks, and what they take for their own."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.cautions import CAUTION
from daylatch.files.csv_file import defuse, fuse
from daylatch.files.occasion import Occasion
from daylatch.plan.csv import HEADER
from daylatch.plan.summary import describe_rules
from daylatch.plan.text import FIRST_LINE, MARKS
from plan_forms import EXPORTS, get_writer, written
from sites import FALLBACKS, LONGYEARBYEN, NY_ALESUND, TAMPERE, UTRECHT, Spot, plan, site

OCCASION = Occasion(dt.datetime(2027, 1, 1, tzinfo=dt.UTC))


def text_of(found) -> str:
    return written("text", found, OCCASION).decode()


def rows_of(found) -> list[dict[str, str]]:
    content = written("csv", found, OCCASION).decode()
    return list(csv.DictReader(io.StringIO(content, newline="")))


def json_of(found) -> dict:
    return json.loads(written("json", found, OCCASION))


def day_line(text: str, number: int) -> str:
    return next(line for line in text.splitlines() if line.startswith(f"{number:2d} "))


# --- Text -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mark", "spot", "date", "settings"),
    [
        ("+", UTRECHT, "2027-03-28", ""),
        ("*", UTRECHT, "2027-03-20", "[[span]]\nfrom = 2027-03-20\nuntil = 2027-03-20\n"),
        ("~", TAMPERE, "2027-06-15", FALLBACKS),
        (">", TAMPERE, "2027-05-28", FALLBACKS),
        ("^", UTRECHT, "2027-03-20", "[open]\noffset_min = -120\n"),
        ("!", UTRECHT, "2027-12-20", "[day]\nleast_open_h = 14\n"),
    ],
)
def test_each_mark_stands_on_its_day_and_is_explained(mark, spot, date, settings):
    with_mark = text_of(plan(spot, date, settings=settings))
    assert mark in day_line(with_mark, int(date[-2:]))[14:]
    assert f"{mark}  {MARKS[mark]}" in with_mark
    plain = text_of(plan(UTRECHT, "2027-03-20"))
    assert f"{mark}  {MARKS[mark]}" not in plain


def test_a_shut_day_says_so_in_the_table():
    text = text_of(plan(NY_ALESUND, "2027-12-20", "2027-12-21"))
    assert day_line(text, 20).split() == ["20", "shut"]
    assert "Shut all day        2 days: 2027-12-20 to 2027-12-21" in text


@pytest.mark.parametrize("clock", ["wall", "standard", "utc"])
def test_no_line_is_wider_than_a_terminal(clock):
    settings = FALLBACKS + f'[door]\nclock = "{clock}"\n[day]\nleast_open_h = 9\n'
    text = text_of(plan(LONGYEARBYEN, "2027-01-01", "2027-12-31", settings))
    assert max(map(len, text.splitlines())) <= 80
    assert all(line == line.rstrip() for line in text.splitlines())


def test_the_summary_names_shortfalls_clock_changes_and_the_second_opinion():
    text = " ".join(
        text_of(plan(UTRECHT, "2027-01-01", "2027-12-31", "[day]\nleast_open_h = 10\n")).split()
    )
    assert "2027-03-28 forward 1 h 00 min (02:00 becomes 03:00)" in text
    assert (
        "Second opinion agrees, nothing to do: a second, independent computation of the Sun "
        "(astral) finds the same 730 light events (when the Sun passes the light you chose), to "
        "within "
    ) in text
    assert "Too little open" not in text
    short = " ".join(
        text_of(plan(UTRECHT, "2027-12-20", settings="[day]\nleast_open_h = 14\n")).split()
    )
    assert "Too little open 1 day, at worst by" in short


def test_minutes_of_difference_and_what_is_not_compared_do_not_frighten():
    text = " ".join(text_of(plan(LONGYEARBYEN, "2027-01-01", "2027-12-31", FALLBACKS)).split())
    opinion = re.search(
        r"light you chose\), to within (\d+) min and (0\.\d\d)° of its height \(from 0\.5° on "
        r"there would be no plan\)\. Minutes are normal on days when the Sun hardly rises or sinks",
        text,
    )
    assert int(opinion[1]) >= 1
    assert float(opinion[2]) < 0.5
    lacking = plan(LONGYEARBYEN, "2027-01-01", "2027-12-31", FALLBACKS).second_opinion.unchecked
    assert lacking
    assert f". Not compared: {lacking[0]}" in text
    assert "as is usual when the Sun barely reaches the light: nothing to do" in text


@pytest.mark.parametrize(
    ("settings", "rules"),
    [
        (
            "",
            [
                "Opens 15 min after civil dawn (Sun 6° below the horizon)",
                "Closes 15 min after civil dusk",
            ],
        ),
        (
            '[open]\nlight = "sunrise"\noffset_min = 0\n[close]\nlight = 7.5\noffset_min = -5\n',
            ["Opens at sunrise", "Closes 5 min before dusk with the Sun 7.5° below the horizon"],
        ),
        (
            '[open]\nlight = "nautical"\ndark_fallback = "09:00"\n'
            '[close]\nlight = -3\noffset_min = 0\nfallback = "22:30"\n',
            [
                "Opens 15 min after nautical dawn (Sun 12° below the horizon), at 09:00 on days "
                "that never get so light",
                "Closes at dusk with the Sun 3° above the horizon, at 22:30 on days that never get "
                "so dark",
            ],
        ),
    ],
)
def test_rules_are_told_in_sentences(settings, rules):
    assert list(describe_rules(site(UTRECHT, settings))) == rules


def test_a_standard_clock_that_must_follow_its_zone_is_told():
    vancouver = Spot(49.25, -123.1, "America/Vancouver")
    settings = '[door]\nclock = "standard"\n'
    text = " ".join(text_of(plan(vancouver, "2026-12-30", "2027-01-02", settings)).split())
    # From 2026 on the zone keeps UTC-7 for good (IANA 2026f).
    assert "set it from UTC-08:00 to UTC-07:00 on 2027-01-01" in text


def test_a_skipped_date_is_told_as_that():
    text = text_of(plan(Spot(-13.83, -171.77, "Pacific/Apia"), "2011-12-28", "2012-01-01"))
    assert "Clock changes       2011-12-30 is skipped by the calendar" in text


def test_the_caution_stands_in_the_text():
    text = " ".join(text_of(plan(UTRECHT, "2027-01-01")).split())
    assert CAUTION in text
    assert "time-zone rules 2026f" in text


# --- CSV: RFC 4180 --------------------------------------------------------------------------


def test_csv_lines_end_as_rfc_4180_section_2_says_and_each_has_every_field():
    content = written("csv", plan(UTRECHT, "2027-01-01", "2027-01-10"), OCCASION)
    lines = content.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert lines[0].decode() == ",".join(HEADER)
    assert {len(row) for row in csv.reader(io.StringIO(content.decode(), newline=""))} == {
        len(HEADER)
    }


def test_a_csv_row_reads_as_a_keeper_expects():
    settings = (
        '[door]\nclock = "utc"\n[[span]]\nfrom = 2027-06-21\nuntil = 2027-06-21\n'
        'reason = "=HYPERLINK(1)"\nclose.offset_min = 20\n'
    )
    (row,) = rows_of(plan(UTRECHT, "2027-06-21", settings=settings))
    assert row["open_local"].endswith("+02:00")
    assert row["open_door_clock"] == row["open_utc"].replace("Z", "+00:00")
    assert row["open_reason"] == "civil dawn +15 min"
    assert row["close_reason"] == "civil dusk +20 min"
    assert row["span_reason"] == "'=HYPERLINK(1)"
    assert row["caution"] == CAUTION


def test_a_shut_day_has_empty_times_in_csv_and_nulls_in_json():
    settings = "[[span]]\nfrom = 2027-06-21\nuntil = 2027-06-21\nshut = true\n"
    found = plan(UTRECHT, "2027-06-21", settings=settings)
    (row,) = rows_of(found)
    assert row["open_local"] == row["close_utc"] == row["lock_in_min"] == ""
    assert row["open_reason"] == "shut: dated span"
    (day,) = json_of(found)["days"]
    assert day["open"] is day["close"] is day["lock_in_min"] is day["head_count"] is None
    assert day["open_rule"] == "shut_span"
    # The Sun goes on.
    assert day["open_event"].endswith("Z")


@given(st.text(max_size=30))
def test_defusing_can_be_undone_and_leaves_no_formula(text):
    assert fuse(defuse(text)) == text
    assert not defuse(text).lstrip().startswith(("=", "+", "-", "@"))
    assert not defuse(text).startswith(("\t", "\r"))


@pytest.mark.parametrize(
    "text", [" =1+1", "\u3000\u00a0@SUM(A1)", "\uff1d1+1", " \uff0bA1", "\ufe63A1", "\uff20SUM(A1)"]
)
def test_a_formula_behind_blanks_or_in_full_width_is_defused(text):
    assert defuse(text) == f"'{text}"


# --- JSON -----------------------------------------------------------------------------------


def test_json_has_the_fields_that_were_promised():
    data = json_of(plan(UTRECHT, "2027-06-21"))
    assert data["generator"]["name"] == "daylatch"
    assert data["zone_rules"] == "2026f"
    assert data["caution"] == CAUTION
    assert set(data["site"]) == {"id", "name", "latitude_deg", "longitude_deg", "zone", "door"}
    assert data["site"]["door"] == {"works": "controller"}
    (day,) = data["days"]
    assert {
        "date",
        "open",
        "close",
        "open_reason",
        "close_reason",
        "open_event",
        "close_event",
        "open_due",
        "close_due",
        "open_late_min",
        "close_late_min",
        "close_in_daylight",
        "sun",
        "sky",
    } <= set(day)
    assert set(day["sun"]) == {"dawn", "sunrise", "transit", "sunset", "dusk"}
    assert day["sky"] == {"dawn": "crosses", "dusk": "crosses"}
    moments = [dt.datetime.fromisoformat(day["sun"][key]) for key in day["sun"]]
    assert moments == sorted(moments)
    # To the millisecond.
    assert all(len(day["sun"][key].split(".")[1]) == len("123Z") for key in day["sun"])
    assert day["open_event"] == day["sun"]["dawn"]


def test_json_gives_nulls_and_states_in_a_white_night():
    (day,) = json_of(plan(TAMPERE, "2027-06-21", settings=FALLBACKS))["days"]
    assert day["sun"]["dawn"] is day["sun"]["dusk"] is day["open_event"] is None
    assert day["sun"]["sunrise"] is not None
    assert day["sky"] == {"dawn": "always above", "dusk": "always above"}
    assert day["open_reason"] == "fallback"


# --- What a writer takes for its own --------------------------------------------------------


@pytest.mark.parametrize("export", sorted(EXPORTS))
def test_a_writer_knows_its_own_files_and_no_others(export):
    found = plan(UTRECHT, "2027-01-01", "2027-01-03")
    contents = {name: written(name, found, OCCASION) for name in EXPORTS}
    for name, content in contents.items():
        assert get_writer(export).wrote(content) is (name == export)


@pytest.mark.parametrize("export", sorted(EXPORTS))
@given(st.binary(max_size=200))
def test_no_bytes_upset_a_writer(export, content):
    assert get_writer(export).wrote(content) is False


@pytest.mark.parametrize(
    ("export", "content"),
    [
        ("text", f"{FIRST_LINE} of mine\n".encode()),
        ("csv", b"date,open_local\r\n"),
        ("json", b'{"generator": "daylatch"}'),
        ("json", b'[{"generator": {"name": "daylatch"}}]'),
        ("json", b"[" * 100_000),
        ("ics", b"BEGIN:VCALENDAR\r\nPRODID:-//someone//else//EN\r\nEND:VCALENDAR\r\n"),
    ],
)
def test_what_only_looks_alike_is_not_ours(export, content):
    assert get_writer(export).wrote(content) is False
