"""``daylatch explain``: how one day's times came about."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands import DEFAULT_SITE
from daylatch.commands.dates import looks_like_date, parse_date
from daylatch.commands.due import due_of
from daylatch.commands.now import warn_about, warn_about_seconds
from daylatch.commands.place.sentences import sunlight_of
from daylatch.errors import UsageError
from daylatch.plan.explain import explain_day, until_open
from daylatch.site.reading.site_file import learned_lights, load_site
from daylatch.wording import wrapped

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.plan.due import Due


def run(arguments: list[str]) -> None:
    """Print the trace of a date; the site file before it may be left out."""
    match arguments:
        case []:
            raise UsageError("say which date: daylatch explain 2027-06-21")
        case [date_text]:
            path = DEFAULT_SITE
        case [path_text, date_text] if not looks_like_date(path_text):
            path = Path(path_text)
        case [date_text, path_text]:
            raise UsageError(f"write the date last: daylatch explain {path_text} {date_text}")
        case _:
            raise UsageError(f"explain takes a site file and one date, not {len(arguments)} words")
    date = parse_date(date_text, "DATE")
    site = load_site(path)
    warn_about(site)
    warn_about_seconds(site, date, date)
    due = due_of(until_open(site, date))
    lines = explain_day(due, date, learned_lights(site), list(_sun(due, date)))
    print("\n".join(wrapped(lines)))


def _sun(due: Due, date: dt.date) -> Iterator[str]:
    """Yield when direct sun reaches the run that day, if a skyline is known."""
    day = due.part(due.plan.dates == np.datetime64(date))
    sunlight = sunlight_of(day) if len(day) else None
    if sunlight is not None:
        from daylatch.birds.sunlight.words import day_sentence  # noqa: PLC0415 - for few sites

        yield day_sentence(sunlight, 0)
