"""The fewest bytes for a curve: the tokens that `daylatch.door.table.search` has found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.door.table.format import (
    FAR_JUMP,
    HOLD,
    JUMP,
    LEAST_CHANGE,
    LEAST_SLOPE,
    LEVEL,
    LONGEST_COUNT,
    MOST_CHANGE,
    MOST_FRACTION_BITS,
    MOST_SLOPE,
    RAW,
    RAW_NO_ROW,
    RAW_SHUT,
    RUNS,
    SLOPE,
)
from daylatch.door.table.search import (
    LEAST_JUMP,
    LEVEL_ROW,
    MOST_JUMP,
    MOVES,
    STAYS_SHUT,
    Curve,
    Search,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Ints = NDArray[np.integer[Any]]

_START_BYTES = 3
# Those that are mostly best come first, so that the others can be given up early.
_ORDER_OF_BITS = (3, 4, 2, 5, 1, 0)
assert sorted(_ORDER_OF_BITS) == list(range(MOST_FRACTION_BITS + 1))
_UNBOUNDED = 1 << 20
# What a search may take: of a day's values, those of 6 minutes with the finest fractions.
_MOST_VALUES = 6 << MOST_FRACTION_BITS


def shortest_stream(
    curve: Curve,
    below: int = _UNBOUNDED,
    on_progress: Callable[[int, int], None] | None = None,
) -> bytes | None:
    """Return the shortest stream for a curve, over all numbers of fraction bits and the raw form.

    Parameters
    ----------
    curve
        What it must say. Of a wide band, the finer the fractions, the fewer minutes are searched,
        from its lowest on. So a wider band never needs more bytes: all that was searched in the
        narrower one is searched in it.
    below
        How many bytes are too many.
    on_progress
        Called with how many searches are done, and of how many, after each.

    Returns
    -------
    bytes or None
        Of equally short ones the first found: a search ends where it cannot become shorter than
        what is already known. None if the shortest has not fewer than ``below`` bytes.
    """
    shortest = raw_stream(curve)
    for done, (bits, part) in enumerate(_parts_of(curve), 1):
        found = shortest_tokens(part, bits, min(below, len(shortest)))
        if found is not None:
            shortest = found
        if on_progress is not None:
            on_progress(done, len(_ORDER_OF_BITS))
    return shortest if len(shortest) < below else None


def _parts_of(curve: Curve) -> list[tuple[int, Curve]]:
    """Return what is searched: the fraction bits, and the lowest minutes of the band.

    The widest come first, for in them the shortest are found, and the others soon given up.
    """
    minutes = curve.high - curve.low + 1
    most = [(bits, _MOST_VALUES >> bits) for bits in _ORDER_OF_BITS]
    most.sort(key=lambda part: -min(part[1], int(minutes.max(initial=0))))
    return [
        (bits, Curve(curve.kind, curve.low, curve.low + np.minimum(minutes, few) - 1))
        for bits, few in most
    ]


def raw_stream(curve: Curve) -> bytes:
    """Return the stream that gives each day's minute in 16 bits."""
    special = np.where(curve.kind == STAYS_SHUT, RAW_SHUT, RAW_NO_ROW)
    minutes = np.where(curve.kind == MOVES, curve.low, special)
    return bytes([RAW << 5]) + minutes.astype("<i2").tobytes()


def shortest_tokens(curve: Curve, fraction_bits: int, below: int = _UNBOUNDED) -> bytes | None:
    """Return the shortest stream of tokens with so many fraction bits.

    None if it has not fewer than ``below`` bytes.
    """
    search = Search(curve, fraction_bits, below - _START_BYTES)
    if not search.succeeded:
        return None
    stream = _Spelling(search).stream()
    return stream if len(stream) < below else None


