"""``daylatch daylength``: how long the day is for laying, and when a lamp burns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.output import hand_over, load
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion
    from daylatch.site.tables import Site


def run(asked: Asked) -> None:
    """Print a site's day length and lamp times, or write them to a file."""
    form = asked.form("daylength")
    site, first, last = load(asked)
    if form.is_calendar:
        _refuse_without_lamp(site)

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        plan = make_plan(site, first, last)
        lengths = make_day_lengths(plan)
        due = due_of(plan)
        lamp = make_lamp(lengths, due)
        if lamp is not None and form.name != "text":
            warn_about_file(due)
        if form.is_calendar and (lamp is None or not lamp.lit.any()):
            raise UsageError(
                f"{site.file_name}: the lamp is off on every day from {first} to {last}, so "
                "there is nothing to put into a calendar: choose other dates, or see them as text"
            )
        made: bytes = write(lengths, lamp, occasion())
        return made

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def _refuse_without_lamp(site: Site) -> None:
    laying = site.settings.laying
    if laying is None or laying.lamp == "none":
        raise UsageError(
            f"{site.file_name}: a calendar shows when a lamp burns, and none is asked for: set "
            'lamp = "morning" under [laying], or write text, csv or json'
        )
