"""Simulated logs of a door whose clock is wrong in ways that are known, for benches.

The due times are those of a real plan at 52 degrees north over three years. A door moves when its
own clock shows a due time, give or take a jitter; some movements are missed, late or done by hand;
what is seen of them is stamped by something else, to the minute.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from daylatch.arrays import DAY
from daylatch.clock import ClockChange, get_zone
from daylatch.diary.audit.clock.door_clock import PPM_PER_MIN_A_DAY
from daylatch.diary.entries import Kind
from daylatch.diary.moves import Expected, Readings, Seen
from daylatch.door.works.due import make_due
from daylatch.plan.plan import Plan, make_plan
from daylatch.site.reading.site_file import read_site

SITE = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Simulated"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
"""
FIRST, LAST = dt.date(2026, 1, 1), dt.date(2028, 12, 31)
NO_READINGS = Readings(np.array([], "datetime64[s]"), np.array([]), np.array([]))
NEVER_SET = np.array([], "datetime64[s]")


@dataclass(frozen=True)
class Manner:
    """How a door moves, and how that is written down."""

    jitter_min: float = 0.3
    missed: float = 0.02
    late: float = 0.02
    by_hand: float = 0.01
    cut: bool = False
    closings_only: bool = False
    gap_days: int = 0
    # The second truth: nothing was chosen by it.
    motor_slow_min: float = 0.0
    from_memory: float = 0.0
    stamp_step_min: int = 1


@dataclass(frozen=True)
class Faults:
    """What ails the clock: `steps` are days from the first midnight, and minutes forward."""

    offset_min: float = 0.0
    drift_ppm: float = 0.0
    steps: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Log:
    """A log with its truth: what ails the clock; the due movements done, and the late ones."""

    expected: Expected
    seen: Seen
    changes: list[ClockChange]
    faults: Faults
    done: np.ndarray
    late: np.ndarray
    first: np.datetime64 = field(repr=False)


@cache
def base_plan() -> Plan:
    return make_plan(read_site(SITE, "simulated.toml"), FIRST, LAST)


@cache
def base_due() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return dates, openings and closings."""
    due = make_due(base_plan())
    return base_plan().dates, due.open_utc, due.close_utc


@cache
def base_changes() -> list[ClockChange]:
    zone = get_zone("Europe/Amsterdam")
    return zone.changes(np.datetime64(FIRST, "s"), np.datetime64(LAST, "s"))


def expected_of(first: np.datetime64, days: int, *, closings_only: bool) -> Expected:
    dates, opens, closes = base_due()
    begin = int((first - dates[0]) // DAY)
    rows = slice(begin, begin + days)
    of_dates = dates[rows] if closings_only else np.repeat(dates[rows], 2)
    due = closes[rows] if closings_only else np.column_stack([opens[rows], closes[rows]]).ravel()
    opening = np.zeros(days, bool) if closings_only else np.tile([True, False], days)
    return Expected(of_dates, opening, due, due, np.zeros(len(due), np.int64))


def make_log(
    random: np.random.Generator, first: np.datetime64, days: int, faults: Faults, manner: Manner
) -> Log:
    """Return the log of a door."""
    expected = expected_of(first, days, closings_only=manner.closings_only)
    since_min = (expected.due_utc - first.astype("datetime64[m]")).astype(np.int64).astype(float)
    moves, skipped = _moved(since_min, faults)
    count = len(expected)
    moves = moves + random.normal(0, manner.jitter_min, count)
    moves += manner.motor_slow_min * _cold(expected.dates)
    lot = random.random(count)
    missed = lot < manner.missed
    late = (lot >= manner.missed) & (lot < manner.missed + manner.late)
    by_hand = ~missed & ~late & (lot < manner.missed + manner.late + manner.by_hand)
    moves += late * random.uniform(5, 40, count)
    moves = np.where(by_hand, since_min + random.uniform(-20, 20, count), moves)
    memory = random.random(count) < manner.from_memory
    moves = np.where(memory, moves + random.normal(0, 4, count), moves)
    if manner.gap_days:
        start = random.uniform(3, days - 3 - manner.gap_days) * 1440
        hidden = (since_min >= start) & (since_min < start + manner.gap_days * 1440)
    else:
        hidden = np.zeros(count, bool)
    step = np.where(memory, 5, manner.stamp_step_min)
    stamps = step * (np.floor(moves / step) if manner.cut else np.round(moves / step))
    done = ~missed & ~(skipped & ~by_hand) & ~hidden
    at = first.astype("datetime64[s]") + (60 * stamps).astype("timedelta64[s]")
    rows = np.flatnonzero(done)[np.argsort(at[done], kind="stable")]
    seen = Seen(
        at[rows],
        expected.opening[rows],
        tuple(Kind.BY_HAND if by_hand[row] else Kind.MOVED for row in rows),
        np.where(memory[rows], 5.0, np.maximum(1.0, step[rows] / 2)),
        np.ones(len(rows), bool),
    )
    end = first + days * DAY
    changes = [change for change in base_changes() if first <= change.instant_utc < end]
    return Log(expected, seen, changes, faults, done, late & done, first)


def _moved(since_min: np.ndarray, faults: Faults) -> tuple[np.ndarray, np.ndarray]:
    """Return when the door moves, and which due times its clock jumps over."""
    moves = since_min - faults.offset_min - _drifted(since_min, faults)
    skipped = np.zeros(len(since_min), bool)
    total = 0.0
    for day, minutes in sorted(faults.steps):
        before = since_min - faults.offset_min - _drifted(since_min, faults) - total
        total += minutes
        after = before - minutes
        not_yet = before > day * 1440
        moves = np.where(not_yet, after, moves)
        skipped = np.where(not_yet, after < day * 1440, skipped)
    return moves, skipped


def _drifted(since_min: np.ndarray, faults: Faults) -> np.ndarray:
    return faults.drift_ppm / PPM_PER_MIN_A_DAY * since_min / 1440


def _cold(dates: np.ndarray) -> np.ndarray:
    """Return how cold a date is, from 0 in mid July to 1 in mid January."""
    of_year = (dates - dates.astype("datetime64[Y]")).astype(np.int64)
    return (1 + np.cos(2 * np.pi * (of_year - 15) / 365)) / 2


def second_truth(random: np.random.Generator) -> Manner:
    """Return a manner with other parts."""
    return replace(
        Manner(), motor_slow_min=random.uniform(1, 3), from_memory=0.15, stamp_step_min=5
    )
