"""A calendar of when to change a timer (RFC 5545): an all-day entry on the date of each setting.

It is a file of its own, beside the door's; others may read it, and what an entry says besides the
times is up to ``calendar.show`` of the site file, as there.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from icalendar import Event

from daylatch.calendars.entries import fixed_properties
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.calendars.text import CalendarText
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.door.timer.words import WHEN, late_words, margin_words, timer_clock_words, times_words
from daylatch.files.own import calendar_is_by

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.timer.timer_list import TimerList, TimerSetting
    from daylatch.files.occasion import Occasion

PRODID = "-//daylatch//timer//EN"
wrote = calendar_is_by(PRODID)
CHANGE = "Change the hen house timer"
OFF = "Switch the hen house timer off: keep the door shut"


def render(found: TimerList, occasion: Occasion, *, update: bool = False) -> bytes:
    """Return the calendar file.

    The stamps of its entries, and what an update is: `finish_calendar`.
    """
    site = found.plan.site
    calendar = start_calendar(
        PRODID,
        f"Hen house timer: {site.name}",
        f"{CAUTION} {WHEN} The timer's times are in {timer_clock_words(found)}.{_margin(found)} "
        f"Time-zone rules: {zone_rules_version()}.",
        site.settings.calendar.color,
    )
    return finish_calendar(
        calendar, list(_events(found)), occasion, found.plan, None, update=update
    )


def _events(found: TimerList) -> Iterator[Event]:
    """Yield the entries, without stamps, in the order of their dates."""
    site = found.plan.site
    fixed = fixed_properties(site)
    for setting in found.settings:
        event = Event()
        event["UID"] = CalendarText(f"{site.id}-{setting.first:%Y%m%d}-timer")
        event["SUMMARY"] = CalendarText(
            f"{CHANGE}: {times_words(setting, site.face)}" if setting.is_open else OFF
        )
        event.update(fixed)
        event.add("DTSTART", setting.first)
        # The end is not part of the entry (RFC 5545, 3.6.1).
        event.add("DTEND", setting.first + dt.timedelta(days=1))
        event["DESCRIPTION"] = CalendarText("\n".join(_description(found, setting)))
        yield event


def _margin(found: TimerList) -> str:
    words = margin_words(found)
    return f" They are {words}." if words else ""


def _description(found: TimerList, setting: TimerSetting) -> Iterator[str]:
    if setting.is_open:
        yield WHEN
        yield f"Until {setting.last} it is {late_words(setting)}, and never early."
        yield f"Times: {timer_clock_words(found)}.{_margin(found)}"
    else:
        yield f"The evening before, once the door has shut; it stays shut until {setting.last}."
    notes = found.plan.site.settings.head.notes
    if "notes" in found.plan.site.settings.calendar.show and notes:
        yield notes
