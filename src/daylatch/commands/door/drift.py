"""``daylatch drift``: how wrong the door's clock may be, and when it must be set again."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from daylatch.commands.dates import parse_date
from daylatch.commands.now import date_at, now_utc, warn, warn_about
from daylatch.commands.output import choose_form, deliver
from daylatch.door.drift.drift import make_drift, no_clock_words
from daylatch.errors import UsageError
from daylatch.site.messages import remedy_for, show_value
from daylatch.site.reading import load_site
from daylatch.site.timekeeping import Timekeeping

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from daylatch.commands.dates import Range

FORMS = {
    "text": "daylatch.door.drift.text",
    "csv": "daylatch.door.drift.csv",
    "json": "daylatch.door.drift.json",
}
"""The module of each form, imported when it is used."""


def run(
    path: Path,
    wanted: Range,
    options: Mapping[str, tuple[str, Any]],
    *,
    to: str | None,
    output: Path | None,
    force: bool,
) -> None:
    """Print how wrong a site's clock may be, or write it to a file.

    Each option comes with the key of the site file that it stands for, and what was typed or None.
    """
    form = choose_form(to, output, FORMS)
    site = load_site(path)
    warn_about(site)
    first, last = wanted.dates(date_at(site, now_utc()))
    facts = _facts(site.settings.clock or Timekeeping.model_construct(), options)
    drift = make_drift(site, facts, first, last)
    if drift.is_no_clock and form != "text":
        # The text has a place for it.
        warn(no_clock_words(drift))
    writer = importlib.import_module(FORMS[form])
    deliver(
        lambda _: writer.render(drift),
        writer.wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{drift.first} to {drift.last}",
        site_id=site.id if form == "json" else None,
    )


def _facts(given: Timekeeping, options: Mapping[str, tuple[str, Any]]) -> Timekeeping:
    """Return what is known of a clock, with what was typed instead.

    Raises
    ------
    UsageError
        If an option cannot be taken.
    """
    typed = {key: value for key, value in options.values() if value is not None}
    option_of = {key: option for option, (key, _) in options.items()}
    if "set_on" in typed:
        typed["set_on"] = parse_date(typed["set_on"], option_of["set_on"])
    try:
        return Timekeeping.model_validate(given.model_dump(exclude_unset=True) | typed)
    except ValidationError as error:
        detail = error.errors(include_url=False)[0]
        remedy = remedy_for(detail, ())
        if not detail["loc"]:
            raise UsageError(f"with these options, {remedy}") from None
        key = str(detail["loc"][0])
        raise UsageError(f"{option_of[key]} is {show_value(detail['input'])}: {remedy}") from None
