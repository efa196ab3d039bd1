"""The plan as a table of months, made to be read in a terminal and in a pipe."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import DoorClock
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.daily.rules import Rule
from daylatch.plan.due_words import due_notes, idle_timer_note
from daylatch.plan.summary import describe_plan, summarize
from daylatch.wording import WIDTH, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due

FIRST_LINE = "daylatch door plan"
wrote = first_line_is(FIRST_LINE)

MARKS = {
    "+": "the wall clock changes on this date",
    "*": "a dated span of yours changes this day",
    "~": "no such light on this day: your fallback time holds",
    ">": "closes after midnight, on the next date",
    "^": "the door moves beyond the guard: predators hunt then",
    "?": "not known when the door moves: the file in use does not cover this day",
    "#": "closes in daylight: birds outside stay out, unless shut in before",
    "!": "less open time, or less night, than you asked for",
}
"""What stands behind a day's times."""


def render(due: Due, occasion: Occasion) -> bytes:
    """Return the table, the summary, the marks that occur and the caution."""
    plan = due.plan
    lines = [FIRST_LINE, *describe_plan(plan), *wrapped(_notes(due))]
    marks = _marks(due)
    for year in sorted({date.year for date in plan.dates.tolist()}):
        lines += ["", *_year(due, year, marks)]
    lines += ["", *summarize(due), ""]
    used = [mark for mark in MARKS if any(mark in some for some in marks)]
    lines += [f"{mark}  {MARKS[mark]}" for mark in used] + [""] * bool(used)
    lines += [*wrapped([CAUTION, NO_WEATHER])]
    return text_file.lay_out(lines)


def _notes(due: Due) -> Iterator[str]:
    yield from due_notes(due)
    if due.differs.any():
        yield "Planned is what your rules want, due when the door will really move."
        if due.plan.door_clock is not DoorClock.WALL:
            yield "Under door clock: the planned times as the door's own clock shows them."
    idle = idle_timer_note(due.plan.site)
    if idle:
        yield f"Note: {idle}."


def _marks(due: Due) -> list[str]:
    """Return each day's marks."""
    plan, decisions = due.plan, due.plan.decisions
    fallback = np.zeros(len(plan), np.bool_)
    for moves in (decisions.open, decisions.close):
        fallback |= plan.is_open & np.isin(moves.started_by, (Rule.FALLBACK, Rule.DARK_FALLBACK))
    short = (decisions.open_shortfall > np.timedelta64(0)) | (
        decisions.night_shortfall > np.timedelta64(0)
    )
    late = plan.on_wall(due.told_close_utc).wall.astype("datetime64[D]") > plan.dates
    columns = {
        "+": plan.has_clock_change,
        "*": plan.settings.in_span,
        "~": fallback,
        ">": late,
        "^": np.logical_or(*due.past_guard),
        "?": ~due.known & (due.up_to_min is None),
        "#": due.closes_in_daylight,
        "!": short,
    }
    return ["".join(mark for mark in MARKS if columns[mark][index]) for index in range(len(plan))]


def _year(due: Due, year: int, marks: list[str]) -> Iterator[str]:
    """Yield one year's blocks of months side by side."""
    plan = due.plan
    names, cells = _cells(due)
    room = max(map(len, marks), default=0)
    width = 3 + len(next(iter(cells.values()))) + (1 + room if room else 0)
    rows = {
        (date.month, date.day): index
        for index, date in enumerate(plan.dates.tolist())
        if date.year == year
    }
    months = sorted({month for month, _ in rows})
    columns = max(1, (WIDTH + 2) // (width + 2))
    # Even blocks: four or three months side by side, never one month left over by itself.
    columns = next((n for n in (4, 3, 2, 1) if n <= columns), 1)
    face = plan.site.face
    titles = "   ".join([f"{face.aligned('open')} {face.aligned('close')}"] * len(names))
    heads = "   ".join(f"{name:{2 * face.width + 1}}" for name in names)
    yield str(year)
    for start in range(0, len(months), columns):
        block = months[start : start + columns]
        if start:
            yield ""
        yield "  ".join(month_name[month].ljust(width) for month in block)
        if len(names) > 1:
            yield "  ".join(f"   {heads}".ljust(width) for _ in block)
        yield "  ".join(f"   {titles}".ljust(width) for _ in block)
        for number in range(1, 32):
            if not any((month, number) in rows for month in block):
                continue
            parts = []
            for month in block:
                index = rows.get((month, number))
                cell = ""
                if index is not None:
                    mark = f" {marks[index]}" if room else ""
                    cell = f"{number:2d} {cells[index]}{mark}"
                parts.append(cell.ljust(width))
            yield "  ".join(parts)


def _cells(due: Due) -> tuple[list[str], dict[int, str]]:
    """Return what the pairs of columns are called, and each day's times in them.

    Planned times, on the wall and on the door's clock where that is another, and due ones on the
    wall where they differ.
    """
    plan, face = due.plan, due.plan.site.face
    planned = (plan.open_utc, plan.close_utc)
    columns = {"planned": [plan.on_wall(times) for times in planned]}
    if plan.door_clock is not DoorClock.WALL:
        name = "wall clock" if not due.differs.any() else "planned"
        columns = {name: columns["planned"], "door clock": [plan.on_door(t) for t in planned]}
    if due.differs.any():
        # Where nothing is known, nothing stands there.
        columns["due"] = [plan.on_wall(times) for times in (due.open_utc, due.close_utc)]
    texts = [
        list(zip(*(face.times(times.wall) for times in column), strict=True))
        for column in columns.values()
    ]
    shut = f"{'shut':^{2 * face.width + 1}}"
    unknown = f"{'?':^{2 * face.width + 1}}"
    cells = {}
    for index in range(len(plan)):
        parts = []
        for name, column in zip(columns, texts, strict=True):
            opens, closes = column[index]
            nothing = unknown if name == "due" and not due.known[index] else shut
            times = f"{face.aligned(opens)} {face.aligned(closes)}"
            parts.append(times if opens else nothing)
        cells[index] = "   ".join(parts)
    return list(columns), cells
