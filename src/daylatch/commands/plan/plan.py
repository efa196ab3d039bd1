"""``daylatch plan``: make a plan and put it where it is used."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from daylatch.commands.door.table import refuse_terminal, say_cautions
from daylatch.commands.now import date_at, now_utc, stamp_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.commands.people.calendars import refuse_update, warn_about_calendar, warn_about_update
from daylatch.door.table import TableWish
from daylatch.files.occasion import EXPORTS, Occasion, get_writer
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.commands.door.table import TableOptions

FORMS_WITH_ID = ("ics", "json")
"""The forms that tell which house they are for."""


def run(
    path: Path,
    wanted: Range,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    update: bool,
    table: TableOptions,
) -> None:
    """Plan a site and print the result or write it to a file."""
    to = choose_form(to, output, EXPORTS)
    refuse_update(update, to, output)
    about: Callable[[bytes], str] | None = None
    wish = TableWish()
    if to == "table":
        from daylatch.door.table.file import describe  # noqa: PLC0415 - for tables only

        wish = table.wish()
        about = partial(describe, clock_margin_min=wish.clock_margin_min)
        refuse_terminal(wish, output)
    else:
        table.refuse()
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    if to == "ics":
        from daylatch.site.identity import refuse_same_id  # noqa: PLC0415 - for calendars only

        refuse_same_id(site, path)
    writer = get_writer(to)

    def content(previous: bytes | None) -> bytes:
        occasion = Occasion(stamp_utc(), previous, wish, update)
        made = writer.render(make_plan(site, first, last), occasion)
        if to == "ics":
            warn_about_update(update, previous)
            warn_about_calendar(made)
        return made

    deliver(
        content,
        writer.wrote,
        output,
        site_paths=[path],
        force=force,
        about=about or f"{first} to {last}",
        site_id=site.id if to in FORMS_WITH_ID else None,
    )
    if to == "table":
        say_cautions(wish)
