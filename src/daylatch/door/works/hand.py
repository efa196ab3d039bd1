"""A person: by the rows of the card, which are counted by calendar years."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.door.works.in_use import InUseError
from daylatch.door.works.rows import RowsOf, columns_of, find_rows
from daylatch.door.works.years import due_by_years

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.due import DueTimes
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


def find_due(plan: Plan) -> DueTimes:
    """Return when a person moves the door on the days of a plan.

    Raises
    ------
    PlanError
        If a year of it has no plan.
    """
    return due_by_years(plan, _by_rows)


def is_exact(site: Site) -> bool:
    """Return whether the planned minute is always that of a row."""
    return RowsOf(site.settings.card.rows) is RowsOf.DAYS


def read_in_use(content: bytes, site: Site) -> InUseFile:
    """Refuse any file: a card is read by a person alone.

    Raises
    ------
    InUseError
        Always.
    """
    raise InUseError(
        'is named, and works = "hand": a person goes by the card, which no program reads back: '
        "take in_use out, or say what else works the door"
    )


def _by_rows(year: Plan) -> tuple[Times, Times]:
    """Return when the rows of a year say that the door opens and closes."""
    card = year.site.settings.card
    columns = columns_of(year, year.open_utc, year.close_utc)
    shut = ["" if is_open else "shut" for is_open in year.is_open]
    opens, closes = year.open_utc.copy(), year.close_utc.copy()
    for days in find_rows(year, columns, shut, RowsOf(card.rows), card.late_by_min):
        # All days of a row are equally far from UTC.
        for times, shown in zip((opens, closes), columns.shown, strict=False):
            times[days] += shown[days].max() - shown[days]
    return opens, closes
