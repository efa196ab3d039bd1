"""``daylatch report``: one page of everything."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.nights.summary import summarize_nights
from daylatch.commands.birds.shut_in import nights_of
from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.now import marked_date_at
from daylatch.commands.output import hand_over, load
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.asked import Asked
    from daylatch.files.occasion import Occasion


def run(asked: Asked) -> None:
    """Write a site's report."""
    form = asked.form_of_file(
        "report",
        "say where the page goes, such as -o report.html",
    )
    site, first, last = load(asked)
    refuse_undrawable(first, last, "page")

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        plan = make_plan(site, first, last)
        long = np.timedelta64(round(site.settings.long_night_h * 60), "m")
        made: bytes = write(
            summarize_nights(nights_of(plan), long), make_day_lengths(plan), marked_date_at(site)
        )
        return made

    hand_over(asked, form, site, content, about=f"{first} to {last}")
