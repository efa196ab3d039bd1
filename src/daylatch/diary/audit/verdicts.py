"""What became of each movement that was due, and what else the door did."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.pairing import dates_of, pair
from daylatch.diary.entries import Kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.diary.audit.clock.door_clock import Clock
    from daylatch.diary.audit.pairing import Pairs
    from daylatch.diary.moves import Expected, Seen

HAND_LATE_MIN = 30
"""Who moves the door later than this after it was due does not stand in for it, but puts right what
it left undone (this program's choice, no source)."""
_STAMP_SURE_MIN = 1.0
_NEVER = np.datetime64("NaT", "s")
_NOT_DUE = np.datetime64("NaT", "m")


class Verdict(Enum):
    """What became of a movement."""

    ON_TIME = "on_time"
    LATE = "late"
    EARLY = "early"
    MISSED = "missed"
    """The door did not move: an entry before the next due movement shows it as it was before."""
    UNPLANNED = "unplanned"
    """It moved, or was moved, when nothing was due."""
    BY_HAND = "by_hand"
    """Somebody did it, before it was due or soon after."""
    NOT_REPORTED = "not_reported"
    """Nothing was seen of it, and nothing shows that it did not happen."""


@dataclass(frozen=True)
class Movement:
    """A movement that was due, or one that was seen and was not due.

    Attributes
    ----------
    date : datetime64[D]
        Its flock day; of an unplanned one that of the nearest due one.
    opening : bool
        Whether it opens the door; else it closes it.
    planned_utc, due_utc : datetime64[m]
        As in `Expected`; NaT where nothing was due.
    seen_utc : datetime64[s]
        When it was seen, by what stamped it; of a missed one when somebody put it right. NaT where
        it was not seen.
    verdict : Verdict
        Against what was due, also where the door's clock explains the difference.
    up_to_min : int
        By how many minutes it may rightly come later than due.
    by_clock_min : float or None
        How much of seen minus due the fitted clock explains; None without a fit, and where the door
        did not move by itself or its own clock stamped it.
    """

    date: np.datetime64
    opening: bool
    planned_utc: np.datetime64
    due_utc: np.datetime64
    seen_utc: np.datetime64
    verdict: Verdict
    up_to_min: int
    by_clock_min: float | None

    @property
    def late_min(self) -> float | None:
        """By how many minutes it came after it was due; None if that is not known."""
        if np.isnat(self.seen_utc) or np.isnat(self.due_utc):
            return None
        return float((self.seen_utc - self.due_utc) / np.timedelta64(1, "m"))


def judge(
    expected: Expected,
    seen: Seen,
    rows: NDArray[np.int64],
    clock: Clock | None,
    on_time_within_min: float,
) -> tuple[Movement, ...]:
    """Return every movement with its verdict, in the order of time.

    A state that was seen tells no time: it never makes a movement late, and one that was seen in no
    other way stays `NOT_REPORTED`, unless the state shows that it did not happen.

    Parameters
    ----------
    rows
        The rows of what was seen that stand for a movement, one for each.
    clock
        The fitted clock, if there is one: it tells which movement is which.
    on_time_within_min
        How far from its due time a movement is on time.
    """
    fast = fast_at(seen, clock)
    pairs = pair(expected, seen, fast, rows)
    found = [
        _verdict_of_seen(expected, seen, due, int(row), fast, clock, on_time_within_min)
        if row >= 0
        else _verdict_of_unseen(expected, seen, due, clock, on_time_within_min)
        for due, row in enumerate(pairs.done_by)
    ]
    found += _unplanned(expected, seen, rows, pairs)
    return tuple(sorted(found, key=_time_of))


def fast_at(seen: Seen, clock: Clock | None) -> NDArray[np.float64]:
    """Return by how much the door's clock is fast in what was seen [min].

    Zero where a person moved the door, and where the door's own clock stamped it.
    """
    if clock is None:
        return np.zeros(len(seen))
    by_itself = np.array([kind is Kind.MOVED for kind in seen.kinds], np.bool_)
    return np.where(by_itself & seen.outside, clock.error_at(seen.at_utc), 0.0)


def _time_of(movement: Movement) -> np.datetime64:
    return movement.seen_utc if np.isnat(movement.due_utc) else movement.due_utc


def _verdict_of_seen(
    expected: Expected,
    seen: Seen,
    due: int,
    row: int,
    fast: NDArray[np.float64],
    clock: Clock | None,
    on_time_within_min: float,
) -> Movement:
    up_to = int(expected.up_to_min[due])
    late_min = float((seen.at_utc[row] - expected.due_utc[due]) / np.timedelta64(1, "m"))
    margin = on_time_within_min + max(0.0, float(seen.within_min[row]) - _STAMP_SURE_MIN)
    by_hand = seen.kinds[row] is Kind.BY_HAND
    if by_hand:
        soon = late_min <= HAND_LATE_MIN + up_to
        verdict = Verdict.BY_HAND if soon else Verdict.MISSED
    elif late_min > margin + up_to:
        verdict = Verdict.LATE
    else:
        verdict = Verdict.EARLY if late_min < -margin else Verdict.ON_TIME
    explained = clock is not None and not by_hand and bool(seen.outside[row])
    return Movement(
        expected.dates[due],
        bool(expected.opening[due]),
        expected.planned_utc[due],
        expected.due_utc[due],
        seen.at_utc[row],
        verdict,
        up_to,
        -float(fast[row]) if explained else None,
    )


def _verdict_of_unseen(
    expected: Expected, seen: Seen, due: int, clock: Clock | None, on_time_within_min: float
) -> Movement:
    """Return a movement that nothing seen is: the first entry after it tells if it was missed."""
    up_to = int(expected.up_to_min[due])
    around = expected.due_utc[due : due + 2].astype("datetime64[s]")
    by_clock = around
    if clock is not None:
        by_clock = around - np.round(60 * clock.error_at(around)).astype("timedelta64[s]")
    surely_done = max(around[0], by_clock[0]) + np.timedelta64(
        round(60 * (up_to + on_time_within_min)), "s"
    )
    unsure = np.round(60 * seen.within_min).astype("timedelta64[s]")
    after = seen.at_utc - unsure > surely_done
    if len(around) > 1:
        on_time = np.timedelta64(round(60 * on_time_within_min), "s")
        after &= seen.at_utc + unsure < min(around[1], by_clock[1]) - on_time
    missed = bool(after.any()) and _shows_undone(
        seen, int(np.argmax(after)), bool(expected.opening[due])
    )
    return Movement(
        expected.dates[due],
        bool(expected.opening[due]),
        expected.planned_utc[due],
        expected.due_utc[due],
        _NEVER,
        Verdict.MISSED if missed else Verdict.NOT_REPORTED,
        up_to,
        None,
    )


def _shows_undone(seen: Seen, row: int, opening: bool) -> bool:
    """Return whether an entry shows the door as it was before a movement that was due.

    It was seen so; or it moved only then to where it should have been.
    """
    same = bool(seen.opening[row]) == opening
    return not same if seen.kinds[row] is Kind.STATE else same


def _unplanned(
    expected: Expected, seen: Seen, rows: NDArray[np.int64], pairs: Pairs
) -> list[Movement]:
    """Return what was seen that is no due movement."""
    rest = np.setdiff1d(rows, np.concatenate([pairs.done_by, pairs.told_again]))
    dates = dates_of(expected, seen.at_utc[rest])
    return [
        Movement(
            date,
            bool(seen.opening[row]),
            _NOT_DUE,
            _NOT_DUE,
            seen.at_utc[row],
            Verdict.UNPLANNED,
            0,
            None,
        )
        for row, date in zip(rest, dates, strict=True)
    ]
