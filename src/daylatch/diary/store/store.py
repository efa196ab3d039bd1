"""What is done with a diary: adding, undoing, and reading what it holds."""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.entries import EntryError, check_year, make_entry, minutes_text
from daylatch.diary.store.opening import opened_to_read, opened_to_write, transaction
from daylatch.diary.store.troubles import BrokenRowError
from daylatch.errors import DiaryError, NoDiaryError
from daylatch.site.choices.works import WORKS

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from daylatch.diary.entries import Entry

ADDED, IMPORTED, CORRECTED, UNDONE = "added", "imported", "corrected", "undone"
"""What an act can be."""
_MOST_ROWS = 2**63 - 1
"""What SQLite can number."""
_COLUMNS = "instant_utc, what, value, stamped_by, within_min, by_whom, note"


class Record(NamedTuple):
    """A table or list that was in the door.

    Attributes
    ----------
    name : str
        What the keeper calls it.
    works : str
        What worked the door by it, as the site file names that.
    content : bytes
        The file.
    """

    name: str
    works: str
    content: bytes


@dataclass(frozen=True)
class Noted:
    """An entry as it stands in a diary.

    Attributes
    ----------
    number : int
        What it is called by.
    entry : Entry
        What it says.
    entered_utc : datetime64[s]
        When it was written down.
    record : int or None
        The number of the record that came with it.
    is_live : bool
        Whether it is neither undone nor corrected.
    corrected_by : int or None
        The number of the entry that corrects it.
    """

    number: int
    entry: Entry
    entered_utc: np.datetime64
    record: int | None
    is_live: bool
    corrected_by: int | None = None


class Added(NamedTuple):
    """What came of adding entries.

    Attributes
    ----------
    numbers : list of int
        Those of the new ones.
    known : int
        How many were there already.
    undone : int
        How many of those are there as undone, or corrected, and stay so.
    """

    numbers: list[int]
    known: int
    undone: int


