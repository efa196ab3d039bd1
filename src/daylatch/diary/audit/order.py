"""What an audit looks at, put in the order of time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.moves import Expected, Readings, Seen

if TYPE_CHECKING:
    from numpy.typing import NDArray


def expected_in_order(expected: Expected) -> Expected:
    """Return the movements that were due in the order of time."""
    order = np.lexsort([expected.opening, expected.due_utc])
    return Expected(
        expected.dates[order],
        expected.opening[order],
        expected.planned_utc[order],
        expected.due_utc[order],
        expected.up_to_min[order],
    )


def seen_in_order(seen: Seen) -> Seen:
    """Return what was seen in the order of time, and what has one time in an order of its own."""
    kinds = np.array([kind.value for kind in seen.kinds])
    order = np.lexsort([seen.within_min, seen.outside, kinds, seen.opening, seen.at_utc])
    return Seen(
        seen.at_utc[order].astype("datetime64[s]"),
        seen.opening[order],
        tuple(seen.kinds[row] for row in order),
        seen.within_min[order],
        seen.outside[order],
    )


def readings_in_order(readings: Readings) -> Readings:
    """Return readings in the order of time."""
    order: NDArray[np.int64] = np.lexsort(
        [readings.within_min, readings.error_min, readings.at_utc]
    )
    return Readings(
        readings.at_utc[order].astype("datetime64[s]"),
        readings.error_min[order],
        readings.within_min[order],
    )
