"""Controller tables: door times in as few bytes as their own small format needs.

What every byte means is in ``docs/reference/table.md``; the names in `daylatch.table.format` are
the same. `encode` writes a plan, `decode` reads a file, and `tokens` finds the fewest bytes.
"""

from __future__ import annotations

from dataclasses import dataclass


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
    """

    form: str = "bin"
    within_min: int | None = None
    address: int = 0
    every_year: bool = False
