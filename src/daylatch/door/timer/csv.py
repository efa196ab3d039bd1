"""A timer's list as CSV (RFC 4180), a row for each setting and kind of weekday."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.words import (
    day_shift,
    evening_before,
    standing_words,
    timer_clock_words,
    wall_words,
    weekdays_text,
)
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import machine_time

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.timer.movements import TimerMovement
    from daylatch.door.timer.timer_list import Program, TimerList
    from daylatch.files.occasion import Occasion


def header_of(movements: tuple[TimerMovement, ...]) -> tuple[str, ...]:
    """Return the names of the columns of a list of what a timer does."""
    return (
        "from",
        "until",
        "timer",
        "weekdays",
        *(f"{move.name}{of_it}" for move in movements for of_it in _of_movement(move)),
        "clock",
        "clock_margin_min",
        "put_in_on",
        "tried_out",
        "zone_rules",
        "caution",
    )


def _of_movement(move: TimerMovement) -> tuple[str, ...]:
    return ("", "_day", "_changes", f"_{move.wrong}_at_worst_min", "_wall")


_COLUMNS = len(_of_movement(MOVEMENTS[0]))
HEADER = header_of(MOVEMENTS)
wrote = header_is(HEADER)


def render(found: TimerList, occasion: Occasion) -> bytes:
    """Return the file: UTF-8, CRLF, times as the timer shows them.

    ``open_day`` and ``close_day`` count days from the date: 1 is after midnight. While the timer is
    off, times are empty. ``open_wall`` and ``close_wall`` are what the wall clock shows then. The
    caution stands in the first row alone.
    """
    return lay_out(HEADER, list_rows(found), CAUTION)


def list_rows(found: TimerList) -> Iterator[list[str]]:
    """Yield the rows of a list, without the caution."""
    clock = [timer_clock_words(found), str(found.timer.clock_margin_min)]
    standing = [standing_words(found), zone_rules_version()]
    off = ["off", "", *[""] * (_COLUMNS * len(found.movements))]
    for setting in found.settings:
        for cells in map(_cells, setting.programs) if setting.is_open else (off,):
            yield [
                setting.first.isoformat(),
                setting.last.isoformat(),
                *cells,
                *clock,
                evening_before(setting).isoformat(),
                *standing,
            ]


def _cells(program: Program) -> list[str]:
    cells = ["on", weekdays_text(program.weekdays)]
    for side, minutes in enumerate(program.minutes):
        if minutes is None:
            cells += [""] * _COLUMNS
            continue
        cells += [
            machine_time(minutes),
            str(day_shift(minutes)),
            "yes" if program.changes[side] else "no",
            str(program.late_min[side]),
            wall_words(program.on_wall[side], machine_time),
        ]
    return cells
