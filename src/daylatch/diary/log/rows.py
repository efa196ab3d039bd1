"""The rows of a log: its bytes as text, cut into cells, with the line at which each row begins."""

from __future__ import annotations

import codecs
import csv
import io
from typing import TYPE_CHECKING, NamedTuple

from daylatch.console import printable
from daylatch.errors import UsageError
from daylatch.site.messages import show_value
from daylatch.site.table import spoken
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.diary.entries import Entry

UNCLOSED = "a quotation mark may not be closed"
LARGEST_BYTES = 20_000_000
"""A row each minute for a year has about this size."""
MOST_COLUMNS = 1000
_MOST_NAMED = 20
_DELIMITERS = (",", ";", "\t")
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


class LogError(UsageError):
    """A log that cannot be read as one."""

    def __init__(self, name: str, line: int | None, text: str) -> None:
        place = f"{printable(name)}, line {line}" if line else printable(name)
        super().__init__(f"{place}: {text}")


class Row(NamedTuple):
    """A row of a log.

    Attributes
    ----------
    line : int
        At which it begins, counted from one.
    text : str
        As it stands in the file.
    cells : list of str
        Without what the CSV needs.
    """

    line: int
    text: str
    cells: list[str]


class ReadRow(NamedTuple):
    """What became of a row.

    Attributes
    ----------
    row : Row
        As it stands in the file.
    entry : Entry or None
        None if it is rejected, or passed over.
    reasons : tuple of str
        Why it is rejected.
    """

    row: Row
    entry: Entry | None
    reasons: tuple[str, ...]


class Sheet(NamedTuple):
    """What a log holds.

    Attributes
    ----------
    header : Row
        The names of its columns.
    rows : list of Row
        All below that are not blank.
    """

    header: Row
    rows: list[Row]

    def columns(self) -> list[str]:
        """Return the names of its columns, without blanks around; the last may have none."""
        return [cell.strip() for cell in self.header.cells]


def read_sheet(content: bytes, name: str, wanted: Sequence[str], delimiter: str | None) -> Sheet:
    """Return what a log holds.

    Parameters
    ----------
    content
        UTF-8, or UTF-16 with its mark.
    name
        Of the file, for messages.
    wanted
        Columns by which the right delimiter is known.
    delimiter
        What stands between cells; found if None.

    Raises
    ------
    LogError
        If it is no such file.
    """
    lines = list(io.StringIO(_text(content, name), newline=""))
    delimiters = _DELIMITERS if delimiter is None else (delimiter,)
    best = max(delimiters, key=lambda one: _fitness(lines, one, wanted))
    rows = list(_rows(lines, best, name))
    if not rows:
        raise LogError(name, None, "is empty: a log has a row of column names and rows below it")
    header = rows.pop(0)
    if len(header.cells) > MOST_COLUMNS:
        raise LogError(
            name,
            header.line,
            f"has {len(header.cells)} columns: no log needs more than {MOST_COLUMNS}",
        )
    if not rows:
        raise LogError(name, None, "holds column names and no row: there is nothing to read")
    return Sheet(header, rows)


def ragged(row: Row, width: int) -> str:
    """Return what is said of a row that has not as many cells as the header; nothing if it has."""
    count = len(row.cells)
    if count == width or (count > width and not any(map(str.strip, row.cells[width:]))):
        return ""
    why = UNCLOSED if "\n" in row.text else "a cell may hold a delimiter"
    why = "it may have been cut off" if count < width and "\n" not in row.text else why
    return f"the row has {count} cells and the header {width}: {why}"


def _fitness(lines: Sequence[str], delimiter: str, wanted: Sequence[str]) -> tuple[int, int]:
    """Return how many wanted columns a delimiter makes of the header, and how many in all."""
    try:
        header = next(_rows(lines, delimiter, ""), None)
    except LogError:
        return -1, 0
    if header is None:
        return -1, 0
    columns = {spoken(cell) for cell in header.cells}
    return sum(spoken(column) in columns for column in wanted), len(header.cells)


def missing_column(sheet: Sheet, name: str, column: str, remedy: str) -> LogError:
    """Return what is said of a column that a log does not have."""
    there = [show_value(one) for one in sheet.columns() if one]
    more = ["others"] if len(there) > _MOST_NAMED else []
    return LogError(
        name,
        sheet.header.line,
        f"there is no column {show_value(column)} among {listed(there[:_MOST_NAMED] + more)}: "
        f"{remedy}",
    )


def _text(content: bytes, name: str) -> str:
    if len(content) > LARGEST_BYTES:
        raise LogError(
            name, None, f"is over {LARGEST_BYTES // 1_000_000} MB: cut it into parts of a year"
        )
    is_utf_16 = content.startswith(_UTF_16)
    try:
        text = content.decode("utf-16" if is_utf_16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        byte = f"the byte 0x{error.object[error.start]:02X} is not UTF-8, as in old files"
        said = "is not whole UTF-16" if is_utf_16 else byte
        remedy = "save it as UTF-8 (CSV UTF-8 in spreadsheets)"
        raise LogError(name, line, f"{said}: {remedy}") from error
    # A card that lost its power while it was written may end so.
    text = text.rstrip("\0")
    # Every other byte of plain text in UTF-16 is one.
    if text.count("\0") * 3 > len(text):
        raise LogError(name, None, "is UTF-16 without its mark, or no text: save it as UTF-8")
    return text


def _rows(lines: Sequence[str], delimiter: str, name: str) -> Iterator[Row]:
    """Yield the rows that are not blank."""
    reader = csv.reader(lines, delimiter=delimiter)
    begun = 0
    try:
        for cells in reader:
            text = "".join(lines[begun : reader.line_num]).rstrip("\r\n")
            if any(cell.strip() for cell in cells):
                yield Row(begun + 1, text, cells)
            begun = reader.line_num
    except csv.Error as error:
        raise LogError(
            name,
            begun + 1,
            f"cannot be cut into cells ({error}): look for a quotation mark that is not closed",
        ) from error
