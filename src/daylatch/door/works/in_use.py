"""What is really in the door: a file that was made once, whatever the site file says by now."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Protocol

from daylatch.errors import PlanError
from daylatch.plan.due import DueTimes, InUse
from daylatch.plan.plan import Plan, make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from daylatch.arrays import Flags, Times
    from daylatch.site.tables import Site

    FindDue = Callable[[Plan], DueTimes]

# How far ahead it is looked for a date on which the site file says something else by now.
_LOOK_AHEAD = dt.timedelta(days=365)


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

    def remedy(self, site: Site, year: int, name: str) -> str:
        """Return the command that makes a new one for a year."""


def due_in_use(
    plan: Plan, wide: Plan, file: InUseFile, find_due: FindDue
) -> tuple[DueTimes, InUse]:
    """Return when the door moves by a file that is in use, and what is said of the file.

    Parameters
    ----------
    plan
        Its days.
    wide
        The same days, and on to the next opening.
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
    year = plan.dates[0] if differs is None else differs
    if differs is None and plan.dates[-1] > file.last:
        year = max(plan.dates[0], file.last + 1)
    told = InUse(name, file.first, file.last, differs, file.remedy(site, year.item().year, name))
    return file.times(wide), told


def _ahead(plan: Plan, file: InUseFile) -> Plan | None:
    """Return the days from a plan's first on, a year at most, for which a file is made."""
    first = max(plan.dates[0], file.first).item()
    last = min(file.last.item(), max(first + _LOOK_AHEAD, plan.dates[-1].item()))
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
