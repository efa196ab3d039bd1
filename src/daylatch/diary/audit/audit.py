"""The door against what was due, and what ails its clock.

Only what something else than the door stamped can judge its clock: a log by the clock that moves
the door always equals the plan. How it is fitted: `segments` finds where it may have jumped and
what belongs to no line, `lines` measures, `clock_fit` keeps what is beyond chance and worth
telling, `causes` puts jumps down to something.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.diary.audit.clock.describe import describe_clock
from daylatch.diary.audit.clock.door_clock import Cause, Clock, Step
from daylatch.diary.audit.clock.fit import fit_clock
from daylatch.diary.audit.clock.observations import gather
from daylatch.diary.audit.order import expected_in_order, readings_in_order, seen_in_order
from daylatch.diary.audit.pairing import movement_rows, nearest_due, pair
from daylatch.diary.audit.verdicts import Movement, Verdict, fast_at, judge
from daylatch.diary.entries import Kind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.clock import ClockChange
    from daylatch.diary.moves import Expected, Readings, Seen

__all__ = ["Audit", "Cause", "Clock", "Movement", "Step", "Verdict", "WhyNot", "audit"]

ON_TIME_WITHIN_MIN = 3.0
LEAST_MOVEMENTS = 5
"""So many can judge a clock, of three days at least: if two were late for another reason, three
agree."""
_MOST_PAIRINGS = 3
_NEARLY_HALF_A_DAY_MIN = 600


class WhyNot(Enum):
    """Why the door's clock is not judged."""

    NOTHING_SEEN = "nothing_seen"
    TOO_FEW = "too_few"
    ONLY_DOOR_STAMPS = "only_door_stamps"


@dataclass(frozen=True, eq=False)
class Audit:
    """What an audit found.

    Attributes
    ----------
    movements : tuple of Movement
        Every due movement and every other one that was seen, in the order of time.
    clock : Clock or None
        What ails the door's clock; None where it is not judged.
    why_not : WhyNot or None
        Why it is not.
    """

    movements: tuple[Movement, ...]
    clock: Clock | None
    why_not: WhyNot | None

    @property
    def judged(self) -> bool:
        """Whether the door's clock is judged."""
        return self.clock is not None

    @property
    def counts(self) -> dict[Verdict, int]:
        """How many movements have each verdict, of all verdicts."""
        found = Counter(movement.verdict for movement in self.movements)
        return {verdict: found[verdict] for verdict in Verdict}


def audit(
    expected: Expected,
    seen: Seen,
    readings: Readings,
    clock_set_utc: Times,
    changes: Sequence[ClockChange],
    *,
    follows_zone: bool = True,
    on_time_within_min: float = ON_TIME_WITHIN_MIN,
) -> Audit:
    """Return what became of each movement, and what ails the door's clock.

    Parameters
    ----------
    expected, seen, readings
        In any order.
    clock_set_utc
        datetime64: when somebody set the door's clock.
    changes
        Of the zone, over all of the log.
    follows_zone
        Whether the door's clock should change with the zone.
    on_time_within_min
        How far from its due time a movement is on time [min].
    """
    expected, seen = expected_in_order(expected), seen_in_order(seen)
    readings = readings_in_order(readings)
    rows = movement_rows(seen)
    by_itself = np.array([kind is Kind.MOVED for kind in seen.kinds], np.bool_)
    judging = rows[by_itself[rows] & seen.outside[rows]]
    clock = _clock(
        expected, seen, readings, clock_set_utc, changes, follows_zone=follows_zone, judging=judging
    )
    why_not = None if clock is not None else _why_not(seen, by_itself, judging)
    return Audit(judge(expected, seen, rows, clock, on_time_within_min), clock, why_not)


def _why_not(seen: Seen, by_itself: Flags, judging: NDArray[np.int64]) -> WhyNot:
    if not len(seen):
        return WhyNot.NOTHING_SEEN
    only_door = not judging.size and bool(np.any(by_itself & ~seen.outside))
    return WhyNot.ONLY_DOOR_STAMPS if only_door else WhyNot.TOO_FEW


def _at_first(expected: Expected, seen: Seen, judging: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each thing seen the nearest due movement, if nothing is known of the clock.

    One that is half a day wrong, such as with am for pm, makes some movements nearest to that of
    the day before and some to that of the day after: then all are taken to be off the same way.
    """
    near = nearest_due(expected, seen, np.zeros(len(seen)))[judging]
    there = near >= 0
    if not there.any():
        return near
    due = expected.due_utc[near[there]].astype("datetime64[s]")
    fast_min = (due - seen.at_utc[judging][there]) / np.timedelta64(1, "m")
    if np.median(np.abs(fast_min)) < _NEARLY_HALF_A_DAY_MIN:
        return near
    turn = 2 * np.pi / DAY_MIN
    middle = np.angle(np.exp(1j * turn * fast_min).mean()) / turn
    return nearest_due(expected, seen, np.full(len(seen), middle))[judging]


def _clock(
    expected: Expected,
    seen: Seen,
    readings: Readings,
    clock_set_utc: Times,
    changes: Sequence[ClockChange],
    *,
    follows_zone: bool,
    judging: NDArray[np.int64],
) -> Clock | None:
    """Return the fitted clock, or None where too little judges it.

    At first each movement is taken for the nearest due one. With a first fit it is known better:
    where the clock is nearly half a day wrong, and where several were taken for one.
    """
    judges = np.full(len(seen), -1, np.int64)
    judges[judging] = _at_first(expected, seen, judging)
    clock = None
    for _ in range(_MOST_PAIRINGS):
        known = gather(expected, seen, judges, readings)
        if not known.readings.any() and len(known) < LEAST_MOVEMENTS:
            return None
        clock = describe_clock(
            known,
            fit_clock(known),
            clock_set_utc,
            changes,
            follows_zone=follows_zone,
        )
        done_by = pair(expected, seen, fast_at(seen, clock), judging).done_by
        again = np.full(len(seen), -1, np.int64)
        again[done_by[done_by >= 0]] = np.flatnonzero(done_by >= 0)
        if np.array_equal(again, judges):
            break
        judges = again
    return clock
