"""Whether part of what a flock does is a fixed lag behind its light, and what that leaves open.

Within one season a darker light and a longer lag put the last bird at the same minutes; over a year
dusks differ in speed, and can tell them apart. Resampled evenings say whether they do (B. Efron and
R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 13).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.roosting.instants import (
    light_instants,
    minutes_a_degree,
    minutes_past,
    progress_deg,
)
from daylatch.plan.daily.flock_days import find_flock_days

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.clock import Zone
    from daylatch.diary.roosting.light import Light
    from daylatch.diary.roosting.looks import Half
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

MOST_LAG_MIN = 20
"""The longest lag that is looked at [min]. Over 90 % of hens are on the perch within ten minutes of
lights-off (Olsson and Keeling, Applied Animal Behaviour Science 68 (2000) 243); twice that is our
choice."""
HALF_YEAR_DAYS = 183
_LAGS_MIN = np.arange(MOST_LAG_MIN + 1)
# Resampled evenings, of the latest at most, and what their middle 95 % is cut at.
_SAMPLES = 200
_SEED = 1
_RANGE = (0.025, 0.975)
_MOST_EVENINGS = 400
_SECOND = np.timedelta64(1, "s")


class Lag(NamedTuple):
    """A lag beside the light, and the light that goes with it.

    Attributes
    ----------
    minutes : int
        Of the best pair [min].
    sun_deg : float
        Its light, as `progress_deg` has it.
    low_min, high_min : int
        Between which lags the evenings leave it open, at 95 % [min].
    low_deg, high_deg : float
        The lights that go with those.
    """

    minutes: int
    sun_deg: float
    low_min: int
    high_min: int
    low_deg: float
    high_deg: float

    @property
    def is_told_apart(self) -> bool:
        """Whether the evenings tell light and lag apart: both ends lie within what is looked at."""
        return self.low_min > 0 and self.high_min < MOST_LAG_MIN


class OtherSeason(NamedTuple):
    """How far off a light can be on the worst day of the coming half-year.

    Attributes
    ----------
    earlier_min, later_min : float
        How much sooner, and later, the birds may come on that day than by the light alone, with
        the light's own error [min].
    date : date
        The worst day.
    without : int
        On how many of those days that light never comes.
    """

    earlier_min: float
    later_min: float
    date: dt.date
    without: int


def find_lag(half: Half, site: Site, instants_utc: Times) -> Lag:
    """Return the lag that goes best with moments, and how unsure it is.

    Parameters
    ----------
    half
        Of which the moments are.
    site
        Where.
    instants_utc
        One moment a day; at least one.
    """
    instants = instants_utc[-_MOST_EVENINGS:]
    places = np.stack(
        [progress_deg(half, site, instants - int(lag) * 60 * _SECOND) for lag in _LAGS_MIN]
    )
    # Minutes a degree, of each moment: the Sun's way within a minute about it.
    rates = 1.0 / np.maximum(np.abs(np.gradient(places, axis=0)), 1e-3)
    drawn = np.random.default_rng(_SEED).integers(0, len(instants), (_SAMPLES, len(instants)))
    drawn[0] = np.arange(len(instants))
    off = np.empty((len(_LAGS_MIN), _SAMPLES))
    for row, (place, rate) in enumerate(zip(places, rates, strict=True)):
        sample = place[drawn]
        differences = np.abs(sample - np.median(sample, axis=1, keepdims=True))
        off[row] = (differences * rate[drawn]).sum(axis=1)
    best = np.argmin(off, axis=0)
    low, high = (int(end) for end in np.quantile(best, _RANGE, method="nearest"))
    lights = np.median(places, axis=1)
    return Lag(
        int(_LAGS_MIN[best[0]]),
        float(lights[best[0]]),
        int(_LAGS_MIN[low]),
        int(_LAGS_MIN[high]),
        float(lights[low]),
        float(lights[high]),
    )


def any_lag(sun_deg: float, minutes_a_degree: float) -> Lag:
    """Return what is known of a lag if there are no moments: nothing.

    Parameters
    ----------
    sun_deg
        The light without a lag, as `progress_deg` has it.
    minutes_a_degree
        How long the Sun takes for a degree there [min].
    """
    brighter = sun_deg - MOST_LAG_MIN / minutes_a_degree
    return Lag(0, sun_deg, 0, MOST_LAG_MIN, sun_deg, brighter)


def look_ahead(
    half: Half, site: Site, zone: Zone, light: Light, lag: Lag, first: dt.date
) -> OtherSeason | None:
    """Return how far off a light can be in the half-year from a date on; None if it never comes.

    Parameters
    ----------
    half, site, zone
        Of the day, and where.
    light
        Without a lag.
    lag
        What else the evenings leave open.
    first
        The first of its days.

    Raises
    ------
    PlanError
        If flock days cannot be told there.
    """
    last = np.datetime64(first) + (HALF_YEAR_DAYS - 1)
    days = find_flock_days(site.longitude_deg, zone, np.datetime64(first), last, 0)
    alone = light_instants(half, site, days.solar_days, light.sun_deg)
    off = np.stack(
        [
            minutes_past(light_instants(half, site, days.solar_days, deg), alone) + lag_min
            for lag_min, deg in ((lag.low_min, lag.low_deg), (lag.high_min, lag.high_deg))
        ]
    )
    errors = light.error_deg * minutes_a_degree(half, site, days.solar_days, light.sun_deg)
    sums = np.abs(off).max(axis=0) + errors
    if not np.isfinite(sums).any():
        return None
    worst = int(np.nanargmax(sums))
    error = float(errors[worst])
    return OtherSeason(
        earlier_min=max(0.0, -float(off[:, worst].min())) + error,
        later_min=max(0.0, float(off[:, worst].max())) + error,
        date=days.dates[worst].item(),
        without=int(np.isnat(alone).sum()),
    )
