"""The plan: for each flock day when the door opens and closes, and which rule decided it.

Everything else reads the plan. A *flock day* is the solar day whose upper transit lies nearest to
12:00 civil time of its date; where an island keeps the other side of the date line it is another
solar day than the one of the same date (``docs/decisions/0001-flock-day.md``).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.clock import ClockChange, DoorClock, Fold, LocalTimes, Zone, get_zone
from daylatch.errors import PlanError
from daylatch.plan.conflicts import describe_conflicts
from daylatch.plan.daily_settings import DailySettings, SideSettings
from daylatch.plan.day import DayColumns, MovementColumns, make_days
from daylatch.plan.inputs import SPARE_DAYS, gather_inputs
from daylatch.plan.rules import NEVER, Decisions, Moves, Side, decide
from daylatch.sun.ephemeris import LAST_DAY
from daylatch.sun.second_opinion import NOT_ASKED, SecondOpinion, ask_second_opinion

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.day import PlannedDay
    from daylatch.site.tables import Site


LOOK_AHEAD_DAYS = 400
"""How far past a plan's end the opening after its last closing is looked for."""
_LOOK_AHEAD_STEP_DAYS = 40
# The zone rules begin in December 1901; before, a made-up change to local mean time stands there.
_FIRST_DATE = np.datetime64("1902-01-01")
# What the Sun's own range must reach beyond a plan's.
_MARGIN = np.timedelta64(5, "D")


class SunTimes(NamedTuple):
    """The Sun's day, for reading and drawing: UTC datetime64[us], NaT without a crossing."""

    dawn: Times
    sunrise: Times
    transit: Times
    sunset: Times
    dusk: Times
    dawn_sky: NDArray[np.int8]
    dusk_sky: NDArray[np.int8]
    sunrise_sky: NDArray[np.int8]
    sunset_sky: NDArray[np.int8]


