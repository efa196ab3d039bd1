"""A simulated door: what a clock that is not right does to it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.door.simulate.simulated_door import (
    OPEN,
    SHUT,
    UNKNOWN,
    ClockSetting,
    ClockTroubles,
    Outage,
    simulate,
)
from daylatch.door.table.encode import encode
from daylatch.plan.plan import make_plan
from peers.table_reader import read_door
from sites import UTRECHT, site

MINUTE = np.timedelta64(1, "m")
STATES = {"unknown": UNKNOWN, "shut": SHUT, "open": OPEN}


def at(text):
    return np.datetime64(text, "m")


@pytest.fixture(scope="module")
def plan():
    """From 26 to 31 March 2027, open 07:00 to 21:00 on the wall; the clock changes on the 28th."""
    here = site(
        UTRECHT,
        '[[span]]\nfrom = 2027-03-01\nuntil = 2027-04-30\nopen.fixed = "07:00"\n'
        'close.fixed = "21:00"\n',
    )
    return make_plan(here, dt.date(2027, 3, 25), dt.date(2027, 3, 31))


@pytest.fixture(scope="module")
def ask(plan):
    door = read_door(encode(plan))

    def answer(dates, minutes):
        midnight = dt.datetime.combine(dt.date(2000, 1, 1), dt.time())
        return np.array(
            [
                STATES[door(midnight + dt.timedelta(days=date, minutes=minute))]
                for date, minute in zip(dates.tolist(), minutes.tolist(), strict=True)
            ],
            np.uint8,
        )

    return answer


def differing(plan, ask, **troubles):
    """Return the stretches as (begin, minutes, what the door is)."""
    found = simulate(plan, ask, ClockTroubles(**troubles)).differences()
    return [(str(d.begin_utc), d.minutes, "open" if d.door_is_open else "shut") for d in found]


def test_with_a_right_clock_door_and_plan_agree(plan, ask):
    assert differing(plan, ask) == []


def test_every_minute_of_the_dates_but_the_first_is_simulated(plan, ask):
    found = simulate(plan, ask, ClockTroubles())
    assert found.minutes_utc[0] == at("2027-03-25T23:00")
    assert found.minutes_utc[-1] == at("2027-03-31T21:59")
    assert len(found.minutes_utc) == 6 * 1440 - 60
    assert found.planned_open.sum() == 6 * 14 * 60


def test_a_missed_change_makes_every_movement_an_hour_late(plan, ask):
    missed = differing(plan, ask, misses_changes=True)
    assert missed[:2] == [("2027-03-28T05:00", 60, "shut"), ("2027-03-28T19:00", 60, "open")]
    assert len(missed) == 8
    until_set = differing(
        plan, ask, misses_changes=True, settings=(ClockSetting(at("2027-03-29T12:00")),)
    )
    assert until_set == missed[:3]


def test_a_clock_set_to_the_wrong_hour(plan, ask):
    settings = (ClockSetting(at("2027-03-26T12:00"), 60), ClockSetting(at("2027-03-27T12:00")))
    assert differing(plan, ask, settings=settings) == [
        ("2027-03-26T19:00", 60, "shut"),
        ("2027-03-27T05:00", 60, "open"),
    ]
    settings = (ClockSetting(at("2027-03-30T12:00"), -720),)
    assert differing(plan, ask, settings=settings) == [
        ("2027-03-30T12:00", 300, "shut"),
        ("2027-03-30T19:00", 600, "open"),
        ("2027-03-31T07:00", 600, "shut"),
        ("2027-03-31T19:00", 180, "open"),
    ]


@pytest.mark.parametrize(("ppm", "at_openings"), [(1000, "open"), (-1000, "shut")])
def test_drift_grows_and_ends_when_the_clock_is_set(plan, ask, ppm, at_openings):
    # 1000 ppm are 1.44 min a day: 0.42 min at the first opening, 8.6 at the last closing.
    found = differing(plan, ask, drift_ppm=ppm)
    lengths = [minutes for _, minutes, _ in found]
    assert lengths == sorted(lengths)
    assert lengths[-1] in (8, 9)
    assert {state for begin, _, state in found if "T0" in begin} == {at_openings}
    mended = differing(plan, ask, drift_ppm=ppm, settings=(ClockSetting(at("2027-03-30T12:00")),))
    before = [row for row in found if row[0] < "2027-03-30T12:00"]
    assert mended[: len(before)] == before
    assert max(minutes for _, minutes, _ in mended[len(before) :]) <= 2


def test_without_power_the_door_stays(plan, ask):
    outage = Outage(at("2027-03-26T12:00"), at("2027-03-27T06:30"))
    assert differing(plan, ask, outages=(outage,)) == [("2027-03-26T20:00", 600, "open")]


def test_a_clock_that_stops_without_power_is_unknown_until_it_is_set(plan, ask):
    outage = Outage(at("2027-03-26T02:00"), at("2027-03-26T03:00"))
    lost = differing(plan, ask, outages=(outage,), loses_time=True)
    assert [minutes for _, minutes, _ in lost] == [14 * 60] * 6
    settings = (ClockSetting(at("2027-03-26T02:30")), ClockSetting(at("2027-03-27T12:00")))
    again = differing(plan, ask, outages=(outage,), loses_time=True, settings=settings)
    assert again == [lost[0], ("2027-03-27T06:00", 360, "shut")]
    found = simulate(plan, ask, ClockTroubles(outages=(outage,), loses_time=True))
    assert [d.clock_off_s for d in found.differences()] == [None] * 6
    assert not found.knows[180:].any()
