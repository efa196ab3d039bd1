"""``daylatch explain``: how one day's times came about."""

from __future__ import annotations

from pathlib import Path

from daylatch.commands import DEFAULT_SITE
from daylatch.commands.dates import looks_like_date, parse_date
from daylatch.commands.due import due_of
from daylatch.commands.now import warn_about, warn_about_seconds
from daylatch.errors import UsageError
from daylatch.plan.explain import explain_day, until_open
from daylatch.site.reading.site_file import learned_lights, load_site
from daylatch.wording import wrapped


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
    print("\n".join(wrapped(explain_day(due, date, learned_lights(site)))))
