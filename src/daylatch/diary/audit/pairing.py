"""Which due movement is it that was seen?"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.entries import Kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.diary.moves import Expected, Seen

SAME_WITHIN_MIN = 30
"""Two entries of one direction that lie closer, with no movement back between them, tell of one
movement: it was told twice, or the door made sure (this program's choice, no source)."""
BELONGS_WITHIN_MIN = 360
"""A movement further from its due time, by the door's own clock, is no longer that movement (this
program's choice: a quarter of a day)."""
_HALF_DAY_S = 12 * 3600


class Pairs(NamedTuple):
    """Which movement is which.

    Attributes
    ----------
    done_by : int64
        For each due movement the row of what was seen that is it, or -1.
    told_again : int64
        Rows by which the door's own stamp tells of a movement that something else stamped too.
    """

    done_by: NDArray[np.int64]
    told_again: NDArray[np.int64]


def movement_rows(seen: Seen) -> NDArray[np.int64]:
    """Return the rows of what was seen that stand for a movement, one for each.

    Of several that tell of one movement a person's word comes first, then the surest time, then
    the earliest. What the door stamped is never mixed with what something else did.
    """
    moving = [row for row, kind in enumerate(seen.kinds) if kind is not Kind.STATE]
    at = seen.at_utc.astype(np.int64).tolist()
    opening, outside = seen.opening.tolist(), seen.outside.tolist()
    kept: list[int] = []
    for stamped_outside in (True, False):
        group: list[int] = []
        for row in (one for one in moving if outside[one] is stamped_outside):
            if group and (
                opening[row] != opening[group[0]] or at[row] - at[group[0]] > SAME_WITHIN_MIN * 60
            ):
                kept.append(_surest(seen, group))
                group = []
            group.append(row)
        if group:
            kept.append(_surest(seen, group))
    return np.array(sorted(kept), np.int64)


def _surest(seen: Seen, rows: list[int]) -> int:
    return min(rows, key=lambda row: (seen.kinds[row] is Kind.MOVED, seen.within_min[row], row))


def nearest_due(expected: Expected, seen: Seen, fast_min: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the row of the due movement of the same direction nearest to each thing seen.

    Parameters
    ----------
    fast_min
        By how much the door's clock is fast at each, which is allowed for; zeros if not known.

    Returns
    -------
    -1 where none lies within half a day.
    """
    found = np.full(len(seen), -1, np.int64)
    by_clock = seen.at_utc.astype(np.int64) + 60 * fast_min
    for opening in (True, False):
        due_rows = np.flatnonzero(expected.opening == opening)
        rows = np.flatnonzero(seen.opening == opening)
        if not due_rows.size or not rows.size:
            continue
        due_s = _seconds(expected)[due_rows]
        after = np.searchsorted(due_s, by_clock[rows])
        before = np.maximum(after - 1, 0)
        after = np.minimum(after, len(due_s) - 1)
        distance = np.abs(due_s[[before, after]] - by_clock[rows])
        near = np.where(distance[1] < distance[0], after, before)
        found[rows] = np.where(distance.min(axis=0) <= _HALF_DAY_S, due_rows[near], -1)
    return found


def pair(
    expected: Expected, seen: Seen, fast_min: NDArray[np.float64], rows: NDArray[np.int64]
) -> Pairs:
    """Return which of the things seen is which due movement.

    Each thing seen belongs to the nearest due movement of its direction, allowing for the clock,
    if it lies between the due movements before and after that one; of several the nearest.

    Parameters
    ----------
    fast_min
        By how much the door's clock is fast at each thing seen.
    rows
        The things seen that may be one.
    """
    near = nearest_due(expected, seen, fast_min)
    by_clock = seen.at_utc.astype(np.int64) + 60 * fast_min
    due_s = _seconds(expected)
    limit = BELONGS_WITHIN_MIN * 60
    earliest = np.maximum(due_s - limit, np.append(due_s[:1] - limit, due_s[:-1]))
    latest = np.minimum(due_s + limit, np.append(due_s[1:], due_s[-1:] + limit))
    able = rows[near[rows] >= 0]
    due = near[able]
    fits: Flags = (by_clock[able] > earliest[due]) & (by_clock[able] < latest[due])
    able, due = able[fits], due[fits]
    distance = np.abs(by_clock[able] - due_s[due])
    # The last one written wins: what something else than the door stamped, then the nearest.
    order = np.lexsort([-distance, seen.outside[able]])
    done_by = np.full(len(expected), -1, np.int64)
    done_by[due[order]] = able[order]
    return Pairs(done_by, able[~seen.outside[able] & seen.outside[done_by[due]]])


def dates_of(expected: Expected, instants_utc: Times) -> Times:
    """Return the flock days of the due movements nearest to instants; without any, dates UTC."""
    if not len(expected):
        return instants_utc.astype("datetime64[D]")
    due_s, at = _seconds(expected), instants_utc.astype(np.int64)
    after = np.minimum(np.searchsorted(due_s, at), len(due_s) - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(due_s[before] - at) < np.abs(due_s[after] - at), before, after)
    return expected.dates[nearer]


def _seconds(expected: Expected) -> NDArray[np.int64]:
    return np.asarray(expected.due_utc.astype("datetime64[s]").astype(np.int64))
