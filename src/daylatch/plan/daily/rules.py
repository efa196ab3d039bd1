"""From light events and a keeper's rules to door times, in whole minutes and with a trace.

Pure arithmetic on arrays, an element a flock day in unbroken order, or days x sites. The rules and
their order are those of ``docs/reference/rules.md``: light event, wall-clock limits, least open
time for each day by itself; then the least night, once, between the days.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE, Record, is_given, once, repeated
from daylatch.plan.daily.settings import LENGTHEN, WIDEN
from daylatch.site.tables import Lengthen, Widen
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times


ZERO = np.timedelta64(0, "m")
NEVER = np.datetime64("NaT", "m")


class Rule(IntEnum):
    """What can decide a door time."""

    LIGHT = 0
    FALLBACK = 1
    DARK_FALLBACK = 2
    FIXED = 3
    DAY_EDGE = 4
    NOT_BEFORE = 5
    NOT_AFTER = 6
    LEAST_OPEN = 7
    LEAST_NIGHT = 8
    SHUT_SPAN = 9
    DARK = 10
    NO_TIME_LEFT = 11


class Side(IntEnum):
    """The two movements of a day."""

    OPEN = 0
    CLOSE = 1


class Conflict(IntEnum):
    """Why no plan can be made for a day."""

    NO_FALLBACK_OPEN = 0
    NO_FALLBACK_CLOSE = 1
    LIMITS_REVERSED_OPEN = 2
    LIMITS_REVERSED_CLOSE = 3
    LIMITS_LEAVE_NO_DAY = 4
    FIXED_REVERSED = 5
    PAST_DAY_OPEN = 6
    PAST_DAY_CLOSE = 7


@dataclass(frozen=True, eq=False)
class SideInput(Record):
    """What the rules need to know of one movement, an element for each day.

    Attributes
    ----------
    event : datetime64[us]
        The light event; NaT without one.
    sky : int8
        `SkyState` of the side for that light.
    guard : datetime64[m]
        When the Sun passes the guard, rounded towards noon; NaT without.
    guard_sky : int8
        `SkyState` of the side for the guard.
    offset : timedelta64[m]
        From event to movement.
    not_before, not_after, fallback, dark_fallback, fixed : datetime64[m]
        The wall-clock settings as instants of that day; NaT where there is none.
    """

    event: Times
    sky: NDArray[np.int8]
    guard: Times
    guard_sky: NDArray[np.int8]
    offset: Minutes
    not_before: Times
    not_after: Times
    fallback: Times
    dark_fallback: Times
    fixed: Times


@dataclass(frozen=True, eq=False)
class DayInput(Record):
    """What the rules need to know of each day besides the two movements.

    Attributes
    ----------
    first, last : datetime64[m]
        The first and last whole minute of the flock day, between its lower transits.
    shut : bool
        Whether a span keeps the door shut.
    least_open, least_night : timedelta64[m]
        Wanted durations, zero for none.
    widen, lengthen : int8
        Index into `WIDEN` and `LENGTHEN`.
    """

    first: Times
    last: Times
    shut: Flags
    least_open: Minutes
    least_night: Minutes
    widen: NDArray[np.int8]
    lengthen: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Moves(Record):
    """How one movement came about: where it began, and by how much each rule moved it.

    Attributes
    ----------
    start : datetime64[m]
        What rule 1, a fallback or a fixed time gave; NaT on days without.
    started_by : int8
        The `Rule` that gave it.
    moved : dict
        Minutes [timedelta64[m]] by the rule that moved it, in the order of the rules. The limits
        are two entries of which at most one moves a day.
    time : datetime64[m]
        The door time; NaT when the door stays shut.
    decided_by : int8
        The last `Rule` that moved it, or the one that gave it, or why the door stays shut.
    """

    start: Times
    started_by: NDArray[np.int8]
    moved: dict[Rule, Minutes]
    time: Times
    decided_by: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Decisions(Record):
    """Door times of consecutive days.

    Attributes
    ----------
    open, close : Moves
        The two movements.
    open_shortfall, night_shortfall : timedelta64[m]
        What is missing of the least open time, and of the least night that begins on the day.
    past_guard_open, past_guard_close : bool
        Whether the keeper's own settings move the door beyond the guard.
    conflicts : dict
        For each `Conflict` the days on which it arises.
    """

    open: Moves
    close: Moves
    open_shortfall: Minutes
    night_shortfall: Minutes
    past_guard_open: Flags
    past_guard_close: Flags
    conflicts: dict[Conflict, Flags]


def ceil_minute(instants: Times) -> Times:
    """Round instants [datetime64[us]] up to whole minutes; NaT stays NaT."""
    down = floor_minute(instants)
    return np.where(down < instants, down + MINUTE, down)


def floor_minute(instants: Times) -> Times:
    """Round instants down to whole minutes; NaT stays NaT."""
    return instants.astype("datetime64[m]")


def decide(opening: SideInput, closing: SideInput, day: DayInput) -> Decisions:
    """Apply the rules to consecutive days.

    Nights lie between neighbours in the arrays, so that the first day's opening and the last
    day's closing lack one side of the least night: give a day more on each side than is wanted.
    """
    opens, closes = _Moving(opening, day), _Moving(closing, day)
    up = ~(day.shut | opens.dark | closes.dark)
    conflicts = {
        kind: up & days if once(days).any() else days
        for kind, days in _conflicts(opens, closes, day)
    }
    up &= ~(opens.unknown | closes.unknown)
    _widen(opens, closes, day, up)
    no_time = up & (opens.time >= closes.time)
    up &= ~no_time
    _lengthen(opens, closes, day, up)

    guards = opening.guard, closing.guard
    shut_by = np.where(day.shut, Rule.SHUT_SPAN, np.where(no_time, Rule.NO_TIME_LEFT, Rule.DARK))
    open_shortfall = opens.unmoved
    if once(day.least_open).any():
        span = np.where(up, closes.time - opens.time, ZERO)
        open_shortfall = np.where(day.shut, ZERO, np.maximum(day.least_open - span, ZERO))
    return Decisions(
        open=opens.finish(up, shut_by),
        close=closes.finish(up, shut_by),
        open_shortfall=open_shortfall,
        night_shortfall=_missing_of_nights(opens, closes, day, up),
        past_guard_open=up & past_guard(opens.time, *guards, opening.guard_sky),
        past_guard_close=up & past_guard(closes.time, *guards, closing.guard_sky),
        conflicts=conflicts,
    )


class _Moving:
    """One movement while the rules work on it: its times so far, and what moved them."""

    def __init__(self, side: SideInput, day: DayInput) -> None:
        self.side = side
        self.unmoved = repeated(ZERO, side.event.shape)
        self.start = ceil_minute(side.event + side.offset)
        self.started_by = np.full(side.event.shape, Rule.LIGHT, np.int8)
        none: Flags = repeated(np.False_, side.event.shape)
        self.dark = self.unknown = self.fixed = none
        if side.sky.any():
            self._begin_without_light()
        if is_given(side.fixed):
            self.fixed = ~np.isnat(side.fixed)
            self._begin(self.fixed, Rule.FIXED, side.fixed)
            self.dark, self.unknown = self.dark & ~self.fixed, self.unknown & ~self.fixed
        self.time = self.start
        self.moved: dict[Rule, Minutes] = {}
        # Near white nights a light event and its offset can reach past the day's lower transits.
        within = np.clip(self.time, day.first, day.last)
        by_light = self.started_by == Rule.LIGHT
        self.move(
            Rule.DAY_EDGE, within if by_light.all() else np.where(by_light, within, self.time)
        )
        self._limit(Rule.NOT_BEFORE, side.not_before, np.fmax)
        self._limit(Rule.NOT_AFTER, side.not_after, np.fmin)

    def _begin_without_light(self) -> None:
        """Begin with a fallback on days without the light, where there is one."""
        side = self.side
        above = side.sky == SkyState.ALWAYS_ABOVE
        below = side.sky == SkyState.ALWAYS_BELOW
        self._begin(above, Rule.FALLBACK, side.fallback)
        self._begin(below, Rule.DARK_FALLBACK, side.dark_fallback)
        missing = np.isnat(self.start)
        self.dark, self.unknown = below & missing, above & missing

    def _begin(self, days: Flags, rule: Rule, time: Times) -> None:
        np.copyto(self.start, time, where=days)
        self.started_by[days] = rule

    def _limit(self, rule: Rule, limit: Times, bound: np.ufunc) -> None:
        if is_given(limit):
            limited = bound(self.time, limit)
            self.move(
                rule, np.where(self.fixed, self.time, limited) if self.fixed.any() else limited
            )
        else:
            self.stay(rule)

    def move(self, rule: Rule, time: Times) -> None:
        """Let a rule put the movement elsewhere."""
        moved = time - self.time
        missing = np.isnat(moved)
        if missing.any():
            # A limit alone makes no movement: fmax and fmin turn a missing time into the limit.
            time = np.where(np.isnat(self.start), NEVER, time)
            moved[missing] = ZERO
        self.moved[rule] = moved
        self.time = time

    def stay(self, rule: Rule) -> None:
        """Note that a rule moves nothing on any day."""
        self.moved[rule] = self.unmoved

    def finish(self, up: Flags, shut_by: NDArray[np.int64]) -> Moves:
        """Return the movement as it stands; ``up`` marks the days on which the door opens."""
        decided_by = self.started_by.copy()
        for rule, minutes in self.moved.items():
            if once(minutes).any():
                decided_by[minutes != ZERO] = rule
        return Moves(
            start=self.start,
            started_by=self.started_by,
            moved=self.moved,
            time=np.where(up, self.time, NEVER),
            decided_by=np.where(up, decided_by, shut_by).astype(np.int8),
        )


def _conflicts(opens: _Moving, closes: _Moving, day: DayInput) -> Iterator[tuple[Conflict, Flags]]:
    """Yield on which days settings contradict themselves, whatever the day is like."""
    never = repeated(np.False_, opens.time.shape)
    yield Conflict.NO_FALLBACK_OPEN, opens.unknown
    yield Conflict.NO_FALLBACK_CLOSE, closes.unknown
    for kind, movement in (
        (Conflict.LIMITS_REVERSED_OPEN, opens),
        (Conflict.LIMITS_REVERSED_CLOSE, closes),
    ):
        early, late = movement.side.not_before, movement.side.not_after
        both = is_given(early) and is_given(late)
        yield kind, ~movement.fixed & (early > late) if both else never
    early, late = opens.side.not_before, closes.side.not_after
    both = is_given(early) and is_given(late)
    yield (
        Conflict.LIMITS_LEAVE_NO_DAY,
        ~opens.fixed & ~closes.fixed & (early >= late) if both else never,
    )
    both_fixed = opens.fixed & closes.fixed
    yield (
        Conflict.FIXED_REVERSED,
        both_fixed & (opens.time >= closes.time) if both_fixed.any() else never,
    )
    for kind, movement in ((Conflict.PAST_DAY_OPEN, opens), (Conflict.PAST_DAY_CLOSE, closes)):
        yield kind, (movement.time < day.first) | (movement.time > day.last)


def past_guard(time: Times, dawn: Times, dusk: Times, guard_sky: NDArray[np.int8]) -> Flags:
    """Return where a movement lies in the night beyond the guard, of the morning or the evening.

    Parameters
    ----------
    time : datetime64[m]
        When it comes.
    dawn, dusk : datetime64[m]
        When the Sun passes the guard on that day; NaT where it does not.
    guard_sky : int8
        `SkyState` of the movement's own side for the guard: all of a side may lie in the night.
    """
    in_dark: Flags = (time < dawn) | (time > dusk) | (guard_sky == SkyState.ALWAYS_BELOW)
    return in_dark


def _room(
    movement: _Moving, other_guard: Times, edge: Times, limit: Times, *, earlier: bool
) -> Minutes:
    """Return how far a day may be widened on one side: to its guard, limit and edge.

    Not at all where it lies beyond the guard of the other side, as an opening after dusk does: the
    minutes won would lie in the night.
    """
    side = movement.side
    guard = np.select(
        [side.guard_sky == SkyState.CROSSES, side.guard_sky == SkyState.ALWAYS_ABOVE],
        [side.guard, edge],
        movement.time,
    )
    if earlier:
        room = movement.time - np.fmax(np.maximum(guard, edge), limit)
        in_night = movement.time > other_guard
    else:
        room = np.fmin(np.minimum(guard, edge), limit) - movement.time
        in_night = movement.time < other_guard
    return np.where(in_night, ZERO, np.fmax(room, ZERO))


def _widen(opens: _Moving, closes: _Moving, day: DayInput, up: Flags) -> None:
    """Rule 3: widen days that are open too briefly, within guard, limits and edges."""
    missing = opens.unmoved
    if once(day.least_open).any():
        missing = np.where(up, day.least_open - (closes.time - opens.time), ZERO)
        missing = np.where(day.least_open > ZERO, np.maximum(missing, ZERO), ZERO)
    if not missing.any():
        opens.stay(Rule.LEAST_OPEN)
        closes.stay(Rule.LEAST_OPEN)
        return
    dawn, dusk = opens.side.guard, closes.side.guard
    open_room = _room(opens, dusk, day.first, opens.side.not_before, earlier=True)
    close_room = _room(closes, dawn, day.last, closes.side.not_after, earlier=False)
    both = day.widen == WIDEN.index(Widen.BOTH)
    half = missing // 2
    earlier = np.where(day.widen == WIDEN.index(Widen.CLOSE_LATER), ZERO, missing)
    later = np.where(day.widen == WIDEN.index(Widen.OPEN_EARLIER), ZERO, missing)
    # Both alike as far as both can; what one side cannot give, the other may.
    later = np.where(both, np.maximum(missing - half, missing - open_room), later)
    later = np.minimum(later, close_room)
    earlier = np.where(both, missing - later, earlier)
    earlier = np.minimum(earlier, open_room)
    opens.move(Rule.LEAST_OPEN, opens.time - earlier)
    closes.move(Rule.LEAST_OPEN, closes.time + later)


def _lengthen(opens: _Moving, closes: _Moving, day: DayInput, up: Flags) -> None:
    """Rule 4: lengthen nights that are too short, once, leaving each day at least a minute."""
    missing = _missing_of_nights(opens, closes, day, up)
    if not missing.any():
        opens.stay(Rule.LEAST_NIGHT)
        closes.stay(Rule.LEAST_NIGHT)
        return
    half = missing // 2
    by_close = np.select(
        [
            day.lengthen == LENGTHEN.index(Lengthen.CLOSE_EARLIER),
            day.lengthen == LENGTHEN.index(Lengthen.OPEN_LATER),
        ],
        [missing, ZERO],
        missing - half,
    )
    earlier = by_close
    later = np.zeros_like(missing)
    later[1:] = (missing - by_close)[:-1]
    # A day that is asked from both sides for more than it has gives each side half, or what the
    # other leaves.
    spare = np.where(up, closes.time - opens.time - MINUTE, ZERO)
    later = np.minimum(later, np.maximum(spare // 2, spare - earlier))
    earlier = np.minimum(earlier, spare - later)
    opens.move(Rule.LEAST_NIGHT, opens.time + later)
    closes.move(Rule.LEAST_NIGHT, closes.time - earlier)


def _missing_of_nights(opens: _Moving, closes: _Moving, day: DayInput, up: Flags) -> Minutes:
    """Return what each night, as it stands, lacks of the least night that is wanted."""
    if not once(day.least_night).any():
        return opens.unmoved
    missing = np.zeros_like(day.least_night, subok=False)
    nights = opens.time[1:] - closes.time[:-1]
    wanted = day.least_night[:-1]
    short = up[:-1] & up[1:] & (wanted > ZERO)
    missing[:-1] = np.where(short, np.maximum(wanted - nights, ZERO), ZERO)
    return missing
