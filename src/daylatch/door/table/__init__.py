"""Controller tables: door times in as few bytes as their own small format needs.

What every byte means is in ``docs/reference/table.md``; the names in `daylatch.door.table.format`
are the same. `encode` writes a plan, `decode` reads a file, and `tokens` finds the fewest bytes.
"""

from __future__ import annotations

from dataclasses import dataclass

FORMS = ("bin", "c", "hex")
"""How a table may be written: its bytes, a C header with them, or Intel HEX."""
HIGHEST_ADDRESS = 0xFFFF_FFFF
"""The last that Intel HEX can address."""


@dataclass(frozen=True)
class TableWish:
    """What a keeper asks of a table.

    Attributes
    ----------
    form : str
        ``bin``, ``c`` or ``hex``.
    within_min : int or None
        How many minutes later than planned a movement may come; None asks for the least that is
        possible, which is none at all unless years share the table.
    address : int
        Where Intel HEX puts the first byte.
    every_year : bool
        Whether all years of the plan share one table, by month and day.
    clock_margin_min : int
        How wrong the controller's clock may be, either way, with the width still kept.
    memory_bytes : int or None
        How many bytes the device has, counted from address 0; None if that is not known.
    tried_out : str
        That it is another table than the site file asks for, and what would make it so; empty if it
        is not.
    """

    form: str = "bin"
    within_min: int | None = None
    address: int = 0
    every_year: bool = False
    clock_margin_min: int = 0
    memory_bytes: int | None = None
    tried_out: str = ""
