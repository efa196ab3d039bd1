"""What a skyline takes from the light of dusk, under a sky that is equally bright all over.

It moves no time. The real sky of dusk is brighter where the Sun went down, by how much nobody was
found to say for a flock's light; so this is told as a size and not used as a correction. What a
place really does, `daylatch roosting` learns from evenings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.sun.crossings import sun_crossings
from daylatch.sun.illuminance import LOWEST_DEG, clear_sky_lux
from daylatch.sun.lights import altitude_of

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan
    from daylatch.sun.skyline import Skyline

_STEP_DEG = 0.1
_GRID_DEG = 0.001


@dataclass(frozen=True)
class Dusk:
    """What a skyline takes from the light by which the door closes.

    Attributes
    ----------
    view : float
        The part of an equally bright sky's light that reaches level ground.
    lower_deg : float
        By how much the Sun seems to stand lower for it [deg].
    median, most : timedelta64[us]
        How much earlier that light comes, on half of the evenings and at most.
    most_on : datetime64[D]
        The flock day of the latter.
    """

    view: float
    lower_deg: float
    median: np.timedelta64
    most: np.timedelta64
    most_on: np.datetime64


def sky_view(skyline: Skyline) -> float:
    """Return the part of an equally bright sky's light that reaches level ground over a skyline.

    References
    ----------
    The mean of cos2 of the skyline's elevation, where it is above the horizontal: J. Dozier and J.
    Frew, IEEE Transactions on Geoscience and Remote Sensing 28 (1990) 963 (from memory).
    """
    azimuths = np.arange(0.0, 360.0, _STEP_DEG)
    elevations = np.radians(np.maximum(skyline.elevation_at(azimuths), 0.0))
    return float(np.mean(np.cos(elevations) ** 2))


def seems_lower_deg(altitude_deg: float, view: float) -> float | None:
    """Return by how much the Sun seems to stand lower where only a part of the sky is seen.

    Parameters
    ----------
    altitude_deg
        Of the Sun, below the horizon [deg].
    view
        The part of the sky's light.

    Returns
    -------
    float or None
        None where no light is known to go by: by day, and in the depth of night.
    """
    if not LOWEST_DEG <= altitude_deg <= 0.0:
        return None
    altitudes = np.arange(altitude_deg, 5.0, _GRID_DEG)
    # The pieces of the fit meet by a hundredth: a light that grows is wanted.
    lux = np.maximum.accumulate(clear_sky_lux(altitudes))
    wanted = float(clear_sky_lux(altitude_deg)) / view
    return float(np.interp(wanted, lux, altitudes) - altitude_deg)


def make_dusk(plan: Plan, skyline: Skyline) -> Dusk | None:
    """Return what a skyline takes from the light by which the door closes.

    None if it goes by a light of the day, or there is no such evening.
    """
    site = plan.site
    altitude = altitude_of(site.settings.close.light)
    view = sky_view(skyline)
    lower = seems_lower_deg(altitude, view)
    if lower is None:
        return None
    days = find_flock_days(site.longitude_deg, plan.zone, plan.dates[0], plan.dates[-1], spare=0)
    altitudes = np.array([[altitude + lower], [altitude]])
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, days.solar_days, altitudes)
    earlier = sun.setting[1] - sun.setting[0]
    some = np.flatnonzero(~np.isnat(earlier))
    if not some.size:
        return None
    most = some[np.argmax(earlier[some])]
    return Dusk(view, lower, np.median(earlier[some]), earlier[most], days.dates[most])
