"""The tables of a dataset: what their columns are, and how blocks of plans fill them.

Parquet, a file for each part of the work. Instants are timestamps, wall-clock times text with their
distance from UTC: a program that reads them can mix up neither.
"""

from __future__ import annotations

import hashlib
import io
import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
from pyarrow import parquet

from daylatch.arrays import DAY, DAY_MIN, MINUTE, Coded, once
from daylatch.cautions import CAUTION
from daylatch.clock import get_zone
from daylatch.files.csv_file import defuse, lay_out_plain
from daylatch.many.saved import settings_text
from daylatch.plan.daily.rules import Side
from daylatch.plan.day import spans_by_day
from daylatch.plan.reasons import reason_codes, span_reasons
from daylatch.wording import offset_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from daylatch.arrays import Minutes, Times
    from daylatch.clock import LocalTimes
    from daylatch.plan.daily.rules import Moves
    from daylatch.plan.daily.settings import SideSettings
    from daylatch.plan.door_times import DoorTimes
    from daylatch.site.tables import Site

_UTC = pa.timestamp("ms", "UTC")
_WORDS = pa.dictionary(pa.int32(), pa.string())
TIMES = pa.schema(
    [
        ("site", _WORDS),
        ("date", pa.date32()),
        ("open_utc", _UTC),
        ("close_utc", _UTC),
        ("open_local", pa.string()),
        ("close_local", pa.string()),
        ("open_reason", _WORDS),
        ("close_reason", _WORDS),
        ("close_in_daylight", pa.bool_()),
        ("open_shortfall_min", pa.int16()),
        ("night_shortfall_min", pa.int16()),
    ]
)
"""A row a house and flock day: planned times, null on days the door stays shut."""
HOUSES = pa.schema(
    [
        ("site", pa.string()),
        ("house_id", pa.string()),
        ("name", pa.string()),
        ("latitude", pa.float64()),
        ("longitude", pa.float64()),
        ("zone", pa.string()),
        ("settings", _WORDS),
    ]
)
"""A row a house: what it was planned by; ``settings`` is the rest of its site file, as JSON."""
# How the columns are laid out that grow evenly, or repeat themselves in their beginnings.
_DELTA = {
    **dict.fromkeys(("date", "open_utc", "close_utc"), "DELTA_BINARY_PACKED"),
    **dict.fromkeys(("open_shortfall_min", "night_shortfall_min"), "DELTA_BINARY_PACKED"),
    **dict.fromkeys(("open_local", "close_local"), "DELTA_BYTE_ARRAY"),
}
# "2027-01-01T07:58:00+01:00", as in the CSV of a plan.
_LOCAL = np.dtype([("date", "S10"), ("time", "S9"), ("offset", "S6")])
_OF_DAY = np.array([f"T{time // 60:02d}:{time % 60:02d}:00" for time in range(DAY_MIN)], "S9")


def times_table(sites: Sequence[Site], times: DoorTimes) -> pa.Table:
    """Return the rows of a block, those of a house together."""
    days, count = len(times), len(sites)
    zones = {site.zone for site in sites}
    # Sites of a block share their clock, whatever its name.
    zone = get_zone(min(zones))
    spans = _spans(sites, times)
    opens, closes = times.open_utc, times.close_utc
    columns = [
        pa.DictionaryArray.from_arrays(
            np.repeat(np.arange(count, dtype=np.int32), days), [site.file_name for site in sites]
        ),
        pa.array(np.tile(times.dates, count)),
        _instants(opens),
        _instants(closes),
        _local(zone.to_local(_by_house(opens))),
        _local(zone.to_local(_by_house(closes))),
        _reasons(Side.OPEN, times.decisions.open, times.settings.open, spans),
        _reasons(Side.CLOSE, times.decisions.close, times.settings.close, spans),
        pa.array(_by_house(times.closes_in_daylight), mask=_by_house(np.isnat(closes))),
        _minutes(times.decisions.open_shortfall),
        _minutes(times.decisions.night_shortfall),
    ]
    return pa.Table.from_arrays(columns, schema=TIMES)


def houses_table(sites: Sequence[Site]) -> pa.Table:
    """Return the rows of houses."""
    # Houses that share their tables share the text of them.
    texts: dict[tuple[Any, ...], str] = {}
    rows = []
    for site in sites:
        head, _, *tables = vars(site.settings).values()
        shared = (head.notes, *map(id, tables))
        if shared not in texts:
            texts[shared] = settings_text(site.settings)
        rows.append(
            {
                "site": site.file_name,
                "house_id": site.id,
                "name": site.name,
                "latitude": site.latitude_deg,
                "longitude": site.longitude_deg,
                "zone": site.zone,
                "settings": texts[shared],
            }
        )
    return pa.Table.from_pylist(rows, schema=HOUSES)


