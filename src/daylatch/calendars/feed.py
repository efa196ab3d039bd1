"""The calendar that goes on the web, for readers who may be anybody.

It says when the door moves, and nothing of whose it is, where or why, but for what ``show`` under
``[feed]`` gives away. What the keeper's own calendar shows does not count here. It is a kind of
file of its own, so that no other calendar takes its place by mistake.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from daylatch.calendars.plan_calendar import render_door
from daylatch.files.own import calendar_is_by
from daylatch.plan.due_words import public_due_notes
from daylatch.site.calendar import Feed

if TYPE_CHECKING:
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

PRODID = "-//daylatch//door feed//EN"
wrote = calendar_is_by(PRODID)
TITLE = "Hen house door"


def public_site(site: Site) -> Site:
    """Return a site whose calendar shows no more than its feed may."""
    shown = (site.settings.feed or Feed()).show
    changes: dict[str, object] = {"show": [what for what in shown if what != "name"]}
    changes["upkeep"] = False  # for the keeper alone
    if "place" not in shown:
        # The name of a zone is a place too.
        changes["times"] = "utc"
    calendar = site.settings.calendar.model_copy(update=changes)
    return replace(site, settings=replace(site.settings, calendar=calendar))


def title_of(site: Site) -> str:
    """Return what the feed is called, with the house's name if that may be shown."""
    feed = site.settings.feed
    return f"{TITLE}: {site.name}" if feed is not None and "name" in feed.show else TITLE


def render(due: Due, occasion: Occasion) -> bytes:
    """Return the calendar file.

    Parameters
    ----------
    due
        Of a `public_site`.
    occasion
        Entries that say the same as in the previous file keep their stamps; a changed one counts
        its changes.

    Returns
    -------
    bytes
        The same for the same plan, previous file and stamp.
    """
    clock = "the house"
    plan = due.plan
    if "place" in plan.site.settings.calendar.show:
        clock = plan.zone.name
    notes = public_due_notes(due)
    return render_door(due, occasion, PRODID, title_of(plan.site), clock, notes)
