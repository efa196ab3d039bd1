"""The door times of every day in the report, months side by side."""

from __future__ import annotations

import datetime as dt
from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import DoorClock
from daylatch.paper.pages.page_parts import DayCell, DayTable, Paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.arrays import Times
    from daylatch.clock import LocalTimes
    from daylatch.paper.pages.page_parts import Part
    from daylatch.plan.due import Due

# So many columns fit the width of a printed page; half a year of two a month fills half of it.
_MOST_COLUMNS = 18
_MOST_MONTHS = 6
_SHIFT_MARK = {-1: "<", 1: ">"}
_SHIFT_WORDS = {
    "<": "< stands behind times before midnight, on the date before",
    ">": "> stands behind times after midnight, on the next date",
}


def door_times(due: Due) -> Iterator[Part]:
    """Yield the due times of every day, beside them the planned ones and the door's own clock's.

    They stand there only where they differ.
    """
    plan = due.plan
    told = (due.told_open_utc, due.told_close_utc)
    pairs = [("", _texts(due, plan.on_wall, told))]
    if due.differs.any():
        planned = (plan.open_utc, plan.close_utc)
        pairs.append((" as planned", _texts(due, plan.on_wall, planned)))
    if plan.door_clock is not DoorClock.WALL:
        pairs.append((" by the door's clock", _texts(due, plan.on_door, told)))
    heads = tuple(f"{word}{of}" for of, _ in pairs for word in ("opens", "closes"))
    rows = {date: row for row, date in enumerate(plan.dates.tolist())}
    months = list(dict.fromkeys((date.year, date.month) for date in rows))
    abreast = min(_MOST_MONTHS, _MOST_COLUMNS // len(heads))
    for start in range(0, len(months), abreast):
        block = months[start : start + abreast]
        yield _block(block, heads, rows, [texts for _, texts in pairs])
    shown = "".join(text for _, texts in pairs for column in texts for text in column)
    notes = [words for mark, words in _SHIFT_WORDS.items() if mark in shown]
    if notes:
        yield Paragraph(f"{'; '.join(notes)}.")


def _block(
    months: list[tuple[int, int]],
    heads: tuple[str, ...],
    rows: dict[dt.date, int],
    pairs: list[tuple[list[str], ...]],
) -> DayTable:
    titles = [f"{month_name[month]} {year}" for year, month in months]
    caption = titles[0] if len(titles) == 1 else f"{titles[0]} to {titles[-1]}"
    table = DayTable(f"Door times, {caption}", titles, heads)
    for number in range(1, 32):
        here = [_row_of(rows, month, number) for month in months]
        if any(row is not None for row in here):
            cells = [cell for row in here for cell in _cells(row, pairs, len(heads))]
            table.rows.append((str(number), cells))
    return table


def _row_of(rows: dict[dt.date, int], month: tuple[int, int], number: int) -> int | None:
    try:
        return rows.get(dt.date(*month, number))
    except ValueError:
        return None


def _cells(row: int | None, pairs: list[tuple[list[str], ...]], columns: int) -> Iterator[DayCell]:
    if row is None:
        yield DayCell("", columns, begins=True)
        return
    for place, (opens, closes) in enumerate(pairs):
        if opens[row]:
            yield DayCell(opens[row], begins=place == 0)
            yield DayCell(closes[row])
        else:
            yield DayCell("shut", 2, begins=place == 0)


def _texts(
    due: Due, clock: Callable[[Times], LocalTimes], instants: tuple[Times, Times]
) -> tuple[list[str], ...]:
    """Return times of day with a mark where they lie on another date; empty without one."""
    found = []
    for times in instants:
        wall = clock(times).wall
        shifts = (wall.astype("datetime64[D]") - due.plan.dates).astype(np.int64).tolist()
        texts = due.plan.site.face.times(wall)
        found.append(
            [
                f"{text}{_SHIFT_MARK.get(shift, '')}" if text else ""
                for text, shift in zip(texts, shifts, strict=True)
            ]
        )
    return tuple(found)
