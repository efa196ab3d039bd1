"""The bytes of a controller table: names for what ``docs/reference/table.md`` says in words."""

from __future__ import annotations

import binascii
import datetime as dt
import struct
from dataclasses import dataclass
from itertools import accumulate, pairwise

MAGIC = b"\xda\x7c"
VERSION = 1
EPOCH = dt.date(2000, 1, 1)
"""Day 0 of dates in a table."""
SLOTS_OF_EVERY_YEAR = 366
"""1 January to 31 December with 29 February."""
LARGEST_BYTES = 0xFFFF
LARGEST_WITHIN_MIN = 0xFF
HIGHEST_MINUTE = 4319
LOWEST_MINUTE = -2880
"""Door times lie on the date itself, or up to two days from it (a calendar may skip a date)."""

CLOCK_BITS = 0b0000_0011
EVERY_YEAR = 0b0000_0100
OPENING_AS_SHOWN = 0b0000_1000
CLOSING_AS_SHOWN = 0b0001_0000
KNOWN_FLAGS = CLOCK_BITS | EVERY_YEAR | OPENING_AS_SHOWN | CLOSING_AS_SHOWN

RAW = 7
"""In place of the number of fraction bits: a stream of 16-bit minutes."""
MOST_FRACTION_BITS = 5
RUNS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 16, 20, 26, 36)
"""The days that a token's high nibble stands for; 15 begins an escape."""
LEAST_CHANGE, MOST_CHANGE = -8, 7
LEAST_SLOPE, MOST_SLOPE = -128, 127
JUMP, FAR_JUMP, SLOPE, LEVEL, HOLD, SHUT, NO_ROW = range(0xF0, 0xF7)
"""The escapes; all others are refused."""
LONGEST_COUNT = 255
"""The most days of a hold, or of days without a minute."""
RAW_SHUT, RAW_NO_ROW = -0x8000, -0x7FFF

_HEAD = struct.Struct("<2sBBHHHBbBH")
_CHANGE = struct.Struct("<Hb")
CHECK_BYTES = 2
MOST_CHANGES = 0xFF
MOST_CHANGED_QUARTERS = 192
"""How far the clock may be moved in all: two days, so that 16 bits hold any time on it."""


class TableError(ValueError):
    """Bytes that are no controller table, or not a whole one."""


@dataclass(frozen=True)
class Head:
    """What stands before the streams.

    Attributes
    ----------
    flags : int
        The clock and how the table is to be read.
    length : int
        Of the whole file [bytes].
    first : int
        First date, in days since `EPOCH`.
    days : int
        Dates covered.
    within_min : int
        The promised width: how much later than planned a movement may come.
    offset_quarters : int
        The clock minus UTC on the first date [15 min].
    changes : tuple of (int, int)
        On which day (0 is the first) the clock has changed, and by how much [15 min].
    opening_length : int
        Of the stream of openings [bytes].
    """

    flags: int
    length: int
    first: int
    days: int
    within_min: int
    offset_quarters: int
    changes: tuple[tuple[int, int], ...]
    opening_length: int

    @property
    def size(self) -> int:
        """Bytes of the head itself."""
        return _HEAD.size + _CHANGE.size * len(self.changes)

    @property
    def slots(self) -> int:
        """Values in each stream."""
        return SLOTS_OF_EVERY_YEAR if self.flags & EVERY_YEAR else self.days


def check_of(content: bytes) -> int:
    """Return the CRC-16 of some bytes: polynomial 0x1021, begun with 0xFFFF, not reflected."""
    return binascii.crc_hqx(content, 0xFFFF)


def pack_head(head: Head) -> bytes:
    """Return the bytes of a head."""
    fixed = _HEAD.pack(
        MAGIC,
        VERSION,
        head.flags,
        head.length,
        head.first,
        head.days,
        head.within_min,
        head.offset_quarters,
        len(head.changes),
        head.opening_length,
    )
    return fixed + b"".join(_CHANGE.pack(*change) for change in head.changes)


def unpack_head(content: bytes) -> Head:
    """Read the head of a whole file, and see that the file is whole.

    Raises
    ------
    TableError
        If anything in it is not as the format says.
    """
    if len(content) < _HEAD.size + CHECK_BYTES or not content.startswith(MAGIC):
        raise TableError("is no controller table")
    _, version, flags, length, first, days, within, offset, count, opening = _HEAD.unpack_from(
        content
    )
    if version != VERSION:
        raise TableError(f"has format {version}, and only {VERSION} is known")
    if length != len(content):
        raise TableError(f"says it has {length} bytes, and has {len(content)}")
    if check_of(content[:-CHECK_BYTES]) != int.from_bytes(content[-CHECK_BYTES:], "little"):
        raise TableError("is damaged: its check does not fit")
    if flags & ~KNOWN_FLAGS or flags & CLOCK_BITS == CLOCK_BITS:
        raise TableError(f"has flags that are not known (0x{flags:02X})")
    if days == 0 or first + days > 0x10000:
        raise TableError("covers no dates that can be")
    if _HEAD.size + _CHANGE.size * count + CHECK_BYTES > length:
        raise TableError("ends within its clock changes")
    changes = tuple(
        _CHANGE.unpack_from(content, _HEAD.size + _CHANGE.size * index) for index in range(count)
    )
    dates = [0, *(day for day, _ in changes)]
    if any(later <= day for day, later in pairwise(dates)) or dates[-1] >= days:
        raise TableError("has clock changes out of order")
    moved = accumulate(by for _, by in changes)
    if any(abs(quarters) > MOST_CHANGED_QUARTERS for quarters in moved):
        raise TableError("has a clock that is moved by more than two days")
    head = Head(flags, length, first, days, within, offset, changes, opening)
    if head.size + opening + CHECK_BYTES > length:
        raise TableError("ends within its openings")
    return head