class _Spelling:
    """The tokens of a search that has succeeded."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self.low, self.minutes, self.days = search.low, search.minutes, search.days
        self.gaps, self.rest = search.gaps, search.rest
        self.bits, self.one = search.bits, search.one

    def stream(self) -> bytes:
        """Return the stream."""
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
        starts, holds = self.search.starts, self.search.holds
        near = starts[LEAST_CHANGE - LEAST_SLOPE : MOST_CHANGE - LEAST_SLOPE + 1]
        few, some, held = int(near.min()), int(starts.min()), int(holds.min())
        if held + 2 < min(few + 1, some + 3):
            start = foot + int(holds.argmin())
            token = self._hold_token(0, start, held)
            assert token is not None
            out += token
            return start, token[-1], start, 0
        among, need, first = (
            (near, few, LEAST_CHANGE) if few + 1 <= some + 3 else (starts, some, LEAST_SLOPE)
        )
        index, value = (int(found) for found in np.unravel_index(among.argmin(), among.shape))
        slope = first + index
        if among is not near:
            out += _slope_bytes(slope)
        ends = self._ends(0, np.array([slope]), np.array([foot + value]), np.array([need]))
        run = int(ends[0])
        assert run >= 0
        out.append(run << 4 | (slope & 0xF if among is near else 0))
        return foot + value - slope, RUNS[run], foot + value + (RUNS[run] - 1) * slope, slope

    def _go_on(self, day: int, absolute: int, slope: int, out: bytearray) -> tuple[int, int, int]:
        """Add the token whose first minute is a day's, with its escapes; return where it leads."""
        before = self.rest[day - 1][slope - LEAST_SLOPE, self._above(day - 1, absolute)]
        need = int(before) - len(self.gaps[day])
        new, escape, change = _slopes_after(slope)
        first, jump = self._landings(day, absolute + new)
        left = need - 1 - escape[:, None] - _jump_length(jump)
        ends = self._ends(day, np.broadcast_to(new[:, None], first.shape), first, left)
        found = np.flatnonzero(ends >= 0)
        if found.size:
            which, where = (int(at) for at in np.unravel_index(found[0], ends.shape))
            run, slope, absolute = (
                int(ends[which, where]),
                int(new[which]),
                int(first[which, where]),
            )
            out += _jump_bytes(int(jump[which, where]))
            out += (b"", bytes([LEVEL]), _slope_bytes(slope))[escape[which]]
            out.append(run << 4 | int(change[which]) & 0xF)
            return day + RUNS[run], absolute + (RUNS[run] - 1) * slope, slope
        held, jumps = self._landings(day, np.array([absolute]))
        for at, far in zip(held[0].tolist(), jumps[0].tolist(), strict=True):
            moving = _jump_bytes(far)
            token = self._hold_token(day, at, need - len(moving) - 2)
            if token is not None:
                out += moving + token
                return day + token[-1], at, 0
        raise AssertionError("what the search has found is not there")

    def _landings(self, day: int, landed: Ints) -> tuple[Ints, Ints]:
        """Return where each value gets into a day's band, by its minutes, and by which jumps."""
        minutes = np.arange(self.low[day], self.low[day] + self.minutes[day])
        jump: Ints = minutes - (landed >> self.bits)[:, None]
        return landed[:, None] + jump * self.one, jump

    def _ends(self, day: int, slope: Ints, first: Ints, need: Ints) -> Ints:
        """Return which run begins on a day and leaves so many bytes for the rest; -1 for none.

        Parameters
        ----------
        slope, first, need
            Of each run that may be: its slope, its first value and those bytes.
        """
        ends = np.full(first.shape, -1)
        going = np.arange(first.size)
        slope, first, need = slope.ravel(), first.ravel(), need.ravel()
        for days in range(1, RUNS[-1] + 1):
            last = day + days - 1
            if self.gaps[last] and days > 1:
                break
            if last == self.days:
                # What lies past the end is not looked at.
                longer = next(index for index, run in enumerate(RUNS) if run >= days)
                ends.flat[going[need[going] == 0]] = longer
                break
            above = first[going] + (days - 1) * slope[going] - self.low[last] * self.one
            inside = (above >= 0) & (above < self.minutes[last] * self.one)
            going, above = going[inside], above[inside]
            if days in RUNS:
                rest = self.rest[last][slope[going] - LEAST_SLOPE, above]
                done = rest == need[going]
                ends.flat[going[done]] = RUNS.index(days)
                going = going[~done]
        return ends

    def _hold_token(self, day: int, absolute: int, need: int) -> bytes | None:
        """Return the hold that begins on a day and leaves so many bytes for the rest."""
        for later in range(day, min(day + LONGEST_COUNT, self.days)):
            above = self._above(later, absolute)
            if not 0 <= above < self.minutes[later] * self.one or (
                later > day and self.gaps[later]
            ):
                return None
            if self.rest[later][LEVEL_ROW, above] == need:
                return bytes([HOLD, later - day + 1])
        return None

    def _above(self, day: int, absolute: int) -> int:
        return absolute - self.low[day] * self.one


def _slopes_after(slope: int) -> tuple[Ints, Ints, Ints]:
    """Return every slope, the bytes of the escape that it needs, and the change in the token."""
    changes = np.arange(LEAST_CHANGE, MOST_CHANGE + 1)
    far = np.arange(LEAST_SLOPE, MOST_SLOPE + 1)
    new = np.concatenate([slope + changes, changes, far])
    escape = np.repeat((0, 1, 2), (len(changes), len(changes), len(far)))
    change = np.concatenate([changes, changes, np.zeros_like(far)])
    can_be = (new >= LEAST_SLOPE) & (new <= MOST_SLOPE)
    return new[can_be], escape[can_be], change[can_be]


def _jump_length(jump: Ints) -> Ints:
    near = (jump >= LEAST_JUMP) & (jump <= MOST_JUMP)
    return np.where(jump == 0, 0, np.where(near, 2, 3))


def _jump_bytes(jump: int) -> bytes:
    if jump == 0:
        return b""
    if LEAST_JUMP <= jump <= MOST_JUMP:
        return bytes([JUMP]) + jump.to_bytes(1, "little", signed=True)
    return bytes([FAR_JUMP]) + jump.to_bytes(2, "little", signed=True)


def _slope_bytes(slope: int) -> bytes:
    return bytes([SLOPE]) + slope.to_bytes(1, "little", signed=True)