class ParquetFile:
    """A Parquet file as it is made, a group of rows at a time.

    Parameters
    ----------
    schema
        Its columns, known also where there are no rows.
    """

    def __init__(self, schema: pa.Schema) -> None:
        self._content = io.BytesIO()
        delta = {name: how for name, how in _DELTA.items() if name in schema.names}
        self._writer = parquet.ParquetWriter(
            self._content,
            schema,
            compression="zstd",
            compression_level=1,
            use_dictionary=[name for name in schema.names if name not in delta],
            column_encoding=delta,
            # Words stand once in the file, and come back as plain text.
            store_schema=False,
            write_page_checksum=True,
        )

    def add(self, table: pa.Table) -> None:
        """Add rows."""
        self._writer.write_table(table)

    def end(self, about: Mapping[str, Any]) -> bytes:
        """Return the whole file.

        Parameters
        ----------
        about
            What is said of it in its own head, as JSON beside the caution.
        """
        told = {"daylatch": json.dumps(about), "caution": CAUTION}
        self._writer.add_key_value_metadata(told)
        self._writer.close()
        return self._content.getvalue()


def to_parquet(tables: Iterable[pa.Table], schema: pa.Schema, about: Mapping[str, Any]) -> bytes:
    """Return a Parquet file of tables that are there already, as `ParquetFile` makes it."""
    file = ParquetFile(schema)
    for table in tables:
        file.add(table)
    return file.end(about)


def read_about(file: Path | io.BytesIO) -> dict[str, Any] | None:
    """Return what `to_parquet` was told of a file; None if it is none such, or damaged."""
    try:
        told = parquet.read_metadata(file).metadata or {}
        about = json.loads(told[b"daylatch"])
    except (OSError, ValueError, KeyError, pa.ArrowException):
        return None
    return about if isinstance(about, dict) else None


def content_mark(content: bytes) -> str:
    """Return what differs if anything of a file does."""
    return hashlib.blake2b(content, digest_size=16).hexdigest()


def is_whole(file: Path) -> bool:
    """Return whether all of a file of `to_parquet` can be read, and is as it was written."""
    try:
        parquet.read_table(file, page_checksum_verification=True)
    except (OSError, pa.ArrowException):
        return False
    return True


def as_csv(files: Sequence[Path]) -> bytes:
    """Return the rows of some Parquet files as CSV; text that looks like a formula is defused."""
    tables = [parquet.read_table(file) for file in files]
    header = tables[0].schema.names if tables else []
    rows = (
        [defuse(cell) if isinstance(cell, str) else cell for cell in row.values()]
        for table in tables
        for row in table.to_pylist()
    )
    return lay_out_plain(header, rows)


def about_of(content: bytes) -> dict[str, Any]:
    """Return what `to_parquet` was told of a file, given by its content."""
    about = read_about(io.BytesIO(content))
    assert about is not None
    return about


def _by_house(values: NDArray[Any]) -> NDArray[Any]:
    """Return days x sites as one column, those of a site together."""
    return np.ascontiguousarray(values.T).ravel()


def _instants(times: Times) -> pa.Array:
    return pa.array(_by_house(times).astype("datetime64[ms]")).cast(_UTC)


def _minutes(durations: Minutes) -> pa.Array:
    if not once(durations).any():
        return pa.array(np.zeros(durations.size, np.int16))
    return pa.array((_by_house(durations) // MINUTE).astype(np.int16))


def _local(times: LocalTimes) -> pa.Array:
    """Return wall-clock times with their distance from UTC, as text."""
    wall = times.wall
    missing = np.isnat(wall)
    # Something must stand where nothing is said.
    known = wall[~missing]
    wall = np.where(missing, known[0] if known.size else np.datetime64("1970-01-01", "m"), wall)
    offset = np.where(missing, np.timedelta64(0, "m"), times.offset).astype(np.int64)
    days = wall.astype("datetime64[D]")
    first = days.min()
    dates = np.arange(first, days.max() + DAY).astype("S10")
    # A year has few distances from UTC.
    least = offset.min()
    shown = np.zeros(int(offset.max() - least) + 1, "S6")
    for minutes in np.flatnonzero(np.bincount(offset - least)).tolist():
        shown[minutes] = offset_text(np.timedelta64(int(minutes + least), "m"))
    text = np.empty(len(wall), _LOCAL)
    text["date"] = dates.take((days - first).astype(np.int64))
    text["time"] = _OF_DAY.take(((wall - days) // MINUTE).astype(np.int64))
    text["offset"] = shown.take(offset - least)
    ends = np.arange(0, text.nbytes + 1, text.itemsize, dtype=np.int32)
    buffers = [
        pa.array(~missing).buffers()[1] if missing.any() else None,
        pa.py_buffer(ends),
        pa.py_buffer(text.view(np.uint8)),
    ]
    return pa.Array.from_buffers(pa.string(), len(wall), buffers)


def _spans(sites: Sequence[Site], times: DoorTimes) -> Coded[str] | None:
    """Return what keepers said of the spans that touch each day of each house, if anything."""
    if not once(times.settings.shut).any():
        return None
    texts: dict[str, int] = {}
    codes = np.zeros(times.open_utc.shape, np.int32)
    for column, site in enumerate(sites):
        own = spans_by_day(site.settings.spans, times.dates).each(span_reasons)
        places = np.array([texts.setdefault(text, len(texts)) for text in own.values], np.int32)
        codes[:, column] = places[own.codes]
    return Coded(codes, list(texts))


def _reasons(
    side: Side, moves: Moves, settings: SideSettings, spans: Coded[str] | None
) -> pa.DictionaryArray:
    coded = reason_codes(side, moves, settings.altitude_deg, settings.offset, spans)
    return pa.DictionaryArray.from_arrays(
        pa.array(_by_house(coded.codes).astype(np.int32)), pa.array(coded.values, pa.string())
    )
