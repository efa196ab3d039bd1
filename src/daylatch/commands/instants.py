"""The instants that a command is asked for."""

from __future__ import annotations

import datetime as dt

import numpy as np

from daylatch.errors import UsageError

FIRST_YEAR, LAST_YEAR = 1902, 2100


def parse_instant(text: str, option: str) -> np.datetime64:
    """Read an instant [datetime64[s], UTC]: a date and time with its distance from UTC.

    Raises
    ------
    UsageError
        Naming the option, what was found and what would be right.
    """
    try:
        parsed = dt.datetime.fromisoformat(text)
        if parsed.tzinfo is None or not FIRST_YEAR <= parsed.year <= LAST_YEAR:
            raise ValueError
        return np.datetime64(parsed.astimezone(dt.UTC).replace(tzinfo=None), "s")
    except (ValueError, OverflowError):
        raise UsageError(
            f'{option} is "{text}": write a date and time with its distance from UTC, like '
            f"2027-06-01T22:00Z or 2027-06-01T22:00+02:00, in the years {FIRST_YEAR} to {LAST_YEAR}"
        ) from None
