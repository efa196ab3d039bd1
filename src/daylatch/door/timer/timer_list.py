"""When to change a plain timer, and to what, so that it keeps to the plan as well as it can.

A timer moves the door at the same times every day until a person changes them. Its times are never
before the planned minute, nor before it and a margin for a timer's clock that goes fast; how late
they get, also by a clock that goes slow, is what a list of settings is chosen by. A setting
holds from the opening of its date on, so it is made between the closing before and that opening.
``docs/decisions/0011-timer-settings.md`` says why.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY, MINUTE
from daylatch.door.timer.best_dates import GuardCost, best_dates, find_guard_cost
from daylatch.door.timer.fewest_changes import lateness_of, settings_of
from daylatch.door.timer.list_words import DOOR_WORDS, ListWords
from daylatch.door.timer.movements import MOVEMENTS
from daylatch.door.timer.timer_days import begins_month, make_days
from daylatch.errors import PlanError
from daylatch.plan.daily.rules import NEVER

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.arrays import Flags, Numbers, Times
    from daylatch.clock import DoorClock
    from daylatch.door.timer.movements import TimerMovement
    from daylatch.door.timer.stretches import TimerDays
    from daylatch.plan.plan import Plan
    from daylatch.site.timer import Timer, Weekdays


MOST_DAYS = 3660
"""How many days a list may cover: ten years."""


class WallTimeFrom(NamedTuple):
    """What the wall clock shows at a movement from some date on [min], counted as in `Program`."""

    first: dt.date
    minutes: int


class Program(NamedTuple):
    """The times of some weekdays in a setting.

    Attributes
    ----------
    weekdays : tuple of str
        The days that have these times.
    minutes : tuple of int or None
        Of each movement, on the timer's clock, counted from the date's midnight: below 0 on
        the day before, from 1440 on the next day. None where no such day comes before the next
        setting.
    late_min : tuple of int or None
        By how much each is late at worst [min] before the next setting, by a clock that is as slow
        as the clock margin lets it be.
    changes : tuple of bool
        Whether each is another than in the setting before.
    on_wall : tuple of tuple of WallTimeFrom
        What the wall clock shows at each, and again from where that changes before the next
        setting; nothing where no such day comes.
    """

    weekdays: Weekdays
    minutes: tuple[int | None, ...]
    late_min: tuple[int | None, ...]
    changes: tuple[bool, ...]
    on_wall: tuple[tuple[WallTimeFrom, ...], ...]

    @property
    def is_used(self) -> bool:
        """Whether one of its weekdays comes before the next setting."""
        return None not in self.minutes


@dataclass(frozen=True)
class TimerSetting:
    """What the timer is set to from one date to another.

    Attributes
    ----------
    first, last : date
        The first and last date that it holds on.
    programs : tuple of Program
        Times by kind of weekday; none while the door stays shut.
    put_in : date
        For which date's opening it is put in: its first, or that of a setting before it which is
        put in at once with it.
    """

    first: dt.date
    last: dt.date
    programs: tuple[Program, ...]
    put_in: dt.date

    @property
    def is_open(self) -> bool:
        """Whether the door opens on its dates; if not, the timer is off."""
        return bool(self.programs)


@dataclass(frozen=True, eq=False)
class TimerList:
    """A list of settings, and how good it is.

    Attributes
    ----------
    plan : Plan
        What it keeps to.
    timer : Timer
        What the timer can do, and what the keeper wants.
    settings : tuple of TimerSetting
        In the order of their dates; each holds until the next.
    counts : tuple of int
        How many changes there are: together, or of each movement. A setting that holds over
        the end of a year counts once.
    comes_round : bool
        Whether one does: the first setting is then also the last.
    worst_min : tuple of int
        By how much each movement is late at worst [min].
    monthly_count, monthly_worst_min : int
        How many settings a list has that changes on the first of each month, and how late it gets.
    early_if_missed_min : int
        By how much the door moves early at most if a setting is made one day too late [min], by a
        clock that is as fast as the clock margin lets it be.
    moved_utc : tuple of datetime64[m]
        When the timer makes each movement on each day of the plan, by a clock that is right;
        NaT on days the door stays shut.
    years : tuple of TimerList
        The lists of the calendar years that it is taken from; none if it was made for itself.
    tried_out : tuple of str
        What the site file would have to say for the list to be the one it means.
    movements : tuple of TimerMovement
        What the timer does each day.
    says : ListWords
        What is said of those.
    """

    plan: Plan
    timer: Timer
    settings: tuple[TimerSetting, ...]
    counts: tuple[int, ...]
    comes_round: bool
    worst_min: tuple[int, ...]
    monthly_count: int
    monthly_worst_min: int
    early_if_missed_min: int
    moved_utc: tuple[Times, ...]
    years: tuple[TimerList, ...] = ()
    tried_out: tuple[str, ...] = ()
    movements: tuple[TimerMovement, ...] = MOVEMENTS
    says: ListWords = DOOR_WORDS

    @property
    def visits(self) -> list[list[TimerSetting]]:
        """The settings that are put in at once, in order."""
        return [list(group) for _, group in groupby(self.settings, lambda one: one.put_in)]

    @property
    def clock(self) -> DoorClock:
        """What the timer's clock keeps."""
        return self.plan.door_clock

    @cached_property
    def guard_cost(self) -> GuardCost:
        """What it costs that it keeps the closing before the guard."""
        if all(movement.guard is None for movement in self.movements):
            return GuardCost(0, 0, 0)
        if self.years:
            costs = [year.guard_cost for year in self.years]
            dates, changes = (sum(column) for column in list(zip(*costs, strict=True))[:2])
            return GuardCost(dates, changes, max(cost.late_min for cost in costs))
        parts = _parts(make_days(self.plan, self.timer, self.movements), self.timer)
        costs = [find_guard_cost(part, self.timer) for part in parts]
        return GuardCost(*(max(column) for column in zip(*costs, strict=True)))


