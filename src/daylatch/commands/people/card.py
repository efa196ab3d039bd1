"""``daylatch card``: a page to pin up by the door."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.commands.due import due_of
from daylatch.commands.flock import with_birds_on
from daylatch.commands.output import hand_over, load
from daylatch.commands.people.on_paper import put_on_page
from daylatch.commands.place.sentences import place_sentences
from daylatch.door.works.rows import RowsOf
from daylatch.errors import UsageError
from daylatch.paper.card import make_card
from daylatch.paper.card_words import BY_HAND
from daylatch.paper.pages.papers import PAPERS, named_paper
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.commands.dates import Range
    from daylatch.files.occasion import Occasion
    from daylatch.paper.pages.papers import Paper
    from daylatch.site.tables import Site


_ROWS = ("weeks", "months")
MOST_DAYS = 31
"""Up to how many days a card has a row for each of them."""


class CardWishes(NamedTuple):
    """What a card should be, besides the dates, as it was typed.

    Attributes
    ----------
    rows, month, paper : str or None
        As on the command line.
    """

    rows: str | None = None
    month: str | None = None
    paper: str | None = None

    def check(self, wanted: Range) -> None:
        """Refuse wishes that mean nothing, or not with these dates.

        Raises
        ------
        UsageError
            Saying what to write.
        """
        if self.rows is not None and self.rows not in _ROWS:
            raise UsageError(f'--rows is "{self.rows}": write {" or ".join(_ROWS)}')
        named_paper(self.paper)
        if self.month_dates is None:
            return
        if any(wanted):
            raise UsageError(
                "--month brings its own dates: leave out --year, --from and --until, or --month"
            )
        if self.rows == RowsOf.MONTHS.value:
            raise UsageError("--month has a row a day: leave out --rows, or --month")

    @property
    def month_dates(self) -> tuple[dt.date, dt.date] | None:
        """The first and last date of the month, if one is asked for."""
        return None if self.month is None else month_dates(self.month)

    def sheet(self, site: Site) -> Paper:
        """Return the paper for a site."""
        return named_paper(self.paper) or PAPERS[site.settings.writing.paper]

    def of(
        self, site: Site, first: dt.date, last: dt.date
    ) -> tuple[Site, RowsOf, tuple[dt.date, dt.date], str]:
        """Return the site by whose plan a card is made, its rows, the dates to plan, and a note.

        Rows are counted by calendar years, whatever dates are asked for.

        Raises
        ------
        UsageError
            If the site asks for rows of days, and there are too many.
        """
        by_day = self.month is not None or (self.rows is None and (last - first).days < MOST_DAYS)
        rows_of = RowsOf.DAYS if by_day else RowsOf(self.rows or site.settings.card.rows)
        if rows_of is RowsOf.DAYS and not by_day:
            raise UsageError(
                f'rows = "days" under [card]: a card with a row a day is of {MOST_DAYS} days at '
                "most: add --month, like --month 2027-01, or --rows weeks"
            )
        if rows_of is RowsOf.DAYS:
            return site, rows_of, (first, last), ""
        years = dt.date(first.year, 1, 1), dt.date(last.year, 12, 31)
        if rows_of.value == site.settings.card.rows:
            return site, rows_of, years, ""
        if site.works == BY_HAND:
            # By other rows another minute is due than by those of the site file.
            card = site.settings.card.model_copy(update={"rows": rows_of.value})
            site = replace(site, settings=replace(site.settings, card=card))
        tried_out = (
            "Tried out: the site file says otherwise "
            f'(write rows = "{rows_of.value}" under [card]).'
        )
        return site, rows_of, years, tried_out


def run(asked: Asked, wishes: CardWishes) -> None:
    """Make the card and write it into a file."""
    form = asked.form_of_file(
        "card",
        "say where the card goes, such as -o card.pdf (or .html)",
    )
    wishes.check(asked.wanted)
    site, *wanted = load(asked)
    site = with_birds_on(site, wanted[-1])
    first, last = wishes.month_dates or wanted
    planned, rows_of, years, tried_out = wishes.of(site, first, last)

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        due = due_of(make_plan(planned, *years))
        of_place = place_sentences(due)
        card = make_card(due, rows_of, (first, last), tried_out, of_place=of_place)
        return put_on_page(form, write, card, wishes.sheet(site), occasion)

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def month_dates(text: str) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a month given on the command line."""
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text, re.ASCII) or text < "0001":
        raise UsageError(f'--month is "{text}": write a month like 2027-01')
    year, month = map(int, text.split("-"))
    return dt.date(year, month, 1), dt.date(year, month, calendar.monthrange(year, month)[1])
