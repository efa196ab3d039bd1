"""Plans in blocks: the days of several sites that share a wall clock, computed at once.

A plan of one site is the block of one (`daylatch.plan.plan.make_plan`), so that a house has the
same times alone and among thousands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import column_of, once, repeated, rows_of
from daylatch.clock import get_zone
from daylatch.errors import PlanError
from daylatch.plan.conflicts import describe_conflicts
from daylatch.plan.daily.flock_days import far_from_noon
from daylatch.plan.daily.inputs import SPARE_DAYS, Houses, gather_columns, houses_of
from daylatch.plan.daily.rules import NEVER, decide
from daylatch.plan.door_times import DoorTimes, Guard, SunTimes
from daylatch.sun.ephemeris import LAST_DAY

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Hashable, Iterable, Iterator, Sequence

    from daylatch.arrays import Flags, Times
    from daylatch.clock import Zone
    from daylatch.site.tables import Site

LOOK_AHEAD_DAYS = 400
"""How far past a plan's end the opening after its last closing is looked for."""
_LOOK_AHEAD_STEP_DAYS = 40
# The zone rules begin in December 1901; before, a made-up change to local mean time stands there.
_FIRST_DATE = np.datetime64("1902-01-01")
# What the Sun's own range must reach beyond a plan's.
_MARGIN = np.timedelta64(5, "D")
BLOCK_SITES = 128
"""Sites in a block of a year: more of them leave a core's cache, fewer pay for their block."""
_SORTED_SITES = 8192
"""How many sites `make_plans` takes at a time, to put those of a zone together."""


@dataclass(frozen=True, eq=False)
class PlanBlock:
    """What could be planned of some sites, and what not.

    Attributes
    ----------
    sites : tuple of Site
        Those that have a plan.
    times : DoorTimes or None
        Days x sites, a column for each; None if there are none.
    refused : tuple
        The other sites, each with the `PlanError` that says why.
    """

    sites: tuple[Site, ...]
    times: DoorTimes | None
    refused: tuple[tuple[Site, PlanError], ...] = ()

    def of_site(self, column: int) -> DoorTimes:
        """Return the door times of one of its sites."""
        times: DoorTimes = column_of(self.times, column)
        return times


def make_plans(sites: Iterable[Site], start: dt.date, end: dt.date) -> Iterator[PlanBlock]:
    """Yield the plans of any number of sites in blocks, holding a few at a time.

    They come in another order than the sites. No second opinion is asked.

    Parameters
    ----------
    sites
        From `daylatch.site.reading.site_file.load_site`, or many more.
    start, end
        First and last civil date, both included.

    Raises
    ------
    PlanError
        If the range is reversed or reaches past what can be computed, for any site.
    """
    check_range(start, end)
    left = iter(sites)
    while some := list(islice(left, _SORTED_SITES)):
        groups: dict[Hashable, list[Site]] = {}
        for site in some:
            groups.setdefault(clock_group(site.zone, start, end), []).append(site)
        for group in groups.values():
            group.sort(key=lambda site: site.latitude_deg)
            for begin in range(0, len(group), BLOCK_SITES):
                yield plan_block(group[begin : begin + BLOCK_SITES], start, end)


@lru_cache(maxsize=4096)
def clock_group(zone: str, start: dt.date, end: dt.date) -> Hashable:
    """Return what is equal for zones whose sites can be planned in one block.

    Parameters
    ----------
    zone
        IANA name.
    start, end
        First and last civil date of the plan.
    """
    first, last = np.datetime64(start), np.datetime64(end)
    return get_zone(zone).behaviour(first, min(last + LOOK_AHEAD_DAYS, LAST_DAY))


