"""One row of a plan: a day, its two movements, and how each came about."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import Coded, number_combinations
from daylatch.plan.daily.rules import Rule
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.daily.rules import Moves, Side
    from daylatch.plan.daily.settings import SideSettings
    from daylatch.site.tables import Span

_RULES, _SKIES = tuple(Rule), tuple(SkyState)


@dataclass(frozen=True)
class Step:
    """One rule's part in a door time: the rule, and by how many minutes it moved it."""

    rule: Rule
    minutes: int


@dataclass(frozen=True)
class Movement:
    """One movement of one day, with its trace.

    Attributes
    ----------
    side : Side
        Opening or closing.
    time_utc : datetime64[m] or None
        None if the door stays shut.
    decided_by : Rule
        The rule that decided it.
    event_utc : datetime64[us] or None
        The light event.
    sky : SkyState
        What the Sun does about that light on this side.
    altitude_deg : float
        That light: the altitude of the Sun's centre.
    offset_min : int
        The keeper's offset.
    start_utc : datetime64[m] or None
        Where the movement began, before any rule moved it.
    started_by : Rule
        What it began with.
    steps : tuple of Step
        The rules that moved it, in their order.
    """

    side: Side
    time_utc: np.datetime64 | None
    decided_by: Rule
    event_utc: np.datetime64 | None
    sky: SkyState
    altitude_deg: float
    offset_min: int
    start_utc: np.datetime64 | None
    started_by: Rule
    steps: tuple[Step, ...]


@dataclass(frozen=True, eq=False)
class PlannedDay:
    """One row of the plan."""

    date: dt.date
    open: Movement
    close: Movement
    head_count_utc: np.datetime64 | None
    second_pass: bool
    spans: tuple[Span, ...]
    open_shortfall_min: int
    night_shortfall_min: int


class MovementColumns(NamedTuple):
    """What is known of one movement on all days of a plan, as in `Movement`.

    Attributes
    ----------
    side : Side
        Opening or closing.
    moves : Moves
        How it came about.
    settings : SideSettings
        What was in force.
    event_utc : datetime64[us]
        The light event; NaT without one.
    sky : int8
        `SkyState`.
    """

    side: Side
    moves: Moves
    settings: SideSettings
    event_utc: Times
    sky: NDArray[np.int8]


class DayColumns(NamedTuple):
    """What is known of all days of a plan, as in `PlannedDay`, durations as timedelta64[m]."""

    dates: Times
    open: MovementColumns
    close: MovementColumns
    head_count_utc: Times
    second_pass: Flags
    spans: Sequence[Span]
    open_shortfall: Minutes
    night_shortfall: Minutes


def make_days(columns: DayColumns, rows: slice | list[int]) -> list[PlannedDay]:
    """Return rows of a plan, with their traces.

    Columns are turned into values each as a whole: one by one would take five times as long.
    """
    dates = columns.dates[rows]
    fields = (
        dates.tolist(),
        _movements(columns.open, rows),
        _movements(columns.close, rows),
        _instants(columns.head_count_utc[rows]),
        columns.second_pass[rows].tolist(),
        spans_by_day(columns.spans, dates).column(),
        _whole_minutes(columns.open_shortfall[rows]),
        _whole_minutes(columns.night_shortfall[rows]),
    )
    return [PlannedDay(*values) for values in zip(*fields, strict=True)]


def spans_by_day(spans: Sequence[Span], dates: Times) -> Coded[tuple[Span, ...]]:
    """Return which of some spans touch each date, in their order."""
    covered = [span.covered(dates) for span in spans]
    codes, places = number_combinations(covered, dates.shape)
    values = [
        tuple(span for span, flags in zip(spans, covered, strict=True) if flags[place])
        for place in places.tolist()
    ]
    return Coded(codes, values)


def _movements(columns: MovementColumns, rows: slice | list[int]) -> Iterator[Movement]:
    moves = columns.moves
    sky = columns.sky[rows].tolist()
    steps: list[tuple[Step, ...]] = [()] * len(sky)
    for rule, column in moves.moved.items():
        minutes = _whole_minutes(column[rows])
        for index in np.flatnonzero(column[rows]).tolist():
            steps[index] += (_step(rule, minutes[index]),)
    return map(
        Movement,
        [columns.side] * len(sky),
        _instants(moves.time[rows]),
        [_RULES[rule] for rule in moves.decided_by[rows].tolist()],
        _instants(columns.event_utc[rows]),
        [_SKIES[state] for state in sky],
        columns.settings.altitude_deg[rows].tolist(),
        _whole_minutes(columns.settings.offset[rows]),
        _instants(moves.start[rows]),
        [_RULES[rule] for rule in moves.started_by[rows].tolist()],
        steps,
    )


@lru_cache(maxsize=4096)
def _step(rule: Rule, minutes: int) -> Step:
    return Step(rule, minutes)


def _instants(column: Times) -> list[np.datetime64 | None]:
    """Return a column's instants; None without one."""
    instants: list[np.datetime64 | None] = list(column)
    for index in np.flatnonzero(np.isnat(column)).tolist():
        instants[index] = None
    return instants


def _whole_minutes(column: Minutes) -> list[int]:
    """Return a column of durations of which none is missing."""
    minutes: list[int] = column.astype("timedelta64[m]").astype(np.int64).tolist()
    return minutes
