"""``daylatch fit``: whether the house fits its birds."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from daylatch.birds.fit.fit import check_fit
from daylatch.birds.nights.nights import make_nights
from daylatch.commands.now import date_at, now_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = {"text": "daylatch.birds.fit.text", "json": "daylatch.birds.fit.json"}
"""The module of each form, imported when it is used."""


def run(path: Path, wanted: Range, *, to: str | None, output: Path | None, force: bool) -> None:
    """Hold a site's house against norms, and print the result or write it to a file."""
    form = choose_form(to, output, FORMS)
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    writer = importlib.import_module(FORMS[form])
    deliver(
        lambda _: writer.render(check_fit(make_nights(make_plan(site, first, last)))),
        writer.wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{first} to {last}",
        site_id=site.id if form == "json" else None,
    )
