"""The page beside a calendar on the web: how to subscribe to it, and what it is not good for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.calendars.feed import title_of
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.files.own import page_is_by
from daylatch.paper.pages.templates import get_template
from daylatch.site.choices.calendar_styles import STYLES

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan

_GENERATOR = "daylatch feed page"
wrote = page_is_by(_GENERATOR)


def render(plan: Plan, calendar_name: str) -> bytes:
    """Return the page.

    Parameters
    ----------
    plan
        Of a public site: nothing else of it is shown than the calendar shows.
    calendar_name
        The name of the calendar's file, in the same folder.
    """
    first, last = (f"{date.day} {date:%B %Y}" for date in plan.dates[[0, -1]].tolist())
    clock = "Times are those of a clock at the house."
    if STYLES[plan.site.settings.calendar.style].is_timed:
        clock = "Your calendar shows the times by its own clock."
    page = get_template("feed.html").render(
        generator=_GENERATOR,
        title=title_of(plan.site),
        calendar=calendar_name,
        first=first,
        last=last,
        clock=clock,
        caution=f"{CAUTION} {NO_WEATHER}",
    )
    return page.encode()
