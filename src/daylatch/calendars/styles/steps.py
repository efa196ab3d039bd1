"""An all-day entry for the first day, and for each from which on something else holds.

Times are rounded up to the step, so that whoever goes by an entry until the next one is never
early.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.calendars.entries import SHUT, time_range
from daylatch.plan.daily.rules import Side

if TYPE_CHECKING:
    from collections.abc import Iterator

    from icalendar import Event

    from daylatch.calendars.entries import Entries
    from daylatch.plan.plan import Plan


def make_events(entries: Entries) -> Iterator[Event]:
    """Yield the entries."""
    plan = entries.plan
    step_min = plan.site.settings.calendar.step_min
    step = np.timedelta64(step_min, "m")
    before: tuple[str, ...] | None = None
    for index, date in enumerate(plan.dates):
        summary, lines = f"From today: {SHUT[0].lower()}{SHUT[1:]}", []
        if entries.due.is_open[index]:
            midnight = date.astype("datetime64[m]")
            walls = [entries.wall[side][index] for side in Side]
            held = [midnight - (midnight - wall) // step * step for wall in walls]
            shown = time_range([entries.time_of_day(wall, index) for wall in held])
            summary = f"From today: door open {shown}"
            lines.append(f"Until the next entry: at most {step_min - 1} minutes late, never early.")
            # The door's clock is as far from the wall's then as at the movements themselves.
            ahead = [entries.door[side].wall[index] - entries.wall[side][index] for side in Side]
            on_door = [wall + more for wall, more in zip(held, ahead, strict=True)]
            lines += entries.beside(index, tuple(Side))
            lines += entries.ways_of_the_door(index, tuple(Side), on_door)
        if before != (summary, *lines):
            before = (summary, *lines)
            lines += entries.shown(index, tuple(Side))
            yield entries.all_day(index, "step", summary, lines)


def times_words(plan: Plan) -> list[str]:
    """Return how the times in titles are rounded."""
    step_min = plan.site.settings.calendar.step_min
    return [f"They are rounded up to {step_min} minutes and hold until the next entry."]
