"""A timed entry for each movement, and an all-day one where the door stays shut.

A closing lasts until the head count and carries the reminder.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.calendars.entries import LEAST_LENGTH, closing_ends, describe_times, moments
from daylatch.plan.daily.rules import Side

if TYPE_CHECKING:
    from collections.abc import Iterator

    from icalendar import Event

    from daylatch.calendars.entries import Entries
    from daylatch.plan.plan import Plan


def make_events(entries: Entries) -> Iterator[Event]:
    """Yield the entries."""
    plan, due = entries.plan, entries.due
    up = due.is_open
    opens = moments(plan, due.told_open_utc[up], due.told_open_utc[up] + LEAST_LENGTH)
    closes = moments(plan, due.told_close_utc[up], closing_ends(due)[up])
    for index, is_open in enumerate(up):
        if is_open:
            yield entries.movement(index, Side.OPEN, *next(opens))
            yield entries.movement(index, Side.CLOSE, *next(closes))
        else:
            yield entries.whole_day(index, "shut")


def times_words(plan: Plan) -> list[str]:
    """Return which clock the entries are in, and how long they last.

    The times in titles are none here.
    """
    return [describe_times(plan), "A closing lasts until the head count."]
