"""How long the natural day is, by flock day: what laying follows.

The day is counted in two ways, from sunrise to sunset and from civil dawn to civil dusk; which of
them is held against the wanted length, the site file says. On a flock day on which the Sun stays up
it lasts from lower transit to lower transit; where the Sun stays down it has no length and lies at
the transit. A lamp that adds to it is in `daylatch.birds.daylength.lamp`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.birds.nights.nights import LitStretches, light_of
from daylatch.clock import get_zone
from daylatch.plan.daily.flock_days import FlockDays, find_flock_days
from daylatch.site.laying import Laying
from daylatch.sun.crossings import SkyState, sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG, HORIZON_ALTITUDE_DEG

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


PHOTOPERIOD_NORMS = (
    "14 to 16 h of light a day for laying, and a lamp before sunrise, so that birds roost at "
    "natural dusk (University of Arizona Extension AZ2185, January 2026)",
    "at most 16 h of light, and at least 8 h of dark without a break (Defra compendium 8.4.4, "
    "organic rules); about a third of the day dark (Directive 1999/74/EC, Annex)",
    "14 to 16 h of light, and never less for birds that lay (extension column, "
    "heraldcourier.com, 2020-08-10, Virginia, USA)",
    "lengthen the light by 1 h a week (MSU Extension, as quoted in agupdate, 2019-11-30, USA)",
    "a lamp that goes off after dark leaves birds off the roost (common practice, no source)",
)
"""What the wanted length and the lamp are compared with, with sources."""


class NaturalDay(NamedTuple):
    """One way to count the natural day.

    Attributes
    ----------
    altitude_deg : float
        Of the Sun's centre, from which on it counts as day.
    begins, ends, state : str
        The columns of a file: its two ends, and whether it has none.
    name : str
        The column of its length, and its name in JSON.
    words : str
        Before its length, beside that of another.
    never_ends, never_begins : str
        What days are called on which the Sun stays above, or below; empty if that is not told.
    """

    altitude_deg: float
    begins: str
    ends: str
    state: str
    name: str
    words: str
    never_ends: str = ""
    never_begins: str = ""


NATURAL_DAYS = {
    "sunrise": NaturalDay(
        HORIZON_ALTITUDE_DEG,
        "sunrise",
        "sunset",
        "sun",
        "sunrise_to_sunset",
        "sunrise to sunset",
        never_ends="Sun stays up",
        never_begins="Sun stays down",
    ),
    "civil": NaturalDay(
        CIVIL_ALTITUDE_DEG,
        "civil_dawn",
        "civil_dusk",
        "civil_light",
        "civil",
        "with civil twilight",
        never_begins="No civil twilight",
    ),
}
"""Each way to count, by ``laying.counts``; every form has them all."""

# So many days before a range, some date of the calendar lies there, whatever it skips.
_BEFORE = np.timedelta64(3, "D")


@dataclass(frozen=True, eq=False)
class Daylight:
    """The natural day by one altitude of the Sun; all columns have an element a flock day.

    Attributes
    ----------
    rising, setting : datetime64[us]
        The crossings; NaT where there is none.
    light : LitStretches
        When it is day.
    always_up, always_down : bool
        Whether the Sun stays above, or below, all through the flock day.
    """

    rising: Times
    setting: Times
    light: LitStretches
    always_up: Flags
    always_down: Flags

    @property
    def length(self) -> Minutes:
        """How long it is day [timedelta64[us]]."""
        return self.light.end - self.light.start

    def rows(self, where: Flags) -> Daylight:
        """Return some of the days."""
        return Daylight(
            self.rising[where],
            self.setting[where],
            LitStretches(*(column[where] for column in self.light)),
            self.always_up[where],
            self.always_down[where],
        )


@dataclass(frozen=True, eq=False)
class DayLengths:
    """The natural day on a plan's flock days, compared with a wanted length.

    Attributes
    ----------
    plan : Plan
        The plan.
    laying : Laying
        What the site file wants, or its defaults.
    by : dict
        The `Daylight` by each key of `NATURAL_DAYS`.
    under : bool
        Whether the counted day is shorter than wanted.
    falls, rises : datetime64[D]
        Dates on which it begins to be shorter, and to be long enough, after the day before.
    """

    plan: Plan
    laying: Laying
    by: dict[str, Daylight]
    under: Flags
    falls: Times
    rises: Times

    @property
    def counted(self) -> Daylight:
        """The natural day as the site file counts it."""
        return self.by[self.laying.counts]

    @property
    def wanted(self) -> np.timedelta64:
        """The wanted length [timedelta64[us]]."""
        return wanted_length(self.laying)

    @property
    def lacking(self) -> Minutes:
        """What each natural day lacks of the wanted length [timedelta64[us]]."""
        return np.maximum(self.wanted - self.counted.length, np.timedelta64(0, "us"))


def wanted_length(laying: Laying) -> np.timedelta64:
    """Return the wanted length of day, to a whole second [timedelta64[us]]."""
    return np.timedelta64(round(laying.wanted_h * 3600) * 1_000_000, "us")


def find_daylight(
    site: Site, first: np.datetime64, last: np.datetime64
) -> tuple[FlockDays, dict[str, Daylight]]:
    """Return the natural days of a range of dates, by each key of `NATURAL_DAYS`.

    Parameters
    ----------
    site
        Where it is.
    first, last
        datetime64[D], both included; a date that the calendar skipped is left out.

    Raises
    ------
    PlanError
        As `daylatch.plan.daily.flock_days.find_flock_days`.
    """
    days = find_flock_days(site.longitude_deg, get_zone(site.zone), first, last, spare=0)
    altitudes = np.array([natural.altitude_deg for natural in NATURAL_DAYS.values()])[:, None]
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, days.solar_days, altitudes)
    found = {}
    for row, key in enumerate(NATURAL_DAYS):
        dawn, dusk = sun.dawn_sky[row], sun.dusk_sky[row]
        crossings = (sun.rising[row], sun.setting[row], dawn, dusk)
        found[key] = Daylight(
            rising=sun.rising[row],
            setting=sun.setting[row],
            light=light_of(days.lower_utc[:-1], days.transit_utc, days.lower_utc[1:], crossings),
            always_up=(dawn == SkyState.ALWAYS_ABOVE) & (dusk == SkyState.ALWAYS_ABOVE),
            always_down=(dawn == SkyState.ALWAYS_BELOW) & (dusk == SkyState.ALWAYS_BELOW),
        )
    return days, found


def make_day_lengths(plan: Plan) -> DayLengths:
    """Return the natural day on a plan's flock days.

    Raises
    ------
    PlanError
        If the flock days before the plan's first cannot be found.
    """
    laying = plan.site.settings.laying or Laying.model_validate({})
    days, found = find_daylight(plan.site, plan.dates[0] - _BEFORE, plan.dates[-1])
    under = found[laying.counts].length < wanted_length(laying)
    inside = days.dates >= plan.dates[0]
    changed = np.append(False, under[1:] != under[:-1]) & inside
    return DayLengths(
        plan=plan,
        laying=laying,
        by={key: daylight.rows(inside) for key, daylight in found.items()},
        under=under[inside],
        falls=days.dates[changed & under],
        rises=days.dates[changed & ~under],
    )
