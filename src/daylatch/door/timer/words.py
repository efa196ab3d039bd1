"""What is said of a timer's list, alike in every form of it."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.clock import DoorClock
from daylatch.plan.summary import describe_clock_changes, describe_door_clock_changes
from daylatch.site.timer import WEEKDAYS
from daylatch.wording import duration_text, listed, offset_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.door.timer.timer_list import Program, TimerList, TimerSetting, WallTimeFrom
    from daylatch.site.timer import Weekdays
    from daylatch.wording import ClockFace

WORKS_LINE = 'works = "timer" under [door]'
"""What makes a list's times those that are due."""
_SHORT = 3
# So many differences of the clocks are told: those of two years.
_MOST_DIFFERENCES = 5


def timer_clock_words(found: TimerList) -> str:
    """Return which clock a list's times are in."""
    zone = found.plan.site.zone
    match found.clock:
        case DoorClock.WALL:
            return f"the wall clock of {zone}; the timer must change to summer time by itself"
        case DoorClock.UTC:
            return "UTC, which the timer keeps all year"
        case DoorClock.STANDARD:
            keeps = _standard_offsets(found)
            return f"standard time of {zone} ({keeps}), which the timer keeps all year"


def standing_words(found: TimerList) -> str:
    """Return why a list's times are not what is due, and what would make them so; else nothing."""
    makes = f"For these times to hold, it has to say: {'; '.join(found.tried_out)}."
    works = found.plan.site.settings.door.works
    if not found.tried_out:
        return ""
    if found.tried_out == (WORKS_LINE,):
        return (
            "These are not the due times (when the door will really move): the site file says "
            f'works = "{works}" under [door]. {makes}'
        )
    return f"Tried out: the site file says otherwise. {makes}"


def clock_to_keep(found: TimerList) -> str:
    """Return what clock a timer has to be put to, and how that differs from the kitchen clock."""
    plan = found.plan
    if found.clock is DoorClock.WALL:
        return "set it to the kitchen clock; it must change to summer time with it"
    keeps = "UTC" if found.clock is DoorClock.UTC else f"standard time ({_standard_offsets(found)})"
    ahead = plan.on_door(plan.sun.transit).offset - plan.on_wall(plan.sun.transit).offset
    begins = [0, *(np.flatnonzero(np.diff(ahead)) + 1).tolist()]
    runs = list(pairwise([*begins, len(plan)]))
    parts = [
        f"from {plan.dates[begin]} to {plan.dates[behind - 1]} "
        f"{_beside_kitchen_clock(int(ahead[begin] // MINUTE))}"
        for begin, behind in runs[:_MOST_DIFFERENCES]
    ]
    more = ", and so on" if len(runs) > _MOST_DIFFERENCES else ""
    return f"set it to {keeps}: {', '.join(parts)}{more}"


def _beside_kitchen_clock(ahead_min: int) -> str:
    if ahead_min == 0:
        return "that is the same as the kitchen clock"
    way = "ahead of" if ahead_min > 0 else "behind"
    hours, rest = divmod(abs(ahead_min), 60)
    by = duration_text(abs(ahead_min)) if rest else f"{hours} h"
    return f"that is {by} {way} the kitchen clock"


def _standard_offsets(found: TimerList) -> str:
    offsets = sorted(set(found.plan.zone.standard_offset(found.plan.dates).tolist()))
    return " or ".join(f"UTC{offset_text(np.timedelta64(one, 'm'))}" for one in offsets)


def wall_differs(found: TimerList) -> bool:
    """Return whether the wall clock shows another time than the timer's at some movement."""
    return any(differs_on_wall(one) for setting in found.settings for one in setting.programs)


def differs_on_wall(program: Program) -> bool:
    """Return whether the wall clock shows another time than the timer's at some movement of it."""
    return any(
        shown.minutes != minutes
        for steps, minutes in zip(program.on_wall, program.minutes, strict=True)
        for shown in steps
    )


def wall_words(steps: tuple[WallTimeFrom, ...], show: Callable[[int], str]) -> str:
    """Return what the wall clock shows: ``07:10, from 2027-03-28 08:10``."""
    first, *others = steps
    return ", ".join(
        [show(first.minutes), *(f"from {one.first} {show(one.minutes)}" for one in others)]
    )


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


def evening_before(setting: TimerSetting) -> dt.date:
    """Return the date on whose evening a setting is put in."""
    return setting.put_in - dt.timedelta(days=1)


def day_shift(minutes: int) -> int:
    """Return on which day a time lies, counted from its date: -1 is the day before."""
    return minutes // DAY_MIN


def on_day(minutes: int | None, face: ClockFace) -> str:
    """Return a time with its day if that is another than the date's."""
    if minutes is None:
        return "as before"
    days = {-1: " (the day before)", 0: "", 1: " (next day)"}
    return face.time(minutes) + days[day_shift(minutes)]


def times_words(found: TimerList, setting: TimerSetting) -> str:
    """Return a setting's times: ``open 07:10, close 17:40``, for each kind of weekday."""
    face, parts = found.plan.site.face, []
    for program in setting.programs:
        if not program.is_used:
            continue
        name = f"{weekdays_text(program.weekdays)} " if len(setting.programs) > 1 else ""
        times = zip(found.movements, program.minutes, strict=True)
        parts.append(name + ", ".join(f"{move.name} {on_day(time, face)}" for move, time in times))
    return "; ".join(parts)


