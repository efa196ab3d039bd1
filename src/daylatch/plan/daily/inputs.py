"""Everything the rules need to know of a range of days: the days, the settings, the Sun."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import MINUTE, column_of, once, repeated
from daylatch.clock import Zone, get_zone
from daylatch.plan.daily.flock_days import (
    Crossings,
    FlockDays,
    far_from_noon,
    flock_days_of,
    side_input,
)
from daylatch.plan.daily.rules import DayInput, Side, SideInput, floor_minute
from daylatch.plan.daily.settings import DailySettings, resolve_settings
from daylatch.sun.crossings import SkyState, sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG, HORIZON_ALTITUDE_DEG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags
    from daylatch.site.tables import Site, SiteFile

_NAT = np.datetime64("NaT", "us")
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


class Houses(NamedTuple):
    """Sites that share a wall clock, as columns.

    Attributes
    ----------
    zone : Zone
        Their wall clock.
    latitude_deg, longitude_deg : float64
        Of each.
    settings : tuple of SiteFile
        By what each is planned.
    """

    zone: Zone
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]
    settings: tuple[SiteFile, ...]


def houses_of(sites: Sequence[Site], settings: Sequence[SiteFile] | None = None) -> Houses:
    """Return sites of one zone as columns.

    Parameters
    ----------
    sites
        Where they are.
    settings
        By what each is planned, if not by its own.
    """
    return Houses(
        get_zone(sites[0].zone),
        np.array([site.latitude_deg for site in sites], np.float64),
        np.array([site.longitude_deg for site in sites], np.float64),
        tuple(site.settings for site in sites) if settings is None else tuple(settings),
    )


def gather_inputs(
    site: Site, settings: SiteFile, start: np.datetime64, end: np.datetime64
) -> RuleInputs:
    """Return what the rules need for a range of a site's dates and `SPARE_DAYS` on each side.

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
    given, far = gather_columns(houses_of([site], [settings]), start, end)
    if far.any():
        raise far_from_noon(site.longitude_deg, given.days.zone)
    inputs: RuleInputs = column_of(given, 0)
    return inputs


def gather_columns(
    houses: Houses, start: np.datetime64, end: np.datetime64, *, with_guard: bool = True
) -> tuple[RuleInputs, Flags]:
    """Return the same for several sites, days x sites, and for which of them there are no days.

    Parameters
    ----------
    houses
        The sites.
    start, end
        datetime64[D], both included.
    with_guard
        Whether the guard is looked at though no day is to be widened: for saying what lies past
        it. Else it never comes.
    """
    days, far = flock_days_of(houses.longitude_deg, houses.zone, start, end, SPARE_DAYS)
    daily = resolve_settings(houses.settings, days.dates)
    altitudes = [
        *(daily.open.altitude_deg, daily.close.altitude_deg),
        *(np.array(CIVIL_ALTITUDE_DEG), np.array(HORIZON_ALTITUDE_DEG)),
    ]
    guarded = with_guard or bool(once(daily.least_open).any())
    if guarded:
        altitudes.append(daily.guard_altitude_deg)
    opening, closing, civil, horizon, *guards = _crossings(houses, days, altitudes)
    guard = guards[0] if guarded else _never(days.transit_utc.shape)
    inputs = RuleInputs(
        days=days,
        settings=daily,
        opening=side_input(Side.OPEN, days, daily.open, opening, guard),
        closing=side_input(Side.CLOSE, days, daily.close, closing, guard),
        day=DayInput(
            first=floor_minute(days.lower_utc[:-1]) + MINUTE,
            last=floor_minute(days.lower_utc[1:]),
            shut=daily.shut,
            least_open=daily.least_open,
            least_night=daily.least_night,
            widen=daily.widen,
            lengthen=daily.lengthen,
        ),
        civil=civil,
        horizon=horizon,
    )
    return inputs, far


def _never(shape: tuple[int, ...]) -> Crossings:
    """Return the crossings of an altitude that nobody asked for."""
    no_time, no_sky = repeated(_NAT, shape), repeated(np.int8(SkyState.CROSSES), shape)
    return Crossings(no_time, no_time, no_sky, no_sky)


def _crossings(
    houses: Houses, days: FlockDays, altitudes_deg: Sequence[NDArray[np.float64]]
) -> list[Crossings]:
    """Return the crossings of each of some altitudes, computed once where two are the same."""
    rows: list[NDArray[np.float64]] = []
    row_of = []
    for altitude in map(once, altitudes_deg):
        known = (at for at, row in enumerate(rows) if np.array_equal(row, altitude))
        at = next(known, len(rows))
        if at == len(rows):
            rows.append(altitude)
        row_of.append(at)
    found: dict[int, Crossings] = {}
    # Those that are the same on all days and at all sites in one call, the others by themselves.
    plain = [at for at, row in enumerate(rows) if row.size == 1]
    for group in [plain, *([at] for at in range(len(rows)) if at not in plain)]:
        if len(group) > 1 or rows[group[0]].size == 1:
            wanted = np.array([rows[at].item() for at in group])[:, None, None]
        else:
            wanted = rows[group[0]][None]
        sun = sun_crossings(houses.latitude_deg, houses.longitude_deg, days.solar_days, wanted)
        for row, at in enumerate(group):
            found[at] = Crossings(
                sun.rising[row], sun.setting[row], sun.dawn_sky[row], sun.dusk_sky[row]
            )
    return [found[at] for at in row_of]
