"""Calendar files as ical.js reads them, with nothing of a zone but what the file says."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import numpy as np
import pytest

from daylatch.cautions import CAUTION
from daylatch.site.calendar import Calendar
from peers.calendar_reader import (
    FALLBACKS,
    SITE_ID,
    STAMP,
    ZONES,
    make,
    planned,
    shipped_zone,
    unescape,
    write,
)
from peers.ical_js import needs_ical_js, read_all

pytestmark = needs_ical_js
FORMS = {
    "utc": Calendar(),
    "zone": Calendar(times="zone"),
    "days": Calendar(style="days"),
    "steps": Calendar(style="steps"),
}
ZONE = '[calendar]\ntimes = "zone"\n'
IDS = [zone[0] for zone in ZONES]
LATER = dt.datetime(2026, 12, 9, 18, 30, 5, tzinfo=dt.UTC)
AWKWARD = 'A, b; c\\N "d" \N{CHICKEN}\N{CHICKEN} <b>&amp;</b> \u05d0\u05d1 ' + "\N{CHICKEN}" * 30
STORM = '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-11\nshut = true\nreason = "a, b; c\\\\N"\n'


@pytest.fixture(scope="module")
def plans():
    found = {}
    for zone, place, first, last in ZONES:
        plan = make(first, last, FALLBACKS, zone=zone, place=place)
        for form, table in FORMS.items():
            # The calendar's table has no part in the plan.
            wanted = dataclasses.replace(plan.site.settings, calendar=table)
            site = dataclasses.replace(plan.site, settings=wanted)
            found[zone, form] = dataclasses.replace(plan, site=site)
    return found


@pytest.fixture(scope="module")
def found(plans, tmp_path_factory):
    """Return every file of this module as read, in one run of node."""
    files = {key: write(plan) for key, plan in plans.items()}
    shown = (
        '[calendar]\nshow = ["reasons", "place", "notes"]\nreminder_min = 90\ncolor = "SeaGreen"\n'
    )
    files["awkward"] = write(
        make("2027-03-09", "2027-03-10", STORM + shown, name=AWKWARD, notes=f"{AWKWARD}\n\nend")
    )
    before = write(make("2027-03-09", "2027-03-12", ZONE))
    dropped = make("2027-03-09", "2027-03-12", STORM + ZONE)
    files["update"] = write(dropped, before, LATER, update=True)
    again = make("2027-03-09", "2027-03-12", ZONE)
    files["back"] = write(again, files["update"], LATER, update=True)
    return read_all(files, tmp_path_factory.mktemp("calendars"))


def instant(moment):
    assert moment.keys() == {"unix_s"}
    return np.datetime64(moment["unix_s"], "s").astype("datetime64[m]")


def by_kind(events):
    starts, ends = {}, {}
    for event in events:
        date, kind = event["uid"].removeprefix(f"{SITE_ID}-").split("-")
        if kind in ("open", "close"):
            starts[date, kind] = instant(event["start"])
            ends[date, kind] = instant(event["end"])
    return starts, ends


@pytest.mark.parametrize("zone", IDS)
@pytest.mark.parametrize("form", ["utc", "zone"])
def test_every_instant_is_the_plans(plans, found, zone, form):
    plan = plans[zone, form]
    assert len(planned(plan)[0]) > 10
    assert by_kind(found[zone, form]["events"]) == planned(plan)


def test_the_zones_are_at_least_eight_and_hold_the_awkward_ones(plans):
    assert len(IDS) >= 8
    wanted = {"Australia/Lord_Howe", "Europe/Dublin", "Africa/Casablanca", "Pacific/Kiritimati"}
    assert wanted | {"Pacific/Chatham", "America/Santiago"} <= set(IDS)
    plans_in_utc = [plans[zone, "utc"] for zone in IDS]
    changing = [p for p in plans_in_utc if len(p.zone.changes(p.open_utc[0], p.close_utc[-1]))]
    assert len(changing) >= 8


@pytest.mark.parametrize("zone", IDS)
def test_a_line_a_day_stands_on_its_date_with_its_times(plans, found, zone):
    plan = plans[zone, "days"]
    events = found[zone, "days"]["events"]
    assert [event["start"] for event in events] == [{"date": str(date)} for date in plan.dates]
    assert [event["end"] for event in events] == [{"date": str(date + 1)} for date in plan.dates]
    clock = shipped_zone(zone)
    for event, index in zip(events, range(len(plan)), strict=True):
        if plan.is_open[index]:
            walls = [
                times[index].item().replace(tzinfo=dt.UTC).astimezone(clock)
                for times in (plan.open_utc, plan.close_utc)
            ]
            shown = re.findall(r"\d\d:\d\d", event["summary"])
            assert shown == [f"{wall:%H:%M}" for wall in walls]


@pytest.mark.parametrize("zone", IDS)
def test_a_step_holds_until_the_next_never_early_and_less_than_a_step_late(plans, found, zone):
    plan = plans[zone, "steps"]
    events = {event["start"]["date"]: event for event in found[zone, "steps"]["events"]}
    clock = shipped_zone(zone)
    held = None
    for index, date in enumerate(plan.dates):
        held = events.get(str(date), held)
        if not plan.is_open[index]:
            assert held["summary"] == "From today: door stays shut"
            continue
        shown = re.findall(r"(\d\d):(\d\d)(?: \((\w+) day\))?", held["summary"])
        for (hour, minute, day), times in zip(shown, (plan.open_utc, plan.close_utc), strict=True):
            said = 60 * int(hour) + int(minute) + {"": 0, "next": 1440, "previous": -1440}[day]
            wall = times[index].item().replace(tzinfo=dt.UTC).astimezone(clock)
            midnight = dt.datetime.combine(date.item(), dt.time(), clock)
            late = said - (wall.replace(tzinfo=None) - midnight.replace(tzinfo=None)).seconds / 60
            if wall.date() < date.item():
                late += 1440
            if wall.date() > date.item():
                late -= 1440
            assert 0 <= late < 15


def test_texts_reminders_colour_and_refresh_come_through(found):
    calendar = found["awkward"]
    # Like the library that writes, ical.js takes a calendar's name for a text of unknown kind, and
    # leaves it escaped.
    assert unescape(calendar["name"]) == f"Hen house door: {AWKWARD}"
    assert calendar["description"].startswith(CAUTION)
    assert calendar["color"] == "seagreen"
    assert calendar["refresh_s"] == 86400
    opening, closing, shut = calendar["events"]
    assert opening["description"].endswith(f"\n{AWKWARD}\n\nend")
    assert shut["description"] == f"Why: shut: dated span; a, b; c\\N\n{AWKWARD}\n\nend"
    assert [event["reminders_s"] for event in (opening, closing, shut)] == [[], [-5400], []]
    assert {event["location"] for event in calendar["events"]} == {"52.1 N 5.2 E"}


def test_an_update_tells_what_no_longer_holds_and_since_when(found):
    events = {event["uid"][-14:].lstrip("-"): event for event in found["update"]["events"]}
    status = {uid: (event["status"], event["sequence"]) for uid, event in events.items()}
    assert status == {
        "20270309-open": ("CONFIRMED", 0),
        "20270309-close": ("CONFIRMED", 0),
        "20270310-shut": ("CONFIRMED", 0),
        "20270311-shut": ("CONFIRMED", 0),
        "20270312-open": ("CONFIRMED", 0),
        "20270312-close": ("CONFIRMED", 0),
        "20270310-open": ("CANCELLED", 1),
        "20270310-close": ("CANCELLED", 1),
        "20270311-open": ("CANCELLED", 1),
        "20270311-close": ("CANCELLED", 1),
    }
    plan = make("2027-03-09", "2027-03-12")
    assert instant(events["20270310-open"]["start"]) == plan.open_utc[1]
    assert instant(events["20270311-close"]["start"]) == plan.close_utc[2]
    for event in events.values():
        is_old = event["status"] == "CONFIRMED" and not event["uid"].endswith("shut")
        assert event["stamp"] == {"unix_s": (STAMP if is_old else LATER).timestamp()}


def test_an_update_after_it_confirms_what_is_back(found):
    events = {event["uid"][-14:].lstrip("-"): event for event in found["back"]["events"]}
    assert (events["20270310-open"]["status"], events["20270310-open"]["sequence"]) == (
        "CONFIRMED",
        2,
    )
    shut = events["20270310-shut"]
    assert (shut["status"], shut["sequence"]) == ("CANCELLED", 1)
    assert (shut["start"], shut["end"]) == ({"date": "2027-03-10"}, {"date": "2027-03-11"})
    assert shut["summary"] == "Cancelled: Door stays shut"


def test_nothing_floats_and_nothing_recurs(found):
    for calendar in found.values():
        assert calendar["events"]
        for event in calendar["events"]:
            assert not event["recurring"]
            assert "unix_s" in event["stamp"]
            assert event["start"].keys() == event["end"].keys() <= {"unix_s", "date"}
