"""Where the Sun is at a moment, and when it comes to a flock's light: both of a half of a day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.roosting.looks import Half
from daylatch.sun.crossings import sun_crossings, sun_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

_MINUTE_US = 60_000_000
_STEP_DEG = 0.1


def progress_deg(half: Half, site: Site, instants_utc: Times) -> Floats:
    """Return how far the Sun has come at instants: a depression that grows towards the event.

    In the evening that is the depression of the Sun's centre, in the morning its altitude; NaN
    without an instant.
    """
    known = ~np.isnat(instants_utc)
    out = np.full(len(instants_utc), np.nan)
    if known.any():
        altitude = sun_position(
            site.latitude_deg, site.longitude_deg, instants_utc[known]
        ).altitude_deg
        out[known] = -altitude if half is Half.EVENING else altitude
    return out


def depression_of(half: Half, sun_deg: float) -> float:
    """Return the depression of the Sun's centre at what `progress_deg` gives, and the reverse."""
    # Adding zero makes a negative one plain.
    return (sun_deg if half is Half.EVENING else -sun_deg) + 0.0


def light_instants(half: Half, site: Site, solar_days: Times, sun_deg: float) -> Times:
    """Return when a half of each day comes to a light [datetime64[us]]; NaT where it never does.

    Parameters
    ----------
    half, sun_deg
        The light, as `progress_deg` has it.
    site
        Where.
    solar_days
        Days of local mean solar time [datetime64[D]].
    """
    altitude = -sun_deg if half is Half.EVENING else sun_deg
    found = sun_crossings(site.latitude_deg, site.longitude_deg, solar_days, altitude)
    return found.setting if half is Half.EVENING else found.rising


def minutes_past(instants_utc: Times, light_utc: Times) -> Floats:
    """Return by how much instants come after a light [min]; NaN where one of them is not."""
    late = (instants_utc.astype("datetime64[us]") - light_utc).astype("timedelta64[us]")
    return np.where(np.isnat(late), np.nan, late.astype(np.int64) / _MINUTE_US)


def minutes_a_degree(half: Half, site: Site, solar_days: Times, sun_deg: float) -> Floats:
    """Return how long the Sun takes for a degree about a light on each day; NaN where it does not.

    Parameters are those of `light_instants`.
    """
    near = [
        light_instants(half, site, solar_days, sun_deg + sign * _STEP_DEG / 2) for sign in (-1, 1)
    ]
    return minutes_past(near[1], near[0]) / _STEP_DEG


def usual_minutes_a_degree(half: Half, site: Site, solar_days: Times, sun_deg: float) -> float:
    """Return the median of `minutes_a_degree`; NaN if there is none."""
    taken = minutes_a_degree(half, site, solar_days, sun_deg)
    return float(np.nanmedian(taken)) if np.isfinite(taken).any() else float("nan")
