"""A timer's list as a page for browsers, which prints on one sheet and fetches nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.words import (
    OFF,
    date_text,
    day_shift,
    describe_list,
    is_repeated,
    standing_words,
    timer_clock_words,
    wall_differs,
    weekdays_text,
)
from daylatch.errors import UsageError
from daylatch.files.own import page_is_by
from daylatch.paper.pages.templates import get_template
from daylatch.plan.summary import describe_place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.timer.timer_list import Program, TimerList, TimerSetting
    from daylatch.files.occasion import Occasion
    from daylatch.wording import ClockFace

_GENERATOR = "daylatch timer list"
wrote = page_is_by(_GENERATOR)
# What fits a sheet of either paper, with rows that are still read at arm's length; the tests print
# pages that are this full.
_LINES_OF_ONE_BLOCK = 24
_MOST_LINES = 80
# Room for the rows of a block, heads left out [pt], and the largest a row may be.
_ROOM_PT = 430.0
_LARGEST_ROW_PT = 18.0
_LARGEST_FONT_PT = 11.0
# The width of the sheet, what lies between two blocks and between two columns [pt], and that of a
# character, digits being the widest that a list is made of [em].
_WIDTH_PT = 527.0
_GAP_PT = 14.0
_PADDING_PT = 4.0
_CHARACTER_EM = 0.64


class Cell(NamedTuple):
    """A time on the page."""

    text: str
    day: str
    repeated: bool
    late: str
    wall: tuple[str, ...]


class Line(NamedTuple):
    """A line of the list."""

    date: str
    weekdays: str
    off: str
    cells: tuple[Cell, ...]


def render(found: TimerList, occasion: Occasion) -> bytes:
    """Return the page.

    Raises
    ------
    UsageError
        If the list does not fit one sheet.
    """
    face = found.plan.site.face
    several = found.timer.at_once > 1
    settings = [list(_lines(setting, face, several=several)) for setting in found.settings]
    count = sum(map(len, settings))
    if count > _MOST_LINES:
        raise UsageError(
            f"the list has {count} lines, and {_MOST_LINES} fit one sheet: choose fewer "
            "dates, allow more lateness or fewer changes, or write text"
        )
    blocks: list[list[Line]] = [[]]
    for lines in settings:
        if count > _LINES_OF_ONE_BLOCK and len(blocks[-1]) >= count / 2:
            blocks.append([])
        blocks[-1] += lines
    row_pt = min(_LARGEST_ROW_PT, _ROOM_PT / max(map(len, blocks)))
    plan = found.plan
    page = get_template("timer.html").render(
        generator=_GENERATOR,
        name=plan.site.name,
        dates=f"{plan.dates[0]} to {plan.dates[-1]}",
        place=describe_place(plan.site),
        clock=timer_clock_words(found),
        zone_rules=zone_rules_version(),
        blocks=blocks,
        by_weekday=len(found.timer.kinds) > 1,
        movements=[move.name for move in MOVEMENTS],
        row_pt=row_pt,
        font_pt=min(row_pt * 0.72, _LARGEST_FONT_PT, _font_that_fits(found, len(blocks))),
        on_wall=wall_differs(found),
        standing=standing_words(found),
        several=several,
        entries=list(describe_list(found)),
        caution=f"{CAUTION} {NO_WEATHER}",
    )
    return page.encode()


def _font_that_fits(found: TimerList, blocks: int) -> float:
    """Return the largest type in which the columns of a block stand beside each other [pt]."""
    kinds = [weekdays_text(kind) for kind in found.timer.kinds]
    columns = [len(date_text(found.settings[0].first)) + 2 * (found.timer.at_once > 1), 2]
    columns += [max(map(len, kinds))] * (len(kinds) > 1)
    for _ in MOVEMENTS:
        # In brackets, or not; how late, under its head.
        columns += [found.plan.site.face.width + 2, 6]
        columns += [found.plan.site.face.width] * wall_differs(found)
    width_pt = (_WIDTH_PT - _GAP_PT * (blocks - 1)) / blocks - _PADDING_PT * len(columns)
    return width_pt / (_CHARACTER_EM * sum(columns))


def _lines(setting: TimerSetting, face: ClockFace, *, several: bool) -> Iterator[Line]:
    """Yield the lines of a setting, which no block may part: the date stands in the first."""
    date = date_text(setting.first)
    if several and setting.put_in != setting.first:
        # It is put in with one before it.
        date = f"+ {date}"
    if not setting.is_open:
        yield Line(date, "", OFF, ())
    for program in setting.programs:
        cells = tuple(_cell(program, side, face) for side in range(len(MOVEMENTS)))
        yield Line(date, weekdays_text(program.weekdays), "", cells)
        date = ""


def _cell(program: Program, side: int, face: ClockFace) -> Cell:
    minutes = program.minutes[side]
    if minutes is None:
        return Cell("-", "", False, "-", ())
    day = {-1: "day before", 0: "", 1: "next day"}[day_shift(minutes)]
    first, *others = program.on_wall[side]
    wall = (
        face.time(first.minutes),
        *(f"from {one.first:%m-%d}: {face.time(one.minutes)}" for one in others),
    )
    late = str(program.late_min[side])
    return Cell(face.time(minutes), day, is_repeated(program, side), late, wall)
