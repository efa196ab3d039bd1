"""Names for the arrays that pass between modules, and the units of time that they count in.

NumPy's own types say neither what an array holds nor its unit; these say it once. What has an
element a day has that axis first; where several sites are planned at once, theirs is the last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Times = NDArray[np.datetime64[Any]]
    """Instants in UTC, dates, or wall-clock times: the name of a column says which."""
    Minutes = NDArray[np.timedelta64[Any]]
    """Durations; most are whole minutes."""
    Flags = NDArray[np.bool_]
    Numbers = NDArray[np.int64]

_Element = TypeVar("_Element", bound=np.generic)

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


@dataclass(frozen=True, eq=False)
class Record:
    """A record of arrays, of which `column_of` and `rows_of` take parts."""


def beside_sites(of_days: NDArray[_Element], axes: int) -> NDArray[_Element]:
    """Return what has an element a day with so many axes of length one behind, for sites."""
    return of_days.reshape(of_days.shape + (1,) * axes)


def repeated(value: Any, shape: tuple[int, ...]) -> NDArray[Any]:
    """Return an array that repeats one value without holding it more than once, read-only."""
    one = np.asarray(value)
    # As `numpy.broadcast_to`, which takes ten times as long.
    array = np.ndarray(shape, one.dtype, one, strides=(0,) * len(shape))
    array.flags.writeable = False
    return array


def once(values: NDArray[_Element]) -> NDArray[_Element]:
    """Return an array with axes of length one where it only repeats itself, as settings do."""
    if 0 not in values.strides:
        return values
    return values[tuple(slice(0, 1) if step == 0 else slice(None) for step in values.strides)]


def is_given(times: NDArray[Any]) -> bool:
    """Return whether there is a time among some, that are NaT where none is given."""
    return not np.isnat(once(times)).all()


def column_of(record: Any, column: int | list[int]) -> Any:
    """Return one site's arrays of a record of arrays, days x sites, or those of some sites.

    What has no axis of sites stays.
    """
    return _each(record, lambda values: values[:, column] if values.ndim > 1 else values)


def rows_of(record: Any, where: Flags | slice) -> Any:
    """Return some days of a record of arrays."""
    return _each(record, lambda values: values[where])


def _each(record: Any, of: Callable[[NDArray[Any]], NDArray[Any]]) -> Any:
    """Return a record, however nested, with something else in place of each of its arrays."""
    if isinstance(record, np.ndarray):
        return of(record)
    if isinstance(record, Record):
        return type(record)(
            **{name: _each(getattr(record, name), of) for name in record.__dataclass_fields__}
        )
    if isinstance(record, dict):
        return {key: _each(value, of) for key, value in record.items()}
    if isinstance(record, tuple) and hasattr(record, "_fields"):
        return type(record)(*(_each(value, of) for value in record))
    return record
