"""Lines of one slope, beside libraries that fit the same."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import WLS
from statsmodels.regression.quantile_regression import QuantReg
from statsmodels.tools import add_constant

from daylatch.diary.audit.clock.lines import Z_95, fit_lines
from daylatch.diary.audit.clock.observations import Observations

COUNT = 80
DAYS = np.arange(COUNT) / 2


def observed(days, values, scale):
    """Return points as what was seen of movements."""
    begin = np.datetime64("2026-01-01", "s")
    at = begin + np.round(np.asarray(days) * 86400).astype("timedelta64[s]")
    dates = np.full(len(at), begin.astype("datetime64[D]"))
    return Observations(at, dates, values, scale, np.zeros(len(at), np.bool_), 0.0)


def sloping(seed: int, *, strays: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return points about a slope of 0.1 a day, to the minute, and where the line is."""
    random = np.random.default_rng(seed)
    line = 5 + 0.1 * DAYS
    values = np.round(line + random.normal(0, 0.3, COUNT))
    if strays:
        values[random.choice(COUNT, 4, replace=False)] -= random.uniform(5, 40, 4)
    return values, line


def fitted(values, line, segment=None, scale=None, *, slope=True):
    segment = np.zeros(COUNT, np.int64) if segment is None else segment
    scale = np.full(COUNT, 0.5) if scale is None else scale
    return fit_lines(observed(DAYS, values, scale), segment, line, sloping=slope)


@pytest.mark.parametrize("seed", range(6))
def test_the_slope_is_that_of_robust_peers(seed):
    # scipy 1.17.1 and statsmodels 0.15.0: the median of pairwise slopes, and least absolute
    # distances; both with their own intervals.
    values, line = sloping(seed, strays=True)
    ours = fitted(values, line)
    middle, _, low, high = stats.theilslopes(values, DAYS)
    assert low <= ours.slope <= high
    assert ours.slope == pytest.approx(middle, abs=0.01)
    median = QuantReg(values, add_constant(DAYS)).fit(q=0.5)
    assert abs(median.params[1] - ours.slope) <= 3 * (median.bse[1] + ours.slope_error)


@pytest.mark.parametrize("slope", [True, False])
def test_lines_and_their_errors_are_those_of_weighted_least_squares(slope):
    # statsmodels 0.15.0, WLS with a column for each line.
    values, line = sloping(3, strays=False)
    line = line if slope else np.full(COUNT, 7.0)
    values = values if slope else np.round(line + values - (5 + 0.1 * DAYS))
    segment = np.repeat([0, 1, 2], [30, 20, 30])
    jumps = np.array([0.0, 12.0, -4.0])[segment]
    scale = np.where(np.arange(COUNT) % 3, 0.5, 1.0)
    ours = fitted(values + jumps, line + jumps, segment, scale, slope=slope)
    assert ours.inliers.all()
    columns = [(segment == number).astype(float) for number in range(3)] + [DAYS] * slope
    theirs = WLS(values + jumps, np.column_stack(columns), 1 / scale**2).fit()
    sizes, errors = ours.jumps()
    for number in range(2):
        contrast = np.zeros(len(columns))
        contrast[number], contrast[number + 1] = -1, 1
        test = theirs.t_test(contrast)
        assert sizes[number] == pytest.approx(test.effect[0])
        assert errors[number] == pytest.approx(test.sd[0, 0])
    level, error = ours.at(0, 0.0)
    assert (level, error) == pytest.approx((theirs.params[0], theirs.bse[0]))
    if slope:
        assert (ours.slope, ours.slope_error) == pytest.approx((theirs.params[3], theirs.bse[3]))
    assert ours.t_95 == pytest.approx(stats.t.ppf(0.975, theirs.df_resid), rel=1e-3)


def test_strays_are_left_out_and_change_nothing():
    values, line = sloping(1, strays=False)
    astray = values.copy()
    astray[[10, 50]] -= 25
    ours = fitted(astray, line)
    assert np.flatnonzero(~ours.inliers).tolist() == [10, 50]
    kept = np.delete(np.arange(COUNT), [10, 50])
    assert ours.slope == pytest.approx(np.polyfit(DAYS[kept], values[kept], 1)[0])


def test_a_start_beside_the_line_comes_to_it():
    values, line = sloping(2, strays=False)
    near, exact = fitted(values, line + 1.0), fitted(values, line)
    assert near.slope == exact.slope
    assert np.array_equal(near.inliers, exact.inliers)


def test_few_points_are_believed_as_their_scale_says():
    two = np.array([2.0, 2.0])
    seen = observed([0.0, 1.0], two, np.array([0.5, 0.5]))
    lines = fit_lines(seen, np.zeros(2, np.int64), two, sloping=False)
    assert lines.t_95 == Z_95
    assert lines.at(0, 0.0) == pytest.approx((2.0, 0.5 / 2**0.5))


def test_one_moment_has_no_slope():
    one = np.array([3.0])
    lines = fit_lines(observed(one, one, one), np.zeros(1, np.int64), one, sloping=True)
    assert lines.slope == 0.0
    assert lines.slope_error == np.inf
    assert lines.at(0, 30.0) == (3.0, 3.0)
