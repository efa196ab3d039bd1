"""Reading a latitude or a longitude that somebody typed."""

from __future__ import annotations

import math


def read_degrees(text: str, limit: int) -> float:
    """Return degrees.

    Parameters
    ----------
    text
        As it was typed.
    limit
        90 for a latitude, 180 for a longitude.

    Raises
    ------
    ValueError
        Saying what would be right.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    # Python reads "1_000" too.
    if not abs(value) <= limit or "_" in text:
        side = "south" if limit == 90 else "west"
        raise ValueError(
            f"write degrees between -{limit} and {limit}, with a point, like 52.09; {side} is "
            "negative"
        )
    return value