class Diary:
    """The diary of one house; its file is opened anew for whatever is done.

    Parameters
    ----------
    path
        The file.
    house
        The id of the house.
    """

    def __init__(self, path: Path, house: str) -> None:
        self.path = path
        self.house = house

    def add(
        self,
        entries: Sequence[Entry],
        now_utc: np.datetime64,
        *,
        source: str = "",
        instead_of: int | None = None,
        records: Mapping[int, Record] | None = None,
    ) -> Added:
        """Add what somebody noted, all of it or nothing.

        Parameters
        ----------
        entries
            What is noted. The same may be noted twice.
        now_utc
            When [datetime64[s]].
        source
            Where it comes from.
        instead_of
            The number of the entry that the one entry here corrects.
        records
            By the place of an entry in the list, what was put into the door.

        Raises
        ------
        DiaryError
            If nothing could be added.
        """
        with (
            opened_to_write(self.path, self.house, make=instead_of is None) as connection,
            transaction(connection),
        ):
            if instead_of is not None:
                _refuse_unless_live(connection, self.path, instead_of)
            kind = ADDED if instead_of is None else CORRECTED
            act = _new_act(connection, kind, now_utc, source)
            numbers = []
            for place, entry in enumerate(entries):
                record = _record_number(connection, (records or {}).get(place), entry)
                copy = _copies(connection, digest_of(entry)) + 1
                numbers.append(_new_entry(connection, act, entry, copy, record))
            if instead_of is not None:
                _new_void(connection, act, instead_of, numbers[0])
        return Added(numbers, 0, 0)

    def take_in(
        self,
        entries: Sequence[Entry],
        now_utc: np.datetime64,
        *,
        source: str,
        records: Mapping[int, Record] | None = None,
        again: bool = False,
    ) -> Added:
        """Add what a log holds and the diary does not; all of it or nothing.

        Parameters
        ----------
        entries
            All that the log holds. Those that say the same are as many as they are in the log.
        now_utc
            When [datetime64[s]].
        source
            The name of the log.
        records
            As `add`.
        again
            Whether entries that were undone are wanted again.

        Raises
        ------
        DiaryError
            If nothing could be added.
        """
        with opened_to_write(self.path, self.house) as connection, transaction(connection):
            new, undone = _lacking(connection, entries, again=again)
            numbers: list[int] = []
            if new:
                act = _new_act(connection, IMPORTED, now_utc, source)
                for place, copy in new:
                    record = _record_number(connection, (records or {}).get(place), entries[place])
                    numbers.append(_new_entry(connection, act, entries[place], copy, record))
        return Added(numbers, len(entries) - len(new), undone)

    def undo(self, now_utc: np.datetime64, which: int | range | str | None = None) -> list[Noted]:
        """Undo entries, which stay in the diary; return what was undone.

        Parameters
        ----------
        now_utc
            When [datetime64[s]].
        which
            The number of an entry; numbers, of which those are undone that hold; the name of a log,
            all of whose entries are; or None for all that was last noted at once.

        Raises
        ------
        DiaryError
            If there is nothing to undo.
        """
        with (
            opened_to_write(self.path, self.house, make=False) as connection,
            transaction(connection),
        ):
            values: list[int | str]
            match which:
                case int():
                    _refuse_unless_live(connection, self.path, which)
                    where, values = "number = ?", [which]
                case range():
                    where, values = "number >= ? AND number < ?", [which.start, which.stop]
                case str():
                    where = "act IN (SELECT number FROM act WHERE kind = ? AND source = ?)"
                    values = [IMPORTED, which]
                case None:
                    where, values = "act = (SELECT max(act) FROM live)", []
            undone = list(noted_in(connection, "live", where, values))
            if not undone:
                raise DiaryError(f"{self.path}: there is nothing of that in it to be undone")
            act = _new_act(connection, UNDONE, now_utc, "")
            for one in undone:
                _new_void(connection, act, one.number, None)
        return undone

    def entries(
        self,
        since_utc: np.datetime64 | None = None,
        until_utc: np.datetime64 | None = None,
        *,
        whats: Iterable[str] = (),
        all_of_them: bool = False,
    ) -> list[Noted]:
        """Return entries in the order of their instants.

        Parameters
        ----------
        since_utc, until_utc
            Between which they lie, the second excluded; None for no bound.
        whats
            Of which kinds; all if empty.
        all_of_them
            Whether those are wanted too that are undone or corrected.

        Raises
        ------
        DiaryError
            If there is no diary, or it cannot be read.
        """
        kinds = tuple(whats)
        wheres, values = ["1"], list[str]()
        for sign, bound in ((">=", since_utc), ("<", until_utc)):
            if bound is not None:
                wheres.append(f"instant_utc {sign} ?")
                values.append(_text(bound))
        if kinds:
            wheres.append(f"what IN ({', '.join('?' * len(kinds))})")
            values += kinds
        with opened_to_read(self.path, self.house) as connection:
            table = "entry" if all_of_them else "live"
            return list(noted_in(connection, table, " AND ".join(wheres), values))

    def entries_if_any(
        self,
        since_utc: np.datetime64 | None = None,
        until_utc: np.datetime64 | None = None,
        *,
        whats: Iterable[str] = (),
    ) -> list[Noted]:
        """Return entries as `entries` does; none where there is no diary yet.

        Raises
        ------
        DiaryError
            If there is one that cannot be read.
        """
        try:
            return self.entries(since_utc, until_utc, whats=whats)
        except NoDiaryError:
            return []

    def entry(self, number: int) -> Noted:
        """Return an entry that holds, by its number.

        Raises
        ------
        DiaryError
            If there is none, or it is undone or corrected.
        """
        with opened_to_read(self.path, self.house) as connection:
            _refuse_unless_live(connection, self.path, number)
            return next(noted_in(connection, "live", "number = ?", (number,)))

    def record(self, number: int) -> Record:
        """Return a record by its number.

        Raises
        ------
        DiaryError
            If the diary cannot be read.
        """
        with opened_to_read(self.path, self.house) as connection:
            row = connection.execute(
                "SELECT name, works, content FROM record WHERE number = ?", (number,)
            ).fetchone()
            if row is None or row[1] not in WORKS:
                raise BrokenRowError(f"record {number} is damaged")
        return Record(*row)


def digest_of(entry: Entry) -> str:
    """Return what entries have alike that say the same."""
    return hashlib.sha256("\x1f".join(map(str, _cells(entry))).encode()).hexdigest()


def _cells(entry: Entry) -> tuple[str | float, ...]:
    return (
        _text(entry.instant_utc),
        entry.what,
        entry.value,
        entry.stamped_by,
        entry.within_min,
        entry.by,
        entry.note,
    )


def _text(instant_utc: np.datetime64) -> str:
    return f"{instant_utc.astype('datetime64[s]')}Z"


def _instant(text: str) -> np.datetime64:
    return np.datetime64(text.removesuffix("Z"), "s")


def noted_in(
    connection: sqlite3.Connection, table: str, where: str, values: Sequence[object]
) -> Iterator[Noted]:
    """Yield entries in the order of their instants.

    Parameters
    ----------
    connection
        To the file.
    table
        ``entry`` for all, ``live`` for those that hold.
    where, values
        Which, as SQL has it.

    Raises
    ------
    sqlite3.DatabaseError
        At a row that the program would never have written.
    """
    is_live, corrected_by = "1", "NULL"
    if table == "entry":
        is_live = "number IN (SELECT number FROM live)"
        corrected_by = (
            "(SELECT max(instead) FROM void WHERE void.entry = entry.number "
            "AND instead IN (SELECT number FROM live))"
        )
    found = connection.execute(
        f"SELECT number, {_COLUMNS}, record, "
        "(SELECT entered_utc FROM act WHERE act.number = act), "
        f"{is_live}, {corrected_by} FROM {table} WHERE {where} ORDER BY instant_utc, number",
        values,
    )
    for number, *cells, record, entered, live, corrected in found:
        entry, entered_utc = _checked(number, cells, entered)
        yield Noted(number, entry, entered_utc, record, bool(live), corrected)


