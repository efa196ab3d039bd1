"""A calendar of when to change the lamp's timer (RFC 5545): an entry on the evening before.

It begins when the lamp is off on that evening, at 18:00 if it is by then, and before it goes on
again. It is a file of its own, beside the lamp's and those of the door.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
from icalendar import Alarm, Event, vDuration

from daylatch.birds.lamp_list.words import CAUTIONS
from daylatch.calendars.entries import describe_times, fixed_properties, moments
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.calendars.text import CalendarText
from daylatch.clock import Fold, zone_rules_version
from daylatch.door.timer.words import (
    evening_before,
    late_words,
    standing_words,
    timer_clock_words,
    times_words,
)
from daylatch.files.own import calendar_is_by

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.birds.lamp_list.lamp_movements import LampBurn
    from daylatch.door.timer.timer_list import TimerList, TimerSetting
    from daylatch.files.occasion import Occasion

PRODID = "-//daylatch//lamp timer//EN"
wrote = calendar_is_by(PRODID)
CHANGE = "Change the hen house lamp's timer"
OFF = "Switch the hen house lamp's timer off"
# An entry keeps its identity for good: the site's id, the date, and which burn.
_UID_OF = {"morning": "lamptimer", "evening": "lamptimer2"}
_LENGTH = np.timedelta64(15, "m")
# This program's choice, no source.
_EVENING = np.timedelta64(18, "h")


def render(found: LampList, occasion: Occasion, *, update: bool = False) -> bytes:
    """Return the calendar file.

    The stamps of its entries, and what an update is: `finish_calendar`.
    """
    site, lists = found.plan.site, [one for _, one in found.burns]
    standing = standing_words(lists[0])
    calendar = start_calendar(
        PRODID,
        f"Hen house lamp's timer: {site.name}",
        f"{CAUTIONS} {f'{standing} ' if standing else ''}{lists[0].says.when} The timer's times "
        f"are in {timer_clock_words(lists[0])}. {describe_times(found.plan)} Time-zone rules: "
        f"{zone_rules_version()}.",
        site.settings.calendar.color,
    )
    visits = sorted(
        (
            (_begin(found, visit[0]), number, visit)
            for number, one in enumerate(lists)
            for visit in one.visits
        ),
        key=lambda item: item[:2],
    )
    begins: Times = np.array([begin for begin, _, _ in visits], "datetime64[m]")
    times = moments(found.plan, begins, begins + _LENGTH)
    events = [
        _event(found.burns[number], visit, moment)
        for (_, number, visit), moment in zip(visits, times, strict=True)
    ]
    ends = (begins.min(), (begins + _LENGTH).max())
    return finish_calendar(calendar, events, occasion, found.plan, ends, update=update)


def _begin(found: LampList, setting: TimerSetting) -> np.datetime64:
    """Return when a setting may be put in on the evening before: no burn is running then."""
    evening = np.datetime64(evening_before(setting), "D")
    wall = np.array([evening.astype("datetime64[m]") + _EVENING])
    begin: np.datetime64 = found.plan.zone.to_instants(wall, Fold.EARLIER)[0]
    offs, ons = _moved(found, evening)[1], _moved(found, evening + 1)[0]
    begin = max([begin, *offs])
    return min([begin, *(on - _LENGTH for on in ons)])


def _moved(found: LampList, date: np.datetime64) -> tuple[list[np.datetime64], ...]:
    """Return when the timer puts the lamp on and off on a date, as far as that is in a list."""
    sides: tuple[list[np.datetime64], ...] = ([], [])
    for _, one in found.burns:
        for year in one.years:
            at = np.flatnonzero(year.plan.dates == date)
            for side, moved in zip(sides, year.moved_utc, strict=True):
                side += [time for time in moved[at] if not np.isnat(time)]
    return sides


def _event(
    burn_list: tuple[LampBurn, TimerList],
    visit: list[TimerSetting],
    moment: tuple[object, object],
) -> Event:
    """Return an entry, without stamps."""
    burn, one = burn_list
    site = one.plan.site
    event = Event()
    event["UID"] = CalendarText(f"{site.id}-{visit[0].put_in:%Y%m%d}-{_UID_OF[burn.name]}")
    event["SUMMARY"] = CalendarText(_summary(burn, one, visit))
    event.update(fixed_properties(site))
    event["DTSTART"], event["DTEND"] = moment
    event["DESCRIPTION"] = CalendarText("\n".join(_description(one, visit)))
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", CHANGE)
    minutes = site.settings.calendar.reminder_min or 0
    alarm.add("TRIGGER", vDuration(-dt.timedelta(minutes=minutes)))
    event.add_component(alarm)
    return event


def _summary(burn: LampBurn, one: TimerList, visit: list[TimerSetting]) -> str:
    which = burn.title.lower()
    if len(visit) > 1:
        return f"{CHANGE}, {which}: {len(visit)} settings from {visit[0].first} on"
    (setting,) = visit
    if not setting.is_open:
        return f"{OFF}, {which}"
    return f"{CHANGE}, {which}: {times_words(one, setting)}"


def _description(one: TimerList, visit: list[TimerSetting]) -> Iterator[str]:
    standing = standing_words(one)
    if standing:
        yield standing
    for setting in visit:
        dates = f"From {setting.first} to {setting.last}"
        if not setting.is_open:
            yield f"{dates}: {one.says.rests}."
        else:
            yield f"{dates}: {times_words(one, setting)}; {late_words(one, setting)}."
    yield one.says.when
    yield f"Times: {timer_clock_words(one)}."
    notes = one.plan.site.settings.head.notes
    if "notes" in one.plan.site.settings.calendar.show and notes:
        yield notes
