"""What is said of a timer's list, alike in every form of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.clock import DoorClock
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.plan.summary import describe_clock_changes, describe_door_clock_changes
from daylatch.site.timer import WEEKDAYS
from daylatch.wording import listed, offset_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.door.timer.timer_list import Program, TimerList, TimerSetting
    from daylatch.site.timer import Weekdays
    from daylatch.wording import ClockFace

OFF = "keep shut: switch the timer off"
"""What a setting of shut days says."""
WHEN = (
    "A setting holds from the opening of its date: make it the evening before, once the door has "
    "shut, or on the date before the door opens."
)
_SHORT = 3


def timer_clock_words(found: TimerList) -> str:
    """Return which clock a list's times are in."""
    zone = found.plan.site.zone
    match found.clock:
        case DoorClock.WALL:
            return f"the wall clock of {zone}; the timer must change to summer time by itself"
        case DoorClock.UTC:
            return "UTC, which the timer keeps all year"
        case DoorClock.STANDARD:
            offsets = sorted(set(found.plan.zone.standard_offset(found.plan.dates).tolist()))
            keeps = " or ".join(f"UTC{offset_text(np.timedelta64(one, 'm'))}" for one in offsets)
            return f"standard time of {zone} ({keeps}), which the timer keeps all year"


def weekdays_text(days: Weekdays) -> str:
    """Return weekdays briefly, such as ``Mon-Fri``."""
    runs: list[list[int]] = []
    for number in (WEEKDAYS.index(day) for day in days):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    names = [day[:_SHORT].title() for day in WEEKDAYS]
    return ", ".join(
        names[run[0]] if len(run) == 1 else f"{names[run[0]]}-{names[run[-1]]}" for run in runs
    )


def date_text(date: dt.date) -> str:
    """Return a date with its weekday, such as ``Fri 2027-01-01``."""
    return f"{WEEKDAYS[date.weekday()][:_SHORT].title()} {date}"


def day_shift(minutes: int) -> int:
    """Return on which day a time lies, counted from its date: -1 is the day before."""
    return minutes // DAY_MIN


def on_day(minutes: int | None, face: ClockFace) -> str:
    """Return a time with its day if that is another than the date's."""
    if minutes is None:
        return "as before"
    days = {-1: " (the day before)", 0: "", 1: " (next day)"}
    return face.time(minutes) + days[day_shift(minutes)]


def times_words(setting: TimerSetting, face: ClockFace) -> str:
    """Return a setting's times: ``open 07:10, close 17:40``, for each kind of weekday."""
    parts = []
    for program in setting.programs:
        if not program.is_used:
            continue
        name = f"{weekdays_text(program.weekdays)} " if len(setting.programs) > 1 else ""
        times = zip(MOVEMENTS, program.minutes, strict=True)
        parts.append(name + ", ".join(f"{move.name} {on_day(time, face)}" for move, time in times))
    return "; ".join(parts)


def late_words(setting: TimerSetting) -> str:
    """Return by how much a setting is late before the next one."""
    worst = [
        max(late for program in setting.programs if (late := program.late_min[side]) is not None)
        for side in range(len(MOVEMENTS))
    ]
    words = (f"{late} min late {move.noun}" for move, late in zip(MOVEMENTS, worst, strict=True))
    return f"at worst {listed(list(words))}"


def margin_words(found: TimerList) -> str:
    """Return while what a list is good, if it has a margin for a wrong clock; else nothing."""
    margin = found.timer.clock_margin_min
    return f"good while the timer's clock is within {margin} min of right" if margin else ""


def has_shift(found: TimerList, shift: int) -> bool:
    """Return whether some time lies on another day than its date."""
    return any(
        minutes is not None and day_shift(minutes) == shift
        for setting in found.settings
        for program in setting.programs
        for minutes in program.minutes
    )


def is_repeated(program: Program, side: int) -> bool:
    """Return whether a time stays as it was set before."""
    return program.minutes[side] is not None and not program.changes[side]


def describe_list(found: TimerList) -> Iterator[tuple[str, str]]:
    """Yield how good a list is and how it is used, each with a label."""
    margin = margin_words(found)
    yield "Changes", _counts(found)
    yield (
        "Late at worst",
        ", ".join(
            f"{move.noun} {late} min" for move, late in zip(MOVEMENTS, found.worst_min, strict=True)
        )
        + "; never early"
        + (f"; {margin}" if margin else ""),
    )
    if found.guard_cost.dates:
        yield "The guard", _guard(found)
    yield "Monthly", _monthly(found)
    yield "When", WHEN + _missed(found)
    yield "The timer", _timer(found)
    changes = list(describe_clock_changes(found.plan, found.plan.site.face))
    if changes:
        follows = found.clock is DoorClock.WALL
        does = (
            "see that the timer has changed too"
            if follows
            else "leave the timer alone: its times already count with it"
        )
        yield "Clock changes", f"{'; '.join(changes)}: {does}"
    if found.clock is DoorClock.STANDARD:
        for text in describe_door_clock_changes(found.plan):
            yield "Standard time", text
    yield (
        "Once a month",
        "hold the timer's clock against a right one: plain timers drift"
        + ("" if margin else ", and no margin for that is built in"),
    )


def _counts(found: TimerList) -> str:
    if found.timer.together:
        nouns = [move.noun for move in MOVEMENTS]
        words = f"{_dates(found.counts[0])}, {listed(nouns)} together"
    else:
        counts = zip(MOVEMENTS, found.counts, strict=True)
        words = f"{listed([f'{count} of {move.noun}' for move, count in counts])}, set apart"
    if found.comes_round:
        words += "; what holds at the end of the year holds at its beginning too, and counts once"
    return words


def _dates(count: int) -> str:
    return f"{count} date{'' if count == 1 else 's'}"


def _guard(found: TimerList) -> str:
    cost = found.guard_cost
    words = f"the tolerance is cut on {_dates(cost.dates)}, so that no closing comes after it"
    if found.timer.changes is not None:
        costs = f"{cost.late_min} min of lateness" if cost.late_min else ""
    else:
        costs = f"{cost.changes} change{'s' * (cost.changes != 1)}" if cost.changes else ""
    return f"{words}; that costs {costs or 'nothing'}"


def _monthly(found: TimerList) -> str:
    more = found.monthly_worst_min - max(found.worst_min)
    than = f"{more} min more" if more > 0 else "as much" if more == 0 else f"{-more} min less"
    dates = _dates(found.monthly_count)
    words = f"changed on the first of each month instead ({dates})"
    return f"{words}, it would be up to {found.monthly_worst_min} min late, {than}"


def _missed(found: TimerList) -> str:
    if not found.early_if_missed_min:
        return ""
    return f" Made a day late, the door moves up to {found.early_if_missed_min} min early that day."


def _timer(found: TimerList) -> str:
    timer = found.timer
    words = [f"steps of {timer.step_min} min, rounded up"]
    if timer.on == "month starts":
        words.append("changed on the first of a month")
    elif timer.on != "any":
        words.append(f"changed on {listed([day.title() for day in timer.on])}")
    if len(timer.kinds) > 1:
        # Lines may break at a hyphen.
        kinds = [weekdays_text(kind).replace("-", " to ") for kind in timer.kinds]
        words.append(f"own settings for {listed(kinds)}")
    held = "" if timer.programs is None else f" of its {timer.programs}"
    words.append(f"{timer.needed_programs}{held} programs used")
    return "; ".join(words)
