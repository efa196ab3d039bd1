"""A reader of controller tables that shares nothing with the program.

Written from ``docs/reference/table.md`` alone, in another style than the program's: it slices by
hand, computes the check bit by bit, and goes through a stream with one generator.
"""

from __future__ import annotations

import datetime as dt

RUNS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 16, 20, 26, 36]


class RefusedError(Exception):
    """The bytes are not a table that the page describes."""


def need(condition):
    if not condition:
        raise RefusedError


def u16(data, at):
    return data[at] + 256 * data[at + 1]


def signed(number, bits):
    return number - (1 << bits) if number >> (bits - 1) else number


def crc(data):
    register = 0xFFFF
    for byte in data:
        register ^= byte << 8
        for _ in range(8):
            register = (register << 1) ^ (0x1021 if register & 0x8000 else 0)
            register &= 0xFFFF
    return register


def plausible(minute):
    need(-2880 <= minute <= 4319)
    return minute


def days_of(stream, slots):  # noqa: PLR0912 - one branch for each row of the page's table
    """Yield what the stream says for each slot."""
    need(len(stream) >= 3)
    kind, low = stream[0] >> 5, stream[0] % 32
    if kind == 7:
        need(low == 0 and len(stream) == 1 + 2 * slots)
        for at in range(1, len(stream), 2):
            number = u16(stream, at)
            if number in (0x8000, 0x8001):
                yield "shut" if number == 0x8000 else "no row"
            else:
                yield plausible(signed(number, 16))
        return
    need(kind <= 5 and low < 2**kind)
    minute, fraction, slope = plausible(signed(u16(stream, 1), 16)), low, 0
    at, left = 3, slots
    while left:
        need(at < len(stream))
        byte = stream[at]
        arguments = {0xF0: 1, 0xF1: 2, 0xF2: 1, 0xF3: 0, 0xF4: 1, 0xF5: 1, 0xF6: 1}
        if byte >= 0xF0:
            need(byte in arguments)
            count = arguments[byte]
            need(at + count < len(stream))
            argument = stream[at + 1 : at + 1 + count]
            at += 1 + count
            if byte == 0xF0:
                minute = plausible(minute + signed(argument[0], 8))
            elif byte == 0xF1:
                minute = plausible(minute + signed(u16(argument, 0), 16))
            elif byte == 0xF2:
                slope = signed(argument[0], 8)
            elif byte == 0xF3:
                slope = 0
            else:
                need(0 < argument[0] <= left)
                if byte == 0xF4:
                    slope = 0
                left -= argument[0]
                said = {0xF4: minute, 0xF5: "shut", 0xF6: "no row"}[byte]
                yield from [said] * argument[0]
        else:
            at += 1
            slope += signed(byte % 16, 4)
            need(-128 <= slope <= 127)
            for _ in range(min(RUNS[byte // 16], left)):
                whole, fraction = divmod(fraction + slope, 2**kind)
                minute = plausible(minute + whole)
                left -= 1
                yield minute
    need(at == len(stream))


def read_table(data):
    """Return a function from a date to (opening, closing), "shut" or "no row"."""
    need(len(data) >= 17)
    need(data[0] == 0xDA and data[1] == 0x7C and data[2] == 1)
    flags = data[3]
    need(flags < 32 and flags % 4 != 3)
    need(u16(data, 4) == len(data) and crc(data[:-2]) == u16(data, len(data) - 2))
    first, count = u16(data, 6), u16(data, 8)
    need(count and first + count <= 65536)
    changes, before, moved = [], 0, 0
    for number in range(data[12]):
        at = 15 + 3 * number
        need(at + 3 <= len(data) - 2)
        day = u16(data, at)
        need(before < day < count)
        before = day
        moved += signed(data[at + 2], 8)
        need(-192 <= moved <= 192)
        changes.append((day, 15 * signed(data[at + 2], 8)))
    start = 15 + 3 * data[12]
    middle = start + u16(data, 13)
    need(middle <= len(data) - 2)
    every_year = bool(flags & 4)
    slots = 366 if every_year else count
    opening = list(days_of(data[start:middle], slots))
    closing = list(days_of(data[middle:-2], slots))
    for one, other in zip(opening, closing, strict=True):
        need((isinstance(one, int) and isinstance(other, int)) or one == other)

    def ask(date):
        day = (date - dt.date(2000, 1, 1)).days - first
        need(0 <= day < count)
        slot = day
        if every_year:
            slot = [0, 31, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335][date.month - 1]
            slot += date.day - 1
        moved = sum(by for begins, by in changes if day >= begins)
        said = opening[slot], closing[slot]
        if isinstance(said[0], str):
            return said[0]
        return said[0] + (0 if flags & 8 else moved), said[1] + (0 if flags & 16 else moved)

    return ask


def read_door(content):
    """Return a function from a date and time on the table's clock to what the door should be."""
    ask = read_table(content)
    first = dt.date(2000, 1, 1) + dt.timedelta(days=u16(content, 6))
    last = first + dt.timedelta(days=u16(content, 8) - 1)

    def on(date):
        return ask(date) if first <= date <= last else None

    def beyond(today, step):
        date = today + dt.timedelta(days=step)
        return date + dt.timedelta(days=step) if on(date) == "no row" else date

    def door(when):
        today = when.date()
        past = []
        for date in (beyond(today, -1), today, beyond(today, 1)):
            if isinstance(on(date), tuple):
                midnight = dt.datetime.combine(date, dt.time())
                for minutes, state in zip(on(date), ("open", "shut"), strict=True):
                    moment = midnight + dt.timedelta(minutes=minutes)
                    if moment <= when:
                        past.append((moment, state))
        if not first <= today <= last:
            outside_before = today < first and past
            closes_today = today == last + dt.timedelta(days=1) and (
                isinstance(on(last), tuple) and on(last)[1] >= 1440
            )
            if not (outside_before or closes_today):
                return "unknown"
        if past:
            return max(past)[1]
        return "unknown" if on(beyond(today, -1)) is None else "shut"

    return door
