"""A calendar of when to change a timer (RFC 5545): an entry on the evening before each setting.

It begins when the door shuts on that evening, and reminds then. Where it stays shut, or that
evening is in another list, it begins at the same time as the setting's own closing a day later.

It is a file of its own, beside the door's; others may read it, and what an entry says besides the
times is up to ``calendar.show`` of the site file, as there. What is put in at once has one entry.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
from icalendar import Alarm, Event, vDuration

from daylatch.calendars.entries import describe_times, fixed_properties, moments
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.calendars.text import CalendarText
from daylatch.cautions import CAUTION
from daylatch.clock import Fold, zone_rules_version
from daylatch.door.timer.words import (
    evening_before,
    late_words,
    margin_words,
    standing_words,
    timer_clock_words,
    times_words,
)
from daylatch.files.own import calendar_is_by

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.door.timer.timer_list import TimerList, TimerSetting
    from daylatch.files.occasion import Occasion

PRODID = "-//daylatch//timer//EN"
wrote = calendar_is_by(PRODID)
CHANGE = "Change the hen house timer"
SHUT = "the door stays shut"
OFF = "Switch the hen house timer off: keep the door shut"
_LENGTH = np.timedelta64(15, "m")
# On an evening on which the door is shut all day (this program's choice, no source).
_IF_SHUT = np.timedelta64(18, "h")


def render(found: TimerList, occasion: Occasion, *, update: bool = False) -> bytes:
    """Return the calendar file.

    The stamps of its entries, and what an update is: `finish_calendar`.
    """
    site = found.plan.site
    standing = standing_words(found)
    calendar = start_calendar(
        PRODID,
        f"Hen house timer: {site.name}",
        f"{CAUTION} {f'{standing} ' if standing else ''}{found.says.when} The timer's times are in "
        f"{timer_clock_words(found)}.{_margin(found)} {describe_times(found.plan)} "
        f"Time-zone rules: {zone_rules_version()}.",
        site.settings.calendar.color,
    )
    begins: Times = np.array([_begin(found, visit[0]) for visit in found.visits], "datetime64[m]")
    ends = begins + _LENGTH
    return finish_calendar(
        calendar,
        list(_events(found, begins, ends)),
        occasion,
        found.plan,
        (begins.min(), ends.max()),
        update=update,
    )


def _begin(found: TimerList, setting: TimerSetting) -> np.datetime64:
    """Return when a setting may be put in: once the door has shut on the evening before."""
    evening = np.datetime64(evening_before(setting), "D")
    for one in found.years or (found,):
        at = np.flatnonzero(one.plan.dates == evening)
        if at.size and one.plan.is_open[at[0]]:
            closing: np.datetime64 = one.moved_utc[-1][at[0]]
            return closing
    wall = evening.astype("datetime64[m]") + _IF_SHUT
    first = np.datetime64(setting.put_in, "D")
    for one in found.years or (found,):
        at = np.flatnonzero(one.plan.dates == first)
        is_out = evening not in one.plan.dates
        if at.size and is_out and one.plan.is_open[at[0]]:
            # Another year's list has that evening: a day later the door shuts at nearly that time.
            wall = one.plan.on_wall(one.moved_utc[-1][at]).wall[0] - np.timedelta64(1, "D")
    begin: np.datetime64 = found.plan.zone.to_instants(np.array([wall]), Fold.EARLIER)[0]
    return begin


def _events(found: TimerList, begins: Times, ends: Times) -> Iterator[Event]:
    """Yield the entries, without stamps, in the order of their dates."""
    site = found.plan.site
    fixed = fixed_properties(site)
    times = moments(found.plan, begins, ends)
    for visit, (start, end) in zip(found.visits, times, strict=True):
        event = Event()
        event["UID"] = CalendarText(f"{site.id}-{visit[0].put_in:%Y%m%d}-timer")
        event["SUMMARY"] = CalendarText(_summary(found, visit))
        event.update(fixed)
        event["DTSTART"], event["DTEND"] = start, end
        event["DESCRIPTION"] = CalendarText("\n".join(_description(found, visit)))
        alarm = Alarm()
        alarm.add("ACTION", "DISPLAY")
        alarm.add("DESCRIPTION", CHANGE)
        minutes = site.settings.calendar.reminder_min or 0
        alarm.add("TRIGGER", vDuration(-dt.timedelta(minutes=minutes)))
        event.add_component(alarm)
        yield event


def _summary(found: TimerList, visit: list[TimerSetting]) -> str:
    if len(visit) > 1:
        return f"{CHANGE}: {len(visit)} settings from {visit[0].first} on"
    (setting,) = visit
    if not setting.is_open:
        return OFF
    return f"{CHANGE}: {times_words(found, setting)}"


def _margin(found: TimerList) -> str:
    words = margin_words(found)
    return f" They are {words}." if words else ""


def _description(found: TimerList, visit: list[TimerSetting]) -> Iterator[str]:
    standing = standing_words(found)
    if standing:
        yield standing
    for setting in visit:
        yield from _setting_words(found, setting, alone=len(visit) == 1)
    if any(setting.is_open for setting in visit):
        yield f"Times: {timer_clock_words(found)}.{_margin(found)}"
    notes = found.plan.site.settings.head.notes
    if "notes" in found.plan.site.settings.calendar.show and notes:
        yield notes


def _setting_words(found: TimerList, setting: TimerSetting, *, alone: bool) -> Iterator[str]:
    dates = f"From {setting.first} to {setting.last}"
    if not setting.is_open:
        if alone:
            yield f"Once the door has shut; it stays shut until {setting.last}."
        else:
            yield f"{dates}: {SHUT}."
        return
    if alone:
        yield found.says.when
    else:
        yield f"{dates}: {times_words(found, setting)}."
    yield f"Until {setting.last} it is {late_words(found, setting)}, and never early."
