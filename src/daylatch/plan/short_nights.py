"""The short nights of a place, and what a new site file says so that they make sense.

Where the light of the default rules leaves less than a night between closing and opening, or never
comes, the door needs limits. They are counted from the lower transit, when the Sun stands lowest:
a fixed clock time would shut birds out in daylight where the wall clock is far from the Sun.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE, beside_sites
from daylatch.clock import WallTime, get_zone
from daylatch.plan.daily.flock_days import far_from_noon, flock_days_of
from daylatch.plan.daily.inputs import SPARE_DAYS, houses_of
from daylatch.plan.daily.rules import ceil_minute, floor_minute
from daylatch.plan.door_times import FAR_FROM_NIGHT
from daylatch.site.table import SHORT_NIGHT_H
from daylatch.sun.crossings import SkyState, sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.site.tables import Site

LEAST_NIGHT_H = int(SHORT_NIGHT_H)
"""A night shorter than this is lengthened [h] (this program's choice, no source)."""
_LIMITS_BELOW = np.timedelta64(5, "h")
"""Below this a least night would no longer do (this program's choice, no source): from there on the
times move fast, and further on there is no light to lengthen a night from."""
_CLOSE_BEFORE = np.timedelta64(2 * 60 + 15, "m")
_NIGHT = np.timedelta64(7, "h")
_FARTHEST = FAR_FROM_NIGHT - np.timedelta64(15, "m")
"""With a quarter to spare before a closing is in daylight."""
_YEARS_AHEAD = 5
_OFFSET = np.timedelta64(15, "m")
"""Of both movements by the default rules."""
# The Sun's largest declination is 23.44 deg until 2100 (the obliquity of the ecliptic).
_SOLSTICE_DEG = 23.5
# Civil twilight comes every day up to 90 - 23.5 + 6 = 72.5 degrees of latitude.
_ALWAYS_LIT_DEG = 72.0
# What rounding, the equation of time and the declination's drift within a night can come to.
_MARGIN_H = 0.25


class Remedy(Enum):
    """What a new file says of short nights."""

    NONE = "none"
    LEAST_NIGHT = "least night"
    LIMITS = "limits"


@dataclass(frozen=True, eq=False)
class ShortNights:
    """What the default rules come to in the coming years.

    Attributes
    ----------
    shortest : timedelta64[m]
        The shortest night that begins and ends by the light; NaT without any.
    bright, dark : datetime64[D]
        Dates without the light, since it is too bright or too dark for it.
    open, close : WallTime
        What limits and fallbacks should be, wanted or not.
    days : int
        How many dates were looked at.
    """

    shortest: np.timedelta64
    bright: Times
    dark: Times
    open: WallTime
    close: WallTime
    days: int

    @property
    def remedy(self) -> Remedy:
        """What to write."""
        if self.bright.size or self.shortest < _LIMITS_BELOW:
            return Remedy.LIMITS
        if self.shortest < np.timedelta64(LEAST_NIGHT_H, "h"):
            return Remedy.LEAST_NIGHT
        return Remedy.NONE

    def a_year(self, dates: Times) -> int:
        """Return how many such dates there are a year, about."""
        return round(dates.size * 365 / self.days)


def find_short_nights(sites: Sequence[Site], first: dt.date) -> list[ShortNights]:
    """Look at the coming years of sites of one zone as if they had the default rules.

    Parameters
    ----------
    sites
        Where they are; also of zones whose clocks go alike in those years, and end alike.
    first
        The civil date to begin with.

    Raises
    ------
    PlanError
        If the Sun's noon is far from noon at one of them.
    """
    zone = get_zone(sites[0].zone)
    # Past the end of its rules a zone's summer time would be missing.
    last = max(first, min(years_ahead(first), zone.rules_end or dt.date.max))
    begin, end = np.datetime64(first), np.datetime64(last)
    houses = houses_of(sites)
    days, far = flock_days_of(houses.longitude_deg, zone, begin, end, SPARE_DAYS)
    for site in itertools.compress(sites, far):
        raise far_from_noon(site.longitude_deg, zone)
    bright_half = _may_matter(houses.latitude_deg, days.dates)
    solar_days, dates = days.solar_days[bright_half], days.dates[bright_half]
    lower = days.lower_utc[:-1][bright_half], days.lower_utc[1:][bright_half]
    sun = sun_crossings(houses.latitude_deg, houses.longitude_deg, solar_days, CIVIL_ALTITUDE_DEG)
    bounds = floor_minute(lower[0]) + MINUTE, floor_minute(lower[1])
    # Each side by itself, also where a day lacks the light on the other.
    opens, closes = (
        np.clip(ceil_minute(event + _OFFSET), *bounds) for event in (sun.rising, sun.setting)
    )
    shortest = np.fmin.reduce(opens[1:] - closes[:-1], axis=0)
    bright, dark = (
        (sun.dawn_sky == state) | (sun.dusk_sky == state)
        for state in (SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW)
    )
    asked = (dates >= begin) & (dates <= end)
    # Where limits are wanted: without the light, or so near to the lower transit that a closing
    # by the clock at that time cannot be in daylight; on all days, where there are none such.
    among = np.zeros((len(days.dates), len(sites)), np.bool_)
    among[bright_half] = bright | (closes > lower[1] - FAR_FROM_NIGHT)
    among |= ~among.any(axis=0)
    midnights = beside_sites(days.dates.astype("datetime64[m]"), 1)
    on_wall = zone.to_local(days.lower_utc[1:]).wall - midnights
    return [
        ShortNights(
            shortest[column],
            dates[bright[:, column] & asked],
            dates[dark[:, column] & asked],
            *_meeting_limits(on_wall[among[:, column], column]),
            int(((days.dates >= begin) & (days.dates <= end)).sum()),
        )
        for column in range(len(sites))
    ]


def _may_matter(latitude_deg: NDArray[np.float64], dates: Times) -> Flags:
    """Return the days on which nights may be short, or the light may be missing, at some sites.

    While the Sun stands on the other side of the equator, no night with civil twilight is as short
    as six hours up to 80 degrees of latitude, and none lacks the light up to `_ALWAYS_LIT_DEG`.
    """
    all_days: Flags = np.ones(len(dates), np.bool_)
    north, south = (latitude_deg > 0).any(), (latitude_deg < 0).any()
    if np.abs(latitude_deg).max() > _ALWAYS_LIT_DEG or north == south:
        return all_days
    # Day and month as one number. Equinoxes lie on 19 to 21 March, and 21 to 24 September.
    month = dates.astype("datetime64[M]")
    of_year = 100 * (month.astype(np.int64) % 12 + 1) + (dates - month).astype(np.int64) + 1
    northern: Flags = (of_year >= 317) & (of_year <= 926)
    southern: Flags = (of_year <= 323) | (of_year >= 919)
    return northern if north else southern


def years_ahead(first: dt.date) -> dt.date:
    """Return up to which date nights are looked at."""
    return first + dt.timedelta(days=_YEARS_AHEAD * 365 - 1)


def has_long_nights(latitude_deg: float) -> bool:
    """Return whether a place lies so far from the poles that its nights need no remedy.

    The shortest night there is that of a solstice, when the Sun stands `_SOLSTICE_DEG` from the
    equator: cos H = (sin h - sin lat sin dec) / (cos lat cos dec), as in `sun_crossings`.
    """
    latitude = math.radians(min(abs(latitude_deg), 90.0))
    declination = math.radians(_SOLSTICE_DEG)
    cosine = (
        math.sin(math.radians(CIVIL_ALTITUDE_DEG)) - math.sin(latitude) * math.sin(declination)
    ) / max(math.cos(latitude) * math.cos(declination), 1e-9)
    if cosine <= -1.0:
        return False
    night_h = 24.0 - 2.0 * math.degrees(math.acos(cosine)) / 15.0
    return night_h > LEAST_NIGHT_H + _MARGIN_H


def _meeting_limits(lowest: Minutes) -> tuple[WallTime, WallTime]:
    """Return an opening and a closing that hold on all days that limits are for.

    The lower transit wanders by up to half an hour on the wall clock with the equation of time, and
    by more where the clock changes among these days. So the closing is counted from the earliest
    one, or later if it would else be in daylight on the day with the latest.
    """
    closing = max(lowest.min() - _CLOSE_BEFORE, lowest.max() - _FARTHEST)
    return _next_quarter(closing + _NIGHT), _next_quarter(closing)


def _next_quarter(time: np.timedelta64) -> WallTime:
    minutes = int(time.astype("timedelta64[m]").astype(int))
    return WallTime(-(-minutes // 15) * 15 % DAY_MIN)
