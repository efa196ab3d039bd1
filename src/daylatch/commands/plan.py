"""``daylatch plan``: make a plan and put it where it is used."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, NamedTuple

from daylatch.commands.now import date_at, now_utc, parse_date, stamp_utc, warn, warn_about
from daylatch.console import print_bytes, say
from daylatch.errors import OutputError, UsageError
from daylatch.plan import make_plan
from daylatch.site_file import load_site
from daylatch.writers import EXPORTS, Occasion, get_writer

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.site import Site

DEFAULT_DAYS = 365
FORM_OF_NAME = {".csv": "csv", ".ics": "ics", ".json": "json"}
"""What a file is meant to be by the end of its name, if nothing else is said."""
FORMS_WITH_ID = ("ics", "json")
"""The forms that tell which house they are for."""
_LONGEST_CALENDAR_DAYS = 366


class Range(NamedTuple):
    """The dates asked for, as they were typed."""

    year: str | None
    first: str | None
    last: str | None

    def dates(self, today: dt.date) -> tuple[dt.date, dt.date]:
        """Return the first and last date.

        Raises
        ------
        UsageError
            If they cannot be read or contradict each other.
        """
        if self.year is not None:
            if self.first or self.last:
                raise UsageError("give either --year, or --from and --until")
            if not (self.year.isascii() and self.year.isdigit() and len(self.year) == 4):
                raise UsageError(f'--year is "{self.year}": write a year like 2027')
            return parse_date(f"{self.year}-01-01", "--year"), dt.date(int(self.year), 12, 31)
        first = parse_date(self.first, "--from") if self.first else today
        if self.last is None:
            ahead = min(dt.timedelta(days=DEFAULT_DAYS - 1), dt.date.max - first)
            return first, first + ahead
        last = parse_date(self.last, "--until")
        if last < first and not self.first:
            raise UsageError(f"--until {last} lies before today, {first}: give --from too")
        if last < first:
            raise UsageError(f"--until {last} lies before --from {first}: swap them")
        return first, last


def run(path: Path, wanted: Range, *, to: str | None, output: Path | None, force: bool) -> None:
    """Plan a site and print the result or write it to a file."""
    if to is None:
        to = FORM_OF_NAME.get(output.suffix.lower(), "text") if output else "text"
    if to not in EXPORTS:
        raise UsageError(f'--to is "{to}": write one of {", ".join(EXPORTS)}')
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    if to == "ics":
        _look_after_calendars(site, path, (last - first).days + 1)
    writer = get_writer(to)
    if output is None:
        content = writer.render(make_plan(site, first, last), Occasion(stamp_utc()))
        print_bytes(content)
        return
    from daylatch.files import put, read_own  # noqa: PLC0415 - not needed for printing

    if output.exists() and output.samefile(path):
        raise OutputError(f"{output}: is the site file itself; choose another name")
    previous = read_own(output, writer.wrote, force=force)
    if previous is not None and to in FORMS_WITH_ID and site.id.encode() not in previous:
        if not force:
            raise OutputError(
                f"{output}: holds the plan of another house (another id); choose another name, or "
                "add --force to replace it"
            )
        previous = None
    content = writer.render(make_plan(site, first, last), Occasion(stamp_utc(), previous))
    if content == previous:
        say(f"{output}: already up to date")
    else:
        put(output, content)
        say(f"wrote {output}: {first} to {last}")


def _look_after_calendars(site: Site, path: Path, days: int) -> None:
    from daylatch.identity import refuse_same_id  # noqa: PLC0415 - for calendars only

    refuse_same_id(site, path)
    if days > _LONGEST_CALENDAR_DAYS:
        warn(
            f"{days} days in one calendar file: many importers stop near 1 MB or 1,100 entries "
            '(reported, no source); make a file a year, or set style = "days" under [calendar]'
        )
