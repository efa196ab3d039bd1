"""A row a house: its longest lock-in, its shortest night, and how long it is open each month."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from daylatch.arrays import HOUR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.plan.door_times import DoorTimes
    from daylatch.site.tables import Site

_NONE = np.timedelta64(-1, "m")


def summary_schema(first: dt.date, last: dt.date) -> pa.Schema:
    """Return the columns, of which one is for each month of some dates, as ``open_h_2027_01``."""
    months = np.arange(np.datetime64(first, "M"), np.datetime64(last, "M") + 1)
    return pa.schema(
        [
            ("site", pa.string()),
            ("name", pa.string()),
            ("latitude", pa.float64()),
            ("longitude", pa.float64()),
            ("zone", pa.string()),
            ("longest_lock_in_min", pa.int32()),
            ("longest_lock_in_date", pa.date32()),
            ("shortest_night_min", pa.int32()),
            ("shortest_night_date", pa.date32()),
            ("days_shut", pa.int32()),
            ("days_close_in_daylight", pa.int32()),
            *((f"open_h_{str(month).replace('-', '_')}", pa.float64()) for month in months),
        ]
    )


def summary_table(sites: Sequence[Site], times: DoorTimes, schema: pa.Schema) -> pa.Table:
    """Return the rows of a block.

    Lock-ins are planned ones, and belong to the date on which the door closes. The shortest night
    is the shortest of them. What is open-ended counts as neither; null, where there is none.
    """
    known = ~np.isnat(times.lock_in)
    lock_in = np.where(known, times.lock_in, _NONE).astype("timedelta64[m]").astype(np.int64)
    longest = _at(lock_in, np.argmax(lock_in, axis=0))
    shortest = _at(lock_in, np.argmin(np.where(known, lock_in, np.iinfo(np.int64).max), axis=0))
    # Nothing divided by an hour is no number.
    open_h = np.nan_to_num((times.close_utc - times.open_utc) / HOUR)
    months = times.dates.astype("datetime64[M]")
    none = np.asarray(~known.any(axis=0))
    columns = [
        pa.array([site.file_name for site in sites]),
        pa.array([site.name for site in sites]),
        pa.array([site.latitude_deg for site in sites]),
        pa.array([site.longitude_deg for site in sites]),
        pa.array([site.zone for site in sites]),
        *_with_date(longest, times.dates, none),
        *_with_date(shortest, times.dates, none),
        pa.array((~times.is_open).sum(axis=0).astype(np.int32)),
        pa.array(times.closes_in_daylight.sum(axis=0).astype(np.int32)),
    ]
    for month in np.arange(months[0], months[-1] + 1):
        columns.append(pa.array(np.round(open_h[months == month].sum(axis=0), 2)))
    return pa.Table.from_arrays(columns, schema=schema)


def _at(
    lock_in: NDArray[np.int64], row: NDArray[np.intp]
) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    return lock_in[row, np.arange(lock_in.shape[1])], row


def _with_date(
    found: tuple[NDArray[np.int64], NDArray[np.intp]], dates: Times, none: NDArray[np.bool_]
) -> tuple[pa.Array, pa.Array]:
    minutes, row = found
    return pa.array(minutes.astype(np.int32), mask=none), pa.array(dates[row], mask=none)
