"""An all-day entry for each day, with both times in its title."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from icalendar import Event

    from daylatch.calendars.entries import Entries
    from daylatch.plan.plan import Plan


def make_events(entries: Entries) -> Iterator[Event]:
    """Yield the entries."""
    for index in range(len(entries.plan)):
        yield entries.whole_day(index, "day")


def times_words(plan: Plan) -> list[str]:
    """Return nothing more to be known of the times in titles."""
    return []
