"""Names for the arrays that pass between modules, and the units of time that they count in.

NumPy's own types say neither what an array holds nor its unit; these say it once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Times = NDArray[np.datetime64[Any]]
    """Instants in UTC, dates, or wall-clock times: the name of a column says which."""
    Minutes = NDArray[np.timedelta64[Any]]
    """Durations; most are whole minutes."""
    Flags = NDArray[np.bool_]
    Numbers = NDArray[np.int64]

# 1970-01-01, from which NumPy counts days, was a Thursday.
_MONDAY_TO_THURSDAY = 3

DAY = np.timedelta64(1, "D")
HOUR = np.timedelta64(1, "h")
MINUTE = np.timedelta64(1, "m")
DAY_MIN = 24 * 60


def weekday_of(dates: Times) -> Numbers:
    """Return the weekdays of dates, counted from Monday, which is 0."""
    return (dates.astype("datetime64[D]").astype(np.int64) + _MONDAY_TO_THURSDAY) % 7


def week_of(dates: Times, first_weekday: int) -> Numbers:
    """Return numbers of weeks, counted without end.

    Parameters
    ----------
    dates
        Of which days.
    first_weekday
        With which day weeks begin, counted from Monday, which is 0.
    """
    days = dates.astype("datetime64[D]").astype(np.int64)
    return (days + _MONDAY_TO_THURSDAY - first_weekday) // 7
