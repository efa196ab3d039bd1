"""``daylatch daylength``: how long the day is for laying, and when a lamp burns."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.commands.now import date_at, now_utc, stamp_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.commands.people.calendars import refuse_update, warn_about_calendar, warn_about_update
from daylatch.errors import UsageError
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.site.tables import Site

FORMS = {
    "text": "daylatch.birds.daylength.text",
    "csv": "daylatch.birds.daylength.csv",
    "ics": "daylatch.calendars.lamp",
    "json": "daylatch.birds.daylength.json",
}
"""The module of each form, imported when it is used."""
_FORMS_WITH_ID = ("ics", "json")


def run(
    path: Path,
    wanted: Range,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    update: bool,
) -> None:
    """Print a site's day length and lamp times, or write them to a file."""
    form = choose_form(to, output, FORMS)
    refuse_update(update, form, output)
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    if form == "ics":
        _look_after_calendar(site, path)
    deliver(
        lambda previous: _render(form, site, (first, last), previous, update),
        importlib.import_module(FORMS[form]).wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
        site_id=site.id if form in _FORMS_WITH_ID else None,
    )


def _render(
    form: str,
    site: Site,
    dates: tuple[dt.date, dt.date],
    previous: bytes | None,
    update: bool,
) -> bytes:
    lengths = make_day_lengths(make_plan(site, *dates))
    lamp = make_lamp(lengths)
    if form == "ics" and (lamp is None or not lamp.lit.any()):
        raise UsageError(
            f"{site.file_name}: the lamp is off on every day from {dates[0]} to {dates[1]}, so "
            "there is nothing to put into a calendar: choose other dates, or see them as text"
        )
    content: bytes = importlib.import_module(FORMS[form]).render(
        lengths, lamp, Occasion(stamp_utc(), previous, update=update)
    )
    if form == "ics":
        warn_about_update(update, previous)
        warn_about_calendar(content)
    return content


def _look_after_calendar(site: Site, path: Path) -> None:
    """Refuse a calendar without a lamp, and one that could mix two houses."""
    from daylatch.site.identity import refuse_same_id  # noqa: PLC0415 - for calendars only

    laying = site.settings.laying
    if laying is None or laying.lamp == "none":
        raise UsageError(
            f"{site.file_name}: a calendar shows when a lamp burns, and none is asked for: set "
            'lamp = "morning" under [laying], or write text, csv or json'
        )
    refuse_same_id(site, path)
