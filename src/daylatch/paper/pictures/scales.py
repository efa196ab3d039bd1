"""The scale of dates under a chart: days, weeks, months, quarters or years, as there is room."""

from __future__ import annotations

import datetime as dt
from calendar import month_abbr
from typing import TYPE_CHECKING, NamedTuple

from daylatch.paper.pictures.style import FAINT, INK, NORMAL, SMALL, text_width

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.paper.pictures.style import Panel

DEPTH = 24.0
"""What a scale takes under its panel [pt]."""
_AIR = 3.0
_SHORTEST_MONTH_DAYS = 28


class Cell(NamedTuple):
    """A stretch of a scale of dates: its first day, the day after its last, and its name."""

    start: int
    end: int
    label: str


class DateScale(NamedTuple):
    """A scale of dates.

    Attributes
    ----------
    cells, groups : list of Cell
        Days or weeks within months, or months or quarters within years, or years by themselves.
    """

    cells: list[Cell]
    groups: list[Cell]


class DrawnDates:
    """A range of dates, to be cut into stretches.

    Parameters
    ----------
    first
        The first day's date.
    days
        How many days.
    first_weekday
        With which day weeks begin, counted from Monday, which is 0.
    """

    def __init__(self, first: dt.date, days: int, first_weekday: int) -> None:
        self.first_weekday = first_weekday
        self.dates = [first + dt.timedelta(days=number) for number in range(days)]

    def _cut(
        self, begins: Callable[[dt.date], bool], name: Callable[[dt.date, dt.date], str]
    ) -> list[Cell]:
        starts = [n for n, date in enumerate(self.dates) if n == 0 or begins(date)]
        return [
            Cell(start, end, name(self.dates[start], self.dates[end - 1]))
            for start, end in zip(starts, [*starts[1:], len(self.dates)], strict=True)
        ]

    def days(self) -> list[Cell]:
        """Return days, each by its number in the month."""
        return self._cut(lambda date: True, lambda first, last: str(first.day))

    def weeks(self) -> list[Cell]:
        """Return weeks."""
        return self._cut(
            lambda date: date.weekday() == self.first_weekday,
            lambda first, last: _from_to(str(first.day), str(last.day)),
        )

    def months(self, *, with_year: bool) -> list[Cell]:
        """Return calendar months."""
        return self._cut(
            lambda date: date.day == 1,
            lambda first, last: month_abbr[first.month] + (f" {first.year}" if with_year else ""),
        )

    def quarters(self) -> list[Cell]:
        """Return quarters of the calendar year."""
        return self._cut(
            lambda date: date.day == 1 and date.month % 3 == 1,
            lambda first, last: _from_to(month_abbr[first.month], month_abbr[last.month]),
        )

    def years(self) -> list[Cell]:
        """Return calendar years."""
        return self._cut(
            lambda date: (date.month, date.day) == (1, 1), lambda first, last: str(first.year)
        )


def _from_to(first: str, last: str) -> str:
    return first if first == last else f"{first}\N{EN DASH}{last}"


def date_text(date: dt.date, *, year: bool = True) -> str:
    """Return a date as it is written in pictures: ``28 Mar 2027``."""
    return f"{date.day} {month_abbr[date.month]}" + (f" {date.year}" if year else "")


def date_scale(calendar: DrawnDates, room: float) -> DateScale:
    """Return the finest scale whose names have room, of so many points for all days."""
    day = room / len(calendar.dates)

    def fits(cells: list[Cell]) -> bool:
        # Those at the ends may be cut off.
        whole = cells[1:-1] or cells
        return all(
            text_width(cell.label, NORMAL) + _AIR <= (cell.end - cell.start) * day for cell in whole
        )

    for cut, groups in (
        (calendar.days, calendar.months(with_year=True)),
        (calendar.weeks, calendar.months(with_year=True)),
        (lambda: calendar.months(with_year=False), calendar.years()),
        (calendar.quarters, calendar.years()),
    ):
        cells = cut()
        if len(cells) * _AIR <= room and fits(cells):
            return DateScale(cells, groups)
    return DateScale(calendar.years(), [])


def total_cells(calendar: DrawnDates, room: float, widest: float) -> list[Cell]:
    """Return the shortest stretches, from a month on, under which a number has room [pt]."""
    month = room / len(calendar.dates) * _SHORTEST_MONTH_DAYS
    if widest + _AIR <= month:
        return calendar.months(with_year=True)
    return calendar.quarters() if widest + _AIR <= 3 * month else calendar.years()


def draw_dates(panel: Panel, scale: DateScale) -> None:
    """Draw a scale of dates under a panel."""
    bottom = panel.box.bottom
    for cells, tick, down, size, colour in (
        (scale.cells, 4.0, 10.5, NORMAL, INK),
        (scale.groups, 13.0, 20.0, SMALL, FAINT),
    ):
        for cell in cells:
            left, right = panel.x(cell.start), panel.x(cell.end)
            if cell.start:
                panel.picture.line([left, left], [bottom - tick, bottom], linewidth=0.5)
            if text_width(cell.label, size) <= right - left:
                panel.picture.write(
                    (left + right) / 2,
                    bottom - down,
                    cell.label,
                    size=size,
                    across="center",
                    colour=colour,
                )
