"""The styles of a door's calendar, a line each.

From its line follow what ``calendar.style`` takes and what is said of it, and how the entries of
a calendar file, of the feed and of the sync are made.
"""

from __future__ import annotations

from typing import NamedTuple


class CalendarStyle(NamedTuple):
    """One style.

    Attributes
    ----------
    name : str
        What the site file calls it.
    entries : str
        What has an entry, in words.
    module : str
        What makes the entries (``make_events``) and says of their times what must be known
        (``times_words``); imported when it is used.
    is_timed : bool
        Whether entries lie at the times of movements, and so have a place for a reminder.
    has_steps : bool
        Whether times are rounded to ``calendar.step_min``.
    begins_month : bool
        Whether the first day planned always has an entry, so that a window which moves from day
        to day must begin with a month.
    """

    name: str
    entries: str
    module: str
    is_timed: bool = False
    has_steps: bool = False
    begins_month: bool = False


STYLES = {
    style.name: style
    for style in (
        CalendarStyle(
            "movements",
            "one timed entry a movement",
            "daylatch.calendars.styles.movements",
            is_timed=True,
        ),
        CalendarStyle("days", "one all-day entry a day", "daylatch.calendars.styles.days"),
        CalendarStyle(
            "steps",
            "an all-day entry on days on which a time passes a step",
            "daylatch.calendars.styles.steps",
            has_steps=True,
            begins_month=True,
        ),
    )
}


def list_styles() -> str:
    """Return what each style is, in one sentence."""
    *others, last = (style.entries for style in STYLES.values())
    words = f"{', '.join(others)}, or {last}."
    return words[0].upper() + words[1:]
