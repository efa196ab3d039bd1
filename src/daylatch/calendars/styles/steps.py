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

    from daylatch.arrays import Times
    from daylatch.calendars.entries import Entries
    from daylatch.plan.plan import Plan


def make_events(entries: Entries) -> Iterator[Event]:
    """Yield the entries."""
    plan = entries.plan
    step_min = plan.site.settings.calendar.step_min
    step = np.timedelta64(step_min, "m")
    midnight: Times = plan.dates.astype("datetime64[m]")
    walls = [entries.wall[side] for side in Side]
    held = [wall + (midnight - wall) % step for wall in walls]
    # The door's clock is as far from the wall's then as at the movements themselves.
    on_door = [
        times + (entries.door[side].wall - wall)
        for side, wall, times in zip(Side, walls, held, strict=True)
    ]
    before: tuple[str, ...] | None = None
    for index, is_open in enumerate(entries.due.is_open.tolist()):
        summary, lines = f"From today: {SHUT[0].lower()}{SHUT[1:]}", []
        if is_open:
            shown = time_range([entries.time_of_day(times[index], index) for times in held])
            summary = f"From today: door open {shown}"
            lines.append(f"Until the next entry: at most {step_min - 1} minutes late, never early.")
            lines += entries.beside(index, tuple(Side))
            shown_there = [times[index] for times in on_door]
            lines += entries.ways_of_the_door(index, tuple(Side), shown_there)
        if before != (summary, *lines):
            before = (summary, *lines)
            lines += entries.shown(index, tuple(Side))
            yield entries.all_day(index, "step", summary, lines)


def times_words(plan: Plan) -> list[str]:
    """Return how the times in titles are rounded."""
    step_min = plan.site.settings.calendar.step_min
    return [f"They are rounded up to {step_min} minutes and hold until the next entry."]
