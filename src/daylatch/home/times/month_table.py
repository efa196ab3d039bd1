"""The controller table that a networked door falls back to: a new one each month."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.door.table.encode import encode
from daylatch.home.times.days import ONE_DAY, as_far_as_planned

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


def dates_at(today: dt.date) -> tuple[dt.date, dt.date]:
    """Return the first and the last date of a table: the day before this month, and a year more.

    A table tells nothing before its first opening, so that it begins a day before it is needed.
    """
    this_month = today.replace(day=1)
    next_month = (this_month + 31 * ONE_DAY).replace(day=1)
    return this_month - ONE_DAY, next_month.replace(year=next_month.year + 1) - ONE_DAY


def make_table(site: Site, today: dt.date) -> bytes:
    """Return the table of the month of a date, as wide and by the clock that the site file says.

    It ends sooner where there is no plan. That takes some seconds.

    Raises
    ------
    PlanError, SecondOpinionError, UsageError
        If there can be none.
    """
    first, last = dates_at(today)
    plan = as_far_as_planned(site, _itself, first, today + ONE_DAY, last)
    return encode(plan, within_min=site.settings.door.within_min)


def _itself(plan: Plan) -> Plan:
    return plan
