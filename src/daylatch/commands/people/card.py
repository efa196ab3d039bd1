"""``daylatch card``: a page to pin up by the door."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from typing import TYPE_CHECKING, Any

from daylatch.commands.extras import warn_about_letters
from daylatch.commands.forms import endings
from daylatch.commands.output import hand_over, load
from daylatch.errors import UsageError
from daylatch.paper.card import RowsOf, make_card
from daylatch.paper.pages.papers import PAPERS
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion
    from daylatch.paper.pages.card_pdf import Rendered


def run(asked: Asked, *, rows: str, month: str | None, paper: str) -> None:
    """Make the card and write it into a file."""
    if rows not in ("weeks", "months"):
        raise UsageError(f'--rows is "{rows}": write weeks or months')
    sheet = PAPERS.get(paper.lower())
    if sheet is None:
        raise UsageError(f'--paper is "{paper.lower()}": write {" or ".join(PAPERS)}')
    form = asked.form_of_file(
        "card",
        "say where the card goes, such as -o card.pdf (or .html)",
        f"the end of the name says what kind of page it is: write {' or '.join(endings('card'))}",
    )
    rows_of = RowsOf(rows)
    dates = None
    if month is not None:
        dates = _month(month)
        if any(asked.wanted):
            raise UsageError(
                "--month brings its own dates: leave out --year, --from and --until, or --month"
            )
        if rows_of is RowsOf.MONTHS:
            raise UsageError("--month has a row a day: leave out --rows, or --month")
        rows_of = RowsOf.DAYS
    site, *wanted = load(asked)
    first, last = dates or wanted

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        card = make_card(make_plan(site, first, last), rows_of)
        if form.name == "html":
            page: bytes = write(card, sheet)
            return page
        made: Rendered = write(card, sheet, occasion().stamp_utc)
        warn_about_letters(
            made.unknown, "; a card ending in .html takes what it lacks from your browser"
        )
        return made.content

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def _month(text: str) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a month given on the command line."""
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text, re.ASCII) or text < "0001":
        raise UsageError(f'--month is "{text}": write a month like 2027-01')
    year, month = map(int, text.split("-"))
    return dt.date(year, month, 1), dt.date(year, month, calendar.monthrange(year, month)[1])
