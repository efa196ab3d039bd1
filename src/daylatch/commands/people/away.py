"""``daylatch away``: a sheet for whoever looks after the birds, or the same as calendar entries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.commands.due import due_of
from daylatch.commands.flock import with_birds_on
from daylatch.commands.now import date_now, warn, warn_about
from daylatch.commands.output import hand_over
from daylatch.commands.people.on_paper import put_on_page
from daylatch.errors import Problem, SiteError, UsageError
from daylatch.plan.plan import make_plan
from daylatch.plan.sitter_hours import sitter_hours
from daylatch.site.reading.site_file import line_of_key, load_site
from daylatch.site.table import check_name
from daylatch.wording import date_ranges

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.commands.dates import Range
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site


class Away(NamedTuple):
    """On which dates somebody else looks after the birds, and who; empty if nobody is named."""

    first: dt.date
    last: dt.date
    sitter: str


def run(asked: Asked, *, sitter: str | None, paper: str | None) -> None:
    """Make the sheet, or the calendar, and write it into a file."""
    from daylatch.paper.pages.papers import PAPERS, named_paper  # noqa: PLC0415 - usage errors first

    named = named_paper(paper)
    _check_sitter(sitter)
    form = asked.form_of_file(
        "away",
        "say where the sheet goes, such as -o sitter.pdf (or .html, or .ics for a calendar)",
    )
    if asked.update and not form.is_calendar:
        raise UsageError("--update is for calendar files: name one that ends in .ics")
    site = load_site(asked.path)
    warn_about(site)
    away = away_dates(site, asked.wanted)
    name = (away.sitter if sitter is None else sitter).strip()
    site = with_birds_on(site, away.first)
    sheet = named or PAPERS[site.settings.writing.paper]

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        due = due_on(site, away)
        if form.is_calendar:
            calendar: bytes = write(due, occasion(), sitter=name)
            return calendar
        from daylatch.paper.sitter import make_sheet  # noqa: PLC0415 - for pages only

        return put_on_page(form, write, make_sheet(due, name), sheet, occasion)

    hand_over(asked, form, site, content, about=f"{away.first} to {away.last}")


def _check_sitter(sitter: str | None) -> None:
    """Refuse a name that no site file could hold.

    Raises
    ------
    UsageError
        Saying what would be right.
    """
    try:
        check_name(sitter or "-")
    except ValueError as error:
        raise UsageError(f"--sitter: {error}") from None


def due_on(site: Site, away: Away) -> Due:
    """Return what is due while somebody else looks after the birds, after warnings about it.

    Raises
    ------
    PlanError
        If there is no plan.
    """
    due = due_of(make_plan(site, away.first, away.last))
    for trouble in sitter_hours(due.plan):
        warn(trouble)
    return due


def away_dates(site: Site, wanted: Range) -> Away:
    """Return the dates that are asked for, or those of the next span on which the keeper is away.

    Raises
    ------
    UsageError
        If there are none, or only one end is given.
    SiteError
        If all spans to come on which the keeper is away lie outside of the dates.
    """
    today = date_now(site)
    spans = [
        (number, span)
        for number, span in enumerate(site.settings.spans)
        if span.away and span.last >= today
    ]
    if not any(wanted):
        if not spans:
            raise UsageError(
                f"{site.file_name} has no dates to come on which you are away: add --from and "
                "--until, or a [[span]] with from, until and away = true"
            )
        _, span = min(spans, key=lambda one: one[1].first)
        return Away(span.first, span.last, span.sitter)
    if wanted.last is None:
        raise UsageError("--from says when it begins: add --until, the last date")
    first, last = wanted.dates(lambda: today)
    touching = [span for _, span in spans if span.touches(first, last)]
    if spans and not touching:
        number, span = min(spans, key=lambda one: abs((one[1].first - first).days))
        raise SiteError(
            site.file_name,
            [
                Problem(
                    f"span {number + 1} from",
                    str(span.first),
                    f"you are away until {span.last}, outside of {first} to {last}: give dates "
                    "within it, leave them out, or write a [[span]] with away = true for these",
                    line_of_key(site, ("span", number, "from")),
                )
            ],
        )
    days = np.arange(np.datetime64(first), np.datetime64(last) + 1)
    beyond = days[~np.logical_or.reduce([span.covered(days) for span in touching])]
    if touching and beyond.size:
        warn(f"by the site file you are not away on {date_ranges(beyond)}")
    names = {span.sitter for span in touching}
    return Away(first, last, names.pop() if len(names) == 1 else "")
