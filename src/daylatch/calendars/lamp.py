"""A calendar of the lamp (RFC 5545): an entry for each time it burns, from on to off.

It is a file of its own, beside the door's; others may read it, and what an entry says besides its
times is up to ``calendar.show`` of the site file, as there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from icalendar import Event

from daylatch.calendars.entries import describe_times, fixed_properties, moments
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.calendars.text import CalendarText
from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.own import calendar_is_by
from daylatch.wording import duration_text, to_minutes

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.birds.daylength.daylength import DayLengths
    from daylatch.birds.daylength.lamp import Lamp
    from daylatch.files.occasion import Occasion

PRODID = "-//daylatch//lamp//EN"
wrote = calendar_is_by(PRODID)
SUMMARY = "Hen house lamp on"
# An entry keeps its identity for good: the site's id, the flock day, and which time of the day.
_UID_OF = ("lamp", "lamp2")


def render(lengths: DayLengths, lamp: Lamp, occasion: Occasion, *, update: bool = False) -> bytes:
    """Return the calendar file of a lamp that burns on some day.

    The stamps of its entries, and what an update is: `finish_calendar`.
    """
    plan = lengths.plan
    calendar = start_calendar(
        PRODID,
        f"Hen house lamp: {plan.site.name}",
        f"{CAUTION} {LAMP_CAUTION} {describe_times(plan)} A plain timer needs the wall clock's. "
        f"Time-zone rules: {zone_rules_version()}.",
        plan.site.settings.calendar.color,
    )
    ends = np.fmin.reduce(lamp.on_utc, axis=None), np.fmax.reduce(lamp.off_utc, axis=None)
    return finish_calendar(calendar, list(_events(lamp)), occasion, plan, ends, update=update)


def _events(lamp: Lamp) -> Iterator[Event]:
    """Yield the entries, without stamps, in the order of their beginnings."""
    plan = lamp.lengths.plan
    fixed = fixed_properties(plan.site)
    # A row a day, and in it the times of the day.
    days, turns = np.nonzero(~np.isnat(lamp.on_utc.T))
    times = moments(plan, lamp.on_utc[turns, days], lamp.off_utc[turns, days])
    rows = zip(days.tolist(), turns.tolist(), times, strict=True)
    for day, turn, (start, end) in rows:
        date: dt.date = plan.dates[day].item()
        event = Event()
        event["UID"] = CalendarText(f"{plan.site.id}-{date:%Y%m%d}-{_UID_OF[turn]}")
        event["SUMMARY"] = CalendarText(SUMMARY)
        event.update(fixed)
        event["DTSTART"], event["DTEND"] = start, end
        lines = list(_description(lamp, day))
        if lines:
            event["DESCRIPTION"] = CalendarText("\n".join(lines))
        yield event


def _description(lamp: Lamp, day: int) -> Iterator[str]:
    site = lamp.lengths.plan.site
    show = site.settings.calendar.show
    if "reasons" in show:
        longer = bool(lamp.lengthened[day])
        natural, kept = (
            duration_text(to_minutes(column[day]))
            for column in (lamp.lengths.counted.length, lamp.length if longer else lamp.target)
        )
        least = f", so as to burn for {lamp.laying.least_burn_min} min" if longer else ""
        yield f"Keeps the day at {kept}{least}; by itself it is {natural} long."
    if "notes" in show and site.settings.head.notes:
        yield site.settings.head.notes
