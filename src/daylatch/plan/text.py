"""The plan as a table of months, made to be read in a terminal and in a pipe."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import DoorClock
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.rules import Rule
from daylatch.plan.summary import describe_plan, summarize
from daylatch.wording import WIDTH, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan

FIRST_LINE = "daylatch door plan"
wrote = first_line_is(FIRST_LINE)

MARKS = {
    "+": "the wall clock changes on this date",
    "*": "a dated span of yours touches this day",
    "~": "no such light on this day: a fallback time",
    ">": "closes after midnight, on the next date",
    "^": "a movement lies beyond the guard",
    "!": "shortfall: less open time or less night than wanted",
}
"""What stands behind a day's times."""


def render(plan: Plan, occasion: Occasion) -> bytes:
    """Return the table, the summary, the marks that occur and the caution."""
    lines = [FIRST_LINE, *describe_plan(plan)]
    marks = _marks(plan)
    for year in sorted({date.year for date in plan.dates.tolist()}):
        lines += ["", *_year(plan, year, marks)]
    lines += ["", *summarize(plan), ""]
    used = [mark for mark in MARKS if any(mark in some for some in marks)]
    lines += [f"{mark}  {MARKS[mark]}" for mark in used] + [""] * bool(used)
    lines += [*wrapped([CAUTION, NO_WEATHER])]
    return text_file.lay_out(lines)


def _marks(plan: Plan) -> list[str]:
    """Return each day's marks."""
    decisions = plan.decisions
    fallback = np.zeros(len(plan), np.bool_)
    for moves in (decisions.open, decisions.close):
        fallback |= plan.is_open & np.isin(moves.started_by, (Rule.FALLBACK, Rule.DARK_FALLBACK))
    short = (decisions.open_shortfall > np.timedelta64(0)) | (
        decisions.night_shortfall > np.timedelta64(0)
    )
    late = plan.on_wall(plan.close_utc).wall.astype("datetime64[D]") > plan.dates
    columns = {
        "+": plan.has_clock_change,
        "*": plan.settings.in_span,
        "~": fallback,
        ">": late,
        "^": decisions.past_guard_open | decisions.past_guard_close,
        "!": short,
    }
    return ["".join(mark for mark in MARKS if columns[mark][index]) for index in range(len(plan))]


def _year(plan: Plan, year: int, marks: list[str]) -> Iterator[str]:
    """Yield one year's blocks of months side by side."""
    cells = _cells(plan)
    both = plan.door_clock is not DoorClock.WALL
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
    time = plan.site.face.width
    titles = "   ".join([f"{'open':{time}} {'close':{time}}"] * (2 if both else 1))
    clocks = "   ".join(f"{name:{2 * time + 1}}" for name in ("wall clock", "door clock"))
    yield str(year)
    for start in range(0, len(months), columns):
        block = months[start : start + columns]
        if start:
            yield ""
        yield "  ".join(month_name[month].ljust(width) for month in block)
        if both:
            yield "  ".join(f"   {clocks}".ljust(width) for _ in block)
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


def _cells(plan: Plan) -> dict[int, str]:
    """Return each day's times, as the table shows them."""
    clocks = [plan.on_wall] if plan.door_clock is DoorClock.WALL else [plan.on_wall, plan.on_door]
    face = plan.site.face
    texts = [
        list(
            zip(
                face.times(clock(plan.open_utc).wall),
                face.times(clock(plan.close_utc).wall),
                strict=True,
            )
        )
        for clock in clocks
    ]
    shut = f"{'shut':^{2 * face.width + 1}}"
    return {
        index: "   ".join(
            f"{opens:{face.width}} {closes:{face.width}}" if opens else shut
            for opens, closes in (column[index] for column in texts)
        )
        for index in range(len(plan))
    }
