"""Which jumps are beyond chance and worth telling?"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.audit.clock.lines import Lines, fit_lines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.diary.audit.clock.observations import Observations
    from daylatch.diary.audit.clock.segments import Path

LEAST_STEP_MIN = 1.5
"""A smaller jump is not worth telling (this program's choice)."""
LEAST_ERRORS = 3.5
"""A finding lies this many standard errors from nothing: in a thousand logs with nothing to find
chance alone makes about one (normal distribution, both sides)."""


def prune(
    seen: Observations, days: NDArray[np.float64], path: Path, *, sloping: bool
) -> tuple[NDArray[np.int64], Lines]:
    """Return the line of each point and the lines, without the jumps that are nothing.

    They are left out one by one, the most doubtful first, and the lines fitted again each time.

    Parameters
    ----------
    seen
        The points.
    days
        Their days.
    path
        The jumps to judge.
    sloping
        Whether the lines slope.
    """
    segment, near = path.segment, path.level
    while True:
        lines = fit_lines(seen, segment, near, sloping=sloping)
        near = lines.on(segment, days)
        doubtful = _most_doubtful(segment, lines)
        if doubtful is None:
            return segment, lines
        near = np.where(segment == doubtful.line, near + doubtful.by, near)
        segment = segment - (segment >= doubtful.jump)


class _Doubtful(NamedTuple):
    """A jump to leave out, before the line of that number; which line moves, and by how much."""

    jump: int
    line: int
    by: float


def _most_doubtful(segment: NDArray[np.int64], lines: Lines) -> _Doubtful | None:
    sizes, errors = lines.jumps()
    if not sizes.size:
        return None
    doubt = np.minimum(np.abs(sizes) / LEAST_STEP_MIN, np.abs(sizes) / (LEAST_ERRORS * errors))
    least = int(np.argmin(doubt))
    if doubt[least] >= 1:
        return None
    # The line with less on it joins the other.
    support = np.bincount(segment, lines.inliers)
    if support[least] < support[least + 1]:
        return _Doubtful(least + 1, least, float(sizes[least]))
    return _Doubtful(least + 1, least + 1, -float(sizes[least]))
