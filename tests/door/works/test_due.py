"""Due times: when what works the door will really move it, on any range, and never early."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.door.works.due import make_due
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.sun.crossings import sun_position
from sites import APIA, FALLBACKS, KIRITIMATI, LONGYEARBYEN, LORD_HOWE, TAMPERE, UTRECHT, Spot, site

DUNEDIN = Spot(-45.87, 170.5, "Pacific/Auckland")
MINUTE = np.timedelta64(1, "m")
WORKS = {
    "controller": "",
    "a table of some width": "[door]\nwithin_min = 4\n",
    "timer": '[door]\nworks = "timer"\n',
    "timer by the month": '[door]\nworks = "timer"\n[timer]\non = "month starts"\n'
    "tolerance_min = 300\nstep_min = 15\npast_guard = true\n",
    "timer on standard time": '[door]\nworks = "timer"\nclock = "standard"\n',
    "hand": '[door]\nworks = "hand"\n',
    "hand by the month": '[door]\nworks = "hand"\n[card]\nrows = "months"\n',
    "hand, bounded": '[door]\nworks = "hand"\n[card]\nlate_by_min = 3\n',
    "hand by the day": '[door]\nworks = "hand"\n[card]\nrows = "days"\n',
}


def due_of(spot, text, first, last):
    start, end = (dt.date.fromisoformat(str(date)) for date in (first, last))
    return make_due(make_plan(site(spot, FALLBACKS + text), start, end))


def same(one, other):
    return np.array_equal(one, other, equal_nan=True)


@pytest.mark.parametrize("text", WORKS.values(), ids=WORKS)
@pytest.mark.parametrize("spot", [UTRECHT, DUNEDIN, TAMPERE, LORD_HOWE, KIRITIMATI])
def test_the_door_is_never_early(spot, text):
    due = due_of(spot, text, "2027-01-01", "2027-12-31")
    for found, planned in (
        (due.open_utc, due.plan.open_utc),
        (due.close_utc, due.plan.close_utc),
    ):
        assert (found[due.known] >= planned[due.known])[~np.isnat(planned[due.known])].all()
        assert same(np.isnat(found[due.known]), np.isnat(planned[due.known]))
    assert due.known.all() == ("within_min" not in text)
    late = due.close_late[due.known]
    bound = {"late_by_min = 3": 3, '"days"': 0, "tolerance_min = 300": 300, '"timer"': 20}
    for words, most in bound.items():
        if words in text:
            assert late.max() <= most * MINUTE
            break


@settings(max_examples=12)
@given(
    st.sampled_from([UTRECHT, DUNEDIN, TAMPERE, LORD_HOWE]),
    st.sampled_from(sorted(WORKS)),
    st.integers(0, 700),
    st.integers(1, 25),
    st.integers(1, 25),
)
def test_pieces_equal_the_whole(spot, works, begin, one, other):
    first = dt.date(2026, 6, 1) + dt.timedelta(days=begin)
    middle, last = first + dt.timedelta(days=one), first + dt.timedelta(days=one + other)
    house = site(spot, FALLBACKS + WORKS[works])
    whole = make_due(make_plan(house, first, last))
    parts = [
        make_due(make_plan(house, first, middle - dt.timedelta(days=1))),
        make_due(make_plan(house, middle, last)),
    ]
    for column in ("open_utc", "close_utc", "known", "next_open_utc", "head_count_utc"):
        found = np.concatenate([getattr(part, column) for part in parts])
        wanted = getattr(whole, column)
        assert np.array_equal(found, wanted, equal_nan=column != "known"), column


@pytest.mark.parametrize("works", ["timer", "hand", "hand by the month"])
def test_over_the_end_of_a_year_each_year_has_its_own(works):
    whole = due_of(UTRECHT, WORKS[works], "2026-12-20", "2027-01-10")
    for part in (("2026-12-20", "2026-12-31"), ("2027-01-01", "2027-01-10")):
        alone = due_of(UTRECHT, WORKS[works], *part)
        where = np.isin(whole.plan.dates, alone.plan.dates)
        assert same(whole.part(where).close_utc, alone.close_utc)
        assert same(whole.part(where).next_open_utc, alone.next_open_utc)


@pytest.mark.parametrize("text", WORKS.values(), ids=WORKS)
def test_lock_ins_run_from_due_to_due(text):
    due = due_of(UTRECHT, text, "2027-03-20", "2027-04-05")
    told = due.told_open_utc
    assert same(due.next_open_utc[:-1], told[1:])
    beyond = due_of(UTRECHT, text, "2027-04-06", "2027-04-06").told_open_utc[0]
    assert due.next_open_utc[-1] == beyond
    assert same(due.lock_in, due.next_open_utc - due.told_close_utc)


def test_heads_are_counted_after_the_door_has_moved():
    for text in WORKS.values():
        due = due_of(UTRECHT, text + "[head_count]\nafter_close_min = 7\n", *["2027-03-20"] * 2)
        latest = due.told_close_utc + (due.up_to_min or 0) * MINUTE
        assert same(due.head_count_utc, latest + 7 * MINUTE)


def test_shut_days_and_a_long_dark_time():
    shut = "[[span]]\nfrom = 2027-03-22\nuntil = 2027-03-24\nshut = true\n"
    due = due_of(UTRECHT, WORKS["timer"] + shut, "2027-03-20", "2027-03-26")
    assert due.is_open.tolist() == [True, True, False, False, False, True, True]
    assert due.known.all()
    assert due.next_open_utc[1] == due.open_utc[5]
    dark = due_of(LONGYEARBYEN, WORKS["hand"], "2027-10-20", "2027-11-20")
    last = np.flatnonzero(dark.is_open)[-1]
    spring = due_of(LONGYEARBYEN, WORKS["hand"], "2028-01-20", "2028-02-28")
    assert dark.next_open_utc[last] == spring.open_utc[np.flatnonzero(spring.is_open)[0]]


def test_a_date_that_the_calendar_skipped():
    for works in ("timer", "hand"):
        due = due_of(APIA, WORKS[works], "2011-12-28", "2012-01-02")
        assert len(due) == 5
        assert (due.close_utc >= due.plan.close_utc).all()


def test_where_nothing_differs_nothing_is_said_to():
    due = due_of(UTRECHT, "", "2027-01-01", "2027-01-10")
    assert not due.differs.any()
    assert same(due.open_utc, exactly(due.plan).open_utc)
    assert (due.open_late == 0 * MINUTE).all()


# Closings in daylight.


def closing_at(spot, time, first, last, more=""):
    text = f'[[span]]\nfrom = {first}\nuntil = {last}\nclose.fixed = "{time}"\n{more}'
    return due_of(spot, text, first, last)


@pytest.mark.parametrize("time", ["15:00", "16:45"])
def test_every_closing_in_the_afternoon_of_july_is_in_daylight(time):
    due = closing_at(UTRECHT, time, "2027-07-01", "2027-07-31")
    assert due.closes_in_daylight.all()
    assert not due.plan.settings.shut_in_by_hand.any()
    by_hand = closing_at(
        UTRECHT, time, "2027-07-01", "2027-07-31", "close.shut_in_by_hand = true\n"
    )
    assert by_hand.closes_in_daylight.all()
    assert by_hand.plan.settings.shut_in_by_hand.all()


def test_no_white_night_closing_in_tromsoe_is_in_daylight():
    tromsoe = Spot(69.65, 18.956, "Europe/Oslo")
    due = due_of(tromsoe, "", "2027-01-01", "2027-12-31")
    up = due.sun_up_at_close & (due.plan.sun.sunset_sky != 0)
    to_night = np.minimum(
        due.plan.day_end_utc - due.close_utc, due.close_utc - due.plan.day_start_utc
    )
    assert up.sum() >= 60
    assert not due.closes_in_daylight.any()
    # 22:30 lies 2.2 to 2.3 h before the lowest Sun there.
    gap_h = to_night[up] / np.timedelta64(1, "h")
    assert gap_h.min() > 2.1
    assert gap_h.max() < 2.4


@settings(max_examples=30)
@given(
    st.floats(-66, 66),
    st.dates(dt.date(2027, 1, 1), dt.date(2027, 12, 31)),
    st.integers(12 * 60, 23 * 60),
)
def test_daylight_is_the_sun_above_the_horizon_by_its_altitude(latitude, date, minute):
    spot = Spot(round(latitude, 2), 0.0, "UTC")
    due = closing_at(spot, f"{minute // 60:02d}:{minute % 60:02d}", date, date)
    closes = due.close_utc[0]
    altitude = float(sun_position(spot.latitude, spot.longitude, closes).altitude_deg)
    # The Sun's centre stands so low when its upper edge, lifted by refraction, is gone.
    if abs(altitude + 0.8333) < 0.02:
        return
    to_night = min(due.plan.day_end_utc[0] - closes, closes - due.plan.day_start_utc[0])
    far = to_night > np.timedelta64(3, "h")
    assert bool(due.sun_up_at_close[0]) is (altitude > -0.8333)
    assert bool(due.closes_in_daylight[0]) is bool(altitude > -0.8333 and far)


def test_due_times_are_held_against_the_guard():
    due = due_of(
        DUNEDIN, '[door]\nworks = "hand"\n[card]\nrows = "months"\n', "2027-06-01", "2027-08-31"
    )
    beyond = due.close_utc > due.plan.guard.close_utc
    assert beyond.any()
    assert same(due.past_guard[1], beyond)
    planned = exactly(due.plan)
    assert same(planned.past_guard[1], due.plan.decisions.past_guard_close)


def test_a_part_is_the_same_days():
    due = due_of(UTRECHT, WORKS["timer"], "2027-03-20", "2027-03-30")
    part = due.part(due.plan.dates > np.datetime64("2027-03-25"))
    assert same(part.close_utc, due.close_utc[6:])
    assert same(part.plan.dates, due.plan.dates[6:])
    assert replace(part, up_to_min=1).up_to_min == 1
