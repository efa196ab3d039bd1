"""What all files of light have in common: their head, and numbers in rows that may be bad."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

COLDEST_C, WARMEST_C = -90.0, 70.0
"""What air can be [°C]."""
# What goes on behind it as a number would is none.
_NUMBER = r"\s*([-+]?\d+(?:\.\d+)?)(?![\d,eE.]*\d)"


class LightFileError(ValueError):
    """A file of light that cannot be used; its text says why, and what would help."""


def number_in(
    cells: Sequence[str], place: int, name: str, number: int, least: float, most: float
) -> float:
    """Return a number of a row.

    Parameters
    ----------
    cells
        The row.
    place, name
        Of its column.
    number
        Of the line.
    least, most
        What it can be.

    Raises
    ------
    LightFileError
        If there is none, or one that cannot be.
    """
    cell = cells[place] if place < len(cells) else ""
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise LightFileError(
            f'line {number}: {name} is "{cell[:20]}", and must be a number from {least:g} to '
            f"{most:g}: get the file anew"
        )
    return value


def in_head(head: str, label: str) -> float | None:
    """Return the number behind a label, a regular expression, in a head; None without it."""
    match = re.search(label + _NUMBER, head)
    return float(match[1]) if match else None


def place_of(head: str) -> tuple[float, float] | None:
    """Return the latitude and longitude that a head names [deg]; None if it does not."""
    north, east = (
        in_head(head, rf"{name} \(decimal degrees\):") for name in ("Latitude", "Longitude")
    )
    return None if north is None or east is None else (north, east)
