"""What became of each movement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit_logs import NOTHING, audited, entry, expected, moved_by, only, seen, together
from daylatch.diary.audit.audit import Verdict
from daylatch.diary.entries import Kind

DAYS = 6
DUE = expected(DAYS)
LOG = seen(DUE, jitter_min=0.0)
# The closing of the third day, at 16:40.
CLOSING = 5
AT = DUE.due_utc[CLOSING]
EVENING = only(LOG, np.arange(len(LOG)) != CLOSING)


def later(minutes: int) -> str:
    return str(AT + np.timedelta64(minutes, "m"))


def movement(log, number: int = CLOSING, due=DUE, **options):
    return [one for one in audited(due, log, **options).movements if not np.isnat(one.due_utc)][
        number
    ]


@pytest.mark.parametrize(
    ("minutes", "verdict"),
    [
        (0, Verdict.ON_TIME),
        (3, Verdict.ON_TIME),
        (4, Verdict.LATE),
        (-3, Verdict.ON_TIME),
        (-4, Verdict.EARLY),
        (200, Verdict.LATE),
    ],
)
def test_a_movement_is_on_time_within_three_minutes(minutes, verdict):
    found = movement(moved_by(LOG, CLOSING, minutes))
    assert found.verdict is verdict
    assert found.seen_utc - found.due_utc == np.timedelta64(minutes, "m")


def test_the_keeper_says_what_is_on_time():
    assert movement(moved_by(LOG, CLOSING, 9), on_time_within_min=10).verdict is Verdict.ON_TIME
    assert movement(moved_by(LOG, CLOSING, 1), on_time_within_min=0.5).verdict is Verdict.LATE


def test_an_unsure_stamp_widens_what_is_on_time():
    unsure = replace(LOG, within_min=np.full(len(LOG), 5.0))
    assert movement(moved_by(unsure, CLOSING, 7)).verdict is Verdict.ON_TIME
    assert movement(moved_by(unsure, CLOSING, 8)).verdict is Verdict.LATE
    assert movement(moved_by(unsure, CLOSING, -8)).verdict is Verdict.EARLY


def test_where_only_a_bound_is_known_it_may_come_later_but_not_earlier():
    bound = replace(DUE, up_to_min=np.full(len(DUE), 10))
    assert movement(moved_by(LOG, CLOSING, 13), due=bound).verdict is Verdict.ON_TIME
    assert movement(moved_by(LOG, CLOSING, 14), due=bound).verdict is Verdict.LATE
    assert movement(moved_by(LOG, CLOSING, -4), due=bound).verdict is Verdict.EARLY
    assert movement(LOG, due=bound).up_to_min == 10


@pytest.mark.parametrize(
    ("minutes", "verdict"),
    [(-90, Verdict.BY_HAND), (30, Verdict.BY_HAND), (31, Verdict.MISSED)],
)
def test_by_hand_before_it_or_soon_after_it_was_done_else_put_right(minutes, verdict):
    found = movement(together(EVENING, entry(later(minutes), False, Kind.BY_HAND)))
    assert found.verdict is verdict
    assert found.seen_utc == AT + np.timedelta64(minutes, "m")
    assert found.by_clock_min is None


def test_nothing_seen_is_not_reported():
    found = movement(EVENING)
    assert found.verdict is Verdict.NOT_REPORTED
    assert np.isnat(found.seen_utc)


@pytest.mark.parametrize(
    ("entries", "verdict"),
    [
        ([(20, True, Kind.STATE)], Verdict.MISSED),
        ([(20, False, Kind.STATE)], Verdict.NOT_REPORTED),
        # The first to tell counts: what came after may be somebody's doing.
        ([(20, False, Kind.STATE), (60, True, Kind.STATE)], Verdict.NOT_REPORTED),
        ([(20, True, Kind.STATE), (60, False, Kind.STATE)], Verdict.MISSED),
        # Before it was surely due, and after the next one was, nothing is shown.
        ([(-5, True, Kind.STATE)], Verdict.NOT_REPORTED),
        ([(3, True, Kind.STATE)], Verdict.NOT_REPORTED),
        ([(16 * 60, True, Kind.STATE)], Verdict.NOT_REPORTED),
        # Who opens it found it shut.
        ([(20, True, Kind.BY_HAND)], Verdict.NOT_REPORTED),
        # Who shuts it at night found it open.
        ([(8 * 60, False, Kind.BY_HAND)], Verdict.MISSED),
    ],
)
def test_what_was_seen_until_the_next_one_tells_whether_it_was_missed(entries, verdict):
    others = [entry(later(minutes), opening, kind) for minutes, opening, kind in entries]
    assert movement(together(EVENING, *others)).verdict is verdict


def test_after_the_next_one_was_due_nothing_is_shown():
    log = only(LOG, ~np.isin(np.arange(len(LOG)), [CLOSING, CLOSING + 1]))
    opened = entry(later(16 * 60), True, Kind.STATE)
    assert movement(together(log, opened)).verdict is Verdict.NOT_REPORTED


def test_an_opening_is_missed_too():
    log = only(LOG, np.arange(len(LOG)) != 4)
    shut = entry(str(DUE.due_utc[4] + np.timedelta64(2, "h")), False, Kind.STATE)
    assert movement(together(log, shut), 4).verdict is Verdict.MISSED


def test_a_state_never_makes_a_movement_late():
    assert movement(together(LOG, entry(later(40), False, Kind.STATE))).verdict is Verdict.ON_TIME


def test_a_late_movement_is_not_missed_though_the_door_was_seen_open():
    log = together(moved_by(LOG, CLOSING, 40), entry(later(20), True, Kind.STATE))
    assert movement(log).verdict is Verdict.LATE


def test_a_slow_clock_has_not_missed_what_it_does_later():
    due = expected(20)
    log = only(seen(due, -300.0), np.arange(40) != CLOSING)
    open_still = entry(later(60), True, Kind.STATE)
    assert movement(together(log, open_still), due=due).verdict is Verdict.NOT_REPORTED
    open_after = entry(later(340), True, Kind.STATE)
    assert movement(together(log, open_after), due=due).verdict is Verdict.MISSED


def test_a_movement_by_day_is_unplanned():
    result = audited(DUE, together(LOG, entry("2027-01-13T12:00", False, Kind.MOVED)))
    (found,) = (one for one in result.movements if one.verdict is Verdict.UNPLANNED)
    assert np.isnat(found.due_utc)
    assert np.isnat(found.planned_utc)
    assert found.date == np.datetime64("2027-01-13")
    assert found.by_clock_min is None
    assert result.counts[Verdict.ON_TIME] == len(DUE)


def test_an_unplanned_movement_is_of_the_flock_day_of_the_nearest_due_one():
    result = audited(DUE, entry("2027-01-12T23:59", True, Kind.MOVED))
    (found,) = (one for one in result.movements if one.verdict is Verdict.UNPLANNED)
    assert found.date == np.datetime64("2027-01-13")


def test_without_anything_due_it_is_of_its_date():
    result = audited(expected(0), entry("2027-01-12T23:59", True, Kind.MOVED))
    (found,) = result.movements
    assert (found.verdict, found.date) == (Verdict.UNPLANNED, np.datetime64("2027-01-12"))


def test_movements_stand_in_the_order_of_time():
    log = together(LOG, entry("2027-01-13T12:00", True, Kind.MOVED))
    times = [
        one.seen_utc if np.isnat(one.due_utc) else one.due_utc
        for one in audited(DUE, log).movements
    ]
    assert times == sorted(times)
    assert len(times) == len(DUE) + 1


def test_counts_name_every_verdict():
    assert audited(DUE, NOTHING).counts == {
        verdict: len(DUE) if verdict is Verdict.NOT_REPORTED else 0 for verdict in Verdict
    }


def test_the_verdict_stays_where_the_clock_explains_it():
    due = expected(20)
    found = movement(seen(due, -60.0), due=due)
    assert found.verdict is Verdict.LATE
    assert found.by_clock_min == pytest.approx(60, abs=0.3)


def test_what_the_door_stamped_is_not_explained_by_its_clock():
    due = expected(20)
    log = seen(due, -60.0)
    own = only(seen(due, jitter_min=0.0, outside=False), np.array([CLOSING]))
    log = together(only(log, np.arange(40) != CLOSING), own)
    found = movement(log, due=due)
    assert found.verdict is Verdict.ON_TIME
    assert found.by_clock_min is None
