"""``daylatch power``: whether panel and battery carry the door through the dark months."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.door.site_power import dark_year, power_of, refuse_missing, voltages
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.output import hand_over, load
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion


def run(asked: Asked) -> None:
    """Print how a door's battery fares, or write it to a file."""
    form = asked.form("power")
    site, first, last = load(asked)
    if not any(asked.wanted):
        first, last = dark_year(site, first)
    if form.needs_pictures:
        refuse_undrawable(first, last, "picture")
    refuse_missing(site)

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        due = due_of(make_plan(site, first, last))
        if form.name != "text":
            warn_about_file(due)
        power = power_of(due, voltages(site, first, last))
        if form.needs_pictures:
            from daylatch.paper.pictures.power import draw_power  # noqa: PLC0415 - if drawn

            drawn: bytes = write(draw_power(power))
            return drawn
        made: bytes = write(power)
        return made

    hand_over(asked, form, site, content, about=f"{first} to {last}")
