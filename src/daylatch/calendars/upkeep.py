"""Entries for the upkeep of what works the door: what must be made anew, compared or tested.

Which dates have one is decided by the site file and the date alone, never by the range that is
asked for. They say what to do, and nothing of whose house it is or where.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from icalendar import Event

from daylatch.calendars.text import CalendarText
from daylatch.calendars.times import whole_date
from daylatch.door.drift.drift import make_drift
from daylatch.site.choices.works import WORKS, Anew

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

BEFORE_THE_END = (12, 1)
"""Month and day from which 30 days are left of a year, as the door's controller signals it (this
program's choice, no source)."""


_CLOCK = Anew(
    "clockcheck",
    "Compare the door's clock with one that is right",
    "Set it if it is wrong, and write down by how much it was.",
)
_TEST = Anew(
    "monthly",
    "Test the door's obstruction stop and battery",
    "Hold something soft in the doorway, never a hand: the door must stop. Look at the battery, "
    "too. Once a month is common practice, with no source.",
)


def make_upkeep(plan: Plan, fixed: Mapping[str, object]) -> Iterator[Event]:
    """Yield the all-day entries, without stamps, in the order of days; none unless asked for.

    Parameters
    ----------
    plan
        Its dates are gone through.
    fixed
        What every entry of the site says.
    """
    site = plan.site
    if not site.settings.calendar.upkeep:
        return
    period_days = _clock_period_days(site)
    for date in plan.dates.tolist():
        for upkeep in _on(date, site, period_days):
            yield _entry(site, date, upkeep, fixed)


def _on(date: dt.date, site: Site, period_days: int | None) -> Iterator[Anew]:
    """Yield what is to be done on a date."""
    works = WORKS[site.works]
    if (date.month, date.day) == BEFORE_THE_END and works.anew is not None:
        yield works.anew
    if works.has_clock and _is_clock_day(date, site, period_days):
        yield _CLOCK
    if works.has_motor and date.day == 1:
        yield _TEST


def _is_clock_day(date: dt.date, site: Site, period_days: int | None) -> bool:
    """Return whether the clock is to be compared with a right one on a date."""
    clock = site.settings.clock
    if period_days is None or clock is None or clock.set_on is None:
        return date.day == 1
    days = (date - clock.set_on).days
    return days > 0 and days % period_days == 0


def _clock_period_days(site: Site) -> int | None:
    """Return how often the door's clock must be set to stay within its margin, by ``[clock]``.

    At least every day, also where even that does not keep the margin; None where it cannot be told,
    and the first of the month stands in (common practice, no source).
    """
    clock = site.settings.clock
    if clock is None or clock.accuracy_ppm is None or clock.set_on is None:
        return None
    good = make_drift(site, clock, clock.set_on, clock.set_on).good_until or clock.set_on
    return max(1, (good - clock.set_on).days)


def _entry(site: Site, date: dt.date, upkeep: Anew, fixed: Mapping[str, object]) -> Event:
    event = Event()
    event["UID"] = CalendarText(f"{site.id}-{date:%Y%m%d}-{upkeep.kind}")
    event["SUMMARY"] = CalendarText(upkeep.title)
    event.update(fixed)
    event["DTSTART"] = whole_date(date)
    # The end is not part of the entry (RFC 5545, 3.6.1).
    event["DTEND"] = whole_date(date + dt.timedelta(days=1))
    event["DESCRIPTION"] = CalendarText(upkeep.words)
    return event
