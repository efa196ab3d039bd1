"""What a jump of the clock is put down to."""

from __future__ import annotations

import numpy as np
import pytest

from audit_logs import NEVER, change
from daylatch.diary.audit.clock.causes import Jump, find_causes
from daylatch.diary.audit.clock.door_clock import Cause

SPRING = change("2027-03-28T01:00", 60)
AUTUMN = change("2027-10-31T01:00", -60)


def jump(minutes: float, on: str = "2027-03-28", before: float = 0.0) -> Jump:
    """Return a jump between the evening before a date and that date's morning."""
    day = np.datetime64(on, "s")
    since, until = day - np.timedelta64(5, "h"), day + np.timedelta64(6, "h")
    return Jump(since, until, minutes, 0.3, before)


def causes(*jumps: Jump, clock_set=NEVER, changes=(SPRING, AUTUMN), follows_zone=True):
    return find_causes(jumps, clock_set, changes, follows_zone=follows_zone)


def test_summer_time_missed_leaves_the_clock_slow_in_spring():
    assert causes(jump(-60.4)) == [Cause.SUMMER_TIME_MISSED]


def test_summer_time_missed_in_autumn_leaves_it_fast():
    assert causes(jump(60, "2027-10-31")) == [Cause.SUMMER_TIME_MISSED]


def test_summer_time_twice():
    assert causes(jump(60)) == [Cause.SUMMER_TIME_TWICE]


def test_a_clock_that_misses_both_changes_was_not_set_in_between():
    both = jump(-60), jump(60, "2027-10-31", before=-60)
    assert causes(*both) == [Cause.SUMMER_TIME_MISSED] * 2


@pytest.mark.parametrize("day", ["2027-03-29", "2027-04-20"])
def test_what_undoes_missed_summer_time_was_set_by_hand(day):
    found = causes(jump(-60), jump(60, day, before=-60))
    assert found == [Cause.SUMMER_TIME_MISSED, Cause.SET_BY_HAND]


def test_what_undoes_it_on_a_clock_that_is_wrong_anyway_was_set_by_hand():
    found = causes(jump(-60, before=20.0), jump(60, "2027-04-20", before=-40.0))
    assert found == [Cause.SUMMER_TIME_MISSED, Cause.SET_BY_HAND]


def test_a_change_a_day_away_explains_it_and_one_a_week_away_does_not():
    assert causes(jump(-60, "2027-03-29")) == [Cause.SUMMER_TIME_MISSED]
    assert causes(jump(-60, "2027-04-04")) == [Cause.UNKNOWN]


def test_in_a_gap_of_three_weeks_the_change_explains_it():
    since, until = np.datetime64("2027-03-10T18:00"), np.datetime64("2027-04-01T06:00")
    assert causes(Jump(since, until, -60.0, 0.3, 0.0)) == [Cause.SUMMER_TIME_MISSED]


def test_a_clock_that_should_keep_one_time_changed():
    assert causes(jump(60), follows_zone=False) == [Cause.SUMMER_TIME_UNWANTED]
    assert causes(jump(-60), follows_zone=False) == [Cause.UNKNOWN]


def test_half_an_hour_is_the_change_of_a_zone_that_changes_by_it():
    lord_howe = (change("2027-10-02T15:30", 30),)
    assert causes(jump(-30, "2027-10-03"), changes=lord_howe) == [Cause.SUMMER_TIME_MISSED]
    assert causes(jump(-60, "2027-10-03"), changes=lord_howe) == [Cause.UNKNOWN]


def test_an_entry_says_that_it_was_set():
    at = np.array(["2027-05-01T03:00"], "datetime64[s]")
    assert causes(jump(17, "2027-05-01"), clock_set=at) == [Cause.SET_BY_HAND]
    assert causes(jump(17, "2027-05-02"), clock_set=at) == [Cause.UNKNOWN]


def test_from_clearly_wrong_to_right_was_set_by_hand():
    assert causes(jump(25, "2027-05-01", before=-24)) == [Cause.SET_BY_HAND]
    assert causes(jump(-310, "2027-05-01", before=311)) == [Cause.SET_BY_HAND]


def test_from_right_far_off_was_a_power_cut():
    assert causes(jump(-412, "2027-05-01")) == [Cause.POWER_CUT]
    assert causes(jump(75, "2027-05-01")) == [Cause.POWER_CUT]


def test_an_hour_without_a_change_of_the_zone_is_nobody_knows_what():
    assert causes(jump(60, "2027-06-20")) == [Cause.UNKNOWN]


def test_a_small_jump_from_right_is_nobody_knows_what():
    assert causes(jump(20, "2027-05-01")) == [Cause.UNKNOWN]