def plan_block(
    sites: Sequence[Site], start: dt.date, end: dt.date, *, with_guard: bool = True
) -> PlanBlock:
    """Plan some sites of one zone, or of zones of one `clock_group`.

    Parameters
    ----------
    sites
        One or more.
    start, end
        First and last civil date, both included. A date that the sites' calendar skipped has no
        row.
    with_guard
        Whether it is told what lies past the guard (in `DoorTimes.guard` and its decisions).
        Times are the same without.

    Raises
    ------
    PlanError
        If the range is reversed or reaches past what can be computed.
    """
    check_range(start, end)
    first, last = np.datetime64(start), np.datetime64(end)
    zone = get_zone(sites[0].zone)
    try:
        zone.require_rules(end)
        wide, far = _compute(houses_of(sites), first, last, with_guard=with_guard)
        inside = (wide.dates >= first) & (wide.dates <= last)
        _refuse_dates(zone, wide.dates[inside], start, end)
    except PlanError as error:
        if len(sites) == 1:
            return PlanBlock((), None, ((sites[0], error),))
        # What the clock of one of them makes impossible, that of the others does too.
        alone = (plan_block([site], start, end, with_guard=with_guard) for site in sites)
        return PlanBlock((), None, tuple(pair for block in alone for pair in block.refused))
    troubles = _troubles(wide, inside, far, sites)
    kept = [column for column in range(len(sites)) if column not in troubles]
    refused = tuple((sites[column], troubles[column]) for column in sorted(troubles))
    if not kept:
        return PlanBlock((), None, refused)
    if refused:
        wide, sites = column_of(wide, kept), [sites[column] for column in kept]
    days = np.flatnonzero(inside)
    times: DoorTimes = rows_of(wide, slice(days[0], days[-1] + 1))
    return PlanBlock(
        tuple(sites), replace(times, next_open_utc=_next_open(wide, inside, sites)), refused
    )


def check_range(start: dt.date, end: dt.date) -> None:
    """Refuse a range that no site can be planned for.

    Raises
    ------
    PlanError
        If it is reversed, or reaches past what can be computed.
    """
    if end < start:
        raise PlanError(f"the plan ends ({end}) before it begins ({start}): swap the dates")
    earliest, latest = _FIRST_DATE, LAST_DAY - _MARGIN
    if np.datetime64(start) < earliest or np.datetime64(end) > latest:
        raise PlanError(f"plans can be made from {earliest} to {latest}, not {start} to {end}")


def _refuse_dates(zone: Zone, dates: Times, start: dt.date, end: dt.date) -> None:
    """Refuse dates that the calendar of a zone does not have, or had twice."""
    if not dates.size:
        raise PlanError(f"the calendar of {zone.name} skipped every date from {start} to {end}")
    _, twice = zone.noons(dates)
    if twice.any():
        raise PlanError(
            f"{zone.name} held {dates[twice][0]} twice (its calendar crossed the date "
            "line), so a door time on it would be ambiguous: plan the days before and after apart"
        )


def _compute(
    houses: Houses, start: np.datetime64, end: np.datetime64, *, with_guard: bool
) -> tuple[DoorTimes, Flags]:
    """Plan a range and a few days on each side, whatever conflicts there are.

    Returns also at which sites the Sun's noon is far from noon, so that nothing there holds.
    """
    given, far = gather_columns(houses, start, end, with_guard=with_guard)
    days, civil, horizon = given.days, given.civil, given.horizon
    times = DoorTimes(
        dates=days.dates,
        day_start_utc=days.lower_utc[:-1],
        day_end_utc=days.lower_utc[1:],
        settings=given.settings,
        decisions=decide(given.opening, given.closing, given.day),
        open_event_utc=given.opening.event,
        close_event_utc=given.closing.event,
        open_sky=given.opening.sky,
        close_sky=given.closing.sky,
        sun=SunTimes(
            civil.rising,
            horizon.rising,
            days.transit_utc,
            horizon.setting,
            civil.setting,
            civil.dawn_sky,
            civil.dusk_sky,
            horizon.dawn_sky,
            horizon.dusk_sky,
        ),
        guard=Guard(
            given.opening.guard,
            given.closing.guard,
            given.opening.guard_sky,
            given.closing.guard_sky,
        ),
        next_open_utc=repeated(NEVER, days.transit_utc.shape),
    )
    return times, far


