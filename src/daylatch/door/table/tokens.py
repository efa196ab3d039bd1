"""The fewest bytes for a curve: a dynamic programme over day, value and slope.

A stream moves a running value, in fractions of a minute, from day to day by a slope; a token
changes the slope a little and says for how many days it then holds. What is looked for is the
shortest sequence of tokens whose minutes lie, day by day, in a band. The programme goes backwards:
for each day, value and slope it knows how many bytes the rest needs, and so the result is optimal
for the token set of `daylatch.door.table.format`, whatever the curve (the tests search
exhaustively).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.door.table.format import (
    FAR_JUMP,
    HOLD,
    JUMP,
    LEAST_CHANGE,
    LEAST_SLOPE,
    LEVEL,
    MOST_CHANGE,
    MOST_FRACTION_BITS,
    MOST_SLOPE,
    NO_ROW,
    RAW,
    RAW_NO_ROW,
    RAW_SHUT,
    RUNS,
    SHUT,
    SLOPE,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Flags

    Ints = NDArray[np.integer[Any]]

MOVES, STAYS_SHUT, WITHOUT_ROW = range(3)
"""What a day of a stream can be."""
_LONGEST_COUNT = 255
_START_BYTES = 3
# Those that are mostly best come first, so that the others can be given up early.
_ORDER_OF_BITS = (3, 4, 2, 5, 1, 0)
assert sorted(_ORDER_OF_BITS) == list(range(MOST_FRACTION_BITS + 1))
_UNBOUNDED = 1 << 20
_LOOK_EVERY = 16
# More than any file may have; adding the few bytes of one step does not overflow 16 bits.
_NEVER = np.uint16(65_400)
_SLOPES = np.arange(LEAST_SLOPE, MOST_SLOPE + 1)
_LEVEL = -LEAST_SLOPE
_STEEPEST = -LEAST_SLOPE
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
        The band in which a day's minute must lie, both ends included; unused on other days.
    """

    kind: Ints
    low: Ints
    high: Ints


def shortest_stream(curve: Curve, below: int = _UNBOUNDED) -> bytes | None:
    """Return the shortest stream for a curve, over all numbers of fraction bits and the raw form.

    Of equally short ones the first found: a search ends where it cannot become shorter than what
    is already known. None if the shortest has not fewer than ``below`` bytes.
    """
    shortest = raw_stream(curve)
    for bits in _ORDER_OF_BITS:
        found = shortest_tokens(curve, bits, min(below, len(shortest)))
        if found is not None:
            shortest = found
    return shortest if len(shortest) < below else None


def raw_stream(curve: Curve) -> bytes:
    """Return the stream that gives each day's minute in 16 bits."""
    special = np.where(curve.kind == STAYS_SHUT, RAW_SHUT, RAW_NO_ROW)
    minutes = np.where(curve.kind == MOVES, curve.low, special)
    return bytes([RAW << 5]) + minutes.astype("<i2").tobytes()


def shortest_tokens(curve: Curve, fraction_bits: int, below: int = _UNBOUNDED) -> bytes | None:
    """Return the shortest stream of tokens with so many fraction bits.

    None if it has not fewer than ``below`` bytes.
    """
    search = _Search(curve, fraction_bits, below - _START_BYTES)
    if not search.succeeded:
        return None
    stream = search.stream()
    return stream if len(stream) < below else None


