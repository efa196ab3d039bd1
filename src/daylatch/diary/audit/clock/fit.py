"""By how much is the door's clock fast, does it drift, and when did it jump?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.clock.lines import Lines, fit_lines
from daylatch.diary.audit.clock.pruning import LEAST_ERRORS, prune
from daylatch.diary.audit.clock.segments import Path, find_path

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.diary.audit.clock.observations import Observations

LEAST_DRIFT_MIN = 0.75
"""A drift is worth telling if it comes to this within the log (this program's choice)."""
STEEPEST = 0.5
"""Minutes a day: 350 ppm. What drifts more is found as jumps."""
_PAIRS_EACH = 8
_SLOPES_EACH_WAY = 8


@dataclass(frozen=True, eq=False)
class Fit:
    """The lines, and where each point belongs.

    Attributes
    ----------
    segment : int64
        The line of each point.
    lines : Lines
    drift : Lines
        The lines with their slope, also where a slope is no finding.
    has_drift : bool
    """

    segment: NDArray[np.int64]
    lines: Lines
    drift: Lines
    has_drift: bool


def fit_clock(seen: Observations) -> Fit:
    """Return the lines on which a clock ran.

    Parameters
    ----------
    seen
        What judges it; at least one.
    """
    days = seen.days

    def path(slopes: NDArray[np.float64]) -> Path:
        return find_path(days, seen.fast_min, seen.scale_min, seen.stray_cost, slopes)

    level = path(np.zeros(1))
    slopes = _slopes(days, seen)
    if slopes.size:
        steep = path(slopes)
        _, lines = prune(seen, days, steep, sloping=True)
        # The slopes tried lie apart: that of the fit may do better.
        steep = min(steep, path(np.array([lines.slope])), key=lambda one: one.cost)
        if steep.cost < level.cost:
            segment, lines = prune(seen, days, steep, sloping=True)
            if _is_drift(lines, days):
                return Fit(segment, lines, lines, has_drift=True)
    segment, lines = prune(seen, days, level, sloping=False)
    sloping = fit_lines(seen, segment, lines.on(segment, days), sloping=True)
    return Fit(segment, lines, sloping, has_drift=False)


def _is_drift(lines: Lines, days: NDArray[np.float64]) -> bool:
    return (
        abs(lines.slope) >= LEAST_ERRORS * lines.slope_error
        and abs(lines.slope) * (days[-1] - days[0]) >= LEAST_DRIFT_MIN
    )


def _slopes(days: NDArray[np.float64], seen: Observations) -> NDArray[np.float64]:
    """Return the slopes to try, but 0: some about the median of those of pairs of points.

    The pairs lie an eighth of the log apart, 15 days at most, so that few straddle a jump. The
    slopes lie so close that the best is off by half a standard deviation at the ends of the log.
    """
    length = days[-1] - days[0]
    if length < 1:
        return np.array([])
    apart = min(length / 8, 15)
    first = np.searchsorted(days, days + apart)
    pairs = []
    for later in range(_PAIRS_EACH):
        other = first + later
        rows = np.flatnonzero(other < len(days))
        pairs.append(
            (seen.fast_min[other[rows]] - seen.fast_min[rows]) / (days[other[rows]] - days[rows])
        )
    middle = float(np.median(np.concatenate(pairs)))
    grid = np.arange(-_SLOPES_EACH_WAY, _SLOPES_EACH_WAY + 1) * (
        2 * float(np.median(seen.scale_min)) / length
    )
    slopes: NDArray[np.float64] = middle + grid
    return np.extract((np.abs(slopes) <= STEEPEST) & (slopes != 0), slopes)
