"""Where does a slanting line jump, among points of which some belong to no line at all?

The lines share one slope, of a few that are tried. For each slope the cheapest path through the
points is found exactly, by dynamic programming over levels: a point off the line costs the square
of its distance in standard deviations, halved, but never more than `STRAY_COST`, and a jump costs
`JUMP_COST`. So a point that is far off is put down to itself, and three that agree to the line.

After Fearnhead and Rigaill, Changepoint Detection in the Presence of Outliers, Journal of the
American Statistical Association 114 (2019), 169-183 (from memory): a bounded loss, minimised
exactly; here over a grid of levels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

STRAY_SD = 3.0
"""From this distance on a movement is put down to itself [standard deviations]."""
STRAY_COST = STRAY_SD**2 / 2
READING_COST = 25.0
"""What a clock's reading that is off the line costs at most: nobody reads it wrong lightly."""
JUMP_COST = 12.5
"""Just less than three strays; a jump at the best of hundreds of places gains less than this by
chance (by trial)."""
SLOPE_COST = 2.5
"""What a slope must gain over none; whether it is a finding is asked of the fitted lines."""
LEAST_LEVELS = 64
POINTS_A_LEVEL = 8
"""Tried is a level for so many points, but `LEAST_LEVELS` at least: long logs have more lines."""
_CELLS_A_SD = 2


class Path(NamedTuple):
    """The cheapest path.

    Attributes
    ----------
    segment : int64
        For each point the number of the line it lies on, from 0.
    level : float64
        Where that line is at the point, slope and all.
    slope : float
    cost : float
    """

    segment: NDArray[np.int64]
    level: NDArray[np.float64]
    slope: float
    cost: float


def find_path(
    days: NDArray[np.float64],
    values: NDArray[np.float64],
    scale: NDArray[np.float64],
    stray_cost: NDArray[np.float64],
    slopes: NDArray[np.float64],
) -> Path:
    """Return the cheapest path through points, with the best of some slopes.

    Parameters
    ----------
    days, values
        The points, in the order of time; at least one.
    scale
        The standard deviation of each.
    stray_cost
        What each costs at most.
    slopes
        Which to try [a day]; any but 0 costs `SLOPE_COST`.
    """
    flat = values - slopes[:, None] * days
    levels = _levels(flat, float(np.median(scale)), stray_cost > STRAY_COST)
    points = list(zip(flat.T[:, :, None], scale, stray_cost, strict=True))
    best = _cheapest(points, levels, SLOPE_COST * (slopes != 0)) if len(slopes) > 1 else 0
    slope, own = float(slopes[best]), levels[best]
    state, cost = _trace(_loss(flat[best][:, None], own, scale[:, None], stray_cost[:, None]))
    jumps = np.append(False, state[1:] != state[:-1])
    return Path(
        np.cumsum(jumps), own[state] + slope * days, slope, cost + SLOPE_COST * (slope != 0)
    )


def _loss(
    values: NDArray[np.float64],
    levels: NDArray[np.float64],
    scale: NDArray[np.float64] | float,
    stray_cost: NDArray[np.float64] | float,
) -> NDArray[np.float64]:
    return np.minimum(np.square((values - levels) / scale) / 2, stray_cost)


def _cheapest(
    points: Sequence[tuple[NDArray[np.float64], float, float]],
    levels: NDArray[np.float64],
    more: NDArray[np.float64],
) -> int:
    """Return the slope of the cheapest path.

    Parameters
    ----------
    points
        Of each its values without each slope, a column of them; its scale; what it costs at most.
    levels
        Those to try, a row for each slope.
    more
        What each slope itself costs.
    """
    cost = np.zeros_like(levels)
    for values, scale, stray_cost in points:
        jumped = np.minimum.reduce(cost, axis=1, keepdims=True) + JUMP_COST
        cost = np.minimum(cost, jumped) + _loss(values, levels, scale, stray_cost)
    return int(np.argmin(cost.min(axis=1) + more))


def _trace(loss: NDArray[np.float64]) -> tuple[NDArray[np.int64], float]:
    """Return the level of the cheapest path at each point, and what that path costs."""
    costs = loss.copy()
    for row in range(1, len(costs)):
        jumped = np.minimum.reduce(costs[row - 1]) + JUMP_COST
        costs[row] += np.minimum(costs[row - 1], jumped)
    least, best = costs.min(axis=1), costs.argmin(axis=1)
    by_jump = costs[:-1] > (least[:-1, None] + JUMP_COST)
    state = np.empty(len(costs), np.int64)
    state[-1] = best[-1]
    for row in range(len(costs) - 2, -1, -1):
        after = state[row + 1]
        state[row] = best[row] if by_jump[row, after] else after
    return state, float(least[-1])


def _levels(flat: NDArray[np.float64], sd: float, sure: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the levels worth trying for each slope: those at which most points lie.

    Parameters
    ----------
    flat
        The points without their slope; a row for each slope.
    sure
        The points of which one alone may make a level.
    """
    width = sd / _CELLS_A_SD
    count = max(LEAST_LEVELS, flat.shape[1] // POINTS_A_LEVEL)
    levels = np.empty((len(flat), count))
    used = 0
    for row, points in enumerate(flat):
        cells = np.sort(np.round(points / width).astype(np.int64))
        found = np.unique(cells)
        alone = np.isin(found, np.round(points[sure] / width).astype(np.int64))
        support = (
            np.searchsorted(cells, found + 1, side="right")
            - np.searchsorted(cells, found - 1, side="left")
            + len(cells) * alone
        )
        most = np.argsort(-support, kind="stable")[:count]
        levels[row, : len(most)] = found[most] * width
        # Where there are fewer, the first stands again.
        levels[row, len(most) :] = found[most[0]] * width
        used = max(used, len(most))
    return levels[:, :used]
