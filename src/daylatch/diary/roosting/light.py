"""At which light: the middle of many evenings, from moments, from yes and no, or from both.

A light is told as `progress_deg` has it, which grows towards the event: a depression in the
evening, an altitude in the morning.

References
----------
The interval of a median: W. J. Conover, Practical Nonparametric Statistics, 3rd ed. (1999), section
3.2. With moments that are only known to be before a place: E. L. Kaplan and P. Meier, Journal of
the American Statistical Association 53 (1958) 457, with time turned round. Yes and no: D. W. Hosmer
and S. Lemeshow, Applied Logistic Regression, 2nd ed. (2000), chapters 1 and 2; the variance of the
place where both are as likely, by the delta method.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.roosting.shares import CONFIDENCE, confidences

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags

    Floats = NDArray[np.float64]

FEWEST_EVENINGS = 6
"""Of fewer no interval of their median is 95 % sure: 1 - 2 / 2^6 = 0.97, and 0.94 for 5."""
FEWEST_CHECKS = 10
FEWEST_OF_EACH = 3
"""Checks that a light takes, and of each answer among them (our choice, no source)."""
# Within so many sigmas lie 95 % of a normal distribution.
_NORMAL_95 = 1.959964
# Where a logistic distribution has its 84th hundredth, in scales: a normal one has it at one sigma.
_LOGISTIC_84 = math.log(0.8413 / 0.1587)
_NONE: Floats = np.array([])
# When the search for the curve ends: after so many rounds, at a flat summit, at parts of a step or
# steps too small to matter; and how far beyond all places a level is looked for, in scales.
_ROUNDS = 100
_STEEPEST = 4.0
"""How fast the answers turn at most [1/deg]: no flock keeps its light closer than to some 3 min
(our choice, no source)."""
_SINGULAR = 1e-12
_SMALLEST_PART = 1e-6
_CLOSE = 1e-10
_FAR = 41.0


class Light(NamedTuple):
    """A light that was found.

    Attributes
    ----------
    sun_deg : float
        Where the Sun is, as `progress_deg` has it.
    error_deg : float
        Half of the interval in which it lies at a confidence of 95 %.
    spread_deg : float or None
        By how much two of three evenings differ from it; None if only moments can say that.
    """

    sun_deg: float
    error_deg: float
    spread_deg: float | None = None


def light_of_moments(sun_deg: Floats, before_deg: Floats = _NONE) -> Light | None:
    """Return the median of the Sun's places at moments; None for too few.

    Parameters
    ----------
    sun_deg
        One an evening or morning.
    before_deg
        Of further mornings, on which it was before that.
    """
    count = len(sun_deg)
    if count < FEWEST_EVENINGS:
        return None
    if len(before_deg):
        return _product_limit(sun_deg, before_deg)
    ordered = np.sort(sun_deg)
    # The interval leaves as many out at either end, and each end is half as unsure as both.
    beyond = int((confidences(count, 0.5) >= (1 + CONFIDENCE) / 2).sum()) - 1
    low, high = ordered[beyond], ordered[count - 1 - beyond]
    return Light(float(np.median(ordered)), float(high - low) / 2)


def _product_limit(sun_deg: Floats, before_deg: Floats) -> Light | None:
    """Return the median where some are only known to be before a place; None if most are."""
    values, times = np.unique(sun_deg, return_counts=True)
    everything = np.sort(np.concatenate([sun_deg, before_deg]))
    at_risk = np.searchsorted(everything, values, side="right")
    left = 1.0 - times / at_risk
    # The share of all days that lies before each moment, and up to it.
    before = np.cumprod(left[::-1])[::-1]
    up_to = np.append(before[1:], 1.0)
    if up_to[0] > 0.5:
        return None
    median = int(np.searchsorted(up_to, 0.5))
    later = slice(median + 1, None)
    # Greenwood's variance, with the days counted from the latest on.
    lost = (times[later] / (at_risk[later] * np.maximum(at_risk[later] - times[later], 1))).sum()
    unsure = _NORMAL_95 * 0.5 * math.sqrt(float(lost))
    ends = np.searchsorted(up_to, [0.5 - unsure, 0.5 + unsure]).clip(0, len(values) - 1)
    return Light(float(values[median]), float(values[ends[1]] - values[ends[0]]) / 2)


def light_of_checks(sun_deg: Floats, answers: Flags) -> Light | None:
    """Return where yes and no are as likely; None if the checks cannot tell.

    Parameters
    ----------
    sun_deg
        Where the Sun was at each check.
    answers
        Whether it had come by then.
    """
    yes = int(answers.sum())
    if len(answers) < FEWEST_CHECKS or min(yes, len(answers) - yes) < FEWEST_OF_EACH:
        return None
    middle = float(sun_deg.mean())
    at, said = sun_deg - middle, answers.astype(np.float64)
    factors = _fitted(at, said)
    if factors is None:
        return None
    level, slope = factors
    if slope >= _STEEPEST:
        # The place alone, as of a flock that differs as little as any does.
        slope = _STEEPEST
        level = _fitted_level(at * slope, said)
    likely = _logistic(level + slope * at)
    place = -level / slope
    if slope == _STEEPEST:
        variance = 1.0 / float((likely * (1 - likely)).sum())
    else:
        gradient = np.array([1.0, place])
        variance = float(gradient @ np.linalg.inv(_information(at, likely)) @ gradient)
    error = _NORMAL_95 * math.sqrt(variance) / slope
    return Light(middle + place, error, _LOGISTIC_84 / slope)


def _fitted(at: Floats, said: Floats) -> tuple[float, float] | None:
    """Return level and slope of the logistic curve by maximum likelihood.

    The slope is `_STEEPEST` where it is that or more, as where yes and no part cleanly; None where
    it does not rise.
    """
    level, slope = 0.0, 0.0
    best = _likelihood(level, slope, at, said)
    for _ in range(_ROUNDS):
        likely = _logistic(level + slope * at)
        information = _information(at, likely)
        if np.linalg.det(information) < _SINGULAR:
            break
        push = np.array([(said - likely).sum(), (at * (said - likely)).sum()])
        step = np.linalg.solve(information, push)
        # Newton's step, or a part of it, which always climbs: the likelihood has one summit.
        part = 1.0
        while (
            found := _likelihood(level + part * step[0], slope + part * step[1], at, said)
        ) < best and part > _SMALLEST_PART:
            part /= 2
        level, slope, best = level + part * step[0], slope + part * step[1], max(found, best)
        if slope >= _STEEPEST or np.abs(step).max() < _CLOSE:
            break
    return (float(level), float(slope)) if slope > 0 else None


def _fitted_level(steep: Floats, said: Floats) -> float:
    """Return the level of the logistic curve whose slope is given, by bisection."""
    high = float(np.abs(steep).max()) + _FAR
    low = -high
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if _logistic(middle + steep).sum() < said.sum():
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _information(at: Floats, likely: Floats) -> Floats:
    """Return Fisher's information of level and slope."""
    weight = likely * (1 - likely)
    cross = float((weight * at).sum())
    return np.array([[weight.sum(), cross], [cross, (weight * at * at).sum()]])


def _likelihood(level: float, slope: float, at: Floats, said: Floats) -> float:
    """Return the logarithm of the likelihood."""
    signed = np.where(said > 0, 1.0, -1.0) * (level + slope * at)
    return float(-np.logaddexp(0.0, -signed).sum())


def combined(lights: list[Light]) -> Light:
    """Return what several lights of the same flock come to, each weighed by how sure it is."""
    if len(lights) == 1:
        return lights[0]
    weights = np.array([max(one.error_deg, 1e-3) ** -2 for one in lights])
    sun_deg = float(weights @ [one.sun_deg for one in lights] / weights.sum())
    return Light(sun_deg, float(weights.sum() ** -0.5), lights[0].spread_deg)


def _logistic(values: Floats) -> Floats:
    out: Floats = 1.0 / (1.0 + np.exp(-np.clip(values, -500.0, 500.0)))
    return out
