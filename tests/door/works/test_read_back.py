"""Due times as independent readers find them in what is printed, packed and pinned up.

A reader of the timer's text, one of the card's page, the compiled C reader of the table and a
reader of calendars each say when the door moves; JSON has to say the same.
"""

from __future__ import annotations

import calendar
import csv
import datetime as dt
import io
import json
import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.door.reader.compiled import read_with_c
from peers.calendar_reader import SITE_ID, movements

YEAR = ("--year", "2027")
MONTHS = list(calendar.month_abbr)[1:]
HOUSE = f"""\
id = "{SITE_ID}"
name = "Reader's house (demo)"
[place]
latitude = {{}}
longitude = {{}}
zone = "{{}}"
[head_count]
after_close_min = 25
{{}}"""
PLACES = {
    "Utrecht": (52.09, 5.12, "Europe/Amsterdam"),
    "Dunedin": (-45.87, 170.5, "Pacific/Auckland"),
    "Lord Howe": (-31.55, 159.08, "Australia/Lord_Howe"),
}
EACH_PLACE = pytest.mark.parametrize("place", PLACES)


def house(place, tables):
    Path("site.toml").write_text(HOUSE.format(*PLACES[place], tables))
    return get_zone(PLACES[place][2])


def days_of(daylatch, *dates):
    ran = daylatch("plan", *(dates or YEAR), "--to", "json")
    assert ran.status == 0, ran.err
    return json.loads(ran.out)["days"]


def wall(text):
    return np.datetime64(text[:16], "m")


def lateness(day, side):
    return (
        dt.datetime.fromisoformat(day[f"{side}_due"]) - dt.datetime.fromisoformat(day[side])
    ) // dt.timedelta(minutes=1)


def check_days(days):
    """Head counts and lateness follow from the times themselves; nothing is early."""
    for day in days:
        closes, counts = (
            dt.datetime.fromisoformat(day[key]) for key in ("close_due", "head_count")
        )
        assert counts - closes == dt.timedelta(minutes=25)
        for side in ("open", "close"):
            assert day[f"{side}_late_min"] == lateness(day, side) >= 0
    for day, following in pairwise(days):
        assert day["next_open"] == following["open_due"]
        lock_in = dt.datetime.fromisoformat(day["next_open"]) - dt.datetime.fromisoformat(
            day["close_due"]
        )
        assert day["lock_in_min"] == lock_in // dt.timedelta(minutes=1)


# --- the timer's printed list ----------------------------------------------------------------


def read_list(text):
    """Return the settings of a printed list: first date, and the times of opening and closing.

    What is in brackets stays as it was; a mark behind a time is its day.
    """
    rows = []
    for line in text.splitlines():
        found = re.match(r"[A-Z][a-z]{2} (\d{4}-\d{2}-\d{2}) +(.*)", line)
        if found is None:
            continue
        times = re.findall(r"\(?(\d{2}):(\d{2})\)?([<>]?)", found[2])[:2]
        shifts = {"": 0, "<": -1440, ">": 1440}
        minutes = [60 * int(hour) + int(minute) + shifts[mark] for hour, minute, mark in times]
        rows.append((dt.date.fromisoformat(found[1]), minutes))
    return rows


@EACH_PLACE
@pytest.mark.parametrize("clock", ["wall", "standard", "utc"])
def test_the_timers_text(daylatch, place, clock):
    zone = house(place, f'[door]\nworks = "timer"\nclock = "{clock}"\n[timer]\nstep_min = 5\n')
    rows = read_list(daylatch("settings", *YEAR).out)
    assert len(rows) > 10
    days = days_of(daylatch)
    check_days(days)
    standard = zone.standard_offset(np.array(["2027-01-01"], "datetime64[D]"))[0]
    for day in days:
        date = dt.date.fromisoformat(day["date"])
        _, minutes = [row for row in rows if row[0] <= date][-1]
        for side, minute in zip(("open", "close"), minutes, strict=True):
            shown = np.datetime64(date, "m") + minute
            due = dt.datetime.fromisoformat(day[f"{side}_due"])
            utc = np.datetime64(due.astimezone(dt.UTC).replace(tzinfo=None), "m")
            clocks = {"wall": wall(day[f"{side}_due"]), "standard": utc + standard, "utc": utc}
            assert clocks[clock] == shown, (date, side)


# --- the table's bytes, through the compiled C reader ------------------------------------------


@EACH_PLACE
def test_the_tables_bytes(daylatch, place):
    house(place, "[door]\nwithin_min = 2\n")
    assert daylatch("plan", *YEAR, "--to", "table", "-o", "door.bin").status == 0
    unknown = days_of(daylatch, *YEAR)
    for day in unknown:
        assert day["open_due"] is day["close_due"] is None
        assert day["open_late_min"] is day["close_late_min"] is None
    house(place, '[door]\nwithin_min = 2\nin_use = "door.bin"\n')
    days = days_of(daylatch)
    check_days(days[:-1])
    reader = read_with_c(Path("door.bin").read_bytes())
    late = set()
    for day in days:
        date = (dt.date.fromisoformat(day["date"]) - dt.date(2000, 1, 1)).days
        midnight = np.datetime64(day["date"], "m")
        for closing, side in enumerate(("open", "close")):
            shown = midnight + reader.time(date, closing)
            assert wall(day[f"{side}_due"]) == shown
            late.add(day[f"{side}_late_min"])
    assert late == {0, 1, 2}


