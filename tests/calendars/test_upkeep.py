"""Entries for upkeep: on which dates, in what words, for whom, and what becomes of them."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.calendars.entries import make_events
from daylatch.calendars.feed import public_site
from daylatch.calendars.feed import render as render_feed
from daylatch.door.drift.drift import make_drift
from daylatch.files.occasion import Occasion
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.writing import Writing
from peers.calendar_reader import FALLBACKS, SITE_ID, STAMP, make, read, unescape, write

UPKEEP = "[calendar]\nupkeep = true\n"
LATER = dt.datetime(2026, 12, 9, 18, 30, 5, tzinfo=dt.UTC)
# The clock of docs/how-to/clock-drift.md: "by 2027-01-11, and then every 10 days".
CLOCK = """
[clock]
accuracy_ppm = 20
coldest_c = -10
warmest_c = 30
set_on = 2027-01-01
"""
KINDS = {"newtable", "newlist", "newcard", "clockcheck", "monthly"}
TITLES = {
    "newtable": "New table for the door's controller",
    "newlist": "New list for the hen house timer",
    "newcard": "New card for the hen house door",
    "clockcheck": "Compare the door's clock with one that is right",
    "monthly": "Test the door's obstruction stop and battery",
}


def upkeep_of(content):
    """Return date and kind of the upkeep in a calendar file, by the reader that is not ours."""
    found = []
    for event in read(content).of("VEVENT"):
        uid = event.value("UID").removeprefix(f"{SITE_ID}-")
        date, kind = uid.split("-")
        if kind not in KINDS:
            continue
        assert event.property("DTSTART") == ({"VALUE": "DATE"}, date)
        end = dt.date.fromisoformat(date) + dt.timedelta(days=1)
        assert event.property("DTEND") == ({"VALUE": "DATE"}, f"{end:%Y%m%d}")
        assert unescape(event.value("SUMMARY")) == TITLES[kind]
        assert event.value("STATUS") == "CONFIRMED"
        assert event.value("TRANSP") == "TRANSPARENT"
        assert event.of("VALARM") == []
        found.append((date, kind))
    return found


def works(name):
    return f'[door]\nworks = "{name}"\n'


def test_there_is_none_unless_it_is_asked_for():
    plan = make("2027-11-25", "2027-12-05", CLOCK)
    assert upkeep_of(write(plan)) == []
    # And what was there is there as it was.
    asked = write(make("2027-11-25", "2027-12-05", UPKEEP))
    kept = [e for e in read(asked).of("VEVENT") if e.value("UID").split("-")[-1] not in KINDS]
    assert kept == read(write(plan)).of("VEVENT")


@pytest.mark.parametrize(("name", "kind"), [("controller", "newtable"), ("timer", "newlist")])
def test_a_controller_and_a_timer(name, kind):
    content = write(make("2027-11-01", "2027-12-31", UPKEEP + works(name)))
    assert upkeep_of(content) == [
        ("20271101", "clockcheck"),
        ("20271101", "monthly"),
        ("20271201", kind),
        ("20271201", "clockcheck"),
        ("20271201", "monthly"),
    ]


def test_a_person_has_a_card_and_neither_a_clock_nor_a_motor():
    content = write(make("2027-11-01", "2027-12-31", UPKEEP + works("hand") + CLOCK))
    assert upkeep_of(content) == [("20271201", "newcard")]


def test_the_new_one_is_told_thirty_days_before_the_year_ends():
    ((date, _),) = upkeep_of(write(make("2027-11-01", "2027-12-31", UPKEEP + works("hand"))))
    assert dt.date(2027, 12, 31) - dt.date.fromisoformat(date) == dt.timedelta(days=30)


def test_the_clock_is_checked_when_its_drift_asks_for_it():
    plan = make("2026-12-20", "2027-02-12", UPKEEP + CLOCK)
    checks = [date for date, kind in upkeep_of(write(plan)) if kind == "clockcheck"]
    assert checks == ["20270111", "20270121", "20270131", "20270210"]
    # Each lies within the margin of a clock that was set at the one before.
    clock = plan.site.settings.clock
    set_on = clock.set_on
    for check in map(dt.date.fromisoformat, checks):
        drift = make_drift(plan.site, clock.model_copy(update={"set_on": set_on}), set_on, check)
        assert drift.good_until == check
        set_on = check


@pytest.mark.parametrize("left_out", ["set_on", "accuracy_ppm"])
def test_without_what_the_drift_needs_the_clock_is_checked_monthly(left_out):
    lines = [line for line in CLOCK.splitlines() if not line.startswith(left_out)]
    plan = make("2027-01-02", "2027-03-02", UPKEEP + "\n".join(lines))
    checks = [date for date, kind in upkeep_of(write(plan)) if kind == "clockcheck"]
    assert checks == ["20270201", "20270301"]


@pytest.mark.parametrize("ppm", [690, 100_000])
def test_a_clock_that_keeps_no_margin_is_checked_every_day(ppm):
    clock = f"[clock]\naccuracy_ppm = {ppm}\nset_on = 2027-01-01\n"
    plan = make("2027-01-01", "2027-01-05", UPKEEP + clock)
    checks = [date for date, kind in upkeep_of(write(plan)) if kind == "clockcheck"]
    assert checks == ["20270102", "20270103", "20270104", "20270105"]


def test_a_clock_so_good_that_no_date_is_left_needs_no_check():
    clock = "[clock]\naccuracy_ppm = 0.1\nset_on = 2027-01-01\nmargin_min = 120\n"
    plan = make("2027-01-01", "2027-03-01", UPKEEP + clock)
    assert {kind for _, kind in upkeep_of(write(plan))} == {"monthly"}


@given(
    st.dates(dt.date(2026, 11, 1), dt.date(2027, 3, 1)),
    st.integers(0, 60),
    st.data(),
    st.sampled_from(["", CLOCK, CLOCK + works("timer"), works("hand")]),
)
@settings(max_examples=25, deadline=None)
def test_pieces_equal_the_whole(first, days, data, tables):
    here = make("2027-01-01", tables=UPKEEP + tables).site
    last = first + dt.timedelta(days=days)
    cut = first + dt.timedelta(days=data.draw(st.integers(0, days)))

    def of(begin, end):
        if begin > end:
            return {}
        plan = make_plan(here, begin, end, with_second_opinion=False)
        return {str(e["UID"]): e for e in make_events(exactly(plan))}

    assert of(first, last) == of(first, cut) | of(cut + dt.timedelta(days=1), last)


@pytest.mark.parametrize("style", ["movements", "days", "steps"])
def test_another_reader_takes_it_in_every_style(style):
    tables = f'{UPKEEP}style = "{style}"\ntimes = "zone"\nreminder_min = 20\n{CLOCK}'
    events = icalendar.Calendar.from_ical(write(make("2027-11-25", "2027-12-05", tables))).events
    found = {str(e["SUMMARY"]): e for e in events if str(e["UID"]).split("-")[-1] in KINDS}
    assert set(found) == {TITLES[kind] for kind in ("newtable", "clockcheck", "monthly")}
    assert found[TITLES["newtable"]].start == dt.date(2027, 12, 1)
    assert len({str(e["UID"]) for e in events}) == len(events)


def test_it_says_nothing_of_whose_where_or_why():
    plan = make("2027-11-25", "2027-12-05", UPKEEP + CLOCK, notes="key under the mat")
    for event in read(write(plan)).of("VEVENT"):
        if event.value("UID").split("-")[-1] in KINDS:
            text = unescape(event.value("SUMMARY")) + unescape(event.value("DESCRIPTION"))
            assert not any(word in text for word in ("North", "52.1", "Amsterdam", "mat"))
            assert not event.has("LOCATION")
            assert not event.has("GEO")


def test_an_update_cancels_what_is_asked_for_no_longer_and_keeps_the_rest():
    dates = ("2027-11-25", "2027-12-05")
    old = write(make(*dates, UPKEEP))
    assert write(make(*dates, UPKEEP), old, LATER, update=True) == old
    new = write(make(*dates, UPKEEP + works("timer")), old, LATER, update=True)
    status = {e.value("UID")[37:]: e.value("STATUS") for e in read(new).of("VEVENT")}
    assert status["20271201-newtable"] == "CANCELLED"
    assert status["20271201-newlist"] == status["20271201-monthly"] == "CONFIRMED"
    new = write(make(*dates), old, LATER, update=True)
    cancelled = {
        e.value("UID")[37:] for e in read(new).of("VEVENT") if e.value("STATUS") == "CANCELLED"
    }
    assert cancelled == {f"20271201-{kind}" for kind in ("newtable", "clockcheck", "monthly")}


def test_a_calendar_of_nothing_but_shut_days_has_it_too():
    shut = "[[span]]\nfrom = 2027-11-25\nuntil = 2027-12-05\nshut = true\n"
    content = write(make("2027-11-25", "2027-12-05", FALLBACKS + UPKEEP + shut))
    assert [kind for _, kind in upkeep_of(content)] == ["newtable", "clockcheck", "monthly"]


def test_the_feed_is_without_it():
    plan = make("2027-11-25", "2027-12-05", UPKEEP + CLOCK)
    public = make_plan(public_site(plan.site), plan.dates[0].item(), plan.dates[-1].item())
    content = render_feed(exactly(public), Occasion(STAMP))
    assert upkeep_of(content) == []
    assert len(read(content).of("VEVENT")) == 2 * len(plan)


def test_check_says_that_it_is_asked_for():
    asked, plain = (make("2027-01-01", tables=t).site.settings.calendar for t in (UPKEEP, ""))
    assert "entries for upkeep too" in list(asked.told(Writing().ways))
    assert not any("upkeep" in words for words in plain.told(Writing().ways))
