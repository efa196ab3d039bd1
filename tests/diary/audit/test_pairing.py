"""Which movement is which."""

from __future__ import annotations

import numpy as np
import pytest

from audit_logs import entry, expected, moved_by, only, seen, together
from daylatch.diary.audit.pairing import movement_rows, nearest_due, pair
from daylatch.diary.entries import Kind

DUE = expected(4)
LOG = seen(DUE, jitter_min=0.0)
EVENING = DUE.due_utc[3]


def at(minutes: int) -> str:
    return str(EVENING + np.timedelta64(minutes, "m"))


def rows_of(*entries):
    log = together(*entries)
    return [(str(log.at_utc[row])[11:16], log.kinds[row].value) for row in movement_rows(log)]


def test_a_movement_told_twice_is_one_and_the_surer_is_kept():
    told = entry(at(4), False, Kind.MOVED, within=5.0), entry(at(6), False, Kind.MOVED)
    assert rows_of(*told) == [(at(6)[11:16], "moved")]


def test_a_persons_word_comes_first():
    told = entry(at(0), False, Kind.MOVED), entry(at(2), False, Kind.BY_HAND)
    assert rows_of(*told) == [(at(2)[11:16], "by hand")]


def test_with_a_movement_back_between_them_they_are_two():
    told = [
        entry(at(minute), opening, Kind.BY_HAND) for minute, opening in ((0, 0), (5, 1), (9, 0))
    ]
    assert len(rows_of(*told)) == 3


def test_half_an_hour_apart_they_are_two():
    assert len(rows_of(entry(at(0), False, Kind.MOVED), entry(at(31), False, Kind.MOVED))) == 2


def test_a_state_is_no_movement():
    assert rows_of(entry(at(0), False, Kind.STATE)) == []


def test_what_the_door_stamped_stands_beside_what_something_else_did():
    log = together(LOG, seen(DUE, jitter_min=0.0, outside=False))
    rows = movement_rows(log)
    assert len(rows) == 2 * len(DUE)
    pairs = pair(DUE, log, np.zeros(len(log)), rows)
    assert log.outside[pairs.done_by].all()
    assert not log.outside[pairs.told_again].any()
    assert len(pairs.told_again) == len(DUE)


def test_what_something_else_stamped_comes_before_what_the_door_did():
    log = together(moved_by(LOG, 3, 5), entry(at(0), False, Kind.MOVED, outside=False))
    pairs = pair(DUE, log, np.zeros(len(log)), movement_rows(log))
    assert log.at_utc[pairs.done_by[3]] == EVENING + np.timedelta64(5, "m")
    assert len(pairs.told_again) == 1


@pytest.mark.parametrize("minutes", [-700, -61, 0, 61, 700])
def test_the_nearest_of_its_direction_is_found_however_wrong_the_clock(minutes):
    due = expected(10)
    log = seen(due, minutes, jitter_min=0.0)
    assert nearest_due(due, log, np.zeros(len(log))).tolist() == list(range(20))
    pairs = pair(due, log, np.full(len(log), float(minutes)), np.arange(len(log)))
    assert log.at_utc[pairs.done_by].tolist() == seen(due, minutes, jitter_min=0.0).at_utc.tolist()


def test_further_than_half_a_day_is_none():
    far = entry("2027-01-16T08:00", True, Kind.MOVED)
    assert nearest_due(DUE, far, np.zeros(1)).tolist() == [-1]


def test_nearer_wins_and_a_quarter_of_a_day_is_too_far():
    log = together(moved_by(LOG, 3, 2), entry(at(70), False, Kind.MOVED))
    pairs = pair(DUE, log, np.zeros(len(log)), movement_rows(log))
    assert log.at_utc[pairs.done_by[3]] == EVENING + np.timedelta64(2, "m")
    alone = only(LOG, np.arange(len(LOG)) != 3)
    for minutes, found in ((359, True), (361, False)):
        log = together(alone, entry(at(minutes), False, Kind.MOVED))
        pairs = pair(DUE, log, np.zeros(len(log)), movement_rows(log))
        assert bool(pairs.done_by[3] >= 0) is found
