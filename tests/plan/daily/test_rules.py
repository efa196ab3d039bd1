"""The rules by themselves, on invented days around 2027-01-01T12:00Z, one day after another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daylatch.plan.daily.rules import (
    Conflict,
    DayInput,
    Rule,
    SideInput,
    ceil_minute,
    decide,
    floor_minute,
)
from daylatch.plan.daily.settings import LENGTHEN, WIDEN
from daylatch.site.tables import Lengthen, Widen
from daylatch.sun.crossings import SkyState

NAT = np.datetime64("NaT", "m")
DAY0 = np.datetime64("2027-01-01", "m")


def at(*clock: str | None) -> np.ndarray:
    """Return one instant a day: ``HH:MM[:SS]``, with ``+`` for the next date; None for none."""
    out = []
    for day, text in enumerate(clock):
        if text is None:
            out.append(np.datetime64("NaT", "us"))
            continue
        later = text.endswith("+")
        hours, minutes, *seconds = (int(part) for part in text.rstrip("+").split(":"))
        seconds_of_day = hours * 3600 + minutes * 60 + (seconds[0] if seconds else 0)
        out.append(
            (DAY0 + np.timedelta64(day + later, "D")).astype("datetime64[us]")
            + np.timedelta64(seconds_of_day, "s")
        )
    return np.array(out, "datetime64[us]")


def in_minutes(*clock: str | None) -> np.ndarray:
    return at(*clock).astype("datetime64[m]")


def side(event: np.ndarray, guard: np.ndarray | None = None, **changes: object) -> SideInput:
    n = len(event)
    none = np.full(n, NAT)
    sky = np.where(np.isnat(event), SkyState.ALWAYS_BELOW, SkyState.CROSSES).astype(np.int8)
    plain = SideInput(
        event=event,
        sky=sky,
        guard=none if guard is None else guard.astype("datetime64[m]"),
        guard_sky=np.full(n, SkyState.ALWAYS_ABOVE if guard is None else SkyState.CROSSES, np.int8),
        offset=np.zeros(n, "timedelta64[m]"),
        not_before=none,
        not_after=none,
        fallback=none,
        dark_fallback=none,
        fixed=none,
    )
    return replace(plain, **changes)


def days(n: int, **changes: object) -> DayInput:
    starts = DAY0 + np.arange(n).astype("timedelta64[D]")
    plain = DayInput(
        first=starts + np.timedelta64(1, "m"),
        last=starts + np.timedelta64(1440, "m"),
        shut=np.zeros(n, np.bool_),
        least_open=np.zeros(n, "timedelta64[m]"),
        least_night=np.zeros(n, "timedelta64[m]"),
        widen=np.zeros(n, np.int8),
        lengthen=np.zeros(n, np.int8),
    )
    return replace(plain, **changes)


def hours(*values: float) -> np.ndarray:
    return np.array([round(value * 60) for value in values], "timedelta64[m]")


def clock(times: np.ndarray) -> list[str | None]:
    """Return times as ``HH:MM``."""
    return [None if np.isnat(time) else str(time)[11:16] for time in times]


WIDEN_AS = {choice: np.int8(WIDEN.index(choice)) for choice in Widen}
LENGTHEN_AS = {choice: np.int8(LENGTHEN.index(choice)) for choice in Lengthen}


def test_rounding_goes_up_for_movements_and_down_only_where_asked():
    times = at("07:00", "07:00:01", "07:00:59", None)
    assert clock(ceil_minute(times)) == ["07:00", "07:01", "07:01", None]
    assert clock(floor_minute(times)) == ["07:00", "07:00", "07:00", None]


def test_light_event_plus_offset_never_comes_before_its_computed_moment():
    opening = side(at("07:00:01"), offset=hours(0.25))
    closing = side(at("17:00:00"), offset=hours(-0.5))
    found = decide(opening, closing, days(1))
    assert clock(found.open.time) == ["07:16"]
    assert clock(found.close.time) == ["16:30"]
    assert found.open.decided_by.tolist() == [Rule.LIGHT]


@pytest.mark.parametrize(
    ("event", "expected", "rule", "moved"),
    [("05:00", "06:30", Rule.NOT_BEFORE, 90), ("07:00", "07:00", Rule.LIGHT, 0)],
)
def test_not_before_holds_an_early_movement(event, expected, rule, moved):
    opening = side(at(event), not_before=in_minutes("06:30"))
    found = decide(opening, side(at("17:00")), days(1))
    assert clock(found.open.time) == [expected]
    assert found.open.decided_by.tolist() == [rule]
    assert found.open.moved[Rule.NOT_BEFORE].astype(int).tolist() == [moved]


def test_not_after_brings_a_late_movement_forward():
    closing = side(at("23:00"), not_after=in_minutes("21:00"))
    found = decide(side(at("05:00")), closing, days(1))
    assert clock(found.close.time) == ["21:00"]
    assert found.close.decided_by.tolist() == [Rule.NOT_AFTER]


def test_a_limit_alone_makes_no_movement_on_a_dark_day():
    opening = side(at(None), not_before=in_minutes("06:30"))
    found = decide(opening, side(at("17:00")), days(1))
    assert clock(found.open.time) == [None]
    assert found.open.decided_by.tolist() == [Rule.DARK]
    assert found.close.decided_by.tolist() == [Rule.DARK]


def test_fixed_times_replace_light_and_limits():
    opening = side(at("05:00"), not_before=in_minutes("06:30"), fixed=in_minutes("04:00"))
    found = decide(opening, side(at("17:00")), days(1))
    assert clock(found.open.time) == ["04:00"]
    assert found.open.decided_by.tolist() == [Rule.FIXED]


def test_fallback_takes_the_place_of_a_light_that_never_comes():
    above = np.array([SkyState.ALWAYS_ABOVE], np.int8)
    opening = side(at(None), sky=above, fallback=in_minutes("05:30"))
    closing = side(at(None), sky=above, fallback=in_minutes("22:30"))
    found = decide(opening, closing, days(1))
    assert (clock(found.open.time), clock(found.close.time)) == (["05:30"], ["22:30"])
    assert found.open.decided_by.tolist() == [Rule.FALLBACK]
    assert not any(conflict.any() for conflict in found.conflicts.values())


def test_a_missing_fallback_is_a_conflict_unless_the_day_is_shut_anyway():
    above = np.full(2, SkyState.ALWAYS_ABOVE, np.int8)
    opening = side(at(None, None), sky=above)
    found = decide(opening, side(at("22:00", "22:00")), days(2, shut=np.array([False, True])))
    assert found.conflicts[Conflict.NO_FALLBACK_OPEN].tolist() == [True, False]
    assert clock(found.open.time) == [None, None]


def test_offset_is_held_at_the_edge_of_the_flock_day():
    found = decide(side(at("05:00")), side(at("23:50"), offset=hours(0.5)), days(1))
    assert str(found.close.time[0]) == "2027-01-02T00:00"
    assert found.close.moved[Rule.DAY_EDGE].astype(int).tolist() == [-20]
    assert found.close.decided_by.tolist() == [Rule.DAY_EDGE]


def test_wall_clock_settings_past_the_edge_are_a_conflict():
    closing = side(at("20:00"), not_before=in_minutes("00:30+"))
    found = decide(side(at("05:00")), closing, days(1))
    assert found.conflicts[Conflict.PAST_DAY_CLOSE].tolist() == [True]


def test_reversed_settings_are_conflicts():
    opening = side(at("05:00"), not_before=in_minutes("09:00"), not_after=in_minutes("08:00"))
    found = decide(opening, side(at("17:00")), days(1))
    assert found.conflicts[Conflict.LIMITS_REVERSED_OPEN].all()
    opening = side(at("05:00"), not_before=in_minutes("16:00"))
    closing = side(at("17:00"), not_after=in_minutes("16:00"))
    found = decide(opening, closing, days(1))
    assert found.conflicts[Conflict.LIMITS_LEAVE_NO_DAY].all()
    found = decide(
        side(at("05:00"), fixed=in_minutes("12:00")),
        side(at("17:00"), fixed=in_minutes("12:00")),
        days(1),
    )
    assert found.conflicts[Conflict.FIXED_REVERSED].all()


@pytest.mark.parametrize(
    ("choice", "expected"),
    [
        (Widen.OPEN_EARLIER, ("06:00", "16:00")),
        (Widen.CLOSE_LATER, ("08:00", "18:00")),
        (Widen.BOTH, ("07:00", "17:00")),
    ],
)
def test_least_open_time_widens_as_chosen(choice, expected):
    day = days(1, least_open=hours(10), widen=np.array([WIDEN_AS[choice]]))
    found = decide(side(at("08:00")), side(at("16:00")), day)
    assert (clock(found.open.time)[0], clock(found.close.time)[0]) == expected
    assert found.open_shortfall.astype(int).tolist() == [0]


def test_widening_an_odd_number_of_minutes_gives_the_odd_one_to_the_evening():
    day = days(1, least_open=np.array([485], "timedelta64[m]"), widen=WIDEN_AS[Widen.BOTH] + [0])
    found = decide(side(at("08:00")), side(at("16:00")), day)
    assert (clock(found.open.time), clock(found.close.time)) == (["07:58"], ["16:03"])


def test_widening_stops_at_the_guard_and_states_the_shortfall():
    day = days(1, least_open=hours(10), widen=WIDEN_AS[Widen.OPEN_EARLIER] + [0])
    opening = side(at("08:00"), guard=in_minutes("07:20"))
    found = decide(opening, side(at("16:00")), day)
    assert clock(found.open.time) == ["07:20"]
    assert found.open_shortfall.astype(int).tolist() == [80]
    assert found.open.decided_by.tolist() == [Rule.LEAST_OPEN]


def test_what_one_side_cannot_give_the_other_gives():
    day = days(1, least_open=hours(10), widen=WIDEN_AS[Widen.BOTH] + [0])
    for opening, closing, expected in (
        (side(at("08:00"), not_before=in_minutes("07:50")), side(at("16:00")), ("07:50", "17:50")),
        (side(at("08:00")), side(at("16:00"), not_after=in_minutes("16:10")), ("06:10", "16:10")),
        (
            side(at("08:00"), guard=in_minutes("07:30")),
            side(at("16:00"), guard=in_minutes("16:20")),
            ("07:30", "16:20"),
        ),
    ):
        found = decide(opening, closing, day)
        assert (clock(found.open.time)[0], clock(found.close.time)[0]) == expected


def test_a_guard_always_below_allows_no_widening_and_one_always_above_leaves_the_edges():
    day = days(1, least_open=hours(23), widen=WIDEN_AS[Widen.BOTH] + [0])
    deep = np.array([SkyState.ALWAYS_BELOW], np.int8)
    found = decide(side(at("11:00"), guard_sky=deep), side(at("13:00"), guard_sky=deep), day)
    assert (clock(found.open.time), clock(found.close.time)) == (["11:00"], ["13:00"])
    assert found.open_shortfall.astype(int).tolist() == [21 * 60]
    found = decide(side(at("11:00")), side(at("13:00")), day)
    assert found.open_shortfall.astype(int).tolist() == [0]
    assert (clock(found.open.time), clock(found.close.time)) == (["00:30"], ["23:30"])


def test_an_opening_after_dusk_and_a_closing_before_dawn_are_past_the_guard_and_not_widened():
    day = days(1, least_open=hours(10), widen=WIDEN_AS[Widen.BOTH] + [0])
    late, early = in_minutes("17:40"), in_minutes("06:10")
    evening = decide(side(at("18:00"), guard=early), side(at("21:00"), guard=late), day)
    assert (evening.past_guard_open.tolist(), evening.past_guard_close.tolist()) == ([True], [True])
    morning = decide(side(at("03:00"), guard=early), side(at("05:00"), guard=late), day)
    assert (morning.past_guard_open.tolist(), morning.past_guard_close.tolist()) == ([True], [True])
    for found, times in ((evening, ("18:00", "21:00")), (morning, ("03:00", "05:00"))):
        assert (clock(found.open.time)[0], clock(found.close.time)[0]) == times


def test_a_movement_already_past_its_guard_stands_and_is_told():
    opening = side(at("05:00"), guard=in_minutes("06:00"))
    day = days(1, least_open=hours(14), widen=WIDEN_AS[Widen.OPEN_EARLIER] + [0])
    found = decide(opening, side(at("17:00")), day)
    assert clock(found.open.time) == ["05:00"]
    assert found.past_guard_open.tolist() == [True]
    assert found.past_guard_close.tolist() == [False]
    assert found.open_shortfall.astype(int).tolist() == [120]


def test_a_day_that_would_close_before_it_opens_is_shut():
    found = decide(side(at("12:10")), side(at("11:50")), days(1))
    assert clock(found.open.time) == [None]
    assert found.open.decided_by.tolist() == [Rule.NO_TIME_LEFT]
    day = days(1, least_open=hours(2), widen=WIDEN_AS[Widen.BOTH] + [0])
    found = decide(side(at("12:10")), side(at("11:50")), day)
    assert (clock(found.open.time), clock(found.close.time)) == (["11:00"], ["13:00"])


@pytest.mark.parametrize(
    ("choice", "expected"),
    [
        (Lengthen.CLOSE_EARLIER, ("04:00", "20:00", "04:00", "22:00")),
        (Lengthen.OPEN_LATER, ("04:00", "22:00", "06:00", "22:00")),
        (Lengthen.BOTH, ("04:00", "21:00", "05:00", "22:00")),
    ],
)
def test_least_night_lengthens_each_night_once(choice, expected):
    day = days(2, least_night=hours(8, 8), lengthen=np.full(2, LENGTHEN_AS[choice]))
    found = decide(side(at("04:00", "04:00")), side(at("22:00", "22:00")), day)
    got = zip(clock(found.open.time), clock(found.close.time), strict=True)
    assert tuple(time for pair in got for time in pair) == expected
    assert found.night_shortfall.astype(int).tolist() == [0, 0]


def test_a_night_follows_the_settings_of_its_closing_date():
    day = days(
        3, least_night=hours(8, 0, 0), lengthen=np.full(3, LENGTHEN_AS[Lengthen.CLOSE_EARLIER])
    )
    found = decide(side(at(*["04:00"] * 3)), side(at(*["22:00"] * 3)), day)
    assert clock(found.close.time) == ["20:00", "22:00", "22:00"]


def test_least_night_wins_over_least_open_time():
    day = days(
        2,
        least_open=hours(16, 16),
        least_night=hours(7, 7),
        lengthen=np.full(2, LENGTHEN_AS[Lengthen.CLOSE_EARLIER]),
        widen=np.full(2, WIDEN_AS[Widen.CLOSE_LATER]),
    )
    opening = side(at("06:00", "04:00"))
    found = decide(opening, side(at("20:00", "20:00")), day)
    # Rule 3 closes the first day at 22:00; six hours are left, and rule 4 takes one back.
    assert clock(found.close.time) == ["21:00", "20:00"]
    assert found.open_shortfall.astype(int).tolist() == [60, 0]
    assert found.close.decided_by.tolist() == [Rule.LEAST_NIGHT, Rule.LIGHT]


def test_a_day_asked_from_both_sides_keeps_a_minute():
    # The middle day is open for two hours and lies between two nights that both want more of it.
    choices = [Lengthen.OPEN_LATER, Lengthen.CLOSE_EARLIER, Lengthen.BOTH]
    lengthen = np.array([LENGTHEN_AS[choice] for choice in choices])
    day = days(3, least_night=hours(23, 23, 23), lengthen=lengthen)
    opening = side(at("06:00", "06:00", "06:00"))
    closing = side(at("20:00", "08:00", "20:00"))
    found = decide(opening, closing, day)
    assert np.all(found.open.time < found.close.time)
    night = found.open.time[1:] - found.close.time[:-1]
    assert (found.night_shortfall[:-1] == np.maximum(hours(23) - night, hours(0))).all()
    assert (found.night_shortfall[:-1] > hours(0)).tolist() == [True, False]
    assert (found.close.time - found.open.time)[1] == np.timedelta64(1, "m")


def test_no_night_is_lengthened_beside_a_shut_day():
    day = days(
        3,
        shut=np.array([False, True, False]),
        least_night=hours(23, 23, 23),
        lengthen=np.full(3, LENGTHEN_AS[Lengthen.CLOSE_EARLIER]),
    )
    found = decide(side(at(*["04:00"] * 3)), side(at(*["22:00"] * 3)), day)
    assert clock(found.close.time) == ["22:00", None, "22:00"]
    assert found.night_shortfall.astype(int).tolist() == [0, 0, 0]
    assert found.open.decided_by.tolist() == [Rule.LIGHT, Rule.SHUT_SPAN, Rule.LIGHT]
