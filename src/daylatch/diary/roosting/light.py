"""At which light: the middle of many evenings, from moments, from yes and no, or from both.

A light is told as `progress_deg` has it, which grows towards the event: a depression in the
evening, an altitude in the morning.

References
----------
The interval of a median: W. J. Conover, Practical Nonparametric Statistics, 3rd ed. (1999), section
3.2. Yes and no: D. W. Hosmer and S. Lemeshow, Applied Logistic Regression, 2nd ed. (2000), chapters
1 and 2; the variance of the place where both are as likely, by the delta method.
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
_NORMAL_95 = 1.959964
# Where a logistic distribution has its 84th hundredth, in scales: a normal one has it at one sigma.
_LOGISTIC_84 = math.log(0.8413 / 0.1587)
_ROUNDS = 100
_STEEPEST = 40.0
"""How fast the answers turn at most [1/deg]: within a quarter of a minute or so."""


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


def light_of_moments(sun_deg: Floats) -> Light | None:
    """Return the median of the Sun's places at moments; None for too few.

    Parameters
    ----------
    sun_deg
        One an evening.
    """
    count = len(sun_deg)
    if count < FEWEST_EVENINGS:
        return None
    ordered = np.sort(sun_deg)
    # The interval leaves as many out at either end, and each end is half as unsure as both.
    beyond = int((confidences(count, 0.5) >= (1 + CONFIDENCE) / 2).sum()) - 1
    low, high = ordered[beyond], ordered[count - 1 - beyond]
    return Light(float(np.median(ordered)), float(high - low) / 2)


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
    last_no, first_yes = float(sun_deg[~answers].max()), float(sun_deg[answers].min())
    if last_no < first_yes:
        # Nothing but the gap between them is known.
        return Light((last_no + first_yes) / 2, (first_yes - last_no) / 2, 0.0)
    middle = float(sun_deg.mean())
    design = np.stack([np.ones(len(sun_deg)), sun_deg - middle])
    factors = np.zeros(2)
    for _ in range(_ROUNDS):
        likely = _logistic(factors @ design)
        information = (design * (likely * (1 - likely))) @ design.T
        step = np.linalg.solve(information, design @ (answers - likely))
        factors = factors + np.clip(step, -2.0, 2.0)
        if np.abs(step).max() < 1e-10:
            break
    level, slope = factors
    if not 0 < slope < _STEEPEST:
        return None
    place = -level / slope
    covariance = np.linalg.inv(information)
    gradient = np.array([1.0, place])
    sigma = math.sqrt(float(gradient @ covariance @ gradient)) / slope
    return Light(middle + place, _NORMAL_95 * sigma, _LOGISTIC_84 / slope)


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
