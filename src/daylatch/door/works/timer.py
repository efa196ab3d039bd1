"""A plain timer: by its list, which is counted by calendar years."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.door.works.years import whole_years
from daylatch.plan.due import DueTimes
from daylatch.site.timer import Timer

if TYPE_CHECKING:
    from daylatch.door.works.in_use import InUseFile
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
    timer = plan.site.settings.timer or Timer.model_construct()
    opens, closes = np.full_like(plan.open_utc, "NaT"), np.full_like(plan.close_utc, "NaT")
    for year in whole_years(plan):
        if not year.is_open.any():
            continue  # it is off all year
        moved = dict(zip(_NAMES, make_timer_list(year, timer).moved_utc, strict=True))
        here, there = np.isin(plan.dates, year.dates), np.isin(year.dates, plan.dates)
        opens[here], closes[here] = moved["open"][there], moved["close"][there]
    return DueTimes(opens, closes, np.ones(len(plan), np.bool_))


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
