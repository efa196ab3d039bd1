"""Where a line jumps, beside a library that finds jumps by the same sums of distances."""

from __future__ import annotations

import numpy as np
import pytest
import ruptures

from daylatch.diary.audit.clock.segments import JUMP_COST, STRAY_COST, find_path

COUNT = 120
DAYS = np.arange(COUNT) / 2


def path(values: np.ndarray, slopes: tuple[float, ...] = (0.0,), sd: float = 0.5):
    count = len(values)
    return find_path(
        DAYS[:count],
        values,
        np.full(count, sd),
        np.full(count, STRAY_COST),
        np.array(slopes),
    )


@pytest.mark.parametrize("seed", range(8))
def test_jumps_lie_where_ruptures_finds_them(seed):
    # ruptures 1.1.10, Dynp: the exact optimum for a known number of jumps and absolute distances.
    random = np.random.default_rng(seed)
    first, second = random.integers(10, 50), random.integers(70, 110)
    sizes = random.choice([-1, 1], 2) * random.uniform(4, 40, 2)
    rows = np.arange(COUNT)
    values = sizes[0] * (rows >= first) + sizes[1] * (rows >= second)
    values = np.round(values + random.normal(0, 0.5, COUNT))
    # A stray beside a jump may be put on either side of it.
    away = (np.abs(rows - first) > 2) & (np.abs(rows - second) > 2)
    values[random.choice(rows[away], 3)] -= random.uniform(5, 40, 3)
    theirs = ruptures.Dynp(model="l1", min_size=3, jump=1).fit(values[:, None]).predict(n_bkps=2)
    ours = np.flatnonzero(np.diff(path(values).segment)) + 1
    assert ours.tolist() == theirs[:-1]


def test_a_stray_is_no_jump_and_two_together_are_none():
    values = np.zeros(40)
    values[10] = -30.0
    values[20:22] = -12.0
    assert path(values).segment.max() == 0


def test_two_together_are_no_jump_at_the_end_either():
    values = np.zeros(40)
    values[-2:] = -12.0
    assert path(values).segment.max() == 0


def test_three_together_are_a_jump_at_the_end():
    values = np.zeros(40)
    values[-3:] = -12.0
    assert np.flatnonzero(np.diff(path(values).segment)).tolist() == [36]


def test_the_cheapest_slope_is_taken():
    values = 0.1 * DAYS
    found = path(values, (0.0, 0.1, 0.2))
    assert found.slope == 0.1
    assert found.segment.max() == 0
    assert np.abs(found.level - values).max() < 0.5


@pytest.mark.parametrize(("count", "taken"), [(50, False), (70, True)])
def test_a_slope_is_taken_for_more_than_it_costs(count, taken):
    # Both meet a level of the grid in the middle, so that they differ by the slope alone: by 2.1
    # and 2.9, and the slope costs 2.5.
    slope = 0.25 / DAYS[:count].mean()
    found = path(slope * DAYS[:count], (0.0, slope))
    assert found.slope == (slope if taken else 0.0)


def test_one_point():
    found = path(np.array([4.0]))
    assert found.segment.tolist() == [0]
    assert found.level.tolist() == [4.0]


@pytest.mark.parametrize("seed", range(5))
def test_the_path_is_the_cheapest_of_all(seed):
    """Every way to cut a short row in three, tried at the same levels."""
    random = np.random.default_rng(seed)
    values = np.round(np.repeat(random.uniform(-9, 9, 3), 4) + random.normal(0, 0.4, 12))
    levels = np.unique(np.round(values / 0.25)) * 0.25
    loss = np.minimum(np.square((values[:, None] - levels) / 0.5) / 2, STRAY_COST)

    def cost(*cuts: int) -> float:
        pieces = np.split(loss, cuts)
        return sum(piece.sum(axis=0).min() for piece in pieces) + JUMP_COST * len(cuts)

    every = [cost()]
    every += [cost(one) for one in range(1, 12)]
    every += [cost(one, other) for one in range(1, 12) for other in range(one + 1, 12)]
    assert path(values).cost == pytest.approx(min(every))
