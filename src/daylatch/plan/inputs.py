"""Everything the rules need to know of a range of days: the days, the settings, the Sun."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.clock import get_zone
from daylatch.plan.daily_settings import DailySettings, resolve_settings
from daylatch.plan.flock_days import Crossings, FlockDays, find_flock_days, side_input
from daylatch.plan.rules import DayInput, Side, SideInput, floor_minute
from daylatch.sun.crossings import sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG, HORIZON_ALTITUDE_DEG

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.site.tables import Site, SiteFile

SPARE_DAYS = 2
"""Flock days computed beyond each end of a range: the nights at the ends need their neighbours."""


class RuleInputs(NamedTuple):
    """What is known of consecutive flock days before any rule has been applied.

    Attributes
    ----------
    days : FlockDays
        Their dates and bounds.
    settings : DailySettings
        The settings in force.
    opening, closing : SideInput
        What the rules take of each movement.
    day : DayInput
        What they take of the days.
    civil, horizon : Crossings
        Civil twilight and sunrise or sunset, for reading and drawing.
    """

    days: FlockDays
    settings: DailySettings
    opening: SideInput
    closing: SideInput
    day: DayInput
    civil: Crossings
    horizon: Crossings


def gather_inputs(
    site: Site, settings: SiteFile, start: np.datetime64, end: np.datetime64
) -> RuleInputs:
    """Return what the rules need for a range of dates and `SPARE_DAYS` on each side.

    Parameters
    ----------
    site
        Where it is.
    settings
        By what it is planned: the site's own, or others.
    start, end
        datetime64[D], both included.

    Raises
    ------
    PlanError
        As `find_flock_days`.
    """
    zone = get_zone(site.zone)
    days = find_flock_days(site.longitude_deg, zone, start, end, SPARE_DAYS)
    daily = resolve_settings(settings, days.dates)
    wanted = (daily.open.altitude_deg, daily.close.altitude_deg, daily.guard_altitude_deg)
    thresholds = np.array(
        sorted(
            {HORIZON_ALTITUDE_DEG, CIVIL_ALTITUDE_DEG}.union(
                *(column.tolist() for column in wanted)
            )
        )
    )
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, days.solar_days, thresholds[:, None])
    column = np.arange(len(days.dates))

    def at(altitude_deg: NDArray[np.float64]) -> Crossings:
        row = np.searchsorted(thresholds, altitude_deg)
        return Crossings(
            sun.rising[row, column],
            sun.setting[row, column],
            sun.dawn_sky[row, column],
            sun.dusk_sky[row, column],
        )

    guard = at(daily.guard_altitude_deg)
    return RuleInputs(
        days=days,
        settings=daily,
        opening=side_input(Side.OPEN, days, daily.open, at(daily.open.altitude_deg), guard),
        closing=side_input(Side.CLOSE, days, daily.close, at(daily.close.altitude_deg), guard),
        day=DayInput(
            first=floor_minute(days.lower_utc[:-1]) + MINUTE,
            last=floor_minute(days.lower_utc[1:]),
            shut=daily.shut,
            least_open=daily.least_open,
            least_night=daily.least_night,
            widen=daily.widen,
            lengthen=daily.lengthen,
        ),
        civil=at(np.full(len(days.dates), CIVIL_ALTITUDE_DEG)),
        horizon=at(np.full(len(days.dates), HORIZON_ALTITUDE_DEG)),
    )