def make_timer_list(
    plan: Plan,
    timer: Timer,
    movements: tuple[TimerMovement, ...] = MOVEMENTS,
    says: ListWords = DOOR_WORDS,
) -> TimerList:
    """Return the best list of settings: the fewest for a tolerance, or the least late of so many.

    Parameters
    ----------
    plan
        What it keeps to.
    timer
        What the timer can do, and what the keeper wants.
    movements
        What it does each day.
    says
        What is said of those.

    Raises
    ------
    PlanError
        If there is no such list, or if its times could not be told from those of the days around.
    """
    refuse_many_days(plan)
    days = make_days(plan, timer, movements)
    if not days.is_open.any():
        raise PlanError(
            f"{says.rests} on every day from {plan.dates[0]} to {plan.dates[-1]}, so there "
            "is nothing for a timer to do: choose other dates"
        )
    parts = _parts(days, timer)
    words = [""] if timer.together else [f" of {movement.noun}" for movement in movements]
    lists = [best_dates(part, timer, of) for part, of in zip(parts, words, strict=True)]
    settings = np.concatenate(
        [settings_of(part, starts) for part, starts in zip(parts, lists, strict=True)]
    )
    early_if_missed_min = _early_if_missed(days, lists, settings)
    settings = settings * np.array([[movement.sign] for movement in movements])
    moved = tuple(_instants(plan, side_settings) for side_settings in settings)
    kept = _Kept(plan, timer, movements, says, days.is_open)
    late = _true_lateness(kept, settings, moved)
    # A setting that holds over the end of the year has its first row at the beginning.
    starts = sorted({0}.union(*lists))
    monthly = _monthly(days, plan.dates)
    return TimerList(
        plan=plan,
        timer=timer,
        settings=_settings(kept, days, starts, settings, late, moved),
        counts=tuple(map(len, lists)),
        comes_round=any(list_[0] > 0 for list_ in lists),
        worst_min=tuple(late.max(axis=1).tolist()),
        monthly_count=len(monthly),
        monthly_worst_min=lateness_of(days, monthly) + 2 * timer.clock_margin_min,
        early_if_missed_min=early_if_missed_min,
        moved_utc=tuple(np.where(days.is_open, times, NEVER) for times in moved),
        movements=movements,
        says=says,
    )


