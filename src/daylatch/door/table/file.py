"""The plan as a controller table: bytes, a C header with the same bytes, or Intel HEX.

What the bytes are: `daylatch.door.table`.
"""

from __future__ import annotations

import io
import json
import re
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.door.table import HIGHEST_ADDRESS, TableWish
from daylatch.door.table.decode import decode
from daylatch.door.table.encode import encode
from daylatch.door.table.format import CHECK_BYTES, CLOCK_BITS, EVERY_YEAR, TableError
from daylatch.errors import UsageError
from daylatch.wording import capital, wrapped

if TYPE_CHECKING:
    from daylatch.door.table.decode import ControllerTable
    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan

_FIRST_LINE = "/* daylatch controller table."
_BYTES_A_LINE = 12
_CLOCK_WORDS = {
    0: "the wall clock of {zone}, with its changes",
    1: "standard time of {zone} all year",
    2: "UTC",
}


def render(plan: Plan, occasion: Occasion, *, wish: TableWish | None = None) -> bytes:
    """Return the table in the form that is asked for.

    Raises
    ------
    UsageError, PlanError
        If there can be no such table.
    """
    wish = wish or TableWish()
    content = encode(
        plan,
        within_min=wish.within_min,
        every_year=wish.every_year,
        clock_margin_min=wish.clock_margin_min,
        on_progress=occasion.on_progress,
    )
    _refuse_memory(len(content), wish)
    match wish.form:
        case "c":
            return _c_header(plan, content, wish)
        case "hex":
            return _intel_hex(content, wish.address)
        case _:
            return content


def wrote(content: bytes) -> bool:
    """Return whether a file holds a whole table, in any of the forms."""
    try:
        decode(bytes_in(content))
    except TableError:
        return False
    return True


def describe(content: bytes, wish: TableWish) -> str:
    """Return what is said of a file that was written: dates, width, bytes, and when it ends."""
    tried_out = f"; {wish.tried_out}" if wish.tried_out else ""
    inner = bytes_in(content)
    table = decode(inner)
    years = ", every year alike" if table.head.flags & EVERY_YEAR else ""
    return (
        f"{table.first} to {table.last}{years}, "
        f"{_width_words(table, wish.clock_margin_min)}, {len(inner)} bytes: head "
        f"{table.head.size}, opening {table.opening_bytes}, closing {table.closing_bytes}, check "
        f"{CHECK_BYTES}; {_end_words(table)}{tried_out}"
    )


def bytes_in(content: bytes) -> bytes:
    """Return the table within a file of any form.

    Raises
    ------
    TableError
        If there is none.
    """
    if content.startswith(_FIRST_LINE.encode()):
        inner = content.rpartition(b"{")[2].partition(b"}")[0]
        return bytes(int(byte, 16) for byte in re.findall(rb"\b0x([0-9A-F]{2})\b", inner))
    if content.startswith(b":"):
        return _from_intel_hex(content)
    return content


def _end_words(table: ControllerTable) -> str:
    """Return when it ends, and what to do before then."""
    words = f"ends on {table.last}: make a new one before then"
    if table.head.flags & EVERY_YEAR:
        return words
    return f"{words}, or ask for --every-year with several years"


def _width_words(table: ControllerTable, clock_margin_min: int) -> str:
    width = table.head.within_min
    if not width:
        return "exact to the minute"
    while_right = (
        f" while the clock is within {clock_margin_min} min of right" if clock_margin_min else ""
    )
    return f"late by at most {width} min{while_right}"


def _refuse_memory(length: int, wish: TableWish) -> None:
    """Raise if a table does not fit into the device.

    Raises
    ------
    UsageError
        With the bytes that it needs and those that there are.
    """
    if wish.memory_bytes is None or wish.address + length <= wish.memory_bytes:
        return
    where = (
        f" from 0x{wish.address:X} to 0x{wish.address + length - 1:X}, and the device ends at "
        f"0x{wish.memory_bytes - 1:X}: give a lower --address,"
        if wish.address
        else ", and the device has room for no more:"
    )
    raise UsageError(
        f"--memory is {wish.memory_bytes}: the table needs {length} bytes{where} ask for fewer "
        "dates, or give a larger --within, or --every-year for many years"
    )


