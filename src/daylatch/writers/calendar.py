"""A calendar of the plan: iCalendar, RFC 5545, with the calendar's own properties of RFC 7986.

Others may read a calendar. So an entry says what to do and when, and nothing of why, where or
whose, unless the site file's ``show`` asks for it; the house's name stands once, as the name of
the calendar. What the entries are is in `daylatch.writers.calendar_entries`.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, cast

from icalendar import Calendar, vDuration

from daylatch.cautions import CAUTION
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.writers.calendar_entries import closing_ends, make_events
from daylatch.writers.calendar_revision import read_issues, stamp_events
from daylatch.writers.calendar_text import Text
from daylatch.writers.calendar_zone import make_timezone

if TYPE_CHECKING:
    from daylatch.plan import Plan
    from daylatch.writers import Occasion

PRODID = "-//daylatch//door plan//EN"
_REFRESH = dt.timedelta(days=1)


def render(plan: Plan, occasion: Occasion) -> bytes:
    """Return the calendar file of a plan.

    Parameters
    ----------
    plan
        Any plan; each day has an entry.
    occasion
        Entries that say the same as in the previous file keep their stamps; a changed one counts
        its changes. What is no longer planned is no longer there.

    Returns
    -------
    bytes
        The same for the same plan, previous file and stamp.
    """
    calendar = _empty_calendar(plan)
    events = make_events(plan)
    previous = occasion.previous
    issues = read_issues(previous) if previous is not None and wrote(previous) else {}
    stamp_events(events, issues, occasion.stamp_utc)
    if any("TZID" in event["DTSTART"].params for event in events):
        first, last = plan.open_utc[plan.is_open][0], closing_ends(plan)[plan.is_open][-1]
        calendar.add_component(make_timezone(plan.zone, first, last))
    for event in events:
        calendar.add_component(event)
    return cast("bytes", calendar.to_ical())


def wrote(content: bytes) -> bool:
    """Return whether a file's content is a calendar made here."""
    # What stands before the first component. No text of a keeper's can pass for a line of it:
    # line breaks in a text are escaped, and a folded line goes on behind a space.
    head = re.split(rb"\r?\nBEGIN:", content, maxsplit=1)[0].splitlines()
    return head[:1] == [b"BEGIN:VCALENDAR"] and f"PRODID:{PRODID}".encode() in head


def _empty_calendar(plan: Plan) -> Calendar:
    """Return a calendar with what stands above its entries."""
    calendar = Calendar()
    calendar.add("PRODID", PRODID)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    # RFC 7986, 5.1 and 5.7 name these; many readers know only the older names beside them.
    name = Text(f"Hen house door: {plan.site.name}")
    calendar.add("NAME", name)
    calendar.add("X-WR-CALNAME", name)
    calendar.add("REFRESH-INTERVAL", vDuration(_REFRESH, params={"VALUE": "DURATION"}))
    calendar.add("X-PUBLISHED-TTL", vDuration(_REFRESH))
    calendar.add("DESCRIPTION", f"{CAUTION} {_clock_words(plan)}")
    return calendar


def _clock_words(plan: Plan) -> str:
    """Return which clock the times are in, and by which rules."""
    settings = plan.site.settings.calendar
    if settings.style == "days":
        words = [f"Times in titles are wall-clock times of {plan.zone.name}."]
    else:
        if settings.times == "zone":
            words = [f"Times are wall-clock times of {plan.zone.name}."]
        else:
            words = ["Times are written in UTC; a calendar shows them by its reader's clock."]
        words.append("A closing lasts until the head count.")
    match plan.door_clock:
        case DoorClock.WALL:
            pass
        case DoorClock.STANDARD:
            words.append("The door's own clock keeps standard time all year.")
        case DoorClock.UTC:
            words.append("The door's own clock keeps UTC.")
    return " ".join([*words, f"Time-zone rules: {zone_rules_version()}."])
