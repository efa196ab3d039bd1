"""``daylatch card``: a page to pin up by the door."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from daylatch.commands.due import due_of
from daylatch.commands.flock import with_birds_on
from daylatch.commands.output import hand_over, load
from daylatch.commands.people.on_paper import put_on_page
from daylatch.door.works.rows import RowsOf
from daylatch.errors import UsageError
from daylatch.paper.card import make_card
from daylatch.paper.card_words import BY_HAND
from daylatch.paper.pages.papers import PAPERS, named_paper
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion
    from daylatch.paper.card import Card
    from daylatch.site.tables import Site


_ROWS = ("weeks", "months")
MOST_DAYS = 31
"""Up to how many days a card has a row for each of them."""


def run(asked: Asked, *, rows: str | None, month: str | None, paper: str | None) -> None:
    """Make the card and write it into a file."""
    if rows is not None and rows not in _ROWS:
        raise UsageError(f'--rows is "{rows}": write {" or ".join(_ROWS)}')
    named = named_paper(paper)
    form = asked.form_of_file(
        "card",
        "say where the card goes, such as -o card.pdf (or .html)",
    )
    dates = None
    if month is not None:
        dates = _month(month)
        if any(asked.wanted):
            raise UsageError(
                "--month brings its own dates: leave out --year, --from and --until, or --month"
            )
        if rows == RowsOf.MONTHS.value:
            raise UsageError("--month has a row a day: leave out --rows, or --month")
    site, *wanted = load(asked)
    site = with_birds_on(site, wanted[-1])
    first, last = dates or wanted
    by_day = month is not None or (rows is None and (last - first).days < MOST_DAYS)
    rows_of = RowsOf.DAYS if by_day else RowsOf(rows or site.settings.card.rows)
    if rows_of is RowsOf.DAYS and not by_day:
        raise UsageError(
            f'rows = "days" under [card]: a card with a row a day is of {MOST_DAYS} days at most: '
            "add --month, like --month 2027-01, or --rows weeks"
        )

    sheet = named or PAPERS[site.settings.writing.paper]

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        return put_on_page(form, write, _card(site, rows_of, first, last), sheet, occasion)

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def _card(site: Site, rows_of: RowsOf, first: dt.date, last: dt.date) -> Card:
    """Return the card: rows are counted by calendar years, whatever dates are asked for."""
    if rows_of is not RowsOf.DAYS:
        years = dt.date(first.year, 1, 1), dt.date(last.year, 12, 31)
    else:
        years = first, last
    other = rows_of.value != site.settings.card.rows and rows_of is not RowsOf.DAYS
    tried_out = (
        f'Tried out: the site file says otherwise (write rows = "{rows_of.value}" under [card]).'
        if other
        else ""
    )
    if other and site.works == BY_HAND:
        # By other rows another minute is due than by those of the site file.
        card = site.settings.card.model_copy(update={"rows": rows_of.value})
        site = replace(site, settings=replace(site.settings, card=card))
    return make_card(due_of(make_plan(site, *years)), rows_of, (first, last), tried_out)


def _month(text: str) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a month given on the command line."""
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text, re.ASCII) or text < "0001":
        raise UsageError(f'--month is "{text}": write a month like 2027-01')
    year, month = map(int, text.split("-"))
    return dt.date(year, month, 1), dt.date(year, month, calendar.monthrange(year, month)[1])
