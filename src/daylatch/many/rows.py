"""The rows of a table of sites, as they stand in a CSV, Parquet or GeoJSON file.

A row that cannot be read is no trouble of the others: it is told, with its line.
"""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import decimal
import json
import re
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.errors import UsageError
from daylatch.site.messages import toml_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

BATCH_ROWS = 65_536
LARGEST_GEOJSON_BYTES = 256 * 1024 * 1024
"""A GeoJSON file is held as a whole while it is read, at some ten times its size."""
ID, LATITUDE, LONGITUDE, ZONE = "id", "latitude", "longitude", "zone"
PLACE = (ID, LATITUDE, LONGITUDE, ZONE)
"""The columns that say which house it is, and where."""
_ENDINGS = {".csv": "csv", ".parquet": "parquet", ".geojson": "geojson", ".json": "geojson"}
_LONGEST_CELL = 131_072
# How text in UTF-16 begins, read as UTF-8.
_UTF_16 = ("\udcff\udcfe", "\udcfe\udcff")
# What one spreadsheet writes above a table, to say what parts its cells.
_SAYS_DELIMITER = re.compile(r'"?sep=([,;\t])"?[\r\n]*', re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\s*", re.ASCII)


_PLAIN = {str, int, float, bool, type(None)}


class Unreadable(str):
    """A cell that no house can be made of; its text is the reason."""

    __slots__ = ()


class BadRow(NamedTuple):
    """A row that no house can be made of.

    Attributes
    ----------
    line : int
        Of the file, counted from 1; of a Parquet or GeoJSON file, the row or the feature.
    id : str
        As it was written; empty if it cannot be told.
    reasons : tuple of str
        Everything that is wrong with it.
    """

    line: int
    id: str
    reasons: tuple[str, ...]


class Batch(NamedTuple):
    """Some rows, column by column.

    Attributes
    ----------
    lines : list of int
        Where each row stands, as in `BadRow`.
    columns : dict of lists
        Cells by their column: text, or what Parquet and GeoJSON have; None where there is none.
    bad : list of BadRow
        Rows between them that could not be read.
    """

    lines: list[int]
    columns: dict[str, list[Any]]
    bad: list[BadRow]


class Table(NamedTuple):
    """A table of sites.

    Attributes
    ----------
    names : tuple of str
        Its columns.
    batches : iterator of Batch
        Its rows, read as they are needed.
    """

    names: tuple[str, ...]
    batches: Iterator[Batch]


@contextlib.contextmanager
def open_table(path: Path) -> Iterator[Table]:
    """Give the rows of a file, by its ending.

    Raises
    ------
    UsageError
        If it cannot be read, or is none of the three forms.
    """
    form = _ENDINGS.get(path.suffix.lower())
    if form is None:
        raise UsageError(f"{path}: name a table of sites that ends in .csv, .parquet or .geojson")
    try:
        file: Any
        if form == "parquet":
            file = path.open("rb")
        else:
            # Bytes that are no text are shown as such, and their row is refused.
            file = path.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise UsageError(f"{path}: cannot be read ({why}): name a table of sites") from error
    with file:
        match form:
            case "csv":
                table = _open_csv(path, file)
            case "parquet":
                table = _open_parquet(path, file)
            case _:
                table = _open_geojson(path, file)
        _check_names(path, table.names)
        yield table


def _check_names(path: Path, names: tuple[str, ...]) -> None:
    for name in (ID, LATITUDE, LONGITUDE):
        if name not in names:
            found = ", ".join(names) if any(names) else "none"
            like = next((one for one in names if one.lower()[:3] == name[:3]), None)
            meant = f"; write {name} for {like}" if like else ""
            raise UsageError(
                f"{path}: has no column {name} (its columns: {found}){meant}; it needs id, "
                "latitude and longitude"
            )
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise UsageError(f"{path}: has two columns {twice}: drop one")


def _open_csv(path: Path, file: Any) -> Table:
    csv.field_size_limit(_LONGEST_CELL)
    first = file.readline(_LONGEST_CELL)
    if first.startswith(_UTF_16):
        raise UsageError(f"{path}: is text in UTF-16: save it as CSV in UTF-8")
    told = _SAYS_DELIMITER.fullmatch(first)
    if told is None:
        file.seek(0)
    # Spreadsheets of countries with a decimal comma write semicolons.
    delimiter = told[1] if told else next((one for one in ",;\t" if one in first), ",")
    # Strict, or a quote that is not closed would swallow whole rows where numbers of cells fit.
    reader = csv.reader(file, delimiter=delimiter, strict=True)
    names = [name.strip() for name in next(reader, [])]
    # Spreadsheets leave empty columns behind.
    while names and not names[-1]:
        names.pop()
    if "" in names:
        raise UsageError(f"{path}: column {names.index('') + 1} has no name: give it one")
    above = 1 if told else 0
    return Table(tuple(names), _csv_batches(reader, tuple(names), delimiter, above))


def _csv_batches(
    reader: Any, names: tuple[str, ...], delimiter: str, above: int
) -> Iterator[Batch]:
    rows = _csv_rows(reader, len(names), above)
    id_at = names.index(ID)
    others = [at for at, name in enumerate(names) if name != ID]
    while some := list(islice(rows, BATCH_ROWS)):
        good = [(line, cells) for line, cells, reason in some if not reason]
        bad = [
            BadRow(line, cells[id_at] if len(cells) > id_at else "", (reason,))
            for line, cells, reason in some
            if reason
        ]
        if delimiter == ";":
            for _, cells in good:
                for at in others:
                    if "," in cells[at] and _DECIMAL_COMMA.fullmatch(cells[at]):
                        cells[at] = cells[at].replace(",", ".")
        columns = zip(*(cells for _, cells in good), strict=True) if good else [[] for _ in names]
        yield Batch(
            [line for line, _ in good],
            {name: list(column) for name, column in zip(names, columns, strict=True)},
            bad,
        )


def _csv_rows(reader: Any, width: int, above: int) -> Iterator[tuple[int, list[str], str]]:
    """Yield each row with the line it begins at, and what is wrong with it, if anything.

    Parameters
    ----------
    reader
        Past the names of columns.
    width
        How many there are.
    above
        Lines of the file that the reader did not see.
    """
    while True:
        line = reader.line_num + 1 + above
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            last = reader.line_num + above
            lines = f"lines {line} to {last} are one row" if last > line else "cannot be read"
            yield line, [], f"{lines}, by a quote that is not closed: close it"
            continue
        while len(cells) > width and not cells[-1].strip():
            cells.pop()
        if any(cells):
            yield line, cells, _malformed(cells, width, (line, reader.line_num + above))


def _malformed(cells: list[str], width: int, lines: tuple[int, int]) -> str:
    """Return what is wrong with the form of a row; nothing if it is good."""
    several = lines[1] > lines[0]
    one_row = f"lines {lines[0]} to {lines[1]} are one row, by a quote that is not closed before"
    if len(cells) != width:
        reason = f"has {len(cells)} cells, and the first line names {width} columns"
        return f"{reason}; {one_row}" if several else reason
    if any(cell and not cell.isprintable() and _is_no_text(cell) for cell in cells):
        return "holds bytes that are no UTF-8: save the file as UTF-8"
    if several and any(_holds_rows(cell, width) for cell in cells):
        return f"{one_row}: close it"
    return ""


def _holds_rows(cell: str, width: int) -> bool:
    """Return whether a line within a cell looks like a row of the table."""
    most = max(line.count(one) for line in cell.splitlines()[1:] or [""] for one in ",;\t")
    return most >= width - 1


def _is_no_text(cell: str) -> bool:
    return any("\ud800" <= letter <= "\udfff" for letter in cell)


def _open_parquet(path: Path, stream: Any) -> Table:
    import pyarrow as pa  # noqa: PLC0415 - of an extra
    from pyarrow import parquet  # noqa: PLC0415

    try:
        file = parquet.ParquetFile(stream)
    except pa.ArrowException as error:
        raise UsageError(f"{path}: is no Parquet file: {_first_line(error)}") from error
    return Table(tuple(file.schema_arrow.names), _parquet_batches(path, file))


def _parquet_batches(path: Path, file: Any) -> Iterator[Batch]:
    import pyarrow as pa  # noqa: PLC0415 - of an extra

    row = 0
    try:
        for batch in file.iter_batches(batch_size=BATCH_ROWS):
            columns = {name: _cells(batch.column(name)) for name in batch.schema.names}
            yield Batch(list(range(row + 1, row + 1 + batch.num_rows)), columns, [])
            row += batch.num_rows
    except (pa.ArrowException, OSError) as error:
        raise UsageError(f"{path}: cannot be read past row {row}: {_first_line(error)}") from error


def _cells(column: Any) -> list[Any]:
    try:
        cells: list[Any] = column.to_pylist()
    except (ValueError, OverflowError):
        cells = [_cell(cell) for cell in column]
    return _all_plain(cells)


def _all_plain(cells: Iterable[Any]) -> list[Any]:
    return [cell if type(cell) in _PLAIN else _plain(cell) for cell in cells]


def _cell(cell: Any) -> Any:
    try:
        return cell.as_py()
    except (ValueError, OverflowError):
        return Unreadable("holds what is no text, number or date of the calendar")


def _plain(cell: Any) -> Any:
    """Return a cell as one of a CSV file has it: lists as text, and no decimals of other kinds."""
    match cell:
        case list():
            return toml_text(cell)
        case decimal.Decimal():
            return float(cell)
        case dt.time() | dt.date() | Unreadable():
            return cell
        case bytes():
            return Unreadable("is binary: write text")
    return Unreadable("is an object: give each key a column, such as close.offset_min")


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]