def make_resting_list(
    plan: Plan, timer: Timer, movements: tuple[TimerMovement, ...], says: ListWords
) -> TimerList:
    """Return the list of days without any movement: one setting, the timer off."""
    first, last = plan.dates[[0, -1]].tolist()
    never = np.full(len(plan), NEVER)
    return TimerList(
        plan=plan,
        timer=timer,
        settings=(TimerSetting(first, last, (), first),),
        counts=(1,) * (1 if timer.together else len(movements)),
        comes_round=False,
        worst_min=(0,) * len(movements),
        monthly_count=1,
        monthly_worst_min=0,
        early_if_missed_min=0,
        moved_utc=(never,) * len(movements),
        movements=movements,
        says=says,
    )


def refuse_many_days(plan: Plan) -> None:
    """Refuse more dates than a list may have.

    Raises
    ------
    PlanError
        If there are.
    """
    if len(plan) > MOST_DAYS:
        raise PlanError(
            f"a timer's list covers at most ten years ({MOST_DAYS} days), and {plan.dates[0]} to "
            f"{plan.dates[-1]} has {len(plan)}: choose fewer"
        )


def _parts(days: TimerDays, timer: Timer) -> list[TimerDays]:
    """Return the sides that are changed on the same dates, one part for each list."""
    if timer.together:
        return [days]
    return [days.side(number) for number in range(len(days.needed_min))]


def _monthly(days: TimerDays, dates: Times) -> list[int]:
    """Return the first days of a list that is changed on the first of each month."""
    edges = {first for first, _ in days.runs}
    return sorted(edges.union(np.flatnonzero(begins_month(dates) & days.is_open).tolist()))


class _Kept(NamedTuple):
    """What a list keeps to: the plan, what the timer does, and on which days it does that."""

    plan: Plan
    timer: Timer
    movements: tuple[TimerMovement, ...]
    says: ListWords
    is_on: Flags


def _true_lateness(kept: _Kept, settings: Numbers, moved: tuple[Times, ...]) -> Numbers:
    """Return how late each day's movements may be [min], or how early by their sign; 0 on days off.

    As instants, through the clock changes: so this also proves that nothing is early, by a clock
    that is wrong by the margin.

    Raises
    ------
    PlanError
        If it would move early, in the wrong order, or not at all on some date.
    """
    plan, margin = kept.plan, kept.timer.clock_margin_min
    late = []
    for movement, instants, set_to in zip(kept.movements, moved, settings, strict=True):
        planned = movement.planned(plan).astype("datetime64[m]")
        minutes = movement.sign * (instants - planned) / MINUTE
        early = kept.is_on & ~(minutes >= margin)
        if early.any():
            index = int(np.flatnonzero(early)[0])
            time = plan.site.face.time(int(set_to[index]))
            raise PlanError(
                f"the wall clock changes on {plan.dates[index]} at the hour of the "
                f"{movement.noun}, so that a timer at {time} would move too "
                f"{'early' if movement.sign > 0 else 'late'} "
                'or not at all: write clock = "standard" under [door], for a timer that '
                "keeps standard time, or move that time off the hour"
            )
        late.append(np.where(kept.is_on, minutes + margin, 0).astype(np.int64))
    _refuse_disorder(kept, moved, settings, np.timedelta64(2 * margin, "m"))
    return np.stack(late)


def _instants(plan: Plan, settings: Numbers) -> Times:
    """Return when a timer first shows its time on each day [datetime64[m]]; NaT if never."""
    shown: Times = plan.dates.astype("datetime64[m]") + settings.astype("timedelta64[m]")
    instants = plan.first_shown(plan.door_clock, shown)
    # Within a gap the clock never shows it.
    skipped = plan.on_door(instants).wall != shown
    return np.where(skipped, np.datetime64("NaT", "m"), instants)