def late_words(found: TimerList, setting: TimerSetting) -> str:
    """Return by how much a setting is late before the next one."""
    worst = [
        max(late for program in setting.programs if (late := program.late_min[side]) is not None)
        for side in range(len(found.movements))
    ]
    sides = zip(found.movements, worst, strict=True)
    if _goes_both_ways(found):
        words = [f"{move.noun} {late} min {move.wrong}" for move, late in sides]
    else:
        words = [f"{late} min {move.wrong} {move.noun}" for move, late in sides]
    return f"at worst {listed(words)}"


def _goes_both_ways(found: TimerList) -> bool:
    return len({move.sign for move in found.movements}) > 1


def margin_words(found: TimerList) -> str:
    """Return for how wrong a clock a list is good, if it has a margin; else nothing."""
    margin = found.timer.clock_margin_min
    return f"good as long as the timer's clock is at most {margin} min wrong" if margin else ""


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
    both_ways = _goes_both_ways(found)
    yield "Changes", _counts(found)
    if found.timer.at_once > 1:
        yield "Put in", _visits(found)
    first = found.settings[0].first
    if first < found.plan.dates[0].item():
        yield "First row", f"it holds since {date_text(first)}, before the first of these dates"
    yield (
        found.says.worst,
        ", ".join(
            f"{move.noun} {late} min{f' {move.wrong}' if both_ways else ''}"
            for move, late in zip(found.movements, found.worst_min, strict=True)
        )
        + f"; {found.says.never}"
        + (f"; {margin}" if margin else ""),
    )
    if found.guard_cost.dates:
        yield "The guard", _guard(found)
    yield "Monthly", _monthly(found)
    yield "When", found.says.when + _missed(found)
    yield "The timer", _timer(found)
    yield "Its clock", clock_to_keep(found)
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
    yield "Power cut", found.says.after_a_power_cut
    yield (
        "Once a month",
        "compare the timer's clock with one that is right: plain timers drift"
        + ("" if margin else ", and this list has no margin for that"),
    )


def _counts(found: TimerList) -> str:
    if found.timer.together:
        nouns = [move.noun for move in found.movements]
        words = f"{_dates(found.counts[0])}, {listed(nouns)} together"
    else:
        counts = zip(found.movements, found.counts, strict=True)
        words = f"{listed([f'{count} of {move.noun}' for move, count in counts])}, set apart"
    if len(found.years) > 1 or _is_part(found):
        whole = [f"{_all_counts(year)} in {year.plan.dates[0].item().year}" for year in found.years]
        words += f"; lists are counted by calendar years: {listed(whole)}"
    if found.comes_round:
        words += "; the last setting of the year holds on into the next, and counts once"
    return words


def _all_counts(found: TimerList) -> str:
    return " + ".join(map(str, found.counts))


def _visits(found: TimerList) -> str:
    visits = found.visits
    return (
        f"{len(visits)} times, up to {found.timer.at_once} settings at once, each with its dates; "
        "by calendar years"
    )


def _dates(count: int) -> str:
    return f"{count} date{'' if count == 1 else 's'}"


def _guard(found: TimerList) -> str:
    cost = found.guard_cost
    words = (
        f"the door may be less late on {_dates(cost.dates)}{_of_years(found)}, so that it does not "
        "close after the guard, when predators hunt"
    )
    if found.timer.changes is not None:
        costs = f"{cost.late_min} min of lateness" if cost.late_min else ""
    else:
        costs = f"{cost.changes} change{'s' * (cost.changes != 1)}" if cost.changes else ""
    return f"{words}; that costs {costs or 'nothing'}"


def _of_years(found: TimerList) -> str:
    """Return which years something is counted for, if they are more than the list's dates."""
    if not _is_part(found):
        return ""
    return f" of {listed([str(year.plan.dates[0].item().year) for year in found.years])}"


def _is_part(found: TimerList) -> bool:
    return sum(len(year.plan) for year in found.years) > len(found.plan)


def _monthly(found: TimerList) -> str:
    more = found.monthly_worst_min - max(found.worst_min)
    than = f"{more} min more" if more > 0 else "as much" if more == 0 else f"{-more} min less"
    dates = _dates(found.monthly_count)
    words = f"if you changed it on the first of each month instead ({dates})"
    return f"{words}, it would be up to {found.monthly_worst_min} min {found.says.late}, {than}"


def _missed(found: TimerList) -> str:
    if not found.early_if_missed_min:
        return ""
    return found.says.missed.format(found.early_if_missed_min)


def _timer(found: TimerList) -> str:
    timer = found.timer
    words = [f"steps of {timer.step_min} min, {found.says.rounded}"]
    if timer.on == "month starts":
        words.append("changed on the first of a month")
    elif timer.on != "any":
        words.append(f"changed on {listed([day.title() for day in timer.on])}")
    if len(timer.kinds) > 1:
        # Lines may break at a hyphen.
        kinds = [weekdays_text(kind).replace("-", " to ") for kind in timer.kinds]
        words.append(f"own settings for {listed(kinds)}")
    held = "" if timer.programs is None else f" of its {timer.programs}"
    words.append(f"{timer.needed_programs * timer.at_once}{held} programs used")
    return "; ".join(words)
