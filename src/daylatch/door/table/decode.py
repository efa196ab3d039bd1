"""Reading a controller table back: what its bytes say, or why they cannot be trusted."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from daylatch.door.table.format import (
    CHECK_BYTES,
    CLOSING_AS_SHOWN,
    EPOCH,
    EVERY_YEAR,
    FAR_JUMP,
    HIGHEST_MINUTE,
    HOLD,
    JUMP,
    LEAST_SLOPE,
    LEVEL,
    LOWEST_MINUTE,
    MOST_FRACTION_BITS,
    MOST_SLOPE,
    NO_ROW,
    OPENING_AS_SHOWN,
    RAW,
    RAW_NO_ROW,
    RAW_SHUT,
    RUNS,
    SHUT,
    SLOPE,
    Head,
    TableError,
    unpack_head,
)

_ESCAPE = 0xF0
_START_BYTES = 3
_LEAP_YEAR = 2000


class Shut:
    """What a day has on which the door stays shut."""

    def __repr__(self) -> str:
        return "STAYS_SHUT"


STAYS_SHUT = Shut()
"""In place of a minute: the door stays shut that day."""
Value = int | Shut | None
"""A minute, `STAYS_SHUT`, or None for a date that has no row."""


@dataclass(frozen=True)
class ControllerTable:
    """A table as it is read.

    Attributes
    ----------
    head : Head
        What stands before the streams.
    opening, closing : tuple of Value
        What the streams hold, an element a slot.
    opening_bytes, closing_bytes : int
        How long the streams are.
    """

    head: Head
    opening: tuple[Value, ...]
    closing: tuple[Value, ...]
    opening_bytes: int
    closing_bytes: int

    @property
    def first(self) -> dt.date:
        """The first date that it covers."""
        return EPOCH + dt.timedelta(days=self.head.first)

    @property
    def last(self) -> dt.date:
        """The last date that it covers."""
        return self.first + dt.timedelta(days=self.head.days - 1)

    def on(self, date: dt.date) -> tuple[Value, Value]:
        """Return when the door opens and closes on a date, on the table's clock.

        Minutes since that date's midnight; they may be below 0 or past 1440.

        Raises
        ------
        LookupError
            For a date outside the table.
        """
        day = (date - self.first).days
        if not 0 <= day < self.head.days:
            raise LookupError(f"{date} is not in this table")
        slot = day
        if self.head.flags & EVERY_YEAR:
            slot = (date.replace(year=_LEAP_YEAR) - dt.date(_LEAP_YEAR, 1, 1)).days
        shift = 15 * sum(change for begins, change in self.head.changes if begins <= day)

        def shown(value: Value, as_shown: int) -> Value:
            moves = isinstance(value, int) and not self.head.flags & as_shown
            return value + shift if moves and isinstance(value, int) else value

        return (
            shown(self.opening[slot], OPENING_AS_SHOWN),
            shown(self.closing[slot], CLOSING_AS_SHOWN),
        )


def decode(content: bytes) -> ControllerTable:
    """Read a whole file.

    Raises
    ------
    TableError
        If it is damaged, of another format, or says what cannot be.
    """
    head = unpack_head(content)
    middle = head.size + head.opening_length
    opening = content[head.size : middle]
    closing = content[middle:-CHECK_BYTES]
    table = ControllerTable(
        head,
        tuple(read_stream(opening, head.slots)),
        tuple(read_stream(closing, head.slots)),
        len(opening),
        len(closing),
    )
    _refuse_half_days(table)
    return table


def _refuse_half_days(table: ControllerTable) -> None:
    """Raise if a day has one movement only."""
    for opens, closes in zip(table.opening, table.closing, strict=True):
        if not (isinstance(opens, int) and isinstance(closes, int)) and opens is not closes:
            raise TableError("has a day with one movement only")


def read_stream(stream: bytes, slots: int) -> list[Value]:
    """Return what each slot of a stream holds.

    Raises
    ------
    TableError
        If the stream ends too early or too late, or holds what the format does not know.
    """
    if not stream:
        raise TableError("has an empty stream")
    bits = stream[0] >> 5
    if bits == RAW:
        return _read_raw(stream, slots)
    if bits > MOST_FRACTION_BITS or stream[0] & 0x1F >= 1 << bits or len(stream) < _START_BYTES:
        raise TableError("has a stream that does not begin as one")
    minute = _checked(int.from_bytes(stream[1:3], "little", signed=True))
    value = (minute << bits) + (stream[0] & 0x1F)
    return _Tape(stream[_START_BYTES:], slots, bits, value).read()


def _read_raw(stream: bytes, slots: int) -> list[Value]:
    if stream[0] & 0x1F or len(stream) != 1 + 2 * slots:
        raise TableError("has a stream of the wrong length")
    values: list[Value] = []
    for place in range(1, len(stream), 2):
        number = int.from_bytes(stream[place : place + 2], "little", signed=True)
        if number == RAW_SHUT:
            values.append(STAYS_SHUT)
        elif number == RAW_NO_ROW:
            values.append(None)
        else:
            values.append(_checked(number))
    return values


def _checked(minute: int) -> int:
    if not LOWEST_MINUTE <= minute <= HIGHEST_MINUTE:
        raise TableError(f"has a door time of {minute} minutes, which cannot be")
    return minute


class _Tape:
    """The tokens of one stream, and what they have come to."""

    def __init__(self, tokens: bytes, slots: int, bits: int, value: int) -> None:
        self.tokens = iter(tokens)
        self.slots = slots
        self.bits = bits
        self.value = value
        self.slope = 0
        self.values: list[Value] = []

    def read(self) -> list[Value]:
        """Return the values, having read all tokens."""
        while len(self.values) < self.slots:
            token = self._next()
            if token < _ESCAPE:
                self._run(RUNS[token >> 4], (token & 0xF) - 0x10 * ((token & 0xF) > 7))
            else:
                self._escape(token)
        if next(self.tokens, None) is not None:
            raise TableError("has tokens behind its last day")
        return self.values

    def _next(self) -> int:
        token = next(self.tokens, None)
        if token is None:
            raise TableError("ends before its last day")
        return token

    def _signed(self, count: int) -> int:
        content = bytes(self._next() for _ in range(count))
        return int.from_bytes(content, "little", signed=True)

    def _run(self, days: int, change: int) -> None:
        self.slope += change
        if not LEAST_SLOPE <= self.slope <= MOST_SLOPE:
            raise TableError("has a slope that is too steep")
        for _ in range(min(days, self.slots - len(self.values))):
            self.value += self.slope
            self.values.append(_checked(self.value >> self.bits))

    def _escape(self, token: int) -> None:
        if token in (JUMP, FAR_JUMP):
            self.value += self._signed(1 if token == JUMP else 2) << self.bits
            _checked(self.value >> self.bits)
        elif token == SLOPE:
            self.slope = self._signed(1)
        elif token == LEVEL:
            self.slope = 0
        elif token == HOLD:
            self.slope = 0
            self._repeat(_checked(self.value >> self.bits))
        elif token == SHUT:
            self._repeat(STAYS_SHUT)
        elif token == NO_ROW:
            self._repeat(None)
        else:
            raise TableError(f"has a token that is not known (0x{token:02X})")

    def _repeat(self, value: Value) -> None:
        days = self._next()
        if not 0 < days <= self.slots - len(self.values):
            raise TableError("has a count of days that does not fit")
        self.values += [value] * days