def _open_geojson(path: Path, file: Any) -> Table:
    text = file.read(LARGEST_GEOJSON_BYTES + 1)
    if len(text) > LARGEST_GEOJSON_BYTES:
        raise UsageError(
            f"{path}: is over {LARGEST_GEOJSON_BYTES >> 20} MiB, too large for GeoJSON, which is "
            "held as a whole: give the sites as Parquet or CSV"
        )
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        why = "a number is far too long" if "int_max_str_digits" in str(error) else error
        raise UsageError(f"{path}: is no GeoJSON: {why}") from error
    if _is_no_text(text):
        raise UsageError(f"{path}: holds bytes that are no UTF-8: save the file as UTF-8")
    features = data.get("features") if isinstance(data, dict) else None
    if not isinstance(features, list):
        raise UsageError(f"{path}: is no GeoJSON (RFC 7946) with a list of features")
    found, bad = [], []
    for number, feature in enumerate(features, 1):
        cells = _cells_of(feature)
        if isinstance(cells, str):
            bad.append(BadRow(number, "", (cells,)))
        else:
            found.append((number, cells))
    others = dict.fromkeys(name for _, cells in found for name in cells)
    names = tuple(dict.fromkeys([ID, LATITUDE, LONGITUDE, *others]))
    columns = {name: _all_plain(cells.get(name) for _, cells in found) for name in names}
    return Table(names, iter([Batch([number for number, _ in found], columns, bad)]))


def _cells_of(feature: Any) -> dict[str, Any] | str:
    """Return the cells of a feature, or what is wrong with it."""
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return "is no feature with a point: give each house one point"
    place = geometry.get("coordinates")
    if not isinstance(place, list) or len(place) not in (2, 3):
        return "has no coordinates: write [longitude, latitude]"
    properties = feature.get("properties") or {}
    if not isinstance(properties, dict):
        return "has properties that are no object"
    given = {ID: feature["id"]} if "id" in feature else {}
    # RFC 7946, 3.1.1: longitude comes first.
    return {**properties, **given, LONGITUDE: place[0], LATITUDE: place[1]}
