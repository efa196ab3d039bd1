"""When the door will really move: by what the site file says works it, or what is really in use."""

from __future__ import annotations

import importlib
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol, cast

import numpy as np

from daylatch.errors import PlanError
from daylatch.plan.block import LOOK_AHEAD_DAYS, next_opens
from daylatch.plan.daily.rules import NEVER
from daylatch.plan.due import Due, DueTimes, exactly
from daylatch.plan.plan import make_plan
from daylatch.site.choices.works import WORKS

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


class WorksModule(Protocol):
    """What the module of what works a door offers."""

    find_due: Callable[[Plan], DueTimes]
    """Returns when it moves the door on the days of a plan."""
    is_exact: Callable[[Site], bool]
    """Returns whether that is always the planned minute, so that nothing need be found."""
    read_in_use: Callable[[bytes, Site], InUseFile]
    """Reads the file that is in use, or raises `InUseError`."""


def works_of(site: Site) -> WorksModule:
    """Return what finds the due times of a site by its file alone."""
    return _module_of(site.works)


def _module_of(works: str) -> WorksModule:
    return cast("WorksModule", importlib.import_module(WORKS[works].module))


def read_file(works: str, content: bytes, site: Site) -> InUseFile:
    """Return a file that is or was in use.

    Parameters
    ----------
    works
        What worked the door by it, as the site file names that.
    content
        The file.
    site
        Whose it is.

    Raises
    ------
    InUseError
        If it is none of this house's.
    """
    return _module_of(works).read_in_use(content, site)


def make_due(plan: Plan, in_use: bytes | None = None) -> Due:
    """Return when the door will really move on the days of a plan.

    Parameters
    ----------
    plan
        Whose site says what works the door.
    in_use
        The content of the file that is in use, if the site file names one.

    Raises
    ------
    PlanError
        If a year that is touched has no plan, or no list.
    InUseError
        If the file in use is none of this house's.
    """
    works = works_of(plan.site)
    if in_use is not None:
        file = works.read_in_use(in_use, plan.site)
        wide = _on_to_the_files_opening(plan, file)
        # Most houses name no file.
        from daylatch.door.works.in_use import about  # noqa: PLC0415

        told = about(plan, file, works.find_due)
        return replace(_due_of(plan, wide, file.times(wide)), in_use=told)
    if works.is_exact(plan.site):
        return exactly(plan)
    wide = _with_next_opening(plan)
    return _due_of(plan, wide, works.find_due(wide))


def _due_of(plan: Plan, wide: Plan, times: DueTimes) -> Due:
    """Return what is due on the days of a plan.

    Parameters
    ----------
    plan
        Its days.
    wide
        The same days, and on to the next opening: `_with_next_opening`.
    times
        When the door moves on those.
    """
    opens = np.where(times.known, times.open_utc, wide.open_utc)
    closes = np.where(times.known, times.close_utc, wide.close_utc)
    count = len(plan)
    later = opens[count:][~np.isnat(opens[count:])]
    beyond = later[0] if later.size else NEVER
    if not later.size and len(wide) == count and plan.is_open.any():
        beyond = plan.next_open_utc[plan.is_open][-1]
    return Due(
        plan=plan,
        open_utc=times.open_utc[:count],
        close_utc=times.close_utc[:count],
        known=times.known[:count],
        next_open_utc=next_opens(opens[:count], beyond, np.isnat(closes[:count])),
        up_to_min=times.up_to_min,
    )


def on_to_the_opening(due: Due) -> Plan:
    """Return the plan of due times, on to the day of the opening that ends the last lock-in."""
    plan, ends = due.plan, due.next_open_utc[~np.isnat(due.next_open_utc)]
    last = plan.dates[-1].item()
    if ends.size:
        last = max(last, plan.zone.date_at(ends.max()))
    longer = _on_to(plan, last)
    return plan if longer is None else longer


def _on_to_the_files_opening(plan: Plan, file: InUseFile) -> Plan:
    """Return a plan that goes on until a file in use opens the door, or the plan would.

    The file may open it on a day that is planned shut by now.
    """
    wide = _with_next_opening(plan)
    for days in (1, LOOK_AHEAD_DAYS):
        beyond = wide.dates > plan.dates[-1]
        times = file.times(wide)
        if np.where(times.known, ~np.isnat(times.open_utc), wide.is_open)[beyond].any():
            break
        last = min(plan.dates[-1] + days, file.last).item()
        if last <= wide.dates[-1].item():
            continue
        longer = _on_to(plan, last)
        if longer is None:
            break
        wide = longer
    return wide


def _with_next_opening(plan: Plan) -> Plan:
    """Return a plan that goes on to the opening which ends its last lock-in, if that is known.

    Where no plan reaches it (the zone rules end, or a day behind it contradicts itself), the plan
    as it is.
    """
    opening = plan.next_open_utc[plan.is_open][-1:]
    if not opening.size or np.isnat(opening[0]):
        return plan
    wide = _on_to(plan, plan.zone.date_at(opening[0]))
    return plan if wide is None or opening[0] not in wide.open_utc else wide


def _on_to(plan: Plan, last: dt.date) -> Plan | None:
    """Return the plan of the same days and on to a date; None if there is none."""
    try:
        return make_plan(plan.site, plan.dates[0].item(), last, with_second_opinion=False)
    except PlanError:
        return None
