"""``daylatch fit``: whether the house fits its birds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.fit.fit import check_fit
from daylatch.commands.birds.shut_in import nights_of
from daylatch.commands.flock import with_birds_on
from daylatch.commands.now import warn_about_sizes
from daylatch.commands.output import hand_over, load
from daylatch.plan.plan import make_plan
from daylatch.site.values.measures import BOTH

if TYPE_CHECKING:
    from daylatch.commands.asked import Asked


def run(asked: Asked) -> None:
    """Say whether a site's house fits its flock, printed or written to a file."""
    form = asked.form("fit")
    site, first, last = load(asked)
    warn_about_sizes(site)
    site = with_birds_on(site, last)
    # Files for programs say the same whatever a keeper writes in.
    measures = BOTH if form.name == "json" else site.measures
    hand_over(
        asked,
        form,
        site,
        lambda write, _: write(check_fit(nights_of(make_plan(site, first, last)), measures)),
        about=f"{first} to {last}",
    )