def _refuse_disorder(
    kept: _Kept, moved: tuple[Times, ...], settings: Numbers, taken: np.timedelta64
) -> None:
    """Refuse a list whose steps, lateness or margin let one movement meet or pass the next."""
    plan, is_on = kept.plan, kept.is_on
    crossed = np.zeros(len(plan), np.bool_)
    for before, after in pairwise(moved):
        crossed |= is_on & (after <= before + taken)
    follows = np.append(is_on[:-1] & is_on[1:] & (np.diff(plan.dates) == DAY), False)
    first, last = moved[0], moved[-1]
    crossed |= follows & (np.append(first[1:], first[-1:]) <= last + taken)
    if crossed.any():
        index = int(np.flatnonzero(crossed)[0])
        words = " to ".join(map(plan.site.face.time, settings[:, index].tolist()))
        raise PlanError(
            f"the times get so late that they meet: around {plan.dates[index]} "
            f"{kept.says.would_be_on} from {words}, and one movement passes the next: allow less "
            "lateness, more changes, finer steps or a smaller clock margin"
        )


def _settings(
    kept: _Kept,
    days: TimerDays,
    starts: list[int],
    settings: Numbers,
    late: Numbers,
    moved: tuple[Times, ...],
) -> tuple[TimerSetting, ...]:
    plan, timer = kept.plan, kept.timer
    rows: list[TimerSetting] = []
    # What the programs of each kind of weekday were set to last.
    before: dict[int, Sequence[int | None]] = {}
    wall = _on_wall(kept, moved)
    put_in: dt.date
    for first, behind in zip(starts, [*starts[1:], len(plan)], strict=True):
        programs = []
        for number, weekdays in enumerate(timer.kinds):
            if not days.is_open[first]:
                break
            alike = first + np.flatnonzero(days.kind[first:behind] == number)
            if not alike.size:
                sides = len(kept.movements)
                none, same = (None,) * sides, (False,) * sides
                programs.append(Program(weekdays, none, none, same, ((),) * sides))
                continue
            minutes: list[int] = settings[:, alike[0]].tolist()
            worst: list[int] = late[:, alike].max(axis=1).tolist()
            held = before.get(number, [None] * len(kept.movements))
            changes = [old != new for old, new in zip(held, minutes, strict=True)]
            before[number] = minutes
            on_wall = tuple(_steps(plan, side, alike) for side in wall)
            programs.append(
                Program(weekdays, tuple(minutes), tuple(worst), tuple(changes), on_wall)
            )
        dates: list[dt.date] = [plan.dates[first].item(), plan.dates[behind - 1].item()]
        if len(rows) % timer.at_once == 0:
            put_in = dates[0]
        rows.append(TimerSetting(dates[0], dates[1], tuple(programs), put_in))
    return tuple(rows)


def _on_wall(kept: _Kept, moved: tuple[Times, ...]) -> Numbers:
    """Return what the wall clock shows at each of the movements, sides by days [min]."""
    midnight = kept.plan.dates.astype("datetime64[m]")
    shown = [(kept.plan.on_wall(instants).wall - midnight) / MINUTE for instants in moved]
    return np.where(kept.is_on, np.stack(shown), 0).astype(np.int64)


def _steps(plan: Plan, minutes: Numbers, days: Numbers) -> tuple[WallTimeFrom, ...]:
    """Return the first of some days, and each on which another time is shown."""
    shown = minutes[days]
    at = np.append(0, np.flatnonzero(np.diff(shown)) + 1)
    dates: list[dt.date] = plan.dates[days[at]].tolist()
    return tuple(map(WallTimeFrom, dates, shown[at].tolist()))


def _early_if_missed(days: TimerDays, lists: list[list[int]], settings: Numbers) -> int:
    """Return by how much a day's movement is early at most if it still has the setting before."""
    worst = 0
    every = range(len(settings))
    sides = [every] if len(lists) == 1 else [range(side, side + 1) for side in every]
    for starts, chosen in zip(lists, sides, strict=True):
        for earlier, start in pairwise(starts):
            if not (days.is_open[earlier] and days.is_open[start]):
                continue
            alike = earlier + np.flatnonzero(days.kind[earlier:start] == days.kind[start])
            for side in chosen if alike.size else ():
                missed = days.needed_min[side, start] - settings[side, alike[0]]
                worst = max(worst, int(missed))
    return worst
