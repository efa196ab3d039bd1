"""A diary's backup, which holds all of it, and bringing one back.

What a diary holds besides is never lost by that: what the backup has and the diary lacks is added.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.diary.store.opening import (
    opened_bytes,
    opened_to_read,
    opened_to_write,
    transaction,
)
from daylatch.diary.store.rows import noted_in
from daylatch.diary.store.troubles import BrokenRowError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class Restored(NamedTuple):
    """What came of bringing back a backup: how many entries are new, and how many were there."""

    new: int
    known: int


def back_up(path: Path, house: str) -> bytes:
    """Return all that a diary holds, as a file of its own.

    Raises
    ------
    DiaryError
        If it cannot be read.
    """
    with (
        opened_to_read(path, house) as connection,
        closing(sqlite3.connect(":memory:")) as copy,
    ):
        connection.backup(copy)
        content = copy.serialize()
    # It has no log beside it: see `opened_bytes`.
    return content[:18] + b"\x01\x01" + content[20:]


def bring_back(content: bytes, backup: Path, path: Path, house: str) -> Restored:
    """Add what a backup holds and a diary does not; all of it or nothing.

    Parameters
    ----------
    content
        The backup.
    backup
        Its name, for messages.
    path
        The diary; made if there is none.
    house
        The id of the house.

    Raises
    ------
    DiaryError
        If one of them cannot be used, or is another house's.
    """
    with opened_bytes(content, backup, house) as source:
        _refuse_unless_whole(source)
        with opened_to_write(path, house) as target, transaction(target):
            before = _count(target)
            _Bringing(source, target).all()
            new = _count(target) - before
            return Restored(new, _count(source) - new)


def lost_with(old: bytes, content: bytes, path: Path, house: str) -> int:
    """Return how many entries an older backup holds that a newer one does not.

    Parameters
    ----------
    old, content
        Both.
    path
        Of the older one, for messages.
    house
        The id of the house.

    Raises
    ------
    DiaryError
        If one of them cannot be used.
    """
    held = []
    for one in (old, content):
        with opened_bytes(one, path, house) as connection:
            held.append({uid for (uid,) in connection.execute("SELECT uid FROM entry")})
    return len(held[0] - held[1])


def _refuse_unless_whole(source: sqlite3.Connection) -> None:
    """Refuse rows that the program would never have written, which nothing could take out again.

    Raises
    ------
    sqlite3.DatabaseError
        Naming the first.
    """
    for _ in noted_in(source, "entry", "1", ()):
        pass
    if source.execute("PRAGMA foreign_key_check").fetchone():
        raise BrokenRowError("rows are missing in it")


def _count(connection: sqlite3.Connection) -> int:
    return int(connection.execute("SELECT count(*) FROM entry").fetchone()[0])


class _Bringing:
    """Takes rows from one diary into another, by what tells each from all others.

    A row keeps its number where that is free, so that one brought back into an empty diary is as it
    was.
    """

    def __init__(self, source: sqlite3.Connection, target: sqlite3.Connection) -> None:
        self.source = source
        self.target = target

    def all(self) -> None:
        """Take all tables, those first that others name."""
        records = self._take("record", ("digest",), {})
        acts = self._take("act", ("uid",), {})
        named = {"act": acts, "record": records}
        # Two diaries that took in the same log have its entries alike under other numbers.
        entries = self._take("entry", ("digest", "copy"), named)
        self._take("void", ("uid",), {"act": acts, "entry": entries, "instead": entries})
        self._take("report", ("uid",), {"entry": entries})

    def _take(
        self, table: str, key: tuple[str, ...], named: dict[str, dict[int, int]]
    ) -> dict[int, int]:
        """Return the numbers that a table's rows have in the target, by those of the source."""
        matches = " AND ".join(f"{column} = ?" for column in key)
        numbers: dict[int, int] = {}
        for row in self._rows(table):
            own = self.target.execute(
                f"SELECT number FROM {table} WHERE {matches}", [row[column] for column in key]
            ).fetchone()
            numbers[row["number"]] = own[0] if own else self._put(table, row, named)
        return numbers

    def _rows(self, table: str) -> Iterator[dict[str, Any]]:
        found = self.source.execute(f"SELECT * FROM {table} ORDER BY number")
        columns = [column[0] for column in found.description]
        for row in found:
            yield dict(zip(columns, row, strict=True))

    def _put(self, table: str, row: dict[str, Any], named: dict[str, dict[int, int]]) -> int:
        values = row | {
            column: numbers.get(row[column], row[column]) for column, numbers in named.items()
        }
        taken = self.target.execute(
            f"SELECT 1 FROM {table} WHERE number = ?", (row["number"],)
        ).fetchone()
        if taken:
            values["number"] = None
        number = self.target.execute(
            f"INSERT INTO {table} ({', '.join(values)}) VALUES ({', '.join('?' * len(values))})",
            list(values.values()),
        ).lastrowid
        assert number is not None
        return number
