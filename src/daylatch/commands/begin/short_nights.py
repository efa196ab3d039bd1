"""The short nights of a place, and what a new site file says so that they make sense.

Where the light of the default rules leaves less than a night between closing and opening, or never
comes, the door needs limits. They are counted from the lower transit, when the Sun stands lowest:
a fixed clock time would shut birds out in daylight where the wall clock is far from the Sun.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.clock import WallTime, get_zone
from daylatch.plan.daily.inputs import gather_inputs
from daylatch.plan.daily.rules import ceil_minute
from daylatch.plan.due import FAR_FROM_NIGHT
from daylatch.site.table import SHORT_NIGHT_H
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.daily.flock_days import FlockDays
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


def find_short_nights(site: Site, first: dt.date) -> ShortNights:
    """Look at the coming years of a site without limits and fallbacks.

    Parameters
    ----------
    site
        With the default rules.
    first
        The civil date to begin with.

    Raises
    ------
    PlanError
        If the Sun's noon is far from noon there.
    """
    zone = get_zone(site.zone)
    last = first + dt.timedelta(days=_YEARS_AHEAD * 365 - 1)
    # Past the end of its rules a zone's summer time would be missing.
    last = max(first, min(last, zone.rules_end or last))
    given = gather_inputs(site, site.settings, np.datetime64(first), np.datetime64(last))
    # Each side by itself, also where a day lacks the light on the other.
    opens, closes = (
        np.clip(ceil_minute(side.event + side.offset), given.day.first, given.day.last)
        for side in (given.opening, given.closing)
    )
    nights = opens[1:] - closes[:-1]
    bright, dark = (
        (given.opening.sky == state) | (given.closing.sky == state)
        for state in (SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW)
    )
    asked = (given.days.dates >= np.datetime64(first)) & (given.days.dates <= np.datetime64(last))
    return ShortNights(
        np.fmin.reduce(nights),
        given.days.dates[bright & asked],
        given.days.dates[dark & asked],
        *_meeting_limits(_lowest_on_wall(given.days, bright, closes)),
        int(asked.sum()),
    )


def _lowest_on_wall(days: FlockDays, bright: Flags, closes: Times) -> Minutes:
    """Return when the Sun stands lowest at the end of the days that limits are for.

    Those are the days without the light, and those on which it would close the door so near to the
    lower transit that a closing by the clock at that time cannot be in daylight; all, without any.
    By the wall clock, counted from midnight before it [timedelta64[m]].
    """
    lowest = days.lower_utc[1:]
    among = bright | (closes > lowest - FAR_FROM_NIGHT)
    if not among.any():
        among = np.ones_like(among)
    on_wall = days.zone.to_local(lowest).wall - days.dates.astype("datetime64[m]")
    return np.asarray(on_wall[among])


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
