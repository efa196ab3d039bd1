"""Lines of one slope through the points of each segment, by weighted least squares.

Points far off their line are left out, and the others fitted again; so the lines keep the accuracy
of least squares, and strays do not matter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags
    from daylatch.diary.audit.clock.observations import Observations

_ROUNDS = 5
_LEAST_FREE_TO_JUDGE = 8
_LEAST_FACTOR = 0.5
Z_95 = 1.959964
"""Between minus and plus this lie 95 % of a normal distribution."""


@dataclass(frozen=True, eq=False)
class Lines:
    """The fitted lines; arrays have one element a line, but `inliers`, which has one a point.

    Attributes
    ----------
    middle : float64
        The weighted mean day of each line's points.
    level : float64
        Where each line is on that day.
    weight : float64
        The inverse of the variance of that.
    slope, slope_error : float
        Of all, a day; the error is one standard error, infinite where no line spans any time.
    inliers : bool
        The points that lie on their line.
    t_95 : float
        How many standard errors half a 95 % interval is.
    """

    middle: NDArray[np.float64]
    level: NDArray[np.float64]
    weight: NDArray[np.float64]
    slope: float
    slope_error: float
    inliers: Flags
    t_95: float

    def on(self, segment: NDArray[np.int64], days: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return where the line of each point is on its day."""
        return np.asarray(self.level[segment] + self.slope * (days - self.middle[segment]))

    def at(self, line: int, day: float) -> tuple[float, float]:
        """Return where a line is on a day, and the standard error of that."""
        away = day - self.middle[line]
        variance = 1 / self.weight[line] + self._by_slope(away)
        return float(self.level[line] + self.slope * away), float(np.sqrt(variance))

    def jumps(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return by how much each line lies above the one before, and the standard errors."""
        away = np.diff(self.middle)
        size = np.diff(self.level) - self.slope * away
        variance = 1 / self.weight[1:] + 1 / self.weight[:-1] + self._by_slope(away)
        return size, np.sqrt(variance)

    def _by_slope(self, away: NDArray[np.float64] | float) -> NDArray[np.float64]:
        known = self.slope_error if np.isfinite(self.slope_error) else 0.0
        return np.square(np.asarray(away) * known)


def fit_lines(
    seen: Observations,
    segment: NDArray[np.int64],
    near: NDArray[np.float64],
    *,
    sloping: bool,
) -> Lines:
    """Return the lines through the points of each segment.

    Parameters
    ----------
    seen
        The points, with their standard deviations, which the fit makes larger or smaller alike.
    segment
        On which line each lies: all numbers from 0 on, at least one point each.
    near
        Where the line roughly is at each point.
    sloping
        Whether the lines slope; else they are level.
    """
    days, values, scale = seen.days, seen.fast_min, seen.scale_min
    count = int(segment[-1]) + 1
    inliers = _close(values - near, seen.reach_min, segment, count)
    lines = _fit(days, values, scale, segment, inliers, count, sloping)
    for _ in range(_ROUNDS):
        again = _close(values - lines.on(segment, days), seen.reach_min, segment, count)
        if np.array_equal(again, inliers):
            break
        inliers = again
        lines = _fit(days, values, scale, segment, inliers, count, sloping)
    return lines


def _close(
    off: NDArray[np.float64], reach: NDArray[np.float64], segment: NDArray[np.int64], count: int
) -> Flags:
    """Return which points lie on their line; where none of a segment does, all of it."""
    close = np.abs(off) <= reach
    empty = np.bincount(segment[close], minlength=count) == 0
    return np.asarray(close | empty[segment], np.bool_)


def _fit(
    days: NDArray[np.float64],
    values: NDArray[np.float64],
    scale: NDArray[np.float64],
    segment: NDArray[np.int64],
    inliers: Flags,
    count: int,
    sloping: bool,
) -> Lines:
    weight = inliers / np.square(scale)

    def total(of: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(segment, weight * of, minlength=count), np.float64)

    weights = total(np.ones_like(days))
    middle, level = total(days) / weights, total(values) / weights
    away, above = days - middle[segment], values - level[segment]
    spread = float(np.sum(weight * away**2))
    slope = float(np.sum(weight * away * above)) / spread if sloping and spread else 0.0
    left = float(np.sum(weight * (above - slope * away) ** 2))
    free = int(np.sum(inliers)) - count - int(sloping)
    factor, t_95 = 1.0, Z_95
    if free >= _LEAST_FREE_TO_JUDGE:
        factor = max(_LEAST_FACTOR, float(np.sqrt(left / free)))
        # Student's t by its expansion (Abramowitz and Stegun 26.7.5, two terms).
        t_95 = Z_95 + (Z_95**3 + Z_95) / (4 * free)
    error = factor / np.sqrt(spread) if spread else np.inf
    return Lines(
        *(middle, level, weights / factor**2, slope, float(error) if sloping else 0.0),
        *(inliers, t_95),
    )