class _Search:
    """One dynamic programme.

    Days without a minute are taken out first: they cost the same bytes whatever stands around
    them, change neither value nor slope, and no run goes over them. What stands for them goes
    into ``gaps``, by the minute that follows.
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
        # By day: how many bytes the rest needs, by slope and by value above the band's foot.
        self.rest: list[NDArray[np.uint16]] = [np.empty((0, 0), np.uint16)] * self.days
        # The latest of them once more, with room on both sides for views that reach out of them.
        self.roomy: deque[tuple[NDArray[np.uint16], int]] = deque(maxlen=RUNS[-1])
        # The same if a run or a hold begins with the first day, without the token itself.
        self.starts, self.holds = np.empty((0, 0), np.uint16), np.empty(0, np.uint16)
        self.least = [0] * self.days
        self.succeeded = self._search(below)

    def _search(self, below: int) -> bool:
        """Fill ``rest`` from the last day to the first; return whether it stays below a length."""
        reach = np.empty((0, 0), np.uint8)
        for day in range(self.days - 1, -1, -1):
            shape = (len(_SLOPES), self.width[day])
            last, gap = day == self.days - 1, self.gaps[day + 1]
            rest = np.zeros(shape, np.uint16) if last else self._next(day)
            self.rest[day] = rest + np.uint16(len(gap))
            self.roomy.appendleft(_with_room(self.rest[day], self.widest))
            if gap:
                reach = np.zeros(shape, np.uint8)
            elif last:
                reach = np.full(shape, _PAST_THE_END)
            else:
                reach = self._reach(day, reach)
            self.starts = self._starts(day, reach)
            self.holds = self._holds(day)
            self.least[day] = int(self.rest[day].min())
            if day % _LOOK_EVERY == 0 and self._least_from(day) >= below:
                return False
        return True

    def _least_from(self, day: int) -> int:
        """Return what any stream needs at least that has come to a day.

        Some token ends on it, or the one that goes over it ends on one of the next.
        """
        minutes = range(self.low[day], self.low[day] + self.minutes[day])
        hold = max(self._hold_end(day, minute) for minute in minutes)
        if max(day + RUNS[-1], hold) >= self.days:
            return 0
        return min(self.least[day : max(day + RUNS[-1], hold)])

    def _slid(self, roomy: tuple[NDArray[np.uint16], int], day: int, later: int) -> Any:
        """Return a later day's array as seen from each slope and value of a day; None if it is not.

        Values that leave the later day's band see a wrong place. A view, no copy: from one slope
        to the next the place moves by a fixed number of elements.
        """
        (flat, begin), days = roomy, later - day
        foot = (self.low[day] - self.low[later]) * self.one
        width = self.width[later]
        if abs(foot) > _STEEPEST * days + self.width[day] + width:
            return None
        size = flat.itemsize
        return np.ndarray(
            (len(_SLOPES), self.width[day]),
            flat.dtype,
            flat,
            (begin + foot + days * LEAST_SLOPE) * size,
            ((width + days) * size, size),
        )

    def _inside(self, day: int) -> Flags:
        """Return whether one more day at the same slope leads into the band."""
        foot = (self.low[day] - self.low[day + 1]) * self.one
        landed = (_SLOPES + foot)[:, None] + np.arange(self.width[day])
        return (landed >= 0) & (landed < self.width[day + 1])

    def _reach(self, day: int, reach: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return for how many more days each value may go on at its slope."""
        seen = self._slid(_with_room(reach, self.widest), day, day + 1)
        if seen is None:
            return np.zeros((len(_SLOPES), self.width[day]), np.uint8)
        further: NDArray[np.uint8] = seen + (seen < _PAST_THE_END)
        further *= self._inside(day)
        return further

    def _starts(self, day: int, reach: NDArray[np.uint8]) -> NDArray[np.uint16]:
        """Return what the rest needs if a run's first minute is this day's, by slope and value."""
        best = self.rest[day].copy()
        for run in RUNS[1:]:
            later = day + run - 1
            possible = reach >= run - 1
            if later >= self.days:
                best[possible] = 0
                break
            seen = self._slid(self.roomy[run - 1], day, later)
            if seen is not None:
                np.minimum(best, np.where(possible, seen, _NEVER), out=best)
        return best

    def _holds(self, day: int) -> NDArray[np.uint16]:
        """Return what the rest needs if a hold's first minute is this day's, by value."""
        parts = []
        for minute in range(self.low[day], self.low[day] + self.minutes[day]):
            rows = []
            for later in range(day, self._hold_end(day, minute)):
                foot = (minute - self.low[later]) * self.one
                rows.append(self.rest[later][_LEVEL, foot : foot + self.one])
            parts.append(np.minimum.reduce(rows))
        return np.concatenate(parts)

    def _hold_end(self, day: int, minute: int) -> int:
        """Return the day before which a hold must end that begins on a day."""
        for later in range(day + 1, min(day + _LONGEST_COUNT, self.days)):
            above = minute - self.low[later]
            if self.gaps[later] or not 0 <= above < self.minutes[later]:
                return later
        return min(day + _LONGEST_COUNT, self.days)

    def _next(self, day: int) -> NDArray[np.uint16]:
        """Return what the rest needs after a day, whatever token comes next."""
        chosen = np.full((len(_SLOPES), self.width[day]), _NEVER)
        seen = self._slid(_with_room(self.starts, self.widest), day, day + 1)
        if seen is not None:
            np.copyto(chosen, seen, where=self._inside(day))
        for minute in range(self.minutes[day + 1]):
            np.minimum(chosen, self._jumped(day, minute), out=chosen)
        near = _least_near(chosen)
        # A set slope and a hold do not ask what the slope was.
        whatever = np.minimum(chosen.min(axis=0) + np.uint16(3), near[_LEVEL] + np.uint16(2))
        rest: NDArray[np.uint16] = near + np.uint16(1)
        np.minimum(rest, np.minimum(whatever, self._held(day)), out=rest)
        return rest

    def _jumped(self, day: int, minute: int) -> NDArray[np.uint16]:
        """Return what a jump to a minute of the next day's band and the rest need."""
        where, moved = _residues(self.bits, self.width[day], self.width[day + 1])
        flat = self.starts.ravel()
        found: NDArray[np.uint16] = flat.take(where + minute * self.one if minute else where)
        jump = self.low[day + 1] + minute - self.low[day]
        if _is_near(jump - int(moved[0, 0])) and _is_near(jump - int(moved[-1, -1])):
            found += np.uint16(2)
        else:
            far = jump - moved
            found += np.where((far >= -128) & (far <= 127), np.uint16(2), np.uint16(3))
        return found

    def _held(self, day: int) -> NDArray[np.uint16]:
        """Return what a hold from the next day on needs, after a jump if need be, by value."""
        value = np.arange(self.width[day])
        best = np.full(self.width[day], _NEVER)
        for minute in range(self.minutes[day + 1]):
            jump = self.low[day + 1] + minute - self.low[day] - (value >> self.bits)
            there = self.holds[minute * self.one + (value & (self.one - 1))]
            need = np.where(jump == 0, 2, np.where((jump >= -128) & (jump <= 127), 4, 5))
            np.minimum(best, there + need.astype(np.uint16), out=best)
        return best

    def stream(self) -> bytes:
        """Return the stream, read off what the search has found."""
        out = bytearray(self.gaps[0])
        start = 0
        if self.days:
            start, day, absolute, slope = self._begin(out)
            while day < self.days:
                out += self.gaps[day]
                day, absolute, slope = self._go_on(day, absolute, slope, out)
            if day == self.days:
                out += self.gaps[day]
        head = bytes([self.bits << 5 | start & (self.one - 1)])
        return head + (start >> self.bits).to_bytes(2, "little", signed=True) + bytes(out)

    def _begin(self, out: bytearray) -> tuple[int, int, int, int]:
        """Add the first token; return the value before it and where it leads."""
        foot = self.low[0] * self.one
        near = self.starts[LEAST_CHANGE - LEAST_SLOPE : MOST_CHANGE - LEAST_SLOPE + 1]
        few, some, held = int(near.min()), int(self.starts.min()), int(self.holds.min())
        if held + 2 < min(few + 1, some + 3):
            start = foot + int(self.holds.argmin())
            token = self._hold_token(0, start, held)
            assert token is not None
            out += token
            return start, token[-1], start, 0
        among, need, first = (
            (near, few, LEAST_CHANGE) if few + 1 <= some + 3 else (self.starts, some, LEAST_SLOPE)
        )
        index, value = (int(found) for found in np.unravel_index(among.argmin(), among.shape))
        slope = first + index
        if among is not near:
            out += _slope_bytes(slope)
        run = self._run(0, foot + value, slope, need)
        assert run is not None
        out.append(run << 4 | (slope & 0xF if among is near else 0))
        return foot + value - slope, RUNS[run], foot + value + (RUNS[run] - 1) * slope, slope

    def _go_on(self, day: int, absolute: int, slope: int, out: bytearray) -> tuple[int, int, int]:
        """Add the token whose first minute is a day's, with its escapes; return where it leads."""
        before = self.rest[day - 1][slope - LEAST_SLOPE, self._above(day - 1, absolute)]
        need = int(before) - len(self.gaps[day])
        for new, setting, change in self._slopes_after(slope):
            for moving, first in self._targets(day, absolute + new):
                run = self._run(day, first, new, need - len(setting) - len(moving) - 1)
                if run is not None:
                    out += moving + setting + bytes([run << 4 | change & 0xF])
                    return day + RUNS[run], first + (RUNS[run] - 1) * new, new
        for moving, first in self._targets(day, absolute):
            token = self._hold_token(day, first, need - len(moving) - 2)
            if token is not None:
                out += moving + token
                return day + token[-1], first, 0
        raise AssertionError("what the search has found is not there")

    def _slopes_after(self, slope: int) -> Iterator[tuple[int, bytes, int]]:
        """Yield every slope, the escape that it needs, and the change in the token."""
        for setting, base in ((b"", slope), (bytes([LEVEL]), 0)):
            for change in range(LEAST_CHANGE, MOST_CHANGE + 1):
                if LEAST_SLOPE <= base + change <= MOST_SLOPE:
                    yield base + change, setting, change
        for new in range(LEAST_SLOPE, MOST_SLOPE + 1):
            yield new, _slope_bytes(new), 0

    def _targets(self, day: int, landed: int) -> Iterator[tuple[bytes, int]]:
        """Yield how a value gets into a day's band, and where."""
        for minute in range(self.low[day], self.low[day] + self.minutes[day]):
            jump = minute - (landed >> self.bits)
            yield _jump_bytes(jump), landed + jump * self.one

    def _run(self, day: int, first: int, slope: int, need: int) -> int | None:
        """Return which run begins on a day and leaves so many bytes for the rest."""
        for index, run in enumerate(RUNS):
            last = day + run - 1
            absolute = first
            for step in range(1, run):
                absolute += slope
                if day + step == self.days:
                    return index if need == 0 and not self.gaps[self.days] else None
                above = self._above(day + step, absolute)
                if self.gaps[day + step] or not 0 <= above < self.width[day + step]:
                    return None
            if self.rest[last][slope - LEAST_SLOPE, self._above(last, absolute)] == need:
                return index
        return None

    def _hold_token(self, day: int, absolute: int, need: int) -> bytes | None:
        """Return the hold that begins on a day and leaves so many bytes for the rest."""
        for later in range(day, self._hold_end(day, absolute >> self.bits)):
            if self.rest[later][_LEVEL, self._above(later, absolute)] == need:
                return bytes([HOLD, later - day + 1])
        return None

    def _above(self, day: int, absolute: int) -> int:
        return absolute - self.low[day] * self.one


