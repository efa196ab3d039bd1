"""What can judge the door's clock: movements that something else stamped, and readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.clock.segments import READING_COST, STRAY_COST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.diary.moves import Expected, Readings, Seen

LEAST_SCATTER_MIN = 0.3
"""Below this no scatter is believed: stamps and due times are of whole minutes, and what is rounded
to them scatters by 1/√12 of one."""
_MAD_TO_SD = 1.4826  # Of a normal distribution.
_MINUTE_S = 60


@dataclass(frozen=True, eq=False)
class Observations:
    """By how much the clock was fast, by each thing that was seen; in the order of time.

    Attributes
    ----------
    at_utc : datetime64[s]
        When it was seen.
    dates : datetime64[D]
        The flock day of a movement, the date UTC of a reading.
    fast_min : float64
        By how much the clock was fast.
    scale_min : float64
        By how much that scatters (one standard deviation).
    readings : bool
        Whether it is a reading; else a movement.
    bias_min : float
        By how much all movements may be wrong alike.
    """

    at_utc: Times
    dates: Times
    fast_min: NDArray[np.float64]
    scale_min: NDArray[np.float64]
    readings: Flags
    bias_min: float

    def __len__(self) -> int:
        return len(self.at_utc)

    @property
    def stray_cost(self) -> NDArray[np.float64]:
        """What each costs at most that lies off the line, however far."""
        return np.where(self.readings, READING_COST, STRAY_COST)

    @property
    def reach_min(self) -> NDArray[np.float64]:
        """How far off the line each may lie and still belong to it [min]."""
        return np.asarray(self.scale_min * np.sqrt(2 * self.stray_cost), np.float64)

    @property
    def days(self) -> NDArray[np.float64]:
        """Days since midnight UTC of the first one's date."""
        since = self.at_utc - self.dates[0].astype("datetime64[s]")
        return np.asarray(since / np.timedelta64(1, "D"), np.float64)


def gather(
    expected: Expected, seen: Seen, due_of: NDArray[np.int64], readings: Readings
) -> Observations:
    """Return what judges the clock.

    Parameters
    ----------
    due_of
        For each thing seen the row of the due movement that it is, or -1 where it judges nothing.
    """
    rows = np.flatnonzero(due_of >= 0)
    due = due_of[rows]
    up_to = expected.up_to_min[due]
    middle_s = expected.due_utc[due].astype("datetime64[s]") + 30 * up_to.astype("timedelta64[s]")
    fast = (middle_s - seen.at_utc[rows]) / np.timedelta64(_MINUTE_S, "s")
    # Known within a bound either way: that is taken for two standard deviations.
    own = np.maximum(seen.within_min[rows] / 2, up_to / 4)
    scale = np.maximum(_scatter(fast), own)
    at = np.concatenate([seen.at_utc[rows], readings.at_utc])
    order = np.argsort(at, kind="stable")
    return Observations(
        at[order],
        np.concatenate([expected.dates[due], readings.at_utc.astype("datetime64[D]")])[order],
        np.concatenate([fast, readings.error_min])[order],
        np.concatenate([scale, np.maximum(readings.within_min / 2, LEAST_SCATTER_MIN)])[order],
        np.repeat([False, True], [len(rows), len(readings)])[order],
        _bias(seen.at_utc[rows], up_to) if rows.size else 0.0,
    )


def _scatter(fast_min: NDArray[np.float64]) -> float:
    """Return the standard deviation of a movement, whatever the clock does [min].

    From differences of neighbours, which offset, drift and few jumps do not touch.
    """
    if fast_min.size < 3:
        return LEAST_SCATTER_MIN
    differences = np.abs(np.diff(fast_min))
    return max(LEAST_SCATTER_MIN, float(np.median(differences)) * _MAD_TO_SD / 2**0.5)


def _bias(stamps: Times, up_to_min: NDArray[np.int64]) -> float:
    """Return by how much all movements may be wrong alike [min].

    Whole minutes may have been cut rather than rounded, by half a minute in the mean; and where
    only a bound of the due time is known, its middle is taken.
    """
    whole = not np.any(stamps.astype(np.int64) % _MINUTE_S)
    return (0.5 if whole else 0.0) + float(np.median(up_to_min)) / 2
