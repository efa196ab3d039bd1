"""How many bytes a curve needs: a dynamic programme over day, value and slope.

A stream moves a running value, in fractions of a minute, from day to day by a slope; a token
changes the slope a little and says for how many days it then holds. What is looked for is the
shortest sequence of tokens whose minutes lie, day by day, in a band. The programme goes backwards:
for each day, value and slope it knows how many bytes the rest needs, and so the result is optimal
for the token set of `daylatch.door.table.format`, whatever the curve (the tests search
exhaustively). `daylatch.door.table.tokens` reads the tokens off it.

A day takes about as many steps on whole arrays in a wide band as in a narrow one.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.door.table.bounds import least_before
from daylatch.door.table.format import (
    LEAST_CHANGE,
    LEAST_SLOPE,
    LONGEST_COUNT,
    MOST_CHANGE,
    MOST_SLOPE,
    NO_ROW,
    RUNS,
    SHUT,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.integer[Any]]
    Need = NDArray[np.uint16]

MOVES, STAYS_SHUT, WITHOUT_ROW = range(3)
"""What a day of a stream can be."""
LEAST_JUMP, MOST_JUMP = -128, 127
"""What a jump of one byte reaches [min]; the others are far."""
WIDEST_BAND = MOST_JUMP - LEAST_JUMP + 1
"""The most minutes that a band may have on a day."""
LEVEL_ROW = -LEAST_SLOPE
"""Where the slope 0 is in arrays by slope."""
_LOOK_EVERY = 16
# More than any file may have; adding the few bytes of one step does not overflow 16 bits.
_NEVER = np.uint16(65_400)
_SLOPES = np.arange(LEAST_SLOPE, MOST_SLOPE + 1)
# A run that has reached the last day may go on.
_PAST_THE_END = np.uint8(255)


@dataclass(frozen=True)
class Curve:
    """What a stream must say, an element a day.

    Attributes
    ----------
    kind : int8
        `MOVES`, `STAYS_SHUT` or `WITHOUT_ROW`.
    low, high : int64
        The band in which a day's minute must lie, both ends included; at most `WIDEST_BAND`
        minutes, and unused on other days.
    """

    kind: Ints
    low: Ints
    high: Ints


class Search:
    """One dynamic programme.

    Days without a minute are taken out first: they cost the same bytes whatever stands around
    them, change neither value nor slope, and no run goes over them. What stands for them goes
    into ``gaps``, by the minute that follows.

    Parameters
    ----------
    curve, fraction_bits
        What is to be said, and how finely.
    below
        How many bytes are too many, without the start of the stream: then it gives up.
    """

    def __init__(self, curve: Curve, fraction_bits: int, below: int) -> None:
        self.bits = fraction_bits
        self.one = 1 << fraction_bits
        with_minute = curve.kind == MOVES
        self.low = [int(minute) for minute in curve.low[with_minute]]
        self.minutes = [
            int(high) - low + 1 for low, high in zip(self.low, curve.high[with_minute], strict=True)
        ]
        self.width = [minutes * self.one for minutes in self.minutes]
        self.widest = max(self.width, default=0)
        self.days = len(self.low)
        self.gaps = _gaps(curve.kind)
        self.before = least_before(curve.low[with_minute], curve.high[with_minute], self.gaps)
        # By day: how many bytes the rest needs, by slope and by value above the band's foot.
        self.rest: list[Need] = [np.empty((0, 0), np.uint16)] * self.days
        # The same if a run (by slope and value) or a hold (by minute and fraction) begins with the
        # first day, without the token itself.
        self.starts: Need = np.empty((0, 0), np.uint16)
        self.holds: Need = np.empty((0, 0), np.uint16)
        # Which slopes and values lead from the first day into the band of the next.
        self.inside = slice(0, 0), np.empty((0, 0), np.bool_)
        # For how many days more the first day's values may be held, by minute.
        self.still: Ints = np.empty(0, np.int64)
        # By day from the first on: what a hold of up to 1, 2, 4 ... 128 days would leave.
        self.held: deque[list[Need]] = deque(maxlen=LONGEST_COUNT // 2 + 1)
        self.least = [0] * self.days
        self.succeeded = self._search(below)

    def _search(self, below: int) -> bool:
        """Fill ``rest`` from the last day to the first; return whether it stays below a length."""
        if self.before[-1] + len(self.gaps[-1]) >= below:
            return False
        reach = np.empty((0, 0), np.uint8)
        for day in range(self.days - 1, -1, -1):
            last, gap = day == self.days - 1, self.gaps[day + 1]
            if not last:
                self.inside = self._inside(day)
            self.rest[day] = self._by_slope(day, np.uint16)
            self.rest[day][...] = 0 if last else self._next(day)
            self.rest[day] += np.uint16(len(gap))
            reach = self._reach(day, reach)
            self.starts = self._starts(day, reach)
            self.holds = self._holds(day)
            self.least[day] = int(self.rest[day].min())
            if day % _LOOK_EVERY == 0 and self._least_from(day) >= below:
                return False
        return True

    def _least_from(self, day: int) -> int:
        """Return what any stream needs at least.

        Some token ends on this day, or the one that goes over it ends on one of the next.
        """
        longest = min(1 + int(self.still.max()), LONGEST_COUNT)
        ends = range(day, min(day + max(RUNS[-1], longest), self.days))
        return min(self.before[end + 1] + self.least[end] for end in ends)

    def _by_slope(self, day: int, kind: type[Any]) -> NDArray[Any]:
        """Return an array by slope and value, empty, with room around it for `_slid`."""
        size = len(_SLOPES) * self.width[day]
        flat = np.empty(size + 2 * self.widest, kind)
        return flat[self.widest : self.widest + size].reshape(len(_SLOPES), self.width[day])

    def _slid(self, array: NDArray[Any], day: int, later: int, rows: slice) -> NDArray[Any]:
        """Return a later day's array as seen from a day's values, going on by some slopes.

        Each of these slopes must lead some value into the later day's band; values that leave the
        band see a wrong place. A view, no copy: from one slope to the next the place moves by a
        fixed number of elements.
        """
        if rows.start == rows.stop:
            return np.empty((0, self.width[day]), array.dtype)
        days, width = later - day, self.width[later]
        foot = (self.low[day] - self.low[later]) * self.one
        begin = self.widest + rows.start * width + foot + days * int(_SLOPES[rows.start])
        size = array.itemsize
        return np.ndarray(
            (rows.stop - rows.start, self.width[day]),
            array.dtype,
            array.base,
            begin * size,
            ((width + days) * size, size),
        )

    def _inside(self, day: int) -> tuple[slice, NDArray[np.bool_]]:
        """Return which slopes lead into the next day's band, and from which values they do."""
        landed = _SLOPES + (self.low[day] - self.low[day + 1]) * self.one
        rows = _span((landed < self.width[day + 1]) & (landed > -self.width[day]))
        above = landed[rows].astype(np.int32)[:, None] + np.arange(self.width[day], dtype=np.int32)
        return rows, (above >= 0) & (above < self.width[day + 1])

    def _reach(self, day: int, reach: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return for how many more days each value may go on at its slope."""
        further = self._by_slope(day, np.uint8)
        if day == self.days - 1 and not self.gaps[day + 1]:
            further[...] = _PAST_THE_END
            return further
        further[...] = 0
        if not self.gaps[day + 1]:
            rows, inside = self.inside
            seen = self._slid(reach, day, day + 1, rows)
            further[rows] = (seen + (seen < _PAST_THE_END)) * inside
        return further

    def _starts(self, day: int, reach: NDArray[np.uint8]) -> Need:
        """Return what the rest needs if a run's first minute is this day's, by slope and value."""
        best = self._by_slope(day, np.uint16)
        best[...] = self.rest[day]
        farthest = reach.max(axis=1)
        for run in RUNS[1:]:
            later, rows = day + run - 1, _span(farthest >= run - 1)
            if rows.start == rows.stop:
                break
            possible = reach[rows] >= run - 1
            if later >= self.days:
                best[rows][possible] = 0
                break
            seen = self._slid(self.rest[later], day, later, rows)
            np.minimum(best[rows], np.where(possible, seen, _NEVER), out=best[rows])
        return best

    def _holds(self, day: int) -> Need:
        """Return what the rest needs if a hold's first minute is this day's.

        The least over many days is that over two spans of half as many.
        """
        self.still = self._still(day)
        longest = int(self.still.max())
        spans: list[Need] = [self.rest[day][LEVEL_ROW].reshape(self.minutes[day], self.one)]
        self.held.appendleft(spans)
        while 1 << len(spans) <= LONGEST_COUNT and 1 << (len(spans) - 1) <= longest:
            spans.append(self._and_later(day, 1 << (len(spans) - 1), spans))
        if longest > LONGEST_COUNT // 2:
            return self._and_later(day, LONGEST_COUNT // 2, spans)
        return spans[-1]

    def _still(self, day: int) -> Ints:
        """Return for how many days more each minute of a day's band may be held."""
        still = np.zeros(self.minutes[day], np.int64)
        if day < self.days - 1 and not self.gaps[day + 1]:
            here, there = self._shared(day, day + 1)
            still[here] = self.still[there] + 1
        return still

    def _and_later(self, day: int, days: int, spans: list[Need]) -> Need:
        """Return the least over a day's longest span and the same span so many days later."""
        later = self.held[days]
        least: Need = spans[-1].copy()
        here, there = self._shared(day, day + days)
        span = later[min(len(spans), len(later)) - 1]
        held = (self.still[here] >= days)[:, None]
        np.minimum(least[here], np.where(held, span[there], _NEVER), out=least[here])
        return least

    def _shared(self, day: int, later: int) -> tuple[slice, slice]:
        """Return where the minutes are, in two days' bands, that are in both."""
        least = max(self.low[day], self.low[later])
        most = max(min(self.low[at] + self.minutes[at] for at in (day, later)), least)
        here, there = (slice(least - self.low[at], most - self.low[at]) for at in (day, later))
        return here, there

    def _next(self, day: int) -> Need:
        """Return what the rest needs after a day, whatever token comes next."""
        rows, inside = self.inside
        there = self.starts.reshape(len(_SLOPES), self.minutes[day + 1], self.one)
        chosen = self._jumped(day, there, slice(0, len(_SLOPES)))
        seen = self._slid(self.starts, day, day + 1, rows)
        np.minimum(chosen[rows], np.where(inside, seen, _NEVER), out=chosen[rows])
        near = _least_near(chosen)
        # A set slope and a hold do not ask what the slope was.
        whatever = np.minimum(chosen.min(axis=0) + np.uint16(3), near[LEVEL_ROW] + np.uint16(2))
        rest: Need = near + np.uint16(1)
        np.minimum(rest, np.minimum(whatever, self._held(day)), out=rest)
        return rest

    def _held(self, day: int) -> Need:
        """Return what a hold from the next day on needs, after a jump if need be, by value."""
        level = slice(LEVEL_ROW, LEVEL_ROW + 1)
        best = self._jumped(day, self.holds[None], level).reshape(self.minutes[day], self.one)
        here, there = self._shared(day, day + 1)
        best[here] = np.minimum(best[here], self.holds[there])
        return best.ravel() + np.uint16(2)

    def _jumped(self, day: int, there: Need, rows: slice) -> Need:
        """Return what a jump into the next day's band and the rest need, by slope and value.

        Parameters
        ----------
        day
            The day before the jump.
        there
            What the rest needs, by slope, minute of the next day's band and fraction.
        rows
            Which slopes they are.
        """
        anywhere = there.min(axis=1).ravel().take(_residues(self.one, len(there), rows.start))
        need = np.empty((len(there), self.minutes[day], self.one), np.uint16)
        np.add(anywhere[:, None], np.uint16(2), out=need)
        found: Need = need.reshape(len(there), self.width[day])
        # The jump to the lowest minute of the band, from the lowest and the highest value.
        slopes, step = _SLOPES[rows], self.low[day + 1] - self.low[day]
        most = step - (slopes >> self.bits)
        least = step - ((slopes + self.width[day] - 1) >> self.bits)
        far = _span((least < LEAST_JUMP) | (most + self.minutes[day + 1] - 1 > MOST_JUMP))
        if far.start < far.stop:
            near = self._jumped_near(day, there[far], slopes[far])
            found[far] = np.minimum(found[far] + np.uint16(1), near)
        return found

    def _jumped_near(self, day: int, there: Need, slopes: Ints) -> Need:
        """Return the same for jumps of one byte.

        As a band has at most `WIDEST_BAND` minutes, those within reach begin or end with the band.
        """
        minutes = self.minutes[day + 1]
        moved = slopes[:, None] + np.arange(self.width[day])
        fraction = moved & (self.one - 1)
        # Minutes above the band's foot of the next day, without a jump.
        landed = (moved >> self.bits) + self.low[day] - self.low[day + 1]
        row = np.arange(len(slopes))[:, None]
        upward = np.minimum.accumulate(there, axis=1)
        downward = np.minimum.accumulate(there[:, ::-1], axis=1)[:, ::-1]
        first, last = landed + LEAST_JUMP, landed + MOST_JUMP
        inside = np.clip(last, 0, minutes - 1), np.clip(first, 0, minutes - 1)
        found = np.where(
            last < minutes - 1,
            upward[row, inside[0], fraction],
            downward[row, inside[1], fraction],
        )
        reached = (last >= 0) & (first < minutes)
        return np.where(reached, found, _NEVER) + np.uint16(2)


@lru_cache(maxsize=16)
def _residues(one: int, slopes: int, first: int) -> Ints:
    """Return where a value's fraction is found after a day, in an array by slope and fraction."""
    fraction = (_SLOPES[first : first + slopes, None] + np.arange(one)) & (one - 1)
    index: Ints = np.arange(slopes)[:, None] * one + fraction
    return index


def _span(flags: NDArray[np.bool_]) -> slice:
    """Return from the first to the last place that is true."""
    first = int(flags.argmax())
    return slice(first, len(flags) - int(flags[::-1].argmax())) if flags[first] else slice(0, 0)


def _least_near(chosen: Need) -> Need:
    """Return for each slope the least over the slopes that one token's change leads to."""
    below = np.full((-LEAST_CHANGE, chosen.shape[1]), _NEVER)
    above = np.full((MOST_CHANGE, chosen.shape[1]), _NEVER)
    least = np.concatenate([below, chosen, above])
    for apart in (1, 2, 4, 8):
        least = np.minimum(least[:-apart], least[apart:])
    return least


def _gaps(kind: Ints) -> list[bytes]:
    """Return what stands before each minute, and after the last, for days without one."""
    gaps = [b""]
    day = 0
    while day < len(kind):
        what = int(kind[day])
        if what == MOVES:
            gaps.append(b"")
            day += 1
            continue
        end = day
        while end < len(kind) and kind[end] == what and end - day < LONGEST_COUNT:
            end += 1
        gaps[-1] += bytes([SHUT if what == STAYS_SHUT else NO_ROW, end - day])
        day = end
    return gaps
