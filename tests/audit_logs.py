"""Logs of a door for tests: smooth due times of two movements a day, and what was seen of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import ClockChange
from daylatch.diary.audit.audit import Audit, audit
from daylatch.diary.entries import Kind
from daylatch.diary.moves import Expected, Readings, Seen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

FIRST = np.datetime64("2027-01-11")
NO_READINGS = Readings(np.array([], "datetime64[s]"), np.array([]), np.array([]))
NEVER = np.array([], "datetime64[s]")
NOTHING = Seen(NEVER, np.array([], bool), (), np.array([]), np.array([], bool))


def expected(days: int, first: np.datetime64 = FIRST) -> Expected:
    """Return two movements a day: about 07:10 and 16:40 UTC in January, the days growing."""
    number = np.arange(days)
    half = np.round(285 + 120 * (1 - np.cos(2 * np.pi * number / 365))).astype(np.int64)
    noon = first.astype("datetime64[m]") + 715 + 1440 * number
    due = np.column_stack([noon - half, noon + half]).ravel()
    zeros = np.zeros(2 * days, np.int64)
    return Expected(first + number.repeat(2), np.tile([True, False], days), due, due, zeros)


def seen(
    due: Expected,
    fast: Callable[[np.ndarray], np.ndarray] | float = 0.0,
    *,
    jitter_min: float = 0.3,
    seed: int = 7,
    outside: bool = True,
) -> Seen:
    """Return every movement, seen to the minute.

    Parameters
    ----------
    fast
        By how much the door's clock is fast [min], or that as a function of days from the first
        midnight.
    """
    days = (due.due_utc - due.dates[0].astype("datetime64[m]")) / np.timedelta64(1, "D")
    fast_min = fast(days) if callable(fast) else np.full(len(due), float(fast))
    moves = np.random.default_rng(seed).normal(0, jitter_min, len(due)) - fast_min
    at = (due.due_utc + np.round(moves).astype("timedelta64[m]")).astype("datetime64[s]")
    kinds = (Kind.MOVED,) * len(due)
    return Seen(at, due.opening, kinds, np.ones(len(due)), np.full(len(due), outside))


def only(log: Seen, rows: np.ndarray) -> Seen:
    """Return some rows of what was seen."""
    rows = np.arange(len(log))[rows]
    return Seen(
        log.at_utc[rows],
        log.opening[rows],
        tuple(log.kinds[row] for row in rows),
        log.within_min[rows],
        log.outside[rows],
    )


def entry(at: str, opening: bool, kind: Kind, *, within: float = 1.0, outside: bool = True) -> Seen:
    """Return one thing seen."""
    return Seen(
        np.array([at], "datetime64[s]"),
        np.array([opening]),
        (kind,),
        np.array([within]),
        np.array([outside]),
    )


def together(*logs: Seen) -> Seen:
    """Return several logs as one, in the order of time."""
    both = Seen(
        np.concatenate([log.at_utc for log in logs]),
        np.concatenate([log.opening for log in logs]),
        tuple(kind for log in logs for kind in log.kinds),
        np.concatenate([log.within_min for log in logs]),
        np.concatenate([log.outside for log in logs]),
    )
    return only(both, np.argsort(both.at_utc, kind="stable"))


def moved_by(log: Seen, row: int, minutes: int, **changed: object) -> Seen:
    """Return a log with one movement later."""
    at = log.at_utc.copy()
    at[row] += np.timedelta64(minutes, "m")
    return replace(log, at_utc=at, **changed)


def readings(*rows: tuple[str, float, float]) -> Readings:
    """Return readings of the door's clock: when, by how much it was fast, and how sure that is."""
    at, fast, within = zip(*rows, strict=True)
    return Readings(np.array(at, "datetime64[s]"), np.array(fast), np.array(within))


def change(at: str, minutes: int) -> ClockChange:
    """Return a change of a zone."""
    before = np.timedelta64(60, "m")
    return ClockChange(np.datetime64(at, "s"), before, before + np.timedelta64(minutes, "m"))


def audited(
    due: Expected,
    log: Seen,
    read: Readings = NO_READINGS,
    *,
    clock_set: Sequence[str] = (),
    changes: Sequence[ClockChange] = (),
    **options: object,
) -> Audit:
    """Return the audit of a log."""
    return audit(due, log, read, np.array(clock_set, "datetime64[s]"), changes, **options)
