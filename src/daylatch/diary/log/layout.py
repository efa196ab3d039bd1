"""The diary's own layout of a log: what it exports, and takes in without being told how."""

from __future__ import annotations

import codecs
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.entries import LONGEST_NAME, Entry, EntryError, make_entry, minutes_text
from daylatch.diary.log.rows import ReadRow, ragged
from daylatch.diary.log.written_moments import read_exact
from daylatch.files.csv_file import defuse, fuse, lay_out_plain
from daylatch.files.own import header_is
from daylatch.site.messages import show_value
from daylatch.wording import utc_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from daylatch.diary.log.rows import Row

COLUMNS = ("instant", "what", "value", "stamped_by", "within_min", "by", "note")
wrote = header_is(COLUMNS)
NEEDED = COLUMNS[:2]
"""The columns that a log in this layout cannot be without, and begins with."""
_HEAD_BYTES = 1000


def is_own(content: bytes) -> bool:
    """Return whether a log names its columns as the diary does."""
    first = content[:_HEAD_BYTES].removeprefix(codecs.BOM_UTF8).split(b"\n", 1)[0].strip()
    return first.decode("utf-8", "replace").split(",")[: len(NEEDED)] == list(NEEDED)


def write_log(entries: Iterable[Entry]) -> bytes:
    """Return entries as CSV in the diary's own layout; programs may rely on its columns."""
    return lay_out_plain(COLUMNS, map(_cells, entries))


def read_own_row(row: Row, columns: Sequence[str]) -> ReadRow:
    """Return what became of a row whose columns are some of the diary's."""
    if why := ragged(row, len(columns)):
        return ReadRow(row, None, (why,))
    cells = dict(zip(columns, row.cells, strict=False))
    reasons: list[str] = []
    try:
        instant = _instant(cells["instant"].strip())
    except EntryError as error:
        reasons.append(str(error))
        # What else is wrong with the row is looked for all the same.
        instant = np.datetime64(0, "s")
    try:
        entry = _entry(instant, cells)
    except EntryError as error:
        reasons.append(str(error))
    return ReadRow(row, None if reasons else entry, tuple(reasons))


def _instant(text: str) -> np.datetime64:
    moment = read_exact(text)
    if moment is None:
        raise EntryError(
            f"instant is {show_value(text)}: write a date and a time with its distance from UTC, "
            "like 2027-03-04T20:14:00Z or 2027-03-04T21:14:00+01:00"
        )
    moment.check()
    return np.datetime64(moment.wall, "s")


def _entry(instant: np.datetime64, cells: Mapping[str, str]) -> Entry:
    for column in ("what", "value", "stamped_by", "within_min"):
        check_length(column, cells.get(column, ""))
    return make_entry(
        instant,
        cells["what"].strip(),
        fuse(cells.get("value", "")),
        stamped_by=cells.get("stamped_by", "").strip(),
        within=cells.get("within_min", "").strip(),
        by=fuse(cells.get("by", "")),
        note=fuse(cells.get("note", "")),
    )


def check_length(column: str, text: str) -> None:
    """Refuse a text that is far too long to be shown in what is said of it.

    Raises
    ------
    EntryError
        Saying how long it may be.
    """
    if len(text) > LONGEST_NAME:
        raise EntryError(f"{column} has {len(text)} characters: write {LONGEST_NAME} at most")


def _cells(entry: Entry) -> tuple[str, ...]:
    (instant,) = utc_text(np.array([entry.instant_utc]))
    return (
        instant,
        entry.what,
        defuse(entry.value),
        entry.stamped_by,
        minutes_text(entry.within_min),
        defuse(entry.by),
        defuse(entry.note),
    )
