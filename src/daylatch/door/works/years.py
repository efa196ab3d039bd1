"""The calendar years by which lists and cards are counted, whatever dates are asked for.

So what is due on a date hangs on the site file and the date alone.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from daylatch.plan.due import DueTimes
from daylatch.plan.plan import Plan, make_plan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.arrays import Times


def whole_years(plan: Plan) -> Iterator[Plan]:
    """Yield the plan of each calendar year, 1 January to 31 December, that a plan touches.

    No second opinion is asked of them: their days in the plan have it.

    Raises
    ------
    PlanError
        If a year has no plan.
    """
    for year in sorted({date.year for date in plan.dates.tolist()}):
        first, last = dt.date(year, 1, 1), dt.date(year, 12, 31)
        yield make_plan(plan.site, first, last, with_second_opinion=False)


def due_by_years(plan: Plan, movements: Callable[[Plan], tuple[Times, Times]]) -> DueTimes:
    """Return when the door moves on the days of a plan, where each year is counted by itself.

    Parameters
    ----------
    plan
        Its days.
    movements
        Returns when the door opens and closes on the days of a whole year.

    Raises
    ------
    PlanError
        If a year has no plan.
    """
    opens, closes = np.full_like(plan.open_utc, "NaT"), np.full_like(plan.close_utc, "NaT")
    for year in whole_years(plan):
        here, there = np.isin(plan.dates, year.dates), np.isin(year.dates, plan.dates)
        opens[here], closes[here] = (times[there] for times in movements(year))
    return DueTimes(opens, closes, np.ones(len(plan), np.bool_))
