"""By how much is the door's clock fast, does it drift, and when did it jump?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.lines import Lines, fit_lines
from daylatch.diary.audit.segments import (
    JUMP_COST,
    READING_COST,
    STRAY_COST,
    Path,
    find_path,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.diary.audit.observations import Observations

LEAST_STEP_MIN = 1.5
"""A smaller jump is not worth telling (this program's choice)."""
LEAST_ERRORS = 3.5
"""A finding lies this many standard errors from nothing: in a thousand logs with nothing to find
chance alone makes about one (normal distribution, both sides)."""
LEAST_DRIFT_MIN = 0.75
"""A drift is worth telling if it comes to this within the log (this program's choice)."""
LEAST_ON_A_LINE = 3
"""So many movements make a line, or one reading of the clock."""
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


def fit_clock(seen: Observations, clock_set_utc: Times) -> Fit:
    """Return the lines on which a clock ran.

    Parameters
    ----------
    seen
        What judges it; at least one.
    clock_set_utc
        When somebody set it: there a jump costs half.
    """
    days = seen.days
    stray = np.where(seen.readings, READING_COST, STRAY_COST)
    jump = np.full(len(seen), JUMP_COST)
    jump[_first_after(seen, clock_set_utc)] = JUMP_COST / 2

    def path(slopes: NDArray[np.float64]) -> Path:
        return find_path(days, seen.fast_min, seen.scale_min, stray, jump, slopes)

    level = path(np.zeros(1))
    slopes = _slopes(days, seen)
    if slopes.size:
        steep = path(slopes)
        segment, lines = _pruned(seen, days, steep, sloping=True)
        steep = min(steep, path(np.array([lines.slope])), key=lambda one: one.cost)
        if steep.cost < level.cost:
            segment, lines = _pruned(seen, days, steep, sloping=True)
            if _is_drift(lines, days):
                return Fit(segment, lines, lines, has_drift=True)
    segment, lines = _pruned(seen, days, level, sloping=False)
    sloping = fit_lines(
        days, seen.fast_min, seen.scale_min, segment, _on(lines, segment, days), sloping=True
    )
    return Fit(segment, lines, sloping, has_drift=False)


def _is_drift(lines: Lines, days: NDArray[np.float64]) -> bool:
    return (
        abs(lines.slope) >= LEAST_ERRORS * lines.slope_error
        and abs(lines.slope) * (days[-1] - days[0]) >= LEAST_DRIFT_MIN
    )


def _first_after(seen: Observations, instants: Times) -> NDArray[np.int64]:
    rows = np.searchsorted(seen.at_utc, instants.astype("datetime64[s]"))
    return np.asarray(np.unique(rows[(rows > 0) & (rows < len(seen))]), np.int64)


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
    slopes = middle + grid
    return slopes[(np.abs(slopes) <= STEEPEST) & (slopes != 0)]


def _on(lines: Lines, segment: NDArray[np.int64], days: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where the line of each point is."""
    on = lines.level[segment] + lines.slope * (days - lines.middle[segment])
    return np.asarray(on, np.float64)


def _pruned(
    seen: Observations, days: NDArray[np.float64], path: Path, *, sloping: bool
) -> tuple[NDArray[np.int64], Lines]:
    """Return segments and lines without the jumps that are nothing, and lines of strays."""
    segment, near = path.segment, path.level
    while True:
        lines = fit_lines(days, seen.fast_min, seen.scale_min, segment, near, sloping=sloping)
        near = _on(lines, segment, days)
        doubtful = _doubtful(seen, segment, lines)
        if doubtful is None:
            return segment, lines
        near = np.where(segment == doubtful.line, near + doubtful.by, near)
        segment = segment - (segment >= doubtful.jump)


@dataclass(frozen=True)
class _Doubtful:
    """A jump to leave out, before the line of that number; which line moves, and by how much."""

    jump: int
    line: int
    by: float


def _doubtful(seen: Observations, segment: NDArray[np.int64], lines: Lines) -> _Doubtful | None:
    sizes, errors = lines.jumps()
    if not sizes.size:
        return None
    supported = np.where(seen.readings, LEAST_ON_A_LINE, 1) * lines.inliers
    support = np.bincount(segment, supported)
    if support.min() < LEAST_ON_A_LINE:
        # The line of strays joins the neighbour that lies nearer.
        line = int(np.argmin(support))
        before = abs(sizes[line - 1]) if line else np.inf
        after = abs(sizes[line]) if line < len(sizes) else np.inf
        if before <= after:
            return _Doubtful(line, line, -float(sizes[line - 1]))
        return _Doubtful(line + 1, line, float(sizes[line]))
    doubt = np.minimum(np.abs(sizes) / LEAST_STEP_MIN, np.abs(sizes) / (LEAST_ERRORS * errors))
    least = int(np.argmin(doubt))
    if doubt[least] >= 1:
        return None
    if support[least] < support[least + 1]:
        return _Doubtful(least + 1, least, float(sizes[least]))
    return _Doubtful(least + 1, least + 1, -float(sizes[least]))
