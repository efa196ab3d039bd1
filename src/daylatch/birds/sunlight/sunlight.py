"""Direct sun by flock day: when it reaches the run over the skyline, and when it leaves.

The Sun's centre counts, without refraction, and weather does not; a flat horizon that it is held
against is taken alike. No time of the door is moved.
What a skyline takes from the light of dusk is in `daylatch.birds.sunlight.dusk`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.birds.date_runs import date_runs
from daylatch.birds.nights.nights import LitStretches, light_of
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.sun.crossings import sun_crossings
from daylatch.sun.skyline import Skyline, find_sunlit, make_skyline

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Numbers, Times
    from daylatch.birds.date_runs import DateRun
    from daylatch.plan.daily.flock_days import FlockDays
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_NONE = np.timedelta64(0, "us")
_NOT_KNOWN = np.timedelta64("NaT", "us")
_HALF_TURN_DEG = 180.0
# With so much less sun than if the skyline were turned round, its azimuths may begin in the south
# (our choice, no source).
_DOUBTED_PART = 0.85
# On fewer days the Sun passes too little of a skyline to judge it.
_JUDGED_DAYS = 360


class MonthOfSun(NamedTuple):
    """A calendar month: how much direct sun its flock days have, and how much there could be."""

    month: np.datetime64
    days: int
    sunless: int
    sun: np.timedelta64
    flat: np.timedelta64


class FlatHorizon(NamedTuple):
    """Direct sun over a flat horizon, an element a flock day.

    Attributes
    ----------
    rising, setting : datetime64[us]
        When the Sun's centre passes it; NaT where it does not.
    light : LitStretches
        When it stands above.
    """

    rising: Times
    setting: Times
    light: LitStretches

    @property
    def length(self) -> Minutes:
        """How long it stands above [timedelta64[us]]."""
        return np.asarray(self.light.end - self.light.start)


@dataclass(frozen=True, eq=False)
class Sunlight:
    """Direct sun on a plan's flock days.

    Attributes
    ----------
    due : Due
        When the door moves on these days.
    skyline : Skyline
        What hides the Sun.
    rows : int
        The flock day of each stretch, by its place in the plan; a stretch ends where its day does.
    start_utc, end_utc : datetime64[us]
        An element a stretch, in order.
    flat : FlatHorizon
        When there would be direct sun over a flat horizon, by flock day.
    """

    due: Due
    skyline: Skyline
    rows: Numbers
    start_utc: Times
    end_utc: Times
    flat: FlatHorizon

    @property
    def plan(self) -> Plan:
        """The plan that the due times belong to."""
        return self.due.plan

    @cached_property
    def length(self) -> Minutes:
        """How much direct sun each day has [timedelta64[us]]."""
        stretches = (self.end_utc - self.start_utc).astype(np.int64)
        sums = np.bincount(self.rows, stretches, minlength=len(self.plan))
        return np.rint(sums).astype("timedelta64[us]")

    @property
    def sunless(self) -> Flags:
        """Days without direct sun."""
        return np.asarray(self.length <= _NONE)

    @cached_property
    def first_utc(self) -> Times:
        """When direct sun comes first on each day; NaT on days without [datetime64[us]]."""
        return self._per_day(self.start_utc[::-1], self.rows[::-1])

    @cached_property
    def last_utc(self) -> Times:
        """When direct sun leaves last on each day; NaT on days without [datetime64[us]]."""
        return self._per_day(self.end_utc, self.rows)

    def _per_day(self, instants: Times, rows: Numbers) -> Times:
        out = np.full(len(self.plan), np.datetime64("NaT", "us"))
        # Of several for one day, the last stays.
        out[rows] = instants
        return out

    @property
    def comes_later(self) -> Minutes:
        """How much later than over a flat horizon direct sun comes; NaT without either."""
        return np.asarray(self.first_utc - self.flat.rising)

    @property
    def leaves_earlier(self) -> Minutes:
        """How much earlier than over a flat horizon direct sun leaves; NaT without either."""
        return np.asarray(self.flat.setting - self.last_utc)

    @cached_property
    def opens_in_shade(self) -> Flags:
        """Days on which the skyline hides the Sun at the opening, and a flat horizon would not."""
        opens = self.due.told_open_utc.astype("datetime64[us]")
        known = ~np.isnat(opens)
        light = self.flat.light
        is_up = known & (opens >= light.start) & (opens < light.end)
        return np.asarray(is_up & ~self.is_lit(opens))

    @cached_property
    def opens_before_sunrise(self) -> Flags:
        """Days on which the door opens before the Sun comes over a flat horizon, if it does."""
        opens = self.due.told_open_utc.astype("datetime64[us]")
        return np.asarray(~np.isnat(opens) & (opens < self.flat.rising))

    @cached_property
    def sun_after_opening(self) -> Minutes:
        """How long after each opening direct sun comes, that day; NaT if it does not."""
        opens = self.due.told_open_utc.astype("datetime64[us]")
        following = np.searchsorted(self.end_utc, opens, "right")
        some = np.flatnonzero(~np.isnat(opens) & (following < len(self.rows)))
        some = some[self.rows[following[some]] == some]
        out = np.full(len(opens), _NOT_KNOWN)
        out[some] = np.maximum(self.start_utc[following[some]] - opens[some], _NONE)
        return out

    def is_lit(self, instants: Times) -> Flags:
        """Return whether there is direct sun at some instants [datetime64[us]]."""
        at = np.searchsorted(self.start_utc, instants, "right") - 1
        lit = np.zeros(instants.shape, bool)
        some = (at >= 0) & ~np.isnat(instants)
        lit[some] = instants[some] < self.end_utc[at[some]]
        return lit

    @cached_property
    def sunless_runs(self) -> list[DateRun]:
        """The dates without direct sun, by runs."""
        return date_runs(self.plan.dates, self.sunless)

    @cached_property
    def months(self) -> list[MonthOfSun]:
        """The calendar months of the plan."""
        months = self.plan.dates.astype("datetime64[M]")
        found = []
        for month in np.unique(months):
            here = months == month
            found.append(
                MonthOfSun(
                    month,
                    int(here.sum()),
                    int((self.sunless & here).sum()),
                    self.length[here].sum(),
                    self.flat.length[here].sum(),
                )
            )
        return found


def make_sunlight(due: Due, skyline: Skyline) -> Sunlight:
    """Return when direct sun reaches the run on a plan's flock days.

    Parameters
    ----------
    due
        When the door moves.
    skyline
        What hides the Sun.

    Raises
    ------
    PlanError
        As `daylatch.plan.daily.flock_days.find_flock_days`.
    """
    site, dates = due.plan.site, due.plan.dates
    days = find_flock_days(site.longitude_deg, due.plan.zone, dates[0], dates[-1], spare=0)
    lower = days.lower_utc
    sun = find_sunlit(site.latitude_deg, site.longitude_deg, lower[0], lower[-1], skyline)
    # A stretch over a lower transit is one of either day.
    first = np.searchsorted(lower, sun.start_utc, "right") - 1
    last = np.searchsorted(lower, sun.end_utc, "left") - 1
    count = last - first + 1
    stretch = np.repeat(np.arange(len(count)), count)
    rows = np.arange(len(stretch)) - np.repeat(np.cumsum(count) - count, count) + first[stretch]
    return Sunlight(
        due=due,
        skyline=skyline,
        rows=rows,
        start_utc=np.maximum(sun.start_utc[stretch], lower[rows]),
        end_utc=np.minimum(sun.end_utc[stretch], lower[rows + 1]),
        flat=_flat_horizon(site, days),
    )


def _flat_horizon(site: Site, days: FlockDays) -> FlatHorizon:
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, days.solar_days, 0.0)
    crossings = (sun.rising, sun.setting, sun.dawn_sky, sun.dusk_sky)
    light = light_of(days.lower_utc[:-1], days.transit_utc, days.lower_utc[1:], crossings)
    return FlatHorizon(sun.rising, sun.setting, light)


def turned_round(sunlight: Sunlight) -> np.timedelta64 | None:
    """Return how much more sun there would be if the azimuths were counted from south.

    None if that is not so much that the skyline should be doubted, or if the dates are not about a
    year.
    """
    skyline = sunlight.skyline
    if len(sunlight.plan) < _JUDGED_DAYS:
        return None
    other = make_sunlight(
        sunlight.due,
        make_skyline((skyline.azimuth_deg + _HALF_TURN_DEG) % 360.0, skyline.elevation_deg),
    )
    given, turned = sunlight.length.sum(), other.length.sum()
    return turned - given if given < _DOUBTED_PART * turned else None