# --- the card's page ---------------------------------------------------------------------------


class Card(HTMLParser):
    """The rows of a card's page, cell by cell."""

    def __init__(self):
        super().__init__()
        self.rows, self.row, self.inside, self.cell = [], [], False, ""

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.row = []
        if tag in ("td", "th"):
            self.inside, self.cell = True, ""

    def handle_endtag(self, tag):
        if tag in ("td", "th"):
            self.inside = False
            self.row.append(self.cell.strip())
        if tag == "tr":
            self.rows.append(self.row)

    def handle_data(self, data):
        if self.inside:
            self.cell += data


def dates_of(label):
    """Return the dates of a row, such as ``28 Jun-2 Jul``, in 2027."""
    if label in calendar.month_name:
        month = list(calendar.month_name).index(label)
        return dt.date(2027, month, 1), dt.date(2027, month, calendar.monthrange(2027, month)[1])
    ends = [part.split() for part in label.split("\N{EN DASH}")]
    month = MONTHS.index(ends[-1][1]) + 1
    last = dt.date(2027, month, int(ends[-1][0]))
    first_month = MONTHS.index(ends[0][1]) + 1 if len(ends[0]) > 1 else month
    return dt.date(2027, first_month, int(ends[0][0])), last


def read_card(page):
    """Return for each date what its row says: opening, closing and head count as they stand."""
    card = Card()
    card.feed(page)
    found = {}
    for row in card.rows:
        times = [cell for cell in row if re.match(r"\d{2}:\d{2}", cell)]
        if len(times) != 3:
            continue
        first, last = dates_of(row[0])
        for number in range((last - first).days + 1):
            found[str(first + dt.timedelta(days=number))] = times
    return found


@EACH_PLACE
@pytest.mark.parametrize("keys", ["", 'rows = "months"', "late_by_min = 5"])
def test_the_cards_page(daylatch, place, keys):
    house(place, f'[door]\nworks = "hand"\n[card]\n{keys}\n')
    ran = daylatch("card", *YEAR, "-o", "card.html")
    if ran.status and "late_by_min" in keys:
        pytest.fail(ran.err)
    said = read_card(Path("card.html").read_text())
    days = days_of(daylatch)
    check_days(days)
    assert len(said) == len(days) == 365
    late = set()
    for day in days:
        times = [day[key][11:16] for key in ("open_due", "close_due", "head_count")]
        assert said[day["date"]] == times
        late.add(day["close_late_min"])
    assert max(late) > 3
    assert "late_by_min" not in keys or max(late) <= 5


# --- calendars and CSV -------------------------------------------------------------------------


@pytest.mark.parametrize("works", ["timer", "hand", "controller"])
def test_calendar_and_csv_say_what_json_says(daylatch, works):
    house("Utrecht", f'[door]\nworks = "{works}"\n')
    days = days_of(daylatch)
    ran = daylatch("plan", *YEAR, "--to", "ics")
    starts, ends = movements(ran.out.encode())
    rows = list(csv.DictReader(io.StringIO(daylatch("plan", *YEAR, "--to", "csv").out)))
    for day, row in zip(days, rows, strict=True):
        key = day["date"].replace("-", "")
        for side in ("open", "close"):
            utc = np.datetime64(
                dt.datetime.fromisoformat(day[f"{side}_due"])
                .astimezone(dt.UTC)
                .replace(tzinfo=None),
                "m",
            )
            assert starts[key, side] == utc
            assert row[f"{side}_due_local"] == day[f"{side}_due"]
            assert row[f"{side}_due_utc"] == f"{utc}:00Z"
            assert row[f"{side}_late_min"] == str(day[f"{side}_late_min"])
        assert ends[key, "close"] == starts[key, "close"] + np.timedelta64(25, "m")
        assert row["head_count_local"] == day["head_count"]
        assert row["close_in_daylight"] == {True: "yes", False: "no"}[day["close_in_daylight"]]


def test_a_closing_in_daylight_is_said_everywhere(daylatch):
    span = '[[span]]\nfrom = 2027-07-01\nuntil = 2027-07-08\nclose.fixed = "16:45"\n'
    house("Utrecht", span)
    dates = ("--from", "2027-06-28", "--until", "2027-07-12")
    marked = [day["date"] for day in days_of(daylatch, *dates) if day["close_in_daylight"]]
    assert marked == [f"2027-07-0{number}" for number in range(1, 9)]
    for ran in (daylatch("check"), daylatch("plan", *dates)):
        words = " ".join(ran.out.split())
        assert "closes in daylight on 8 days, first 2027-07-01, last 2027-07-08" in words
    told = " ".join(daylatch("explain", "2027-07-03").out.split())
    assert "birds outside then stay out: shut them in first, or close after 22:0" in told
    house("Utrecht", span + "close.shut_in_by_hand = true\n")
    words = " ".join(daylatch("plan", *dates).out.split())
    assert "closes in daylight on 8 days" in words
    assert "you shut the birds in by hand first" in words
    assert "stay out: shut them in first, or close after" not in words