def _checked(number: int, cells: Sequence[object], entered: object) -> tuple[Entry, np.datetime64]:
    """Return an entry and when it was noted, from their row.

    Raises
    ------
    sqlite3.DatabaseError
        If no entry can be so: somebody else has written there.
    """
    try:
        instant, what, value, stamped_by, within_min, by, note = cells
        entry = make_entry(
            _instant(str(instant)),
            str(what),
            str(value),
            stamped_by=str(stamped_by),
            within=minutes_text(float(str(within_min))),
            by=str(by),
            note=str(note),
        )
        check_year(entry.instant_utc)
        if _cells(entry) != tuple(cells):
            raise EntryError("it is not written as entries are")
        return entry, _instant(str(entered))
    except (EntryError, ValueError, OverflowError) as error:
        raise BrokenRowError(f"entry {number} is damaged: {error}") from error


def _refuse_unless_live(connection: sqlite3.Connection, path: Path, number: int) -> None:
    number = min(number, _MOST_ROWS)
    if connection.execute("SELECT 1 FROM live WHERE number = ?", (number,)).fetchone():
        return
    there = connection.execute("SELECT 1 FROM entry WHERE number = ?", (number,)).fetchone()
    why = "is undone or corrected already" if there else "is not in it"
    raise DiaryError(f"{path}: entry {number} {why}; `daylatch diary show` numbers those there are")


def _new_act(
    connection: sqlite3.Connection, kind: str, now_utc: np.datetime64, source: str
) -> int | None:
    return connection.execute(
        "INSERT INTO act (uid, kind, entered_utc, source) VALUES (?, ?, ?, ?)",
        (_uid(), kind, _text(now_utc), source),
    ).lastrowid


def _new_entry(
    connection: sqlite3.Connection, act: int | None, entry: Entry, copy: int, record: int | None
) -> int:
    number = connection.execute(
        f"INSERT INTO entry (uid, act, {_COLUMNS}, record, digest, copy) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (_uid(), act, *_cells(entry), record, digest_of(entry), copy),
    ).lastrowid
    assert number is not None
    return number


def _new_void(
    connection: sqlite3.Connection, act: int | None, number: int, instead: int | None
) -> None:
    connection.execute(
        "INSERT INTO void (uid, act, entry, instead) VALUES (?, ?, ?, ?)",
        (_uid(), act, number, instead),
    )


def _uid() -> str:
    return uuid.uuid4().hex


def _copies(connection: sqlite3.Connection, digest: str) -> int:
    found = connection.execute("SELECT max(copy) FROM entry WHERE digest = ?", (digest,)).fetchone()
    return int(found[0] or 0)


def _live_copies(connection: sqlite3.Connection, digest: str) -> int:
    found = connection.execute("SELECT count(*) FROM live WHERE digest = ?", (digest,)).fetchone()
    return int(found[0])


def _record_number(
    connection: sqlite3.Connection, record: Record | None, entry: Entry
) -> int | None:
    """Return the number of a record, kept once; without one, that of the latest of its name."""
    if record is None:
        if entry.what != "in_use":
            return None
        row = connection.execute(
            "SELECT max(number) FROM record WHERE name = ?", (entry.value,)
        ).fetchone()
        return None if row is None else row[0]
    digest = hashlib.sha256(
        b"\x1f".join((record.name.encode(), record.works.encode(), record.content))
    ).hexdigest()
    connection.execute(
        "INSERT OR IGNORE INTO record (digest, name, works, content) VALUES (?, ?, ?, ?)",
        (digest, *record),
    )
    (number,) = connection.execute(
        "SELECT number FROM record WHERE digest = ?", (digest,)
    ).fetchone()
    return int(number)


def _lacking(
    connection: sqlite3.Connection, entries: Sequence[Entry], *, again: bool
) -> tuple[list[tuple[int, int]], int]:
    """Return the places and copies of entries that are not there, and how many are as undone."""
    seen: Counter[str] = Counter()
    new, undone = [], 0
    for place, entry in enumerate(entries):
        digest = digest_of(entry)
        seen[digest] += 1
        copy = seen[digest]
        held = _copies(connection, digest)
        if copy > held:
            new.append((place, copy))
            continue
        live = _live_copies(connection, digest)
        if copy > live and again:
            new.append((place, held + copy - live))
        elif copy > live:
            undone += 1
    return new, undone
