"""On which dates a timer is best changed, by what its keeper wants; and what the guard costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.door.timer.fewest_changes import (
    all_starts,
    fewest,
    lateness_of,
    least_in_all,
    least_late,
)
from daylatch.errors import PlanError
from daylatch.site.timer import TOLERANCE_MIN

if TYPE_CHECKING:
    from daylatch.door.timer.stretches import TimerDays
    from daylatch.site.timer import Timer


class GuardCost(NamedTuple):
    """What it costs that no closing comes after the guard, though the tolerance would let it.

    Attributes
    ----------
    dates : int
        On how many dates it would.
    changes : int
        How many more changes a list needs that keeps the guard.
    late_min : int
        By how much later the list is at worst [min], where the changes are given.
    """

    dates: int
    changes: int
    late_min: int


def best_dates(days: TimerDays, timer: Timer, side_words: str) -> list[int]:
    """Return the first days of the best list's settings.

    Parameters
    ----------
    days
        What they have to do.
    timer
        What is wanted of them.
    side_words
        Which side it is, for messages, such as `` of opening``; nothing for all together.

    Raises
    ------
    PlanError
        If there is no such list.
    """
    if timer.changes is not None:
        # As often as it may be changed, so many settings are put in at once.
        most = timer.changes * timer.at_once
        _require_changes(days, most, side_words)
    else:
        most = _fewest_of_tolerance(days, timer, side_words)
    tightest = least_late(days, most)
    assert tightest is not None
    return least_in_all(days, tightest)


def find_guard_cost(days: TimerDays, timer: Timer) -> GuardCost:
    """Return what the guard costs a list that there is."""
    free = days.without_limits
    if timer.changes is not None:
        kept, wanted = (least_late(each, timer.changes * timer.at_once) for each in (days, free))
        assert kept is not None
        assert wanted is not None
        return GuardCost(_cut_dates(days, wanted), 0, kept - wanted)
    tolerance_min = _wanted_min(timer) - 2 * timer.clock_margin_min
    counts = [len(fewest(each, tolerance_min) or ()) for each in (days, free)]
    return GuardCost(_cut_dates(days, tolerance_min), counts[0] - counts[1], 0)


def _cut_dates(days: TimerDays, tolerance_min: int) -> int:
    """Return on how many dates a limit comes before the end of a tolerance."""
    if days.limit_min is None:
        return 0
    cut = (days.limit_min < days.needed_min + tolerance_min).any(axis=0)
    return int((cut & days.is_open).sum())


def _wanted_min(timer: Timer) -> int:
    return TOLERANCE_MIN if timer.tolerance_min is None else timer.tolerance_min


def _require_changes(days: TimerDays, most: int, side_words: str) -> None:
    """Refuse so many changes if shut dates or the guard need more."""
    guarded = fewest(days, None)
    if guarded is not None and len(guarded) <= most:
        return
    settings = f"{most} setting{'s' * (most != 1)}{side_words}"
    shut = fewest(days.without_limits, None)
    assert shut is not None
    if len(shut) > most:
        raise PlanError(
            f"{settings} cannot cover dates on which the door stays shut: they need {len(shut)}, "
            "since the timer is switched off and on around them: allow more changes, or choose "
            "fewer dates"
        )
    if guarded is None:
        raise _guard_missed(side_words)
    raise PlanError(
        f"{settings} cannot keep the closing before the guard: that needs {len(guarded)}: "
        "allow more changes, or write past_guard = true under [timer], if it may close after it"
    )


def _fewest_of_tolerance(days: TimerDays, timer: Timer, side_words: str) -> int:
    """Return how few settings keep the tolerance."""
    tolerance_min = _wanted_min(timer)
    # A clock may be fast when a setting is chosen and slow when it is late.
    taken = 2 * timer.clock_margin_min
    if tolerance_min < taken:
        raise PlanError(
            f"a tolerance of {tolerance_min} min leaves nothing for a clock margin of "
            f"{timer.clock_margin_min} min: the timer's clock may be wrong by so much either "
            f"way, which takes 2 x {timer.clock_margin_min} = {taken} min: allow {taken} min "
            "or more, or a smaller clock margin"
        )
    found = fewest(days, tolerance_min - taken)
    if found is not None:
        return len(found)
    if fewest(days.without_limits, tolerance_min - taken) is not None:
        raise _guard_missed(side_words)
    least_min = lateness_of(days, all_starts(days)) + taken
    margin = f" and a clock margin of {timer.clock_margin_min} min" if taken else ""
    raise PlanError(
        f"no list{side_words} keeps a tolerance of {tolerance_min} min: on the dates that you "
        f"will change the timer, and with its steps of {timer.step_min} min{margin}, the "
        f"least is {least_min} min: allow more, or more dates, or finer steps"
    )


def _guard_missed(side_words: str) -> PlanError:
    return PlanError(
        f"no list{side_words} keeps the closing before the guard on the dates that you will change "
        "the timer: allow more dates, or write past_guard = true under [timer], if it may close "
        "after it"
    )
