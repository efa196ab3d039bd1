"""What ails a door's clock, found in logs of which that is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit_logs import (
    FIRST,
    NOTHING,
    audited,
    change,
    entry,
    expected,
    moved_by,
    only,
    readings,
    seen,
    together,
)
from daylatch.diary.audit.audit import Cause, Verdict, WhyNot
from daylatch.diary.entries import Kind

DUE = expected(60)
PPM = 1440 / 1e6
"""Minutes a day."""


def clock(log, due=DUE, *rest, **options):
    found = audited(due, log, *rest, **options).clock
    assert found is not None
    return found


def findings(found) -> tuple[bool, bool, int]:
    return found.has_offset, found.has_drift, len(found.steps)


def test_a_fine_clock():
    result = audited(DUE, seen(DUE))
    assert result.judged
    assert result.why_not is None
    assert findings(result.clock) == (False, False, 0)
    assert result.counts[Verdict.ON_TIME] == len(DUE)


@pytest.mark.parametrize("minutes", [-60, -25, -2, 2, 3, 60, 400, 700, -700])
def test_an_offset(minutes):
    found = clock(seen(DUE, minutes))
    assert findings(found) == (True, False, 0)
    assert abs(found.offset_min - minutes) <= 0.25


def test_half_a_minute_is_no_offset_though_stamps_are_cut():
    log = seen(DUE, 0.5)
    found = clock(log)
    assert findings(found) == (False, False, 0)
    assert found.offset_error_min > 0.5


@pytest.mark.parametrize("ppm", [-200, -40, -15, 15, 100, 300])
def test_a_drift(ppm):
    found = clock(seen(DUE, lambda days: ppm * PPM * days))
    assert findings(found) == (False, True, 0)
    assert abs(found.drift_ppm - ppm) <= 4
    assert abs(found.drift_ppm - ppm) <= 2 * found.drift_error_ppm


def test_a_drift_of_half_a_minute_in_all_is_not_worth_telling():
    due = expected(180)
    found = clock(seen(due, lambda days: 2.5 * PPM * days), due)
    assert findings(found) == (False, False, 0)
    # It is told all the same, and is more than chance.
    assert found.drift_ppm > 2 * found.drift_error_ppm


@pytest.mark.parametrize(("minutes", "cause"), [(-12, Cause.UNKNOWN), (333, Cause.POWER_CUT)])
def test_a_step(minutes, cause):
    found = clock(seen(DUE, lambda days: minutes * (days >= 30.5)))
    assert findings(found) == (False, False, 1)
    (step,) = found.steps
    assert abs(step.minutes - minutes) <= 0.5
    assert step.cause is cause
    # Between the opening of the 31st day and its closing, as the door did them.
    assert step.date == FIRST + 30
    due = DUE.due_utc[[60, 61]].astype("datetime64[s]")
    assert abs(step.since - due[0]) <= np.timedelta64(2, "m")
    assert abs(step.until - due[1] + np.timedelta64(minutes, "m")) <= np.timedelta64(2, "m")


def test_a_step_of_a_minute_is_not_worth_telling():
    due = expected(180)
    assert clock(seen(due, lambda days: 1.0 * (days >= 90)), due).steps == ()


def test_offset_drift_and_two_steps_together():
    def fast(days):
        return 14 + 80 * PPM * days - 22 * (days >= 20.2) + 9 * (days >= 41.2)

    found = clock(seen(DUE, fast))
    assert findings(found) == (True, True, 2)
    assert abs(found.offset_min - 14) <= 0.5
    assert abs(found.drift_ppm - 80) <= 10
    assert [round(step.minutes) for step in found.steps] == [-22, 9]
    days = np.array([0.0, 10.0, 30.0, 59.0])
    at = FIRST.astype("datetime64[s]") + (days * 86400).astype("timedelta64[s]")
    assert np.abs(found.error_at(at) - fast(days)).max() <= 0.7


def test_summer_time_missed_and_set_ten_days_later():
    due = expected(40, np.datetime64("2027-03-10"))
    log = seen(due, lambda days: -60.0 * ((days >= 18.04) & (days < 28.5)))
    found = clock(log, due, changes=[change("2027-03-28T01:00", 60)])
    assert [step.cause for step in found.steps] == [Cause.SUMMER_TIME_MISSED, Cause.SET_BY_HAND]


def test_a_clock_that_should_not_change_and_did():
    due = expected(40, np.datetime64("2027-03-10"))
    log = seen(due, lambda days: 60.0 * (days >= 18.04))
    changes = [change("2027-03-28T01:00", 60)]
    found = clock(log, due, changes=changes, follows_zone=False)
    assert [step.cause for step in found.steps] == [Cause.SUMMER_TIME_UNWANTED]


def test_set_by_hand_as_the_diary_says():
    log = seen(DUE, lambda days: 10 - 13.0 * (days >= 30.5))
    found = clock(log, clock_set=["2027-02-10T13:00"])
    assert [step.cause for step in found.steps] == [Cause.SET_BY_HAND]


def test_two_evenings_with_a_late_door_are_no_step():
    log = moved_by(moved_by(seen(DUE), 41, 25), 43, 25)
    assert findings(clock(log)) == (False, False, 0)


def test_the_drift_is_told_also_where_it_is_no_finding_but_the_line_is_level():
    found = clock(seen(DUE, 8.0))
    assert found.drift_error_ppm > 0
    assert abs(found.drift_ppm) <= 2 * found.drift_error_ppm
    at = np.array(["2027-01-11", "2028-01-11"], "datetime64[s]")
    assert found.error_at(at).tolist() == [found.offset_min] * 2


def test_only_closings():
    for fast, wanted in ((0.0, (False, False, 0)), (2.0, (True, False, 0))):
        log = only(seen(DUE, fast), np.arange(1, len(DUE), 2))
        assert findings(clock(log)) == wanted
    log = only(seen(DUE, lambda days: 40 * PPM * days), np.arange(1, len(DUE), 2))
    assert findings(clock(log)) == (False, True, 0)


def test_a_gap_of_three_weeks():
    there = np.r_[0:30, 72:120]
    assert findings(clock(only(seen(DUE), there))) == (False, False, 0)
    found = clock(only(seen(DUE, lambda days: -9.0 * (days >= 25)), there))
    assert findings(found) == (False, False, 1)
    assert found.steps[0].until - found.steps[0].since > np.timedelta64(20, "D")


def test_a_bound_of_the_due_time_is_no_offset():
    due = replace(DUE, up_to_min=np.full(len(DUE), 6))
    log = seen(DUE, lambda days: -6.0 * ((days * 7.3) % 1))
    found = clock(log, due)
    assert findings(found) == (False, False, 0)
    assert abs(found.offset_min) < 0.4
    assert findings(clock(seen(DUE, 12.0), due)) == (True, False, 0)


def test_one_evening_is_too_few():
    result = audited(DUE, only(seen(DUE, -60.0), np.array([1])))
    assert (result.judged, result.why_not) == (False, WhyNot.TOO_FEW)
    assert result.clock is None
    assert result.counts[Verdict.LATE] == 1


def test_five_movements_are_enough_and_four_are_not():
    log = seen(DUE, -60.0)
    assert audited(DUE, only(log, np.arange(4))).why_not is WhyNot.TOO_FEW
    assert findings(clock(only(log, np.arange(5)))) == (True, False, 0)


def test_a_door_that_closes_five_times_in_one_evening_judges_nothing():
    times = ("17:20", "17:55", "18:30", "19:05", "19:40")
    log = together(*(entry(f"2027-01-13T{time}", False, Kind.MOVED) for time in times))
    result = audited(DUE, log)
    assert result.why_not is WhyNot.TOO_FEW
    assert result.counts[Verdict.UNPLANNED] == 4


def test_nothing_seen():
    result = audited(DUE, NOTHING)
    assert (result.judged, result.why_not) == (False, WhyNot.NOTHING_SEEN)
    assert result.counts[Verdict.NOT_REPORTED] == len(DUE)


def test_nothing_at_all():
    result = audited(expected(0), NOTHING)
    assert result.movements == ()
    assert result.why_not is WhyNot.NOTHING_SEEN


def test_only_what_people_did_is_too_few():
    log = replace(seen(DUE), kinds=(Kind.BY_HAND,) * len(DUE))
    result = audited(DUE, log)
    assert result.why_not is WhyNot.TOO_FEW
    assert result.counts[Verdict.BY_HAND] == len(DUE)


def test_a_log_by_the_doors_own_clock_judges_nothing():
    result = audited(DUE, seen(DUE, 20.0, outside=False))
    assert (result.judged, result.why_not) == (False, WhyNot.ONLY_DOOR_STAMPS)
    assert all(one.by_clock_min is None for one in result.movements)


def test_with_readings_it_is_judged_by_those_alone():
    read = readings(("2027-01-20T12:00", 12.0, 0.5), ("2027-02-20T12:00", 12.2, 0.5))
    found = clock(seen(DUE, 0.0, outside=False), DUE, read)
    assert findings(found) == (True, False, 0)
    assert abs(found.offset_min - 12.1) < 0.2


def test_one_reading_finds_an_offset_beyond_its_width_and_no_drift():
    log = seen(DUE, 0.0, outside=False)
    assert findings(clock(log, DUE, readings(("2027-01-20T12:00", 5.0, 1.0)))) == (True, False, 0)
    assert findings(clock(log, DUE, readings(("2027-01-20T12:00", 1.0, 1.0)))) == (False, False, 0)


def test_a_reading_that_lies_two_minutes_off_is_no_mistake():
    read = readings(
        ("2026-03-15T08:00", -1.0, 1.0),
        ("2026-04-04T08:00", -2.0, 1.0),
        ("2026-04-10T08:00", 28.0, 1.0),
        ("2026-05-08T08:00", 26.0, 1.0),
    )
    (step,) = clock(NOTHING, DUE, read).steps
    assert str(step.date) == "2026-04-10"
    assert step.minutes == pytest.approx(28.5)


def test_readings_find_drift_and_jumps():
    read = readings(*((f"2027-01-{day}T12:00", 0.2 * day, 0.5) for day in (11, 16, 21, 26, 31)))
    found = clock(NOTHING, DUE, read)
    assert found.has_drift
    assert found.drift_ppm == pytest.approx(0.2 / PPM)
    read = readings(
        *((f"2027-01-{day}T12:00", 0.0 if day < 20 else -60.0, 0.5) for day in (11, 16, 21, 26))
    )
    found = clock(NOTHING, DUE, read)
    assert [round(step.minutes) for step in found.steps] == [-60]


def test_one_reading_beside_a_log_shows_a_jump_at_its_end():
    read = readings(("2027-03-13T12:00", 45.0, 1.0))
    found = clock(seen(DUE), DUE, read)
    assert [round(step.minutes) for step in found.steps] == [45]


def test_what_the_clock_explains_is_told_of_each_movement():
    result = audited(DUE, seen(DUE, lambda days: -60.0 * (days >= 30.5)))
    for one in result.movements:
        explained = 60 if one.due_utc > DUE.due_utc[60] else 0
        assert one.by_clock_min == pytest.approx(explained, abs=0.5)
        assert one.verdict is (Verdict.LATE if explained else Verdict.ON_TIME)


def test_a_clock_nearly_half_a_day_wrong_is_not_taken_for_two():
    # Late ones lie beyond half a day, where the next due movement is nearer.
    log = seen(DUE, -715.0, jitter_min=3.0)
    found = clock(log)
    assert findings(found) == (True, False, 0)
    assert abs(found.offset_min + 715) <= 1
    assert audited(DUE, log).counts[Verdict.LATE] == len(DUE)