class Guard(NamedTuple):
    """When the Sun passes the guard: whole minutes rounded towards noon, NaT without a crossing."""

    open_utc: Times
    close_utc: Times
    open_sky: NDArray[np.int8]
    close_sky: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Plan:
    """Door times of consecutive flock days; all arrays have one element a day.

    Attributes
    ----------
    site : Site
        The site it was made for.
    dates : datetime64[D]
        The flock days' civil dates.
    day_start_utc, day_end_utc : datetime64[us]
        The lower transits that bound each flock day.
    settings : DailySettings
        The settings in force.
    decisions : Decisions
        Door times with their traces.
    open_event_utc, close_event_utc : datetime64[us]
        The light events chosen by the settings.
    sun : SunTimes
        The Sun's day.
    guard : Guard
        The light past which predators hunt, on either side of the day.
    next_open_utc : datetime64[m]
        The opening that ends the lock-in which each day's closing begins; NaT if the door does
        not close that day, or no opening was found within `LOOK_AHEAD_DAYS` of the plan's end.
    second_opinion : SecondOpinion
        What the independent computation said.
    """

    site: Site
    dates: Times
    day_start_utc: Times
    day_end_utc: Times
    settings: DailySettings
    decisions: Decisions
    open_event_utc: Times
    close_event_utc: Times
    open_sky: NDArray[np.int8]
    close_sky: NDArray[np.int8]
    sun: SunTimes
    guard: Guard
    next_open_utc: Times
    second_opinion: SecondOpinion

    def __len__(self) -> int:
        return len(self.dates)

    @property
    def open_utc(self) -> Times:
        """When the door opens [datetime64[m]]; NaT on days it stays shut."""
        return self.decisions.open.time

    @property
    def close_utc(self) -> Times:
        """When the door closes [datetime64[m]]; NaT on days it stays shut."""
        return self.decisions.close.time

    @property
    def head_count_utc(self) -> Times:
        """When heads would be counted by the plan alone [datetime64[m]]; due: `Due`."""
        return self.close_utc + self.settings.head_count

    @property
    def lock_in(self) -> Minutes:
        """From each planned closing to the next planned opening [timedelta64[m]]; due: `Due`."""
        return self.next_open_utc - self.close_utc

    @property
    def is_open(self) -> Flags:
        """Whether the door opens that day."""
        return ~np.isnat(self.open_utc)

    @cached_property
    def zone(self) -> Zone:
        """The wall clock of the site."""
        return get_zone(self.site.zone)

    @property
    def door_clock(self) -> DoorClock:
        """What the door's own clock keeps."""
        return self.site.settings.door.clock

    def on_wall(self, instants_utc: Times) -> LocalTimes:
        """Return instants as the wall clock at the site shows them."""
        return self.zone.to_local(instants_utc)

    def on_door(self, instants_utc: Times) -> LocalTimes:
        """Return instants, one a day, as the door's own clock shows them."""
        offset = self.clock_offset(self.door_clock, instants_utc)
        wall: Times = instants_utc.astype("datetime64[m]")
        return LocalTimes(wall + offset, offset)

    def clock_offset(self, clock: DoorClock, instants_utc: Times) -> Minutes:
        """Return a clock minus UTC at instants, one a day [timedelta64[m]]."""
        return self.zone.clock_offset(clock, instants_utc, self.dates)

    def first_shown(self, clock: DoorClock, shown: Times) -> Times:
        """Return when a clock first shows date-times, one a day [datetime64[m]]; NaT stays NaT.

        Inside a gap of the wall clock, the first instant after it.
        """
        if clock is DoorClock.WALL:
            return self.zone.to_instants(shown, Fold.EARLIER)
        instants: Times = shown - self.clock_offset(clock, shown)
        return instants

    @cached_property
    def clock_changes(self) -> list[ClockChange]:
        """The wall clock's changes on the plan's civil dates, and on those skipped between them."""
        if len(self) == 0:
            return []
        first, last = self.day_start_utc[0] - DAY, self.day_end_utc[-1] + DAY
        changes = self.zone.changes(first, last)
        dates = self._dates_of(changes)
        return [
            change
            for change, date in zip(changes, dates, strict=True)
            if self.dates[0] <= date <= self.dates[-1]
        ]

    @cached_property
    def has_clock_change(self) -> Flags:
        """Whether the wall clock changes on the day's civil date."""
        return np.isin(self.dates, self._dates_of(self.clock_changes))

    def _dates_of(self, changes: list[ClockChange]) -> Times:
        """Return the civil dates that the clock shows after each change."""
        instants = np.array([change.instant_utc for change in changes], "datetime64[s]")
        return self.on_wall(instants).wall.astype("datetime64[D]")

    def index_of(self, date: dt.date) -> int:
        """Return the row of a date.

        Raises
        ------
        PlanError
            For a date that the plan does not hold.
        """
        found = np.flatnonzero(self.dates == np.datetime64(date))
        if not found.size:
            raise PlanError(f"{date} is not in this plan")
        return int(found[0])

    def day(self, index: int) -> PlannedDay:
        """Return one row, with its traces."""
        (day,) = make_days(self._columns, [index])
        return day

    def part(self, where: Flags) -> Plan:
        """Return some of its days as a plan."""
        part: Plan = _rows(self, where)
        return part

    @cached_property
    def days(self) -> Sequence[PlannedDay]:
        """All rows."""
        return make_days(self._columns, slice(None))

    @property
    def _columns(self) -> DayColumns:
        decisions, settings = self.decisions, self.settings
        return DayColumns(
            self.dates,
            MovementColumns(
                Side.OPEN, decisions.open, settings.open, self.open_event_utc, self.open_sky
            ),
            MovementColumns(
                Side.CLOSE, decisions.close, settings.close, self.close_event_utc, self.close_sky
            ),
            self.head_count_utc,
            settings.second_pass,
            self.site.settings.spans,
            decisions.open_shortfall,
            decisions.night_shortfall,
        )


def make_plan(
    site: Site, start: dt.date, end: dt.date, *, with_second_opinion: bool = True
) -> Plan:
    """Plan a range of flock days.

    Parameters
    ----------
    site
        From `daylatch.site.reading.load_site`.
    start, end
        First and last civil date, both included.
    with_second_opinion
        Whether an independent computation is asked. A plan without one is for what stands beside
        another that has it, as the rest of a year whose list is made.

    Returns
    -------
    Plan
        A date that the site's calendar skipped has no row.

    Raises
    ------
    PlanError
        If the range is reversed or reaches past what can be computed, a fallback is needed and
        missing, settings contradict themselves on some dates, the Sun's noon is far from noon, or
        a date was held twice.
    SecondOpinionError
        If the independent computation of the Sun disagrees.
    """
    if end < start:
        raise PlanError(f"the plan ends ({end}) before it begins ({start}): swap the dates")
    earliest, latest = _FIRST_DATE, LAST_DAY - _MARGIN
    if np.datetime64(start) < earliest or np.datetime64(end) > latest:
        raise PlanError(f"plans can be made from {earliest} to {latest}, not {start} to {end}")
    zone = get_zone(site.zone)
    zone.require_rules(end)
    wide = _compute(site, np.datetime64(start), np.datetime64(end))
    inside = (wide.dates >= np.datetime64(start)) & (wide.dates <= np.datetime64(end))
    if not inside.any():
        raise PlanError(f"the calendar of {site.zone} skipped every date from {start} to {end}")
    _, twice = zone.noons(wide.dates[inside])
    if twice.any():
        raise PlanError(
            f"{site.zone} held {wide.dates[inside][twice][0]} twice (its calendar crossed the date "
            "line), so a door time on it would be ambiguous: plan the days before and after apart"
        )
    _refuse_conflicts(wide, inside)
    next_open = _next_open(wide, inside)
    plan: Plan = replace(_rows(wide, inside), next_open_utc=next_open[inside])
    if not with_second_opinion:
        return plan
    opinion = ask_second_opinion(
        site.latitude_deg,
        site.longitude_deg,
        (plan.open_event_utc, plan.settings.open.altitude_deg),
        (plan.close_event_utc, plan.settings.close.altitude_deg),
    )
    return replace(plan, second_opinion=opinion)