def _c_header(plan: Plan, content: bytes, wish: TableWish) -> bytes:
    """Return a C header: the bytes as an array, and what they are as a comment."""
    table = decode(content)
    clock = table.head.flags & CLOCK_BITS
    words = _CLOCK_WORDS[clock].format(zone=plan.site.zone)
    years = "; by month and day, for every year of them" if table.head.flags & EVERY_YEAR else ""
    sentences = [
        f"Site: {_safe_comment(plan.site.name)}",
        f"Dates: {table.first} to {table.last}{years}",
        f"Clock: {words}; zone rules {zone_rules_version()}",
        f"Width: {_width_words(table, wish.clock_margin_min)}, and never early",
    ]
    lines = [_FIRST_LINE, *(f" * {line}" for line in sentences), " *"]
    for told in filter(None, (_end_words(table), wish.tried_out)):
        lines += [f" * {line}" for line in wrapped([f"{capital(told)}."])]
    lines += [f" * {line}" for line in wrapped([CAUTION, NO_WEATHER])]
    if plan.door_clock is DoorClock.WALL:
        note = "The controller's clock must change with the wall clock; the table names the dates."
        lines += [f" * {line}" for line in wrapped([note])]
    lines += [
        " */",
        "#ifndef DAYLATCH_TABLE_H",
        "#define DAYLATCH_TABLE_H",
        "",
        "#include <stdint.h>",
        "",
        "/* What puts a constant into program memory, where that is not data memory. */",
        "#ifndef DAYLATCH_TABLE_STORAGE",
        "#define DAYLATCH_TABLE_STORAGE",
        "#endif",
        "",
        f"#define DAYLATCH_TABLE_LENGTH {len(content)}",
        "",
        "static const uint8_t daylatch_table[DAYLATCH_TABLE_LENGTH] DAYLATCH_TABLE_STORAGE = {",
    ]
    for start in range(0, len(content), _BYTES_A_LINE):
        row = content[start : start + _BYTES_A_LINE]
        lines.append("    " + ", ".join(f"0x{byte:02X}" for byte in row) + ",")
    lines[-1] = lines[-1].removesuffix(",")
    lines += ["};", "", "#endif", ""]
    return "\n".join(lines).encode()


def _safe_comment(text: str) -> str:
    """Return a text as a JSON string in which nothing ends a comment, begins one or is a trigraph.

    Between quotes no backslash can stand at the end of a line.
    """
    quoted = json.dumps(text, ensure_ascii=False)
    for pair, instead in (("*/", "*\\u002f"), ("/*", "/\\u002a"), ("??", "?\\u003f")):
        quoted = quoted.replace(pair, instead)
    return quoted


def _intel_hex(content: bytes, address: int) -> bytes:
    """Return Intel HEX with the bytes at an address.

    Raises
    ------
    UsageError
        If they do not fit in below the highest address.
    """
    from intelhex import IntelHex  # noqa: PLC0415

    if address + len(content) - 1 > HIGHEST_ADDRESS:
        raise UsageError(
            f"--address is 0x{address:X}: the table has {len(content)} bytes and would reach past "
            f"0x{HIGHEST_ADDRESS:X}, the end of what Intel HEX can address"
        )
    image = IntelHex()
    image.frombytes(content, offset=address)
    out = io.StringIO()
    image.write_hex_file(out, eolstyle="native")
    return out.getvalue().encode()


def _from_intel_hex(content: bytes) -> bytes:
    from intelhex import IntelHex, IntelHexError  # noqa: PLC0415

    image = IntelHex()
    try:
        image.loadhex(io.StringIO(content.decode("ascii")))
        first, last = image.minaddr(), image.maxaddr()
        if first is None or last - first >= len(content):
            raise TableError("is not one table")
        return bytes(image.tobinarray(start=first, end=last))
    except (IntelHexError, UnicodeDecodeError) as error:
        raise TableError("is no Intel HEX") from error
