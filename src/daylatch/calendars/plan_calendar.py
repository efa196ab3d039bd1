"""A calendar of the due times: iCalendar, RFC 5545, with the calendar's own properties of RFC 7986.

Others may read a calendar. So an entry says what to do and when, and nothing of why, where or
whose, unless the site file's ``show`` asks for it; the house's name stands once, as the name of
the calendar. What the entries are is in `daylatch.calendars.entries`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.calendars.entries import closing_ends, make_events, style_of
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.cautions import CAUTION
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.files.own import calendar_is_by
from daylatch.plan.due_words import public_due_notes
from daylatch.site.choices.calendar_styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan

PRODID = "-//daylatch//door plan//EN"
wrote = calendar_is_by(PRODID)


def render(due: Due, occasion: Occasion, *, update: bool = False) -> bytes:
    """Return the calendar file of due times.

    Parameters
    ----------
    due
        Of any plan; each day has an entry.
    occasion
        Entries that say the same as in the previous file keep their stamps; a changed one counts
        its changes.
    update
        Whether what is no longer planned stays there, as cancelled.

    Returns
    -------
    bytes
        The same for the same plan, previous file and stamp.
    """
    name, notes = f"Hen house door: {due.plan.site.name}", list(public_due_notes(due))
    zone = due.plan.zone.name
    return render_door(due, occasion, PRODID, name, zone, notes, update=update)


def render_door(
    due: Due,
    occasion: Occasion,
    prodid: str,
    name: str,
    clock: str,
    notes: Iterable[str] = (),
    *,
    update: bool = False,
) -> bytes:
    """Return a calendar file of due times, as a file of this kind.

    Parameters
    ----------
    due, occasion, update
        As `render`.
    prodid
        What tells this kind of file from others.
    name
        The calendar's, as readers show it.
    clock
        Whose wall-clock times titles show: the zone's name, or words that do not name it.
    notes
        What must be known of the due times, as far as readers may know it.
    """
    plan = due.plan
    calendar = start_calendar(
        prodid,
        name,
        " ".join([CAUTION, *notes, _clock_and_rules(plan, clock)]),
        plan.site.settings.calendar.color,
    )
    ends = None
    up = due.is_open
    if up.any():
        ends = due.told_open_utc[up][0], closing_ends(due)[up][-1]
    return finish_calendar(calendar, make_events(due), occasion, plan, ends, update=update)


def _clock_and_rules(plan: Plan, clock: str) -> str:
    """Return which clock the times are in, and by which rules."""
    words = style_of(plan).times_words(plan)
    if not STYLES[plan.site.settings.calendar.style].is_timed:
        words = [f"Times in titles are wall-clock times of {clock}.", *words]
    match plan.door_clock:
        case DoorClock.WALL:
            pass
        case DoorClock.STANDARD:
            words.append("The door's own clock keeps standard time all year.")
        case DoorClock.UTC:
            words.append("The door's own clock keeps UTC.")
    return " ".join([*words, f"Time-zone rules: {zone_rules_version()}."])
