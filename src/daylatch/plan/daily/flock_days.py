"""Flock days: which solar day belongs to which civil date, and what each brings to the rules.

Of one site, with an element a day, or of several that share a wall clock, days x sites.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY, beside_sites, is_given, repeated
from daylatch.clock import Fold, Zone
from daylatch.errors import PlanError
from daylatch.plan.daily.rules import NEVER, Side, SideInput, ceil_minute, floor_minute
from daylatch.sun.crossings import SkyState, sun_transits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.daily.settings import SideSettings


_SIX_HOURS = np.timedelta64(6, "h")


class FlockDays(NamedTuple):
    """Consecutive flock days, one element each but for the last of ``lower_utc``.

    Attributes
    ----------
    zone : Zone
        The wall clock.
    dates : datetime64[D]
        Civil dates; they have no axis of sites.
    solar_days : datetime64[D]
        The days of local mean solar time that they are; one column where all sites have the same.
    lower_utc : datetime64[us]
        Lower transits: each day runs from its own to the next.
    transit_utc : datetime64[us]
        Upper transits.
    """

    zone: Zone
    dates: Times
    solar_days: Times
    lower_utc: Times
    transit_utc: Times


class Crossings(NamedTuple):
    """Both sides' crossings of one altitude a day."""

    rising: Times
    setting: Times
    dawn_sky: NDArray[np.int8]
    dusk_sky: NDArray[np.int8]


def find_flock_days(
    longitude_deg: float, zone: Zone, start: np.datetime64, end: np.datetime64, spare: int
) -> FlockDays:
    """Return a site's flock days of a range of civil dates, and some more on each side.

    Parameters
    ----------
    longitude_deg
        East positive.
    zone
        The wall clock of the site.
    start, end
        datetime64[D], both included; a date that the calendar skipped is left out.
    spare
        How many flock days more on each side.

    Raises
    ------
    PlanError
        If the Sun stands highest more than six hours from 12:00 there.
    """
    days, far = flock_days_of(np.asarray(longitude_deg), zone, start, end, spare)
    if far.any():
        raise far_from_noon(longitude_deg, zone)
    return days


def flock_days_of(
    longitude_deg: NDArray[np.float64],
    zone: Zone,
    start: np.datetime64,
    end: np.datetime64,
    spare: int,
) -> tuple[FlockDays, Flags]:
    """Return the flock days of some sites of one zone, and for which of them there are none.

    Parameters
    ----------
    longitude_deg
        Of each site; without an axis, of one.
    zone, start, end, spare
        As for `find_flock_days`.

    Returns
    -------
    FlockDays
        With an axis of sites behind that of days.
    bool array
        Sites at which the Sun stands highest more than six hours from 12:00: `far_from_noon`.
    """
    # Two more, in case the calendar skipped a date.
    dates = np.arange(start - (spare + 2), end + (spare + 3), dtype="datetime64[D]")
    noons, _ = zone.noons(dates)
    kept = ~np.isnat(noons)
    dates, noons = dates[kept], noons[kept]
    inside = np.flatnonzero((dates >= start) & (dates <= end))
    if inside.size:
        cut = slice(max(inside[0] - spare, 0), inside[-1] + spare + 1)
        dates, noons = dates[cut], noons[cut]
    noons = beside_sites(noons, longitude_deg.ndim)
    # The date of local mean solar time at noon is the solar day with the nearest transit.
    east = np.rint(longitude_deg * 240.0).astype("timedelta64[s]")
    solar_days = (noons + east).astype("datetime64[D]")
    if solar_days.ndim > 1 and (solar_days == solar_days[:, :1]).all():
        solar_days = solar_days[:, :1]
    lower, transit = sun_transits(
        longitude_deg, np.concatenate([solar_days, solar_days[-1:] + DAY], axis=0)
    )
    far = np.any(np.abs(transit[:-1] - noons) > _SIX_HOURS, axis=0)
    return FlockDays(zone, dates, solar_days, lower, transit[:-1]), np.asarray(far)


def far_from_noon(longitude_deg: float, zone: Zone) -> PlanError:
    """Return what is said where the Sun's noon is far from noon."""
    return PlanError(
        f"at longitude {longitude_deg:g} the Sun stands highest more than six hours from "
        f"12:00 of {zone.name}, so dawn and dusk belong to no date: give the zone that fits "
        "the longitude (at the poles, any longitude that fits the zone)"
    )


def side_input(
    side: Side, days: FlockDays, settings: SideSettings, light: Crossings, guard: Crossings
) -> SideInput:
    """Gather one movement's input, days x sites: light, and wall-clock settings as instants.

    Such a time means its occurrence nearest to six hours before the transit (opening) or after it
    (closing); a repeated one the instant that gives the shorter open time.
    """
    if side is Side.OPEN:
        target, fold = days.transit_utc - _SIX_HOURS, Fold.LATER
        event, sky = light.rising, light.dawn_sky
        # Rounded towards noon: up at dawn, down at dusk.
        guard_minute, guard_sky = ceil_minute(guard.rising), guard.dawn_sky
    else:
        target, fold = days.transit_utc + _SIX_HOURS, Fold.EARLIER
        event, sky = light.setting, light.dusk_sky
        guard_minute, guard_sky = floor_minute(guard.setting), guard.dusk_sky

    dates = beside_sites(days.dates, 1)

    def instants(minutes_of_day: Minutes, needed: bool | Flags = True) -> Times:
        if not is_given(minutes_of_day):
            return repeated(NEVER, target.shape)
        out = np.full(target.shape, NEVER)
        # Few sites have a limit, and fewer days without the light.
        some = np.flatnonzero((needed & ~np.isnat(minutes_of_day)).any(axis=0))
        out[:, some] = days.zone.occurrence_nearest(
            minutes_of_day[:, some], dates, target[:, some], fold
        )
        return out

    return SideInput(
        event=event,
        sky=sky,
        guard=guard_minute,
        guard_sky=guard_sky,
        offset=settings.offset,
        not_before=instants(settings.not_before),
        not_after=instants(settings.not_after),
        fallback=instants(settings.fallback, sky == SkyState.ALWAYS_ABOVE),
        dark_fallback=instants(settings.dark_fallback, sky == SkyState.ALWAYS_BELOW),
        fixed=instants(settings.fixed),
    )
