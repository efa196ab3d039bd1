"""``daylatch card``: a page to pin up by the door."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from typing import TYPE_CHECKING

from daylatch.commands.extras import require_pictures, warn_about_letters
from daylatch.commands.now import date_at, now_utc, stamp_utc, warn_about
from daylatch.commands.output import deliver
from daylatch.errors import UsageError
from daylatch.paper.card import RowsOf, make_card
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = (".pdf", ".html")
"""What the name of the file may end in."""
PAPERS = ("a4", "letter")


def run(
    path: Path,
    wanted: Range,
    *,
    rows: str,
    month: str | None,
    paper: str,
    output: Path | None,
    force: bool,
) -> None:
    """Make the card and write it into a file."""
    if rows not in ("weeks", "months"):
        raise UsageError(f'--rows is "{rows}": write weeks or months')
    paper = paper.lower()
    if paper not in PAPERS:
        raise UsageError(f'--paper is "{paper}": write a4 or letter')
    if output is None:
        raise UsageError("say where the card goes, such as -o card.pdf (or .html)")
    form = output.suffix.lower()
    if form not in FORMS:
        raise UsageError(
            f"{output}: the end of the name says what kind of page it is: write .pdf or .html"
        )
    rows_of = RowsOf(rows)
    dates = None
    if month is not None:
        dates = _month(month)
        if any(wanted):
            raise UsageError(
                "--month brings its own dates: leave out --year, --from and --until, or --month"
            )
        if rows_of is RowsOf.MONTHS:
            raise UsageError("--month has a row a day: leave out --rows, or --month")
        rows_of = RowsOf.DAYS
    site = load_site(path)
    warn_about(site)
    first, last = dates or wanted.dates(date_at(site, now_utc()))
    require_pictures()
    from daylatch.paper.pages import card_html, card_pdf  # noqa: PLC0415 - half a second
    from daylatch.paper.pages.ruler import PAPERS as SHEETS  # noqa: PLC0415

    def content(_: bytes | None) -> bytes:
        card = make_card(make_plan(site, first, last), rows_of)
        if form == ".html":
            return card_html.render(card, SHEETS[paper])
        made, unknown = card_pdf.render(card, SHEETS[paper], stamp_utc())
        warn_about_letters(
            unknown, "; a card ending in .html takes what it lacks from your browser"
        )
        return made

    deliver(
        content,
        card_html.wrote if form == ".html" else card_pdf.wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
    )


def _month(text: str) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a month given on the command line."""
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text, re.ASCII) or text < "0001":
        raise UsageError(f'--month is "{text}": write a month like 2027-01')
    year, month = map(int, text.split("-"))
    return dt.date(year, month, 1), dt.date(year, month, calendar.monthrange(year, month)[1])
