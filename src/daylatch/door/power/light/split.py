"""How light on the level parts into beam and diffuse, and over the hours of a mean day.

Both ways to split are statistics. The monthly one meets measured months of a sunny place; in a dull
winter it finds too much beam. The hourly one, put on the smooth hours of a mean day, always finds
too little: real days are cloudy and clear by turns. So one is the upper and the other the lower
end of a range.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from daylatch.door.power.light.sun_year import SunYear

    Floats = NDArray[np.float64]
    Split = Callable[[SunYear, Floats, Floats], Floats]
    """The diffuse light at each step, from the months' clearness and all light on the level."""

LEAST_DIFFUSE = 0.165
"""The least share of diffuse light in any hour by Erbs, Klein and Duffie (1982)."""
_SHORT_DAY_DEG = 81.4


def erbs_monthly(clearness: Floats, sunset_deg: Floats) -> Floats:
    """Return which share of a month's light on the level is diffuse.

    Parameters
    ----------
    clearness
        The month's light on the level, of that without an atmosphere. The formula is published for
        0.3 to 0.8, and is continued outside, between 0 and 1.
    sunset_deg
        The hour angle of the Sun at sunset, the month's mean.

    References
    ----------
    D. G. Erbs, S. A. Klein and J. A. Duffie, "Estimation of the diffuse radiation fraction for
    hourly, daily and monthly-average global radiation", Solar Energy 28 (1982), 293-302.
    """
    k = clearness
    short = 1.391 - 3.560 * k + 4.189 * k**2 - 2.137 * k**3
    long = 1.311 - 3.022 * k + 3.427 * k**2 - 1.821 * k**3
    share: Floats = np.clip(np.where(sunset_deg <= _SHORT_DAY_DEG, short, long), 0.0, 1.0)
    return share


def erbs_hourly(clearness: Floats) -> Floats:
    """Return which share of an hour's light on the level is diffuse; sources as `erbs_monthly`."""
    k = clearness
    share = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    share = np.where(k <= 0.22, 1 - 0.09 * k, share)
    shares: Floats = np.where(k > 0.8, LEAST_DIFFUSE, share)
    return shares


def day_shape(up: Floats, hour_angle_rad: Floats) -> Floats:
    """Return how the light of a mean day parts over its steps; each day adds up to 1.

    Parameters
    ----------
    up
        Sine of the Sun's altitude, 0 while it is down; days x steps.
    hour_angle_rad
        Of each step, 0 at noon.

    References
    ----------
    M. Collares-Pereira and A. Rabl, "The average distribution of solar radiation", Solar Energy 22
    (1979), 155-164, with the sine of the Sun's altitude for its cosines of hour angles, so that it
    holds for days without a sunset too. Diffuse light goes by that sine alone (B. Y. H. Liu and
    R. C. Jordan, Solar Energy 4 (1960), 1-19).
    """
    sunset = (up > 0).mean(axis=-1, keepdims=True) * np.pi
    rise = 0.409 + 0.5016 * np.sin(sunset - np.pi / 3)
    slope = 0.6609 - 0.4767 * np.sin(sunset - np.pi / 3)
    return even_shape(np.maximum(up * (rise + slope * np.cos(hour_angle_rad)), 0.0))


def even_shape(weights: Floats) -> Floats:
    """Return weights of the steps of each day so that they add up to 1; all 0 if they are."""
    total = weights.sum(axis=-1, keepdims=True)
    shape: Floats = np.divide(weights, total, out=np.zeros_like(weights), where=total > 0)
    return shape


def split_low(sun: SunYear, clearness: Floats, total: Floats) -> Floats:
    """Return the diffuse light hour by hour of a mean day: too much of it."""
    k = np.divide(total, sun.airless, out=np.zeros_like(total), where=sun.airless > 0)
    diffuse: Floats = total * erbs_hourly(k)
    return diffuse


def split_high(sun: SunYear, clearness: Floats, total: Floats) -> Floats:
    """Return the diffuse light by the month's mean: too little of it in a dull winter."""
    return _spread(sun, erbs_monthly(clearness, sun.sunset_deg), total)


def split_known(share: Floats) -> Split:
    """Return what splits light where each month's share of diffuse light is known."""
    return lambda sun, clearness, total: _spread(sun, share, total)


def _spread(sun: SunYear, share: Floats, total: Floats) -> Floats:
    """Return the diffuse light of days, of which it is a share that is known by month."""
    diffuse = (share[sun.month] * total.sum(axis=1))[:, None] * even_shape(sun.airless)
    at_most: Floats = np.minimum(diffuse, total)
    return at_most