def _troubles(
    wide: DoorTimes, inside: Flags, far: Flags, sites: Sequence[Site]
) -> dict[int, PlanError]:
    """Return by column why a site has no plan.

    Every conflict on the days of the range counts, and what leaves its nights unknown.
    """
    troubles = {
        column: far_from_noon(sites[column].longitude_deg, get_zone(sites[column].zone))
        for column in np.flatnonzero(far).tolist()
    }
    conflicts = wide.decisions.conflicts
    if not any(once(days).any() for days in conflicts.values()):
        return troubles
    among = np.repeat(inside[:, None], len(sites), axis=1)
    first, last = np.flatnonzero(inside)[[0, -1]]
    before, after = max(first - 1, 0), min(last + 1, len(inside) - 1)
    # A night lies between the closings before and the openings after, whose settings it has.
    among[before] |= wide.settings.least_night[before] > 0
    among[after] |= wide.settings.least_night[last] > 0
    bad = np.logical_or.reduce([(days & among).any(axis=0) for days in conflicts.values()])
    for column in np.flatnonzero(bad & ~far).tolist():
        own = {kind: days[:, column] for kind, days in conflicts.items()}
        troubles[column] = PlanError(*describe_conflicts(wide.dates, own, among[:, column]))
    return troubles


def _next_open(wide: DoorTimes, inside: Flags, sites: Sequence[Site]) -> Times:
    """Return for each closing the opening that ends its lock-in, looked for beyond the range."""
    first, last = np.flatnonzero(inside)[[0, -1]]
    beyond, found = _first_open(wide, np.arange(len(wide)) > last)
    if not found.all():
        further = [sites[column] for column in np.flatnonzero(~found).tolist()]
        beyond[~found] = _openings_after(further, wide.dates[last])
    rows = slice(first, last + 1)
    return next_opens(wide.open_utc[rows], beyond, np.isnat(wide.close_utc[rows]))


def next_opens(opens: Times, beyond: Times | np.datetime64, shut: Flags) -> Times:
    """Return for each day the first opening on a later one.

    Parameters
    ----------
    opens
        Of each day [datetime64[m]]; NaT on days without.
    beyond
        The first after the last day [datetime64[m]], of each site; NaT if none is known.
    shut
        Days whose closing begins no lock-in, because there is none: NaT for those.
    """
    # Openings come in order, so that the nearest later one is the least of all later ones.
    later = np.concatenate([opens[1:], np.reshape(beyond, (1, *opens.shape[1:]))], axis=0)
    nearest = np.fmin.accumulate(later[::-1], axis=0)[::-1]
    return np.where(shut, NEVER, nearest)


def _first_open(times: DoorTimes, among: Flags) -> tuple[Times, Flags]:
    """Return each site's first opening on some days, and whether it could be said.

    A day whose settings contradict themselves, or lack a fallback, may open or not: what lies
    behind it is not known, which is said by `NEVER`.
    """
    unknown = np.zeros(times.open_utc.shape, np.bool_)
    for days in times.decisions.conflicts.values():
        if once(days).any():
            unknown |= days
    told = (unknown | times.is_open) & among[:, None]
    row, column = np.argmax(told, axis=0), np.arange(told.shape[1])
    found: Flags = told[row, column]
    known = found & ~unknown[row, column]
    return np.where(known, times.open_utc[row, column], NEVER), found


def next_opening_after(site: Site, date: np.datetime64) -> np.datetime64 | None:
    """Return the first opening on a flock day after a date, looked for on 400 days.

    Parameters
    ----------
    site
        The site.
    date
        datetime64[D].

    Returns
    -------
    datetime64[m] or None
        None also where the zone rules end, or a day cannot be planned, before one is found.
    """
    found = _openings_after([site], date)[0]
    return None if np.isnat(found) else found


def _openings_after(sites: Sequence[Site], date: np.datetime64) -> Times:
    """Return the same for some sites of one zone; NaT for none."""
    horizon = min(date + LOOK_AHEAD_DAYS, LAST_DAY - _MARGIN)
    rules_end = get_zone(sites[0].zone).rules_end
    if rules_end is not None:
        # No clock changes in the first days of a year: the last night's end is still known.
        horizon = min(horizon, np.datetime64(rules_end) + SPARE_DAYS)
    openings = np.full(len(sites), NEVER)
    left = np.arange(len(sites))
    for start in np.arange(date + 1, horizon + 1, _LOOK_AHEAD_STEP_DAYS):
        end = min(start + (_LOOK_AHEAD_STEP_DAYS - 1), horizon)
        houses = houses_of([sites[column] for column in left.tolist()])
        block, far = _compute(houses, start, end, with_guard=False)
        opening, found = _first_open(block, (block.dates >= start) & (block.dates <= end))
        openings[left[found & ~far]] = opening[found & ~far]
        left = left[~found & ~far]
        if not left.size:
            break
    return openings
