"""Flock days: which solar day belongs to which civil date, and what each brings to the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.clock import Fold, Zone
from daylatch.errors import PlanError
from daylatch.plan.rules import NEVER, Side, SideInput, ceil_minute, floor_minute
from daylatch.sun.crossings import sun_transits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Minutes, Times
    from daylatch.plan.daily_settings import SideSettings


_SIX_HOURS = np.timedelta64(6, "h")


class FlockDays(NamedTuple):
    """Consecutive flock days, one element each but for the last of ``lower_utc``.

    Attributes
    ----------
    zone : Zone
        The wall clock of the site.
    dates : datetime64[D]
        Civil dates.
    solar_days : datetime64[D]
        The days of local mean solar time that they are.
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
    """Return the flock days of a range of civil dates, and some more on each side.

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
    # Two more, in case the calendar skipped a date.
    dates = np.arange(start - (spare + 2), end + (spare + 3), dtype="datetime64[D]")
    noons, _ = zone.noons(dates)
    kept = ~np.isnat(noons)
    dates, noons = dates[kept], noons[kept]
    inside = np.flatnonzero((dates >= start) & (dates <= end))
    if inside.size:
        cut = slice(max(inside[0] - spare, 0), inside[-1] + spare + 1)
        dates, noons = dates[cut], noons[cut]
    # The date of local mean solar time at noon is the solar day with the nearest transit.
    east = np.timedelta64(round(longitude_deg * 240), "s")
    solar_days = (noons + east).astype("datetime64[D]")
    lower, transit = sun_transits(longitude_deg, np.append(solar_days, solar_days[-1:] + DAY))
    far = np.abs(transit[:-1] - noons) > _SIX_HOURS
    if far.any():
        raise PlanError(
            f"at longitude {longitude_deg:g} the Sun stands highest more than six hours from "
            f"12:00 of {zone.name}, so dawn and dusk belong to no date: give the zone that fits "
            "the longitude (at the poles, any longitude that fits the zone)"
        )
    return FlockDays(zone, dates, solar_days, lower, transit[:-1])


def side_input(
    side: Side, days: FlockDays, settings: SideSettings, light: Crossings, guard: Crossings
) -> SideInput:
    """Gather one movement's input: light from the Sun, wall-clock settings as instants.

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

    def instants(minutes_of_day: Minutes) -> Times:
        if np.isnat(minutes_of_day).all():
            return np.full(days.dates.shape, NEVER)
        return days.zone.occurrence_nearest(minutes_of_day, days.dates, target, fold)

    return SideInput(
        event=event,
        sky=sky,
        guard=guard_minute,
        guard_sky=guard_sky,
        offset=settings.offset,
        not_before=instants(settings.not_before),
        not_after=instants(settings.not_after),
        fallback=instants(settings.fallback),
        dark_fallback=instants(settings.dark_fallback),
        fixed=instants(settings.fixed),
    )
