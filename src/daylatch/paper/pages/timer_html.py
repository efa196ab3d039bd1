"""A timer's list as a page for browsers, which prints on one sheet and fetches nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.door.timer.words import (
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
from daylatch.paper.pages.papers import css_of
from daylatch.paper.pages.templates import get_template
from daylatch.plan.summary import describe_place

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

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
# What more is said of a clock that is not the wall's, and of a list that is tried out [pt].
_CLOCK_WORDS_PT = 50.0
_STANDING_PT = 35.0
_LARGEST_ROW_PT = 18.0
_LEAST_ROW_PT = 8.0
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
    settings = [list(_lines(found, setting)) for setting in found.settings]
    count = sum(map(len, settings))
    blocks: list[list[Line]] = [[]]
    for lines in settings:
        if count > _LINES_OF_ONE_BLOCK and len(blocks[-1]) >= count / 2:
            blocks.append([])
        blocks[-1] += lines
    caution = f"{CAUTION} {NO_WEATHER}"
    return lay_out(_GENERATOR, [found], blocks, list(describe_list(found)), caution)


def block_of(found: TimerList) -> list[Line]:
    """Return a list as one block of a page."""
    return [line for setting in found.settings for line in _lines(found, setting)]


def lay_out(
    generator: str,
    lists: Sequence[TimerList],
    blocks: list[list[Line]],
    entries: list[tuple[str, str]],
    caution: str,
    captions: tuple[str, ...] = (),
    taken_pt: float = 0.0,
) -> bytes:
    """Return the page of a list, or of several that are for one timer.

    Parameters
    ----------
    generator
        What made it.
    lists
        What is on it.
    blocks
        Its lines, beside each other.
    entries
        What stands below.
    caution
        What stands last.
    captions
        What stands above each block, if they are lists of their own.
    taken_pt
        What more the text around takes than that of a door's list [pt].

    Raises
    ------
    UsageError
        If they do not fit one sheet.
    """
    found, on_wall = lists[0], any(map(wall_differs, lists))
    plan, says, standing = found.plan, found.says, standing_words(found)
    room_pt = _ROOM_PT - _CLOCK_WORDS_PT * on_wall - _STANDING_PT * bool(standing)
    count, longest = sum(map(len, blocks)), max(map(len, blocks))
    room_pt -= taken_pt
    # Lists of their own are not shared out evenly.
    most = len(blocks) * int(room_pt / _LEAST_ROW_PT) if captions else _MOST_LINES
    if count > most or (captions and longest * _LEAST_ROW_PT > room_pt):
        raise UsageError(
            f"the list has {count} lines, and {most} fit one sheet: choose fewer "
            "dates, allow more lateness or fewer changes, or write text"
        )
    row_pt = min(_LARGEST_ROW_PT, room_pt / longest)
    font_pt = min(_font_that_fits(one, len(blocks), on_wall=on_wall) for one in lists)
    page = get_template("timer.html").render(
        generator=generator,
        paper=css_of(plan.site.settings.writing.chosen_paper),
        title=says.title,
        captions=captions,
        worst=says.worst.lower().rsplit(" ", 1),
        worst_means=says.worst_means,
        name=plan.site.name,
        dates=f"{plan.dates[0]} to {plan.dates[-1]}",
        place=describe_place(plan.site),
        clock=timer_clock_words(found),
        zone_rules=zone_rules_version(),
        blocks=blocks,
        by_weekday=len(found.timer.kinds) > 1,
        movements=[move.name for move in found.movements],
        row_pt=row_pt,
        font_pt=min(row_pt * 0.72, _LARGEST_FONT_PT, font_pt),
        on_wall=on_wall,
        standing=standing,
        several=found.timer.at_once > 1,
        entries=entries,
        caution=caution,
    )
    return page.encode()


def _font_that_fits(found: TimerList, blocks: int, *, on_wall: bool) -> float:
    """Return the largest type in which the columns of a block stand beside each other [pt]."""
    kinds = [weekdays_text(kind) for kind in found.timer.kinds]
    columns = [len(date_text(found.settings[0].first)) + 2 * (found.timer.at_once > 1), 2]
    columns += [max(map(len, kinds))] * (len(kinds) > 1)
    for _ in found.movements:
        # In brackets, or not; how late, under its head.
        columns += [found.plan.site.face.width + 2, 6]
        columns += [found.plan.site.face.width] * on_wall
    width_pt = (_WIDTH_PT - _GAP_PT * (blocks - 1)) / blocks - _PADDING_PT * len(columns)
    return width_pt / (_CHARACTER_EM * sum(columns))


def _lines(found: TimerList, setting: TimerSetting) -> Iterator[Line]:
    """Yield the lines of a setting, which no block may part: the date stands in the first."""
    date, face = date_text(setting.first), found.plan.site.face
    if found.timer.at_once > 1 and setting.put_in != setting.first:
        # It is put in with one before it.
        date = f"+ {date}"
    if not setting.is_open:
        yield Line(date, "", found.says.off, ())
    for program in setting.programs:
        cells = tuple(_cell(program, side, face) for side in range(len(found.movements)))
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
