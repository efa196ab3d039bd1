"""``daylatch diary show``: the diary day by day, beside what was due."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.diary import diary_of
from daylatch.commands.due import due_of
from daylatch.commands.flock import birds_text
from daylatch.commands.happened.bounds import check_dates
from daylatch.commands.happened.records import judged_by
from daylatch.commands.now import date_now, now_utc, warn_about
from daylatch.diary.audit.door_audit import audit_door
from daylatch.diary.shown.days import show_days
from daylatch.diary.shown.text import show
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.site.tables import Site

_DAYS = dt.timedelta(days=6)
_DAY = dt.timedelta(days=1)
_MOST_DAYS = 3660


def run(path: Path, wanted: Range, *, everything: bool) -> None:
    """Print what was seen on some days."""
    site = load_site(path)
    warn_about(site)
    first, last = _dates(site, wanted)
    plan = make_plan(site, first - _DAY, last + _DAY)
    diary = diary_of(site)
    since, until = (plan.day_start_utc[0], plan.day_end_utc[-1])
    bounds = since.astype("datetime64[s]"), until.astype("datetime64[s]")
    noted = diary.entries(*bounds, all_of_them=everything)
    judged = judged_by(diary, due_of(plan))
    due = judged.due
    live = [one.entry for one in noted if one.is_live]
    audit = audit_door(judged, live, str(diary.path), last) if live else None
    days = show_days(
        due,
        noted,
        audit,
        (np.datetime64(first, "D"), np.datetime64(last, "D")),
        now_utc(),
        birds_text(site, diary, last),
    )
    print("\n".join(show(days)))


def _dates(site: Site, wanted: Range) -> tuple[dt.date, dt.date]:
    """Return the dates that were asked for, or the week that ends today.

    Raises
    ------
    UsageError
        If they are too many.
    """
    if wanted.first is None and wanted.last is None:
        today = date_now(site)
        return today - _DAYS, today
    first, last = wanted.dates(partial(date_now, site))
    if wanted.last is None:
        last = max(first, date_now(site))
    check_dates(first, last)
    if (last - first).days >= _MOST_DAYS:
        raise UsageError(f"{first} to {last} are more than {_MOST_DAYS} days: ask for fewer")
    return first, last
