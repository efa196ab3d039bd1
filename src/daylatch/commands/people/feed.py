"""``daylatch feed``: a folder for a web host, with a calendar to subscribe to."""

from __future__ import annotations

import calendar
import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from daylatch.commands.calendars import warn_about_calendar
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.extras import require_pictures
from daylatch.commands.identity import refuse_to_mix
from daylatch.commands.now import date_now, refuse_early_clock, stamp_utc, warn_about
from daylatch.commands.output import check_target, put_in_place
from daylatch.errors import OutputError, UsageError
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range

CALENDAR = "door.ics"
PAGE = "index.html"
# What was true last week can still be looked up; a year ahead is what a calendar is asked for.
_BEHIND = dt.timedelta(days=7)
_MONTHS_AHEAD = 12


def run(path: Path, wanted: Range, *, folder: Path | None, force: bool) -> None:
    """Write a site's calendar and the page beside it, or what has changed of them."""
    if folder is None:
        raise UsageError("say which folder is for the web, such as -o public")
    site = load_site(path)
    warn_about(site)
    if not any(wanted):
        refuse_early_clock()
    today = partial(date_now, site)
    first, last = wanted.dates(today) if any(wanted) else months_around(today())
    refuse_to_mix(site, path)
    require_pictures()
    from daylatch.calendars import feed as feed_calendar  # noqa: PLC0415
    from daylatch.paper.pages import feed_html  # noqa: PLC0415 - an extra

    _refuse_folder(folder, path)
    # Both are looked at before either is written.
    page, file = folder / PAGE, folder / CALENDAR
    previous_page = check_target(page, feed_html.wrote, site_paths=[path], force=force)
    previous = check_target(
        file, feed_calendar.wrote, site_paths=[path], force=force, site_id=site.id
    )
    plan = make_plan(feed_calendar.public_site(site), first, last)
    due = due_of(plan)
    warn_about_file(due)
    made = feed_calendar.render(due, Occasion(stamp_utc(), previous))
    made_page = feed_html.render(plan, CALENDAR)
    warn_about_calendar(made, previous, update=False)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"{folder}: cannot be made: {error.strerror}; make the folder yourself, or name another"
        ) from error
    put_in_place(file, previous, made, f"{first} to {last}")
    put_in_place(page, previous_page, made_page, "how to subscribe")


def months_around(today: dt.date) -> tuple[dt.date, dt.date]:
    """Return the whole months of a feed: that of a week ago, and so many after it.

    Whole months, so that from one day to the next the feed is the same.
    """
    begin = max(today, dt.date.min + _BEHIND) - _BEHIND
    months = begin.year * 12 + begin.month - 1 + _MONTHS_AHEAD
    year, month = min(months // 12, dt.MAXYEAR), months % 12 + 1
    return begin.replace(day=1), dt.date(year, month, calendar.monthrange(year, month)[1])


def _refuse_folder(folder: Path, site_path: Path) -> None:
    """Refuse a folder that is none, and one whose files are not meant for the web.

    Raises
    ------
    OutputError
        Naming it.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is not a folder; name one that is for the web alone")
    if folder.exists() and folder.samefile(site_path.parent):
        raise OutputError(
            f"{folder}: holds the site file, which says where the house stands; name a folder "
            "that is for the web alone, such as -o public"
        )
