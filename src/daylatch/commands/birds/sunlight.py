"""``daylatch sunlight``: when direct sun reaches the run over the skyline."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.birds.sunlight.dusk import make_dusk
from daylatch.birds.sunlight.sunlight import Sunlight, make_sunlight, turned_round
from daylatch.birds.sunlight.words import doubt_text, one_sentence
from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.due import due_of, warn_about_file
from daylatch.commands.extras import warn_about_letters
from daylatch.commands.now import warn
from daylatch.commands.output import hand_over, load
from daylatch.commands.skyline import skyline_of
from daylatch.errors import Problem, UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import line_of_key

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due


def run(asked: Asked) -> None:
    """Print when direct sun reaches a site's run, or write it to a file."""
    form = asked.form("sunlight")
    site, first, last = load(asked)
    skyline = skyline_of(site)
    if skyline is None:
        raise UsageError(
            f"{site.file_name}: says nothing of hills, trees or houses: add [skyline] with azimuth "
            "and elevation lists, or with a file"
        )
    if form.needs_pictures:
        refuse_undrawable(first, last, "picture")

    def content(render: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        due = due_of(make_plan(site, first, last))
        if form.name != "text":
            warn_about_file(due)
        sunlight = make_sunlight(due, skyline)
        warn_about_south(sunlight)
        if form.needs_pictures:
            from daylatch.paper.pictures.sunlight import draw_sunlight  # noqa: PLC0415 - if drawn

            drawn = draw_sunlight(sunlight)
            warn_about_letters(drawn.unknown)
            made: bytes = render(drawn)
            return made
        text: bytes = render(sunlight, make_dusk(due.plan, skyline))
        return text

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def sunlight_of(due: Due) -> Sunlight | None:
    """Return direct sun on the days of a plan; None if the site file knows no skyline.

    Raises
    ------
    SiteError
        If the file that it names cannot be read.
    """
    skyline = skyline_of(due.plan.site)
    return None if skyline is None else make_sunlight(due, skyline)


def sun_sentence(due: Due) -> str:
    """Return what direct sun amounts to, in one sentence; nothing without a skyline."""
    sunlight = sunlight_of(due)
    return "" if sunlight is None else one_sentence(sunlight)


def warn_about_south(sunlight: Sunlight) -> None:
    """Warn of a skyline whose azimuths may be counted from south."""
    more = turned_round(sunlight)
    site = sunlight.plan.site
    table = site.settings.skyline
    if more is None or table is None or not np.ptp(sunlight.skyline.elevation_deg):
        return
    key = "azimuth" if table.file is None else "file"
    text = doubt_text(more, sunlight.skyline, is_file=table.file is not None)
    line = line_of_key(site, ("skyline", key))
    warn(Problem(f"skyline.{key}", "", text, line).sentence(site.file_name))
