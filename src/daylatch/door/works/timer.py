"""A plain timer: by its list, which is counted by calendar years."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.door.works.years import due_by_years
from daylatch.site.timer import Timer

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.due import DueTimes
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_NAMES = [move.name for move in MOVEMENTS]


def find_due(plan: Plan) -> DueTimes:
    """Return when it moves the door on the days of a plan.

    Raises
    ------
    PlanError
        If a year of it has no plan or no list.
    """
    return due_by_years(plan, _by_list)


def is_exact(site: Site) -> bool:
    """Return whether it always moves the door at the planned minute."""
    return False


def read_in_use(content: bytes, site: Site) -> InUseFile:
    """Return the list that is in use.

    Raises
    ------
    InUseError
        If it is none, or another house's.
    """
    from daylatch.door.works.in_use_list import read_list  # noqa: PLC0415

    return read_list(content, site)


def _by_list(year: Plan) -> tuple[Times, Times]:
    """Return when a year's list opens and closes the door."""
    if not year.is_open.any():
        return year.open_utc, year.close_utc  # it is off all year
    timer = year.site.settings.timer or Timer.model_construct()
    moved = dict(zip(_NAMES, make_timer_list(year, timer).moved_utc, strict=True))
    return moved["open"], moved["close"]
