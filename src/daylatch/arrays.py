"""Names for the arrays that pass between modules, and the units of time that they count in.

NumPy's own types say neither what an array holds nor its unit; these say it once. What has an
element a day has that axis first; where several sites are planned at once, theirs is the last.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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

Value = TypeVar("Value")
_Other = TypeVar("_Other")


class Coded(NamedTuple, Generic[Value]):
    """A column of few different values, each of which is made once.

    Attributes
    ----------
    codes : whole numbers
        An index into the values for each element, in any shape.
    values : list
        What there is, each once.
    """

    codes: NDArray[np.integer[Any]]
    values: list[Value]

    def each(self, make: Callable[[Value], _Other]) -> Coded[_Other]:
        """Return what is made of each value, in the same places; some may be equal then."""
        return Coded(self.codes, [make(value) for value in self.values])

    def column(self) -> list[Value]:
        """Return the values of a column of one dimension, one after another."""
        return [self.values[code] for code in self.codes.tolist()]


def number_combinations(
    columns: Sequence[NDArray[Any]], shape: tuple[int, ...]
) -> tuple[NDArray[np.int32], Numbers]:
    """Number the combinations of values that stand in some columns.

    Parameters
    ----------
    columns
        Of whole numbers, flags, durations or finite floats; each as large as the shape or to be
        broadcast to it.
    shape
        Of what is numbered.

    Returns
    -------
    int32, int64
        The number of each element's combination, and for each number where in the flattened shape
        an element of it stands.
    """
    size = math.prod(shape)
    if not size:
        return np.zeros(shape, np.int32), np.zeros(0, np.int64)
    # So many numbers are told apart by a table; more are sorted, which takes ten times as long.
    most = 2 * size + 2**16
    # Worked on in place: of many houses, fetching new memory would take longer than counting.
    numbers, count = np.zeros(shape, np.int64), 1
    for column in columns:
        added, span = _numbered(column, most)
        if span == 1:
            continue
        if count * span > most:
            count = _close_gaps(numbers, count)
        numbers *= span
        numbers += added
        count *= span
        if count > most:
            numbers, count = _sorted_out(numbers)
    count = _close_gaps(numbers, count)
    places = np.empty(count, np.int64)
    places[numbers.ravel()] = np.arange(size)
    return numbers.astype(np.int32), places


def _numbered(column: NDArray[Any], most: int) -> tuple[Numbers, int]:
    """Return a column as numbers from 0 on, with how many there may be."""
    # By their bits, floats are told apart as exactly as they can be.
    whole = column.view(np.int64) if column.dtype.kind in "fm" else column.astype(np.int64)
    # Most settings hold on all days.
    if whole.ndim and np.array_equal(whole, np.broadcast_to(whole[:1], whole.shape)):
        whole = whole[:1]
    least = int(whole.min())
    span = int(whole.max()) - least + 1
    if span > most:
        return _sorted_out(whole)
    return whole - least, span


def _close_gaps(numbers: Numbers, count: int) -> int:
    """Number anew, in place, what lies below a count, and return how many there are."""
    found = np.zeros(count, np.bool_)
    found[numbers] = True
    anew = np.cumsum(found) - 1
    # With this mode no copy is made; all numbers lie below the count.
    np.take(anew, numbers, out=numbers, mode="clip")
    return int(anew[-1]) + 1


def _sorted_out(numbers: Numbers) -> tuple[Numbers, int]:
    """Return any numbers anew, from 0 on without gaps, with how many there are."""
    # Not numpy.unique, which loads much else.
    ordered = np.sort(numbers, axis=None)
    kept = ordered[np.append(True, ordered[1:] != ordered[:-1])]
    return np.searchsorted(kept, numbers), len(kept)


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
