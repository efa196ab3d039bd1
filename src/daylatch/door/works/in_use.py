"""What is really in the door: a file that was made once, whatever the site file says by now."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Protocol

import numpy as np

from daylatch.errors import PlanError
from daylatch.plan.due import DueTimes, InUse
from daylatch.plan.plan import Plan, make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.arrays import Flags, Times
    from daylatch.site.tables import Site

    FindDue = Callable[[Plan], DueTimes]


# At the end of a year the next one is near.
_MONTH_AHEAD = np.array([0, 31], "timedelta64[D]")


class InUseError(ValueError):
    """A file that cannot be what works this door; its text says why, and the remedy."""


class InUseFile(Protocol):
    """A file that is in use, as it is read."""

    @property
    def first(self) -> np.datetime64:
        """The first date that it covers [datetime64[D]]."""

    @property
    def last(self) -> np.datetime64:
        """The last date that it covers [datetime64[D]]."""

    def times(self, plan: Plan) -> DueTimes:
        """Return when the door moves by it on the days of a plan."""

    def agrees(self, plan: Plan, times: DueTimes, find_due: FindDue) -> Flags:
        """Return on which days of a plan that is what the site file now asks for.

        Parameters
        ----------
        plan
            Its days.
        times
            When the door moves by the file.
        find_due
            Returns when it would move by the site file alone.
        """

    def remedy(self, site: Site, dates: str, number: str) -> str:
        """Return the command that makes a new one for some dates, beside the one in use."""


def about(plan: Plan, file: InUseFile, find_due: FindDue) -> InUse:
    """Return what is said of a file that is in use on the days of a plan.

    Parameters
    ----------
    plan
        Its days.
    file
        As it is read.
    find_due
        Returns when the door would move by the site file alone.

    Raises
    ------
    PlanError
        If the file cannot be held against the site file.
    """
    site = plan.site
    name = site.settings.door.in_use
    assert name is not None
    ahead = _ahead(plan, file)
    differs = None
    if ahead is not None:
        found = file.times(ahead)
        other = ahead.dates[found.known & ~file.agrees(ahead, found, find_due)]
        differs = other[0] if other.size else None
    # What lies behind its end is wanted next, and what it holds until then stays wanted.
    lacking = plan.dates[plan.dates > file.last][:1]
    wanted = [plan.dates[0], *lacking, *([] if differs is None else [differs])]
    years: list[int] = [date.year for date in np.sort(np.array(wanted)).tolist()]
    dates = f"--year {years[0]}"
    if years[0] != years[-1]:
        dates = f"--from {years[0]}-01-01 --until {years[-1]}-12-31"
    number = "-".join(map(str, sorted({years[0], years[-1]})))
    return InUse(name, file.first, file.last, differs, file.remedy(site, dates, number))


def _ahead(plan: Plan, file: InUseFile) -> Plan | None:
    """Return the days that a file covers of the calendar years of a plan and the month behind it.

    Whole years, so that within one the first date that differs is the same for any dates.
    """
    years: list[int] = [date.year for date in (plan.dates[[0, -1]] + _MONTH_AHEAD).tolist()]
    begins, ends = np.array([file.first, file.last]).tolist()
    first = max(dt.date(years[0], 1, 1), begins)
    last = min(dt.date(years[1], 12, 31), ends)
    if last < first:
        return None
    try:
        return make_plan(plan.site, first, last, with_second_opinion=False)
    except PlanError:
        # Dates that nobody asked for may have no plan.
        return plan


def within(dates: Times, file: InUseFile) -> Flags:
    """Return which dates [datetime64[D]] a file covers."""
    flags: Flags = (dates >= file.first) & (dates <= file.last)
    return flags
