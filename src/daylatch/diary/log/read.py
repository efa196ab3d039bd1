"""Reading a log: what became of each of its rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from daylatch.diary.log.layout import COLUMNS, NEEDED, read_own_row
from daylatch.diary.log.mapped import columns_of, read_mapped
from daylatch.diary.log.rows import LogError, ReadRow, missing_column, read_sheet
from daylatch.files.csv_file import defuse, lay_out_plain
from daylatch.site.messages import show_value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from daylatch.diary.entries import Entry
    from daylatch.diary.log.rows import Sheet
    from daylatch.site.diary import DiaryLog
    from daylatch.site.tables import Site

_DESCRIBE = (
    f"a diary's own log has the columns {','.join(COLUMNS)}; describe another layout as "
    "[[diary.log]] in the site file"
)


REJECTS = ("line", "reason", "row")
"""The columns of a file of rejected rows."""


@dataclass(frozen=True)
class Reject:
    """A row that makes no entry.

    Attributes
    ----------
    line : int
        At which it begins.
    row : str
        As it stands in the file.
    reasons : tuple of str
        All that is wrong with it, each with what would be right.
    """

    line: int
    row: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class LogRead:
    """What a log holds.

    Attributes
    ----------
    entries : tuple of Entry
        In the order of the file.
    lines : tuple of int
        At which line of the file each of them begins.
    rejects : tuple of Reject
        The rows that make none.
    notes : tuple of str
        What is worth a warning, in sentences.
    """

    entries: tuple[Entry, ...]
    lines: tuple[int, ...]
    rejects: tuple[Reject, ...]
    notes: tuple[str, ...] = ()


def read_log(content: bytes, name: str, log: DiaryLog | None, site: Site) -> LogRead:
    """Return what a log holds.

    Parameters
    ----------
    content
        The bytes of the file.
    name
        Of the file, for messages.
    log
        How it is laid out; in the diary's own layout if None.
    site
        Whose clock and zone its times are in, unless the layout says otherwise.

    Raises
    ------
    LogError
        If the file is no such log, or its times cannot be understood.
    """
    if log is None:
        sheet = read_sheet(content, name, COLUMNS, None)
        return _gathered(_read_own(sheet, name), [])
    delimiter = "\t" if log.delimiter == "tab" else log.delimiter
    sheet = read_sheet(content, name, list(columns_of(log).values()), delimiter)
    return _gathered(*read_mapped(sheet, name, log, site))


def rejects_file(rejects: Iterable[Reject]) -> bytes:
    """Return a CSV file of rejected rows: the line, all reasons, and the row as it stood."""
    return lay_out_plain(
        REJECTS,
        ((one.line, defuse("; ".join(one.reasons)), defuse(one.row)) for one in rejects),
    )


def _gathered(rows: Iterable[ReadRow], notes: Iterable[str]) -> LogRead:
    rows = list(rows)
    entries = [(row.entry, row.row) for row in rows if row.entry is not None]
    rejects = [Reject(row.row.line, row.row.text, row.reasons) for row in rows if row.reasons]
    return LogRead(
        tuple(entry for entry, _ in entries),
        tuple(row.line for _, row in entries),
        tuple(rejects),
        tuple(notes),
    )


def _read_own(sheet: Sheet, name: str) -> list[ReadRow]:
    """Return what became of each row of a log in the diary's own layout."""
    columns = sheet.columns()
    for column in NEEDED:
        if column not in columns:
            raise missing_column(sheet, name, column, _DESCRIBE)
    for at, column in enumerate(columns):
        if column not in COLUMNS:
            said = f"the column {show_value(column)} is none of the diary's: {_DESCRIBE}"
            raise LogError(name, sheet.header.line, said)
        if column in columns[:at]:
            said = f"the column {show_value(column)} stands twice: take one out"
            raise LogError(name, sheet.header.line, said)
    return [read_own_row(row, columns) for row in sheet.rows]
