"""``daylatch compare``: two sets of rules side by side."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from daylatch.birds.compare.comparison import compare_plans
from daylatch.commands.now import date_at, now_utc, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.commands.variants import load_variants
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = {
    "text": "daylatch.birds.compare.text",
    "csv": "daylatch.birds.compare.csv",
    "json": "daylatch.birds.compare.json",
}
"""The module of each form, imported when it is used."""


def run(
    path: Path,
    wanted: Range,
    *,
    other: Path | None,
    changes: Sequence[str],
    to: str | None,
    output: Path | None,
    force: bool,
) -> None:
    """Print a comparison or write it to a file."""
    form = choose_form(to, output, FORMS)
    first, second, first_name, second_name = load_variants(path, other, changes)
    warn_about(first)
    first_date, last_date = wanted.dates(date_at(first, now_utc()))
    writer = importlib.import_module(FORMS[form])
    deliver(
        lambda _: writer.render(
            compare_plans(
                make_plan(first, first_date, last_date),
                make_plan(second, first_date, last_date),
                first_name,
                second_name,
            )
        ),
        writer.wrote,
        output,
        site_paths=[path] if other is None else [path, other],
        force=force,
        about=f"{first_date} to {last_date}",
        site_id=first.id if form == "json" else None,
    )
