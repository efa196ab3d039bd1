"""The papers and files that the page of a house leads to, made when they are asked for."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from daylatch.calendars import feed
from daylatch.clock import LAST_YEAR_OF_RULES
from daylatch.commands.due import due_of
from daylatch.commands.extras import has_pictures
from daylatch.commands.flock import with_birds_on
from daylatch.commands.now import stamp_utc
from daylatch.commands.people.card import CardWishes
from daylatch.commands.people.feed import months_around
from daylatch.commands.place.sentences import place_sentences
from daylatch.files.occasion import Occasion
from daylatch.home.page.page import Link
from daylatch.home.page.pages import File
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.site.tables import Site, Span

YEAR = "year.svg"
_CARD, _SHEET, _CALENDAR = "card-", "sitter.html", "calendar.ics"
_NEXT_YEAR_FROM = 11
"""From which month on a card of the next year is offered (our choice, no source)."""
_HTML, _SVG, _ICS = "text/html; charset=utf-8", "image/svg+xml", "text/calendar; charset=utf-8"


def links(site: Site, today: dt.date) -> Iterator[Link]:
    """Yield where the papers and files of a house are, and what to know of them."""
    first, last = months_around(today)
    yield Link(_CALENDAR, "Calendar", f"the door's times from {first} to {last}, as a file")
    if not has_pictures():
        yield Link("", "Card and sitter's sheet", "they need pip install 'daylatch[pictures]'")
        return
    for year in _card_years(today):
        name = f"{_CARD}{year}.html"
        yield Link(name, f"Card of {year}", "the times, to print and pin up by the door")
    span = _next_away(site, today)
    if span is None:
        yield Link("", "Sitter's sheet", "no dates are known on which the keeper is away")
    else:
        to_whom = f" for {span.sitter}" if span.sitter else ""
        yield Link(_SHEET, "Sitter's sheet", f"{span.first} to {span.last}{to_whom}, to print")


def made_file(site: Site, name: str, today: dt.date) -> File | None:
    """Return a paper or file of a house; None if there is none of that name.

    Raises
    ------
    DaylatchError
        If it cannot be made.
    """
    makers: dict[str, Callable[[Site, dt.date], File | None]] = {_CALENDAR: _calendar}
    if has_pictures():
        makers |= {YEAR: _year, _SHEET: _sheet}
        makers |= {f"{_CARD}{year}.html": partial(_card, year) for year in _card_years(today)}
    return makers[name](site, today) if name in makers else None


def _card_years(today: dt.date) -> list[int]:
    """Return the years of which there are cards: late in a year that of the next, too."""
    years = [today.year, today.year + 1] if today.month >= _NEXT_YEAR_FROM else [today.year]
    return [year for year in years if year <= LAST_YEAR_OF_RULES]


def _calendar(site: Site, today: dt.date) -> File:
    due = due_of(make_plan(feed.public_site(site), *months_around(today)))
    return File(feed.render(due, Occasion(stamp_utc())), _ICS, "door.ics")


def _year(site: Site, today: dt.date) -> File:
    # Each needs matplotlib.
    from daylatch.commands.birds.sunlight import sunlight_of  # noqa: PLC0415
    from daylatch.paper.pictures import svg  # noqa: PLC0415
    from daylatch.paper.pictures.year import draw_year  # noqa: PLC0415

    due = due_of(make_plan(site, dt.date(today.year, 1, 1), dt.date(today.year, 12, 31)))
    return File(svg.render(draw_year(due, today, sunlight_of(due))), _SVG)


def _card(of_year: int, site: Site, today: dt.date) -> File:
    from daylatch.paper.card import make_card  # noqa: PLC0415 - for pages only
    from daylatch.paper.pages import card_html  # noqa: PLC0415 - as above

    site = with_birds_on(site, today)
    wishes, year = CardWishes(), (dt.date(of_year, 1, 1), dt.date(of_year, 12, 31))
    planned, rows_of, years, tried_out = wishes.of(site, *year)
    due = due_of(make_plan(planned, *years))
    card = make_card(due, rows_of, year, tried_out, of_place=place_sentences(due))
    return File(card_html.render(card, wishes.sheet(site)), _HTML)


def _sheet(site: Site, today: dt.date) -> File | None:
    from daylatch.paper.pages import sheet_html  # noqa: PLC0415 - for pages only
    from daylatch.paper.sitter import make_sheet  # noqa: PLC0415 - as above

    span = _next_away(site, today)
    if span is None:
        return None
    site = with_birds_on(site, span.first)
    due = due_of(make_plan(site, span.first, span.last))
    return File(sheet_html.render(make_sheet(due, span.sitter), CardWishes().sheet(site)), _HTML)


def _next_away(site: Site, today: dt.date) -> Span | None:
    spans = [span for span in site.settings.spans if span.away and span.last >= today]
    return min(spans, key=lambda span: span.first) if spans else None
