"""Reading a dataset back: each house with the times that it was given."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from pyarrow import ArrowException, parquet

from daylatch.errors import OutputError, UsageError
from daylatch.many.folder import HOUSES, MANIFEST, TIMES, read_whole, wrote_manifest
from daylatch.many.parts import PART_NAME
from daylatch.many.saved import saved_site

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pyarrow as pa

    from daylatch.arrays import Times
    from daylatch.site.tables import Site


class Dataset(NamedTuple):
    """A dataset of days.

    Attributes
    ----------
    path : Path
        Its folder.
    first, last : date
        Of its plans.
    houses : int
        How many it has.
    parts : tuple of str
        The names of its files.
    """

    path: Path
    first: dt.date
    last: dt.date
    houses: int
    parts: tuple[str, ...]


class HouseTimes(NamedTuple):
    """A house of a dataset.

    Attributes
    ----------
    site : Site
        The house, as it was planned.
    dates : datetime64[D]
        The days of its plan.
    open_utc, close_utc : datetime64[m]
        Its times; NaT on days it stays shut.
    """

    site: Site
    dates: Times
    open_utc: Times
    close_utc: Times


def open_dataset(path: Path) -> Dataset:
    """Return what a folder's manifest says.

    Raises
    ------
    UsageError
        If it is no complete dataset of days.
    """
    try:
        content = read_whole(path / MANIFEST)
    except OutputError as error:
        raise UsageError(
            f"{path}: is no folder of a dataset; make one with daylatch many SITES -o DIR"
        ) from error
    if not wrote_manifest(content):
        raise UsageError(f"{path}: its {MANIFEST} is none of daylatch's")
    try:
        told = json.loads(content)
        is_of_days, is_complete = told["rows"] == TIMES, told["complete"] is True
        dataset = Dataset(
            path,
            dt.date.fromisoformat(told["first_date"]),
            dt.date.fromisoformat(told["last_date"]),
            int(told["houses"]),
            tuple(part["name"] for part in told["parts"]),
        )
        if not all(map(PART_NAME.fullmatch, dataset.parts)):
            raise ValueError
    except (ValueError, TypeError, KeyError):
        raise UsageError(
            f"{path}: its {MANIFEST} was changed by somebody: run the same daylatch many again"
        ) from None
    if not is_of_days:
        raise UsageError(f"{path}: holds a summary and no times: make them without --summary")
    if not is_complete:
        raise UsageError(f"{path}: is not complete: run the same daylatch many again, and it is")
    return dataset


def houses_in(dataset: Dataset) -> Iterator[HouseTimes]:
    """Yield the houses of a dataset, a part in memory at a time.

    Raises
    ------
    UsageError
        If a file is missing or damaged.
    SiteError
        If this program no longer takes what an older one wrote.
    """
    for name in dataset.parts:
        houses, times = (
            _read(dataset.path / folder / f"{name}.parquet") for folder in (HOUSES, TIMES)
        )
        if not houses.num_rows:
            continue
        days = times.num_rows // houses.num_rows
        columns = [
            times.column(column).to_numpy(zero_copy_only=False)
            for column in ("date", "open_utc", "close_utc")
        ]
        of_day = [column.astype(unit) for column, unit in zip(columns, _UNITS, strict=True)]
        # The rows of a house stand together, and those of the houses in one order.
        for number, row in enumerate(houses.to_pylist()):
            own = slice(number * days, (number + 1) * days)
            try:
                if not days or times.column("site")[own.start].as_py() != row["site"]:
                    raise ValueError
                site = saved_site(row)
            except (ValueError, TypeError, KeyError):
                raise UsageError(
                    f"{dataset.path}: the files of {name} were changed, or do not belong together: "
                    "run the same daylatch many again"
                ) from None
            yield HouseTimes(site, *(column[own] for column in of_day))


_UNITS = (np.dtype("datetime64[D]"), np.dtype("datetime64[m]"), np.dtype("datetime64[m]"))


def _read(file: Path) -> pa.Table:
    try:
        return parquet.read_table(file, page_checksum_verification=True)
    except (OSError, ArrowException) as error:
        raise UsageError(
            f"{file}: cannot be read; run the same daylatch many again, and it is made anew"
        ) from error
