"""``daylatch nights``: how long the birds are shut in."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.nights.nights import make_nights
from daylatch.birds.nights.summary import summarize_nights
from daylatch.commands.now import date_at, now_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = {
    "text": "daylatch.birds.nights.text",
    "csv": "daylatch.birds.nights.csv",
    "json": "daylatch.birds.nights.json",
}
"""The module of each form, imported when it is used."""
_MOST_HOURS = 10_000


def run(
    path: Path,
    wanted: Range,
    *,
    longer_than_h: float | None,
    to: str | None,
    output: Path | None,
    force: bool,
) -> None:
    """Print a site's lock-ins or write them to a file."""
    if longer_than_h is not None and not 0 <= longer_than_h <= _MOST_HOURS:
        raise UsageError(
            f"--longer-than is {longer_than_h:g}: write hours from 0 to {_MOST_HOURS}, such as 14"
        )
    form = choose_form(to, output, FORMS)
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    writer = importlib.import_module(FORMS[form])
    long_h = site.settings.long_night_h if longer_than_h is None else longer_than_h
    long = np.timedelta64(round(long_h * 60), "m")
    deliver(
        lambda _: writer.render(summarize_nights(make_nights(make_plan(site, first, last)), long)),
        writer.wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
        site_id=site.id if form == "json" else None,
    )
