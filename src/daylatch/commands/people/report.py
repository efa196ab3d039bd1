"""``daylatch report``: one page of everything."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.extras import require_pictures
from daylatch.commands.now import date_at, marked_date_at, now_utc, warn_about
from daylatch.commands.output import deliver
from daylatch.errors import UsageError
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.site.tables import Site

FORMS = (".html", ".htm")
"""What the name of the file must end in."""


def run(path: Path, wanted: Range, *, output: Path | None, force: bool) -> None:
    """Write a site's report."""
    if output is None:
        raise UsageError("say where the page goes, such as -o report.html")
    if output.suffix.lower() not in FORMS:
        raise UsageError(f"{output}: a report is a page, so its name ends in .html")
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    refuse_undrawable(first, last, "page")
    require_pictures()
    from daylatch.paper.pages.report import wrote  # noqa: PLC0415 - loads matplotlib

    deliver(
        lambda _: _render(site, first, last),
        wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
    )


def _render(site: Site, first: dt.date, last: dt.date) -> bytes:
    from daylatch.birds.daylength.daylength import make_day_lengths  # noqa: PLC0415
    from daylatch.birds.nights.nights import make_nights  # noqa: PLC0415
    from daylatch.birds.nights.summary import summarize_nights  # noqa: PLC0415
    from daylatch.paper.pages.report import render  # noqa: PLC0415
    from daylatch.plan.plan import make_plan  # noqa: PLC0415

    plan = make_plan(site, first, last)
    long = np.timedelta64(round(site.settings.long_night_h * 60), "m")
    return render(
        summarize_nights(make_nights(plan), long),
        make_day_lengths(plan),
        marked_date_at(site),
    )
