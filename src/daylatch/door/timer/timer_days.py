"""What a plain timer has to do on the days of a plan, in whole minutes on its own clock."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE, weekday_of
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.stretches import NO_LIMIT_MIN, TimerDays
from daylatch.site.timer import WEEKDAYS
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Numbers, Times
    from daylatch.door.timer.movements import TimerMovement
    from daylatch.plan.plan import Plan
    from daylatch.site.timer import Timer


DAYS_OF_A_YEAR = (365, 366)
"""A list for so many days comes round: its first setting may be its last."""


def make_days(
    plan: Plan, timer: Timer, movements: tuple[TimerMovement, ...] = MOVEMENTS
) -> TimerDays:
    """Return what the times of a timer have to do, a side for each movement.

    Times of a movement that is never late count backwards, so that late is early for all.
    """
    clock = plan.door_clock
    offset = [plan.clock_offset(clock, movement.planned(plan)) for movement in movements]
    midnight = plan.dates.astype("datetime64[m]")
    is_on = moves_on(plan, movements)
    needed = [
        _minutes(is_on, movement.sign * (movement.planned(plan) + shift - midnight))
        + timer.clock_margin_min
        for movement, shift in zip(movements, offset, strict=True)
    ]
    weekday = weekday_of(plan.dates)
    kind_of = np.empty(len(WEEKDAYS), np.int64)
    for number, names in enumerate(timer.kinds):
        kind_of[[WEEKDAYS.index(name) for name in names]] = number
    if timer.on == "any":
        may_change = np.ones(len(plan), np.bool_)
    elif timer.on == "month starts":
        may_change = begins_month(plan.dates)
    else:
        may_change = np.isin(weekday, [WEEKDAYS.index(name) for name in timer.on])
    days = TimerDays(
        np.stack(needed),
        is_on,
        may_change,
        kind_of[weekday],
        timer.step_min,
        circular=len(plan) in DAYS_OF_A_YEAR,
    )
    if timer.past_guard:
        return days
    return replace(days, limit_min=_limits(plan, timer, days, offset, movements))


def moves_on(plan: Plan, movements: tuple[TimerMovement, ...]) -> Flags:
    """Return on which days of a plan a timer makes its movements; it makes all of them or none."""
    return np.asarray(~np.isnat(movements[0].planned(plan)))


def begins_month(dates: Times) -> Flags:
    """Return which dates are the first of a month."""
    return np.asarray(dates == dates.astype("datetime64[M]").astype("datetime64[D]"))


def _limits(
    plan: Plan,
    timer: Timer,
    days: TimerDays,
    offset: list[Minutes],
    movements: tuple[TimerMovement, ...],
) -> Numbers:
    """Return beyond which setting each movement would come after the guard [min].

    By a clock that is as slow as the margin lets it be. Only a closing can: a late opening is
    further from the guard. What is planned stands, also past the guard, but no later than that.
    """
    limits = np.full_like(days.needed_min, NO_LIMIT_MIN)
    for side, movement in enumerate(movements):
        if movement.guard is None:
            continue
        instants, sky = movement.guard(plan)
        held = plan.is_open & (sky != SkyState.ALWAYS_ABOVE)
        crosses = held & (sky == SkyState.CROSSES)
        clock = instants + offset[side] - plan.dates.astype("datetime64[m]")
        minutes = _minutes(crosses, clock) - timer.clock_margin_min
        least = days.rounded_up(days.needed_min[side])
        limits[side, held] = least[held]
        limits[side, crosses] = np.maximum(minutes, least)[crosses]
    return limits


def _minutes(where: Flags, durations: Minutes) -> Numbers:
    return np.where(where, durations / MINUTE, 0).astype(np.int64)
