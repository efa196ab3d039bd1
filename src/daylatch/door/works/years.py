"""The calendar years by which lists and cards are counted, whatever dates are asked for.

So what is due on a date hangs on the site file and the date alone.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from daylatch.plan.plan import Plan, make_plan

if TYPE_CHECKING:
    from collections.abc import Iterator


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