def _with_room(array: NDArray[Any], widest: int) -> tuple[NDArray[Any], int]:
    """Return an array flat, with room before and after it, and where it begins.

    A view of `_Search._slid` reaches at most this far out of it.
    """
    room = 2 * (_STEEPEST * RUNS[-1] + widest)
    flat = np.zeros(array.size + 3 * room, array.dtype)
    flat[room : room + array.size] = array.ravel()
    return flat, room


@lru_cache(maxsize=16)
def _residues(bits: int, width: int, there: int) -> tuple[Ints, Ints]:
    """Return where a value's fraction is found on the next day, and its whole minutes."""
    moved = _SLOPES[:, None] + np.arange(width)
    row = (_SLOPES - LEAST_SLOPE) * there
    return row[:, None] + (moved & ((1 << bits) - 1)), moved >> bits


def _least_near(chosen: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Return for each slope the least over the slopes that one token's change leads to."""
    below = np.full((-LEAST_CHANGE, chosen.shape[1]), _NEVER)
    above = np.full((MOST_CHANGE, chosen.shape[1]), _NEVER)
    least = np.concatenate([below, chosen, above])
    for apart in (1, 2, 4, 8):
        least = np.minimum(least[:-apart], least[apart:])
    return least


def _is_near(jump: int) -> bool:
    return -128 <= jump <= 127


def _jump_bytes(jump: int) -> bytes:
    if jump == 0:
        return b""
    if _is_near(jump):
        return bytes([JUMP]) + jump.to_bytes(1, "little", signed=True)
    return bytes([FAR_JUMP]) + jump.to_bytes(2, "little", signed=True)


def _slope_bytes(slope: int) -> bytes:
    return bytes([SLOPE]) + slope.to_bytes(1, "little", signed=True)


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
        while end < len(kind) and kind[end] == what and end - day < _LONGEST_COUNT:
            end += 1
        gaps[-1] += bytes([SHUT if what == STAYS_SHUT else NO_ROW, end - day])
        day = end
    return gaps
