"""What probably made the clock jump?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY
from daylatch.diary.audit.clock.door_clock import Cause

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.arrays import Times
    from daylatch.clock import ClockChange

SAME_MIN = 2.0
"""What differs by this much and its error is still the same jump: a clock is set to the minute, by
one that may itself be off."""
RIGHT_WITHIN_MIN = 3.0
"""A clock no more wrong than this is right, to somebody who set it."""
POWER_CUT_FROM_MIN = 60.0
"""A clock that lost its time begins again at midnight, noon or where it stopped, so that it is
mostly hours wrong; who sets one errs by minutes, or by summer time (this program's choice)."""
_SUMMER_TIME = {Cause.SUMMER_TIME_MISSED, Cause.SUMMER_TIME_TWICE, Cause.SUMMER_TIME_UNWANTED}


@dataclass(frozen=True)
class Jump:
    """A jump that was found.

    Attributes
    ----------
    since, until : datetime64[s]
        Between which it lies.
    minutes, error_min : float
        By how much the clock jumped forward, and half the width of the 95 % interval.
    before_min : float
        By how much the clock was fast before.
    """

    since: np.datetime64
    until: np.datetime64
    minutes: float
    error_min: float
    before_min: float

    def is_by(self, minutes: float) -> bool:
        """Return whether it is a jump by so much."""
        return abs(self.minutes - minutes) <= SAME_MIN + self.error_min


def find_causes(
    jumps: Sequence[Jump],
    clock_set_utc: Times,
    changes: Sequence[ClockChange],
    *,
    follows_zone: bool,
) -> list[Cause]:
    """Return the probable cause of each jump.

    Parameters
    ----------
    jumps
        In the order of time.
    clock_set_utc
        When somebody set it, as far as was written down.
    changes
        Those of the zone.
    follows_zone
        Whether the door's clock should change with it.
    """
    causes: list[Cause] = []
    unexplained = list(changes)
    for number, jump in enumerate(jumps):
        change = next((one for one in unexplained if _near(jump, one)), None)
        cause = None if change is None else _by_zone(jump, change, follows_zone)
        if change is not None and cause is not None:
            # A change of the zone makes one jump; the next one undoes it.
            unexplained.remove(change)
        elif _undoes(jump, jumps[:number], causes) or _set_between(jump, clock_set_utc):
            cause = Cause.SET_BY_HAND
        else:
            cause = _by_size(jump)
        causes.append(cause)
    return causes


def _near(jump: Jump, change: ClockChange) -> bool:
    return bool(jump.since - DAY <= change.instant_utc <= jump.until + DAY)


def _by_zone(jump: Jump, change: ClockChange, follows_zone: bool) -> Cause | None:
    if not follows_zone:
        return Cause.SUMMER_TIME_UNWANTED if jump.is_by(change.minutes) else None
    if jump.is_by(-change.minutes):
        return Cause.SUMMER_TIME_MISSED
    return Cause.SUMMER_TIME_TWICE if jump.is_by(change.minutes) else None


def _undoes(jump: Jump, earlier: Sequence[Jump], causes: Sequence[Cause]) -> bool:
    return any(
        cause in _SUMMER_TIME and jump.is_by(-one.minutes)
        for one, cause in zip(earlier, causes, strict=True)
    )


def _set_between(jump: Jump, clock_set_utc: Times) -> bool:
    return bool(np.any((clock_set_utc >= jump.since) & (clock_set_utc <= jump.until)))


def _by_size(jump: Jump) -> Cause:
    """Return the cause of a jump by itself: to right, or so far that nobody set it so."""
    right = RIGHT_WITHIN_MIN + jump.error_min
    after = jump.before_min + jump.minutes
    if abs(after) <= right < abs(jump.before_min):
        return Cause.SET_BY_HAND
    an_hour = jump.is_by(60) or jump.is_by(-60)
    if abs(jump.minutes) >= POWER_CUT_FROM_MIN and not an_hour:
        return Cause.POWER_CUT
    return Cause.UNKNOWN
