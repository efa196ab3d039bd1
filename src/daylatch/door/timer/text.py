"""A timer's list as text: how good it is, and a line for each setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.door.timer.words import (
    date_text,
    day_shift,
    describe_list,
    differs_on_wall,
    evening_before,
    has_shift,
    is_repeated,
    standing_words,
    timer_clock_words,
    weekdays_text,
)
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place, describe_rules
from daylatch.wording import labelled, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.timer.timer_list import Program, TimerList
    from daylatch.files.occasion import Occasion
    from daylatch.wording import ClockFace

FIRST_LINE = "daylatch timer settings"
wrote = first_line_is(FIRST_LINE)
_LABEL = 16
_GAP = " " * 4
_SHIFT_MARK = {-1: "<", 0: "", 1: ">"}


def render(found: TimerList, occasion: Occasion) -> bytes:
    """Return the summary, the settings, the marks that occur and the caution."""
    plan = found.plan
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}",
        f"Times: {timer_clock_words(found)}; time-zone rules {zone_rules_version()}.",
        *(f"{line}." for line in describe_rules(plan.site)),
    ]
    standing = standing_words(found)
    head += [standing] * bool(standing)
    lines = [*wrapped(head), "", *labelled(describe_list(found), _LABEL), ""]
    lines += [*list_rows(found), ""]
    marks = list(list_marks(found))
    lines += [*marks, *[""] * bool(marks), *wrapped([CAUTION, NO_WEATHER])]
    return text_file.lay_out(lines)


def list_rows(found: TimerList) -> Iterator[str]:
    """Yield the heads of a list's columns and its rows."""
    kinds = [weekdays_text(kind) for kind in found.timer.kinds]
    room = max(map(len, kinds)) + 2 if len(kinds) > 1 else 0
    heads = [move.name for move in found.movements]
    face = found.plan.site.face
    # With what may stand around a time.
    time = face.width + 5
    space = " " * (16 + room)
    yield f"{space}{'':{time * len(heads)}}{found.says.worst.lower()} [min]"
    begin = "from".ljust(16) + ("days".ljust(room) if room else "")
    # Over times, which begin behind where a bracket may stand.
    above = (face.head(head).ljust(time) for head in heads)
    yield begin + "".join(above) + _GAP.join(heads)
    at_once = found.timer.at_once > 1
    for number, setting in enumerate(found.settings):
        if at_once and (number == 0 or setting.put_in == setting.first):
            yield from _visit(found, number)
        date = date_text(setting.first).ljust(16)
        if not setting.is_open:
            yield f"{date}{found.says.off}"
        for program in setting.programs:
            kind = weekdays_text(program.weekdays).ljust(room) if room else ""
            times = "".join(_cell(program, side, face).ljust(time) for side in range(len(heads)))
            late = ("-" if minutes is None else str(minutes) for minutes in program.late_min)
            under = (text.rjust(len(head)) for text, head in zip(late, heads, strict=True))
            yield f"{date}{kind}{times}{_GAP.join(under)}"
            date = " " * 16
            if differs_on_wall(program):
                yield from _wall_rows(program, room, time, face)


def _visit(found: TimerList, number: int) -> Iterator[str]:
    """Yield which settings are put in before one, and when the next are."""
    visit = next(one for one in found.visits if found.settings[number] in one)
    behind = number + len(visit)
    words = f"setting {number + 1}" if len(visit) == 1 else f"settings {number + 1} to {behind}"
    following = found.settings[behind : behind + 1]
    then = "".join(f"; the next by {evening_before(one)}" for one in following)
    yield from wrapped([f"-- put in {words} on the evening of {evening_before(visit[0])}{then}"])


def _wall_rows(program: Program, room: int, time: int, face: ClockFace) -> Iterator[str]:
    """Yield what the wall clock shows, with a line more where that changes before the next row."""
    dates = sorted({step.first for steps in program.on_wall for step in steps})
    for number, date in enumerate(dates):
        label = f"from {date}" if number else "on the wall"
        shown = [
            [step.minutes for step in steps if step.first <= date][-1] for steps in program.on_wall
        ]
        cells = (
            f" {face.aligned(face.time(minutes))}{_SHIFT_MARK[day_shift(minutes)]}"
            for minutes in shown
        )
        line = f"  {label}".ljust(16 + room) + "".join(cell.ljust(time) for cell in cells)
        yield line.rstrip()


def _cell(program: Program, side: int, face: ClockFace) -> str:
    """Return a time, in brackets where it stays as it was."""
    minutes = program.minutes[side]
    if minutes is None:
        return " -"
    text = face.time(minutes)
    around = f"({text})" if is_repeated(program, side) else f" {text}"
    return face.aligned(text).replace(text, around) + _SHIFT_MARK[day_shift(minutes)]


def list_marks(found: TimerList) -> Iterator[str]:
    """Yield what the marks of a list's rows mean, those that occur."""
    programs = [program for setting in found.settings for program in setting.programs]
    if any(
        is_repeated(program, side) for program in programs for side in range(len(found.movements))
    ):
        yield "( )  stays as it was"
    if has_shift(found, 1):
        yield ">    after midnight, on the next date"
    if has_shift(found, -1):
        yield "<    before midnight, on the date before"
    if not all(program.is_used for program in programs):
        yield "-    no such day before the next setting"
