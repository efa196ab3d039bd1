"""How many bytes any stream needs at least for the first days of a curve.

Were tokens free to begin at any value and with any slope, a day could be reached by as few of them
as there are straight pieces, each as long as it can be. No stream needs less, so a search can be
given up early by it; in a wide band it often is what the shortest stream needs.
"""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.door.table.format import LONGEST_COUNT, RUNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags

    Ints = NDArray[np.integer[Any]]

_RUN_BYTES, _HOLD_BYTES = 1, 2
# Two slopes that differ by less are taken for the same: rounding may not forbid a piece.
_SLIGHTLY = 1e-9


def least_before(low: Ints, high: Ints, gaps: Sequence[bytes]) -> list[int]:
    """Return the least bytes of the tokens up to the first 0, 1, 2 ... days with a minute.

    Parameters
    ----------
    low, high
        The band of each of these days, both ends included [min].
    gaps
        What stands before each of them and after the last, for days without a minute.
    """
    days = np.arange(1, len(low) + 1)
    stretch = np.cumsum([bool(gap) for gap in gaps[:-1]], dtype=int)
    # From which day on a piece can reach each day: the ends of the longest pieces never go back.
    straight, level = (
        np.searchsorted(_ends(pieces, stretch), days).tolist()
        for pieces in (_straight(low, high), _level(low, high))
    )
    tokens = [0]
    for run, hold in zip(straight, level, strict=True):
        tokens.append(min(tokens[run] + _RUN_BYTES, tokens[hold] + _HOLD_BYTES))
    beside = accumulate(len(gap) for gap in gaps[:-1])
    return [0, *(need + more for need, more in zip(tokens[1:], beside, strict=True))]


def _ends(pieces: Iterator[Flags], stretch: Ints) -> Ints:
    """Return before which day the longest piece ends that begins on each day.

    Parameters
    ----------
    pieces
        For 2, 3 ... days: whether such a piece fits, by its first day.
    stretch
        Which days have no gap between them.
    """
    ends: Ints = np.arange(1, len(stretch) + 1)
    for more, fits in enumerate(pieces, 1):
        longer = fits & (stretch[more:] == stretch[:-more])
        if not longer.any():
            break
        ends[:-more][longer] += 1
    return ends


def _straight(low: Ints, high: Ints) -> Iterator[Flags]:
    """Yield for 2, 3 ... days of a run whether some straight line lies in their bands."""
    least, most = np.full(len(low), -np.inf), np.full(len(low), np.inf)
    for more in range(1, min(RUNS[-1], len(low))):
        # The slopes from the one end to the other, and those of the pieces that lack an end.
        gentlest = (low[more:] - high[:-more] - 1) / more
        steepest = (high[more:] + 1 - low[:-more]) / more
        least = np.maximum(gentlest, np.maximum(least[1:], least[:-1]))
        most = np.minimum(steepest, np.minimum(most[1:], most[:-1]))
        yield least <= most + _SLIGHTLY


def _level(low: Ints, high: Ints) -> Iterator[Flags]:
    """Yield for 2, 3 ... days of a hold whether some minute lies in all their bands."""
    least, most = low, high
    for more in range(1, min(LONGEST_COUNT, len(low))):
        least = np.maximum(least[:-1], low[more:])
        most = np.minimum(most[:-1], high[more:])
        yield least <= most
