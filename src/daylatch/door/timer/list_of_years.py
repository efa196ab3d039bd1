"""A timer's list for any dates, taken from the lists of calendar years.

Lists are counted from 1 January to 31 December, so that what is due on a date hangs on the site
file and the date alone, whatever dates are asked for.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.timer.list_words import DOOR_WORDS, ListWords
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.timer_days import moves_on
from daylatch.door.timer.timer_list import (
    TimerList,
    make_resting_list,
    make_timer_list,
    refuse_many_days,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from daylatch.door.timer.movements import TimerMovement
    from daylatch.door.timer.timer_list import Program, TimerSetting
    from daylatch.plan.plan import Plan
    from daylatch.site.timer import Timer


def list_of_years(
    plan: Plan,
    timer: Timer,
    years: Iterable[Plan],
    tried_out: Sequence[str] = (),
    movements: tuple[TimerMovement, ...] = MOVEMENTS,
    says: ListWords = DOOR_WORDS,
) -> TimerList:
    """Return the settings that touch a plan's dates, each from its own first date to its last.

    Parameters
    ----------
    plan
        Of the dates that are asked for.
    timer
        What the timer can do, and what is wanted.
    years
        The plan of each calendar year that it touches, from `daylatch.door.works.years`.
    tried_out, movements, says
        As `TimerList` has them.

    Raises
    ------
    PlanError
        If a year has no list, or for too many dates.
    """
    refuse_many_days(plan)
    # A year without any movement is one setting of a list that has some.
    some = moves_on(plan, movements).any()
    lists = tuple(
        make_timer_list(year, timer, movements, says)
        if not some or moves_on(year, movements).any()
        else make_resting_list(year, timer, movements, says)
        for year in years
    )
    first, last = plan.dates[[0, -1]].tolist()
    settings = tuple(
        setting for setting in _in_order(lists) if setting.last >= first and setting.first <= last
    )
    dates = np.concatenate([one.plan.dates for one in lists])
    inside = np.isin(dates, plan.dates)
    columns = zip(*(one.moved_utc for one in lists), strict=True)
    whole = len(settings) == sum(len(one.settings) for one in lists)
    return TimerList(
        plan=plan,
        timer=timer,
        settings=settings,
        counts=_sums(lists) if whole else _counts(timer, settings, len(movements)),
        comes_round=any(one.comes_round for one in lists),
        worst_min=tuple(_worst(settings, side) for side in range(len(movements))),
        monthly_count=sum(one.monthly_count for one in lists),
        monthly_worst_min=max(one.monthly_worst_min for one in lists),
        early_if_missed_min=max(one.early_if_missed_min for one in lists),
        moved_utc=tuple(np.concatenate(column)[inside] for column in columns),
        years=lists,
        tried_out=tuple(tried_out),
        movements=movements,
        says=says,
    )


def _in_order(lists: Sequence[TimerList]) -> Iterator[TimerSetting]:
    """Yield the settings of all years; what stays as it was at the turn of a year is marked so."""
    held: dict[int, tuple[int | None, ...]] = {}
    for setting in (setting for one in lists for setting in one.settings):
        programs = []
        for kind, program in enumerate(setting.programs):
            programs.append(_after(program, held.get(kind)))
            if program.is_used:
                held[kind] = program.minutes
        yield replace(setting, programs=tuple(programs))


def _after(program: Program, held: tuple[int | None, ...] | None) -> Program:
    if held is None or not program.is_used:
        return program
    changes = tuple(old != new for old, new in zip(held, program.minutes, strict=True))
    return program._replace(changes=changes)


def _sums(lists: Sequence[TimerList]) -> tuple[int, ...]:
    return tuple(map(sum, zip(*(one.counts for one in lists), strict=True)))


def _counts(timer: Timer, settings: Sequence[TimerSetting], sides: int) -> tuple[int, ...]:
    """Return how many of some settings there are, or of each movement, the first one counted."""
    if timer.together:
        return (len(settings),)
    return tuple(
        sum(
            number == 0
            or not setting.is_open
            or any(program.changes[side] for program in setting.programs)
            for number, setting in enumerate(settings)
        )
        for side in range(sides)
    )


def _worst(settings: Sequence[TimerSetting], side: int) -> int:
    late = (program.late_min[side] for setting in settings for program in setting.programs)
    return max((minutes for minutes in late if minutes is not None), default=0)
