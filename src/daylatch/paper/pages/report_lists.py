"""What the report says of the lists that timers are set by: the door's, and the lamp's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.lamp_list.words import describe_lamp_list, lamp_words
from daylatch.cautions import LAMP_CAUTION
from daylatch.door.timer.words import describe_list, timer_clock_words, wall_differs
from daylatch.paper.pages.page_parts import Column, Entries, PageTable, Paragraph
from daylatch.paper.pages.timer_html import block_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.door.timer.timer_list import TimerList
    from daylatch.paper.pages.page_parts import Part
    from daylatch.paper.pages.timer_html import Cell, Line


def timer_list(found: TimerList) -> Iterator[Part]:
    """Yield the list of the door's timer, and how it is used."""
    yield Paragraph(f"Times: {timer_clock_words(found)}.")
    yield _table(found, "Settings of the door's timer")
    yield Paragraph(_marks(found))
    yield Entries(list(describe_list(found)))


def lamp_list(found: LampList) -> Iterator[Part]:
    """Yield the list of the lamp's timer, burn by burn, and how it is used."""
    lists = [one for _, one in found.burns]
    yield Paragraph(f"{lamp_words(found)} Times: {timer_clock_words(lists[0])}.")
    for burn, one in found.burns:
        yield _table(one, f"Settings of the lamp's timer: {burn.title}")
    yield Paragraph(_marks(lists[0]))
    yield Entries(list(describe_lamp_list(found)))
    yield Paragraph(LAMP_CAUTION)


def _marks(found: TimerList) -> str:
    several = " A row with + is put in with the one above it." if found.timer.at_once > 1 else ""
    return f"{found.says.worst_means} A time in brackets stays as it was.{several}"


def _table(found: TimerList, caption: str) -> PageTable:
    by_weekday, on_wall = len(found.timer.kinds) > 1, wall_differs(found)
    columns = [Column("From", "date")]
    if by_weekday:
        columns.append(Column("Days", "date"))
    for move in found.movements:
        columns.append(Column(move.name.capitalize(), "number"))
        if on_wall:
            columns.append(Column("On the wall"))
        columns.append(Column(f"{found.says.worst} [min]", "number"))
    rows, date = [], ""
    for line in block_of(found):
        # Each row is named, also that of another kind of weekday.
        date = line.date or date
        rows.append(_row(line, date, len(columns), by_weekday=by_weekday, on_wall=on_wall))
    return PageTable(caption, tuple(columns), rows)


def _row(
    line: Line, date: str, columns: int, *, by_weekday: bool, on_wall: bool
) -> tuple[str, ...]:
    cells = [date, *[line.weekdays] * by_weekday]
    if line.off:
        cells.append(line.off)
    for cell in line.cells:
        cells.append(_time(cell))
        if on_wall:
            cells.append(", ".join(cell.wall))
        cells.append(cell.late)
    return (*cells, *[""] * (columns - len(cells)))


def _time(cell: Cell) -> str:
    text = f"({cell.text})" if cell.repeated else cell.text
    return f"{text} {cell.day}".rstrip()