def _rows(value: Any, where: Flags) -> Any:
    """Return some rows of a record of columns, however nested."""
    if isinstance(value, np.ndarray):
        return value[where]
    if isinstance(value, dict):
        return {key: _rows(column, where) for key, column in value.items()}
    if isinstance(value, SunTimes | Guard):
        return type(value)(*(_rows(column, where) for column in value))
    if isinstance(value, Plan | Decisions | Moves | DailySettings | SideSettings):
        columns = {field.name: _rows(getattr(value, field.name), where) for field in fields(value)}
        return replace(value, **columns)
    return value


def _compute(site: Site, start: np.datetime64, end: np.datetime64) -> Plan:
    """Plan a range and a few days on each side, whatever conflicts there are."""
    given = gather_inputs(site, site.settings, start, end)
    days, civil, horizon = given.days, given.civil, given.horizon
    return Plan(
        site=site,
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
        next_open_utc=np.full(len(days.dates), NEVER),
        second_opinion=NOT_ASKED,
    )


def _refuse_conflicts(wide: Plan, inside: Flags) -> None:
    """Raise every conflict on the days of the range, and what leaves its nights unknown."""
    neighbours = np.zeros_like(inside)
    first, last = np.flatnonzero(inside)[[0, -1]]
    neighbours[max(first - 1, 0)] = wide.settings.least_night[max(first - 1, 0)] > 0
    neighbours[min(last + 1, len(inside) - 1)] = wide.settings.least_night[last] > 0
    lines = list(describe_conflicts(wide.dates, wide.decisions.conflicts, inside | neighbours))
    if lines:
        raise PlanError(*lines)


def _next_open(wide: Plan, inside: Flags) -> Times:
    """Return for each closing the opening that ends its lock-in, looked for beyond the range."""
    last = int(np.flatnonzero(inside)[-1])
    beyond = _first_open(wide, np.arange(len(wide)) > last)
    if beyond is None:
        found = next_opening_after(wide.site, wide.dates[last])
        beyond = NEVER if found is None else found
    times = np.where(inside, wide.open_utc, NEVER)
    return next_opens(times, beyond, np.isnat(wide.close_utc))


def next_opens(opens: Times, beyond: np.datetime64, shut: Flags) -> Times:
    """Return for each day the first opening on a later one.

    Parameters
    ----------
    opens
        Of each day [datetime64[m]]; NaT on days without.
    beyond
        The first after the last day [datetime64[m]]; NaT if none is known.
    shut
        Days whose closing begins no lock-in, because there is none: NaT for those.
    """
    # Walk back from the end, carrying the nearest opening that lies later.
    carried = np.append(opens[1:], beyond)[::-1]
    known = np.maximum.accumulate(np.where(np.isnat(carried), -1, np.arange(len(carried))))
    filled = np.where(known >= 0, carried[np.maximum(known, 0)], NEVER)[::-1]
    return np.where(shut, NEVER, filled)


def _first_open(plan: Plan, among: Flags) -> np.datetime64 | None:
    """Return the first opening on some days; `NEVER` if it is not known; None if there is none.

    A day whose settings contradict themselves, or lack a fallback, may open or not: what lies
    behind it is not known.
    """
    unknown = np.zeros(len(plan), np.bool_)
    for days in plan.decisions.conflicts.values():
        unknown |= days
    for index in np.flatnonzero(among & (unknown | plan.is_open))[:1]:
        return NEVER if unknown[index] else plan.open_utc[index]
    return None


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
    horizon = min(date + LOOK_AHEAD_DAYS, LAST_DAY - _MARGIN)
    rules_end = get_zone(site.zone).rules_end
    if rules_end is not None:
        # No clock changes in the first days of a year: the last night's end is still known.
        horizon = min(horizon, np.datetime64(rules_end) + SPARE_DAYS)
    for start in np.arange(date + 1, horizon + 1, _LOOK_AHEAD_STEP_DAYS):
        end = min(start + (_LOOK_AHEAD_STEP_DAYS - 1), horizon)
        block = _compute(site, start, end)
        found = _first_open(block, (block.dates >= start) & (block.dates <= end))
        if found is not None:
            return None if np.isnat(found) else found
    return None
