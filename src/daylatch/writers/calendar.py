"""A calendar of the plan: iCalendar, RFC 5545, with the calendar's own properties of RFC 7986.

Others may read a calendar. So an entry says what to do and when, and nothing of why, where or
whose, unless the site file's ``show`` asks for it; the house's name stands once, as the name of
the calendar. What the entries are is in `daylatch.writers.calendar_entries`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.writers.calendar_entries import closing_ends, describe_times, make_events
from daylatch.writers.calendar_file import finish_calendar, made_by, start_calendar

if TYPE_CHECKING:
    from daylatch.plan import Plan
    from daylatch.writers import Occasion

PRODID = "-//daylatch//door plan//EN"


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
    calendar = start_calendar(
        PRODID, f"Hen house door: {plan.site.name}", f"{CAUTION} {_clock_words(plan)}"
    )
    ends = None
    if plan.is_open.any():
        ends = plan.open_utc[plan.is_open][0], closing_ends(plan)[plan.is_open][-1]
    return finish_calendar(calendar, make_events(plan), occasion, plan.zone, ends)


def wrote(content: bytes) -> bool:
    """Return whether a file's content is a calendar made here."""
    return made_by(content, PRODID)


def _clock_words(plan: Plan) -> str:
    """Return which clock the times are in, and by which rules."""
    if plan.site.settings.calendar.style == "days":
        words = [f"Times in titles are wall-clock times of {plan.zone.name}."]
    else:
        words = [describe_times(plan), "A closing lasts until the head count."]
    match plan.door_clock:
        case DoorClock.WALL:
            pass
        case DoorClock.STANDARD:
            words.append("The door's own clock keeps standard time all year.")
        case DoorClock.UTC:
            words.append("The door's own clock keeps UTC.")
    return " ".join([*words, f"Time-zone rules: {zone_rules_version()}."])
