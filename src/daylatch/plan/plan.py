"""The plan: for each flock day when the door opens and closes, and which rule decided it.

Everything else reads the plan. A *flock day* is the solar day whose upper transit lies nearest to
12:00 civil time of its date; where an island keeps the other side of the date line it is another
solar day than the one of the same date (``docs/decisions/0001-flock-day.md``).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY, rows_of
from daylatch.clock import ClockChange, DoorClock, Fold, LocalTimes, Zone, get_zone
from daylatch.errors import PlanError
from daylatch.plan.block import plan_block
from daylatch.plan.daily.rules import Side
from daylatch.plan.day import DayColumns, MovementColumns, make_days
from daylatch.plan.door_times import DoorTimes
from daylatch.sun.second_opinion import NOT_ASKED, SecondOpinion, ask_second_opinion

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.day import PlannedDay
    from daylatch.site.tables import Site


@dataclass(frozen=True, eq=False)
class Plan(DoorTimes):
    """Door times of one site; all arrays have one element a day.

    Attributes
    ----------
    site : Site
        The site it was made for.
    second_opinion : SecondOpinion
        What the independent computation said.
    """

    site: Site
    second_opinion: SecondOpinion

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
        part: Plan = rows_of(self, where)
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
        From `daylatch.site.reading.site_file.load_site`.
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
    block = plan_block([site], start, end)
    for _, error in block.refused:
        raise error
    times = block.of_site(0)
    plan = Plan(
        **{field.name: getattr(times, field.name) for field in fields(DoorTimes)},
        site=site,
        second_opinion=NOT_ASKED,
    )
    if not with_second_opinion:
        return plan
    opinion = ask_second_opinion(
        site.latitude_deg,
        site.longitude_deg,
        (plan.open_event_utc, plan.settings.open.altitude_deg),
        (plan.close_event_utc, plan.settings.close.altitude_deg),
    )
    return replace(plan, second_opinion=opinion)
