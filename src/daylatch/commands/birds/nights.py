"""``daylatch nights``: how long the birds are shut in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.nights.summary import summarize_nights
from daylatch.commands.birds.shut_in import nights_of
from daylatch.commands.output import hand_over, load
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from daylatch.commands.asked import Asked

_MOST_HOURS = 10_000


def run(asked: Asked, *, longer_than_h: float | None, daily: bool) -> None:
    """Print a site's lock-ins or write them to a file."""
    if longer_than_h is not None and not 0 <= longer_than_h <= _MOST_HOURS:
        raise UsageError(
            f"--longer-than is {longer_than_h:g}: write hours from 0 to {_MOST_HOURS}, such as 14"
        )
    form = asked.form("nights")
    site, first, last = load(asked)
    long_h = site.settings.long_night_h if longer_than_h is None else longer_than_h
    long = np.timedelta64(round(long_h * 60), "m")
    # The other forms hold every night.
    options = {"daily": daily} if form.name == "text" else {}
    hand_over(
        asked,
        form,
        site,
        lambda write, _: write(
            summarize_nights(nights_of(make_plan(site, first, last), form), long), **options
        ),
        about=f"{first} to {last}",
    )
