"""What ails the clock in a door, as an audit found it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Times

PPM_PER_MIN_A_DAY = 1e6 / DAY_MIN


class Cause(Enum):
    """What probably made the clock jump."""

    SUMMER_TIME_MISSED = "summer_time_missed"
    """It should have changed with the zone, and did not."""
    SUMMER_TIME_TWICE = "summer_time_twice"
    """It changed by the zone's hour once more than it should."""
    SUMMER_TIME_UNWANTED = "summer_time_unwanted"
    """It changed with the zone, though it should keep one time all year."""
    POWER_CUT = "power_cut"
    """It lost its time, and began again at a wrong one."""
    SET_BY_HAND = "set_by_hand"
    """Somebody set it."""
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Step:
    """A jump of the clock.

    Attributes
    ----------
    date : datetime64[D]
        The first date after it of which something was seen.
    since, until : datetime64[s]
        The last observation before it and the first one after it, UTC.
    minutes : float
        By how much the clock jumped forward, so that the door moves earlier from then on.
    error_min : float
        Half the width of the 95 % interval of that.
    cause : Cause
    """

    date: np.datetime64
    since: np.datetime64
    until: np.datetime64
    minutes: float
    error_min: float
    cause: Cause


@dataclass(frozen=True, eq=False)
class Clock:
    """By how much the door's clock is fast (negative: slow), as a line with jumps.

    Errors are half the widths of 95 % intervals. That of the offset also holds if the stamps were
    cut to the minute rather than rounded, and whatever the due times leave open; drift and jumps
    do not suffer from those.

    Attributes
    ----------
    first_date : datetime64[D]
        The date whose midnight UTC the offset is for: that of the first observation.
    offset_min, offset_error_min : float
        By how much it was fast then.
    drift_ppm, drift_error_ppm : float
        By how much it runs fast, estimated also where that is nothing to tell of; the error is
        infinite where all was seen at one moment.
    steps : tuple of Step
        Its jumps, in the order of time.
    has_offset, has_drift : bool
        Whether that was found: beyond what chance explains, and worth telling.
    """

    first_date: np.datetime64
    offset_min: float
    offset_error_min: float
    drift_ppm: float
    drift_error_ppm: float
    steps: tuple[Step, ...]
    has_offset: bool
    has_drift: bool

    def error_at(self, instants_utc: Times) -> NDArray[np.float64]:
        """Return by how much it is fast at instants [min]: jumps count from their `until` on.

        Without a drift that was found the line is level between jumps.
        """
        seconds = instants_utc.astype("datetime64[s]")
        days = (seconds - self.first_date.astype("datetime64[s]")) / np.timedelta64(1, "D")
        drift = self.drift_ppm / PPM_PER_MIN_A_DAY if self.has_drift else 0.0
        error = self.offset_min + drift * days
        for step in self.steps:
            error = error + step.minutes * (seconds >= step.until)
        return np.asarray(error, np.float64)
