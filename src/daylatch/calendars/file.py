"""What all calendar files have in common: what stands above their entries, and their stamps."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from icalendar import Calendar, vDuration

from daylatch.calendars.cancelled import cancel_dropped
from daylatch.calendars.lines import Lines
from daylatch.calendars.revision import read_issues, stamp_events
from daylatch.calendars.text import CalendarText
from daylatch.calendars.zone import make_timezone
from daylatch.files.own import calendar_is_by

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from icalendar import Event

    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan

_REFRESH = dt.timedelta(days=1)


def start_calendar(prodid: str, name: str, description: str, color: str | None) -> Calendar:
    """Return a calendar with what stands above its entries.

    Parameters
    ----------
    prodid
        What tells this kind of file from others.
    name, description
        As readers show them.
    color
        By its CSS name, for readers that heed it (RFC 7986, 5.9).
    """
    calendar = Calendar()
    calendar.add("PRODID", prodid)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    # RFC 7986, 5.1 and 5.7 name these; many readers know only the older names beside them.
    calendar.add("NAME", CalendarText(name))
    calendar.add("X-WR-CALNAME", CalendarText(name))
    calendar.add("REFRESH-INTERVAL", vDuration(_REFRESH, params={"VALUE": "DURATION"}))
    calendar.add("X-PUBLISHED-TTL", vDuration(_REFRESH))
    if color is not None:
        calendar.add("COLOR", CalendarText(color))
    calendar.add("DESCRIPTION", description)
    return calendar


def finish_calendar(
    calendar: Calendar,
    events: Sequence[Event],
    occasion: Occasion,
    plan: Plan,
    ends_utc: tuple[np.datetime64, np.datetime64] | None,
    *,
    update: bool = False,
) -> bytes:
    """Stamp a calendar's entries, put them in, and return the file.

    Parameters
    ----------
    calendar
        From `start_calendar`.
    events
        Without stamps.
    occasion
        Entries that say the same as in the previous file keep their stamps; a changed one counts
        its changes.
    plan
        Where the entries come from. Its wall clock is described in the file if an entry names it.
    ends_utc
        Begin of the first and end of the last timed entry; None without any.
    update
        Whether what the previous file held on the plan's dates and is no longer planned follows as
        cancelled.
    """
    previous = occasion.previous
    made_alike = previous is not None and calendar_is_by(str(calendar["PRODID"]))(previous)
    issues = read_issues(previous) if previous is not None and made_alike else {}
    if update:
        first, last = (date.item() for date in plan.dates[[0, -1]])
        events = [*events, *cancel_dropped(issues, events, plan.site.id, first, last)]
    lines = Lines()
    stamp_events(events, issues, occasion.stamp_utc, lines)
    if ends_utc is not None and any("TZID" in event["DTSTART"].params for event in events):
        calendar.add_component(make_timezone(plan.zone, *ends_utc))
    for event in events:
        calendar.add_component(event)
    return lines.file(calendar)
