"""Between which instants a diary is looked at."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import LAST_YEAR_OF_RULES, get_zone
from daylatch.commands.now import date_now
from daylatch.diary.entries import FIRST_YEAR
from daylatch.diary.moments import day_begins
from daylatch.errors import UsageError

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.commands.dates import Range
    from daylatch.site.tables import Site


class Bounds(NamedTuple):
    """Two instants [datetime64[s]], the second excluded; None where there is no bound."""

    since_utc: np.datetime64 | None = None
    until_utc: np.datetime64 | None = None


def check_dates(*dates: dt.date) -> None:
    """Refuse dates of which no diary can tell.

    Raises
    ------
    UsageError
        Naming the first.
    """
    for date in dates:
        if not FIRST_YEAR <= date.year <= LAST_YEAR_OF_RULES:
            raise UsageError(
                f"{date} lies outside of all diaries: write a date in the years {FIRST_YEAR} to "
                f"{LAST_YEAR_OF_RULES}"
            )


def bounds_of(site: Site, wanted: Range) -> Bounds:
    """Return the instants between which some dates lie at a site; none without dates.

    Raises
    ------
    UsageError, PlanError
        If the dates cannot be used, or hang on a clock that is beyond all plans.
    """
    if not (wanted.first or wanted.last):
        return Bounds()
    first, last = wanted.dates(partial(date_now, site))
    check_dates(first, last)
    zone, after = get_zone(site.zone), np.datetime64(last, "D") + np.timedelta64(1, "D")
    return Bounds(day_begins(zone, first), day_begins(zone, after.item()))
