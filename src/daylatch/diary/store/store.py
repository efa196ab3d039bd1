"""What is done with a diary: adding, undoing, and reading what it holds."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.store.opening import opened_to_read, opened_to_write, transaction
from daylatch.diary.store.rows import (
    TAPPED,
    Known,
    Noted,
    Record,
    copies_of,
    digest_of,
    live_copies_of,
    new_act,
    new_entry,
    new_report,
    new_void,
    noted_in,
    record_number,
    reported_before,
    same_state_lately,
    tapped_before,
    utc_cell,
)
from daylatch.diary.store.troubles import WAIT_S, BrokenRowError
from daylatch.errors import DiaryError, NoDiaryError
from daylatch.site.choices.works import WORKS

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Mapping, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path

    from daylatch.diary.entries import Entry

ADDED, IMPORTED, CORRECTED, UNDONE = "added", "imported", "corrected", "undone"
REPORTED = "reported"
"""What an act can be, besides `TAPPED`."""
SAME_REPORT_WITHIN = np.timedelta64(24, "h")
"""For how long a number of the door's means the same report: some doors begin anew at a restart
(our choice, no source)."""
_REPORTED_SINCE = (
    "number IN (SELECT told.number FROM act JOIN entry AS told ON told.act = act.number "
    f"WHERE act.kind = '{REPORTED}' AND act.entered_utc >= ?)"
)
_MOST_ROWS = 2**63 - 1
"""What SQLite can number."""


STATES = ("seen_open", "seen_shut")
SAME_STATE_WITHIN = np.timedelta64(10, "m")
"""For how long a state that the door reports again and again is kept once (our choice, no
source)."""


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


class Reported(NamedTuple):
    """What came of a report of the door: its entry's number, and whether that is new."""

    number: int
    is_new: bool


class Tapped(NamedTuple):
    """What came of a tap on the page at home, or of taking one back.

    Attributes
    ----------
    noted : Noted
        Its entry.
    is_new : bool
        Whether that was not done before.
    """

    noted: Noted
    is_new: bool


class Diary:
    """The diary of one house; its file is opened anew for whatever is done.

    Parameters
    ----------
    path
        The file.
    house
        The id of the house.
    wait_s
        How long another program's writing is waited for [s].
    """

    def __init__(self, path: Path, house: str, *, wait_s: float = WAIT_S) -> None:
        self.path = path
        self.house = house
        self.wait_s = wait_s

    def _writing(self, *, make: bool = True) -> AbstractContextManager[sqlite3.Connection]:
        return opened_to_write(self.path, self.house, make=make, wait_s=self.wait_s)

    def _reading(self) -> AbstractContextManager[sqlite3.Connection]:
        return opened_to_read(self.path, self.house, wait_s=self.wait_s)

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
            self._writing(make=instead_of is None) as connection,
            transaction(connection),
        ):
            if instead_of is not None:
                _refuse_unless_live(connection, self.path, instead_of)
            kind = ADDED if instead_of is None else CORRECTED
            act = new_act(connection, kind, now_utc, source)
            numbers = []
            for place, entry in enumerate(entries):
                record = record_number(connection, (records or {}).get(place), entry)
                digest = digest_of(entry)
                known = Known(digest, copies_of(connection, digest) + 1)
                numbers.append(new_entry(connection, act, entry, known, record))
            if instead_of is not None:
                new_void(connection, act, instead_of, numbers[0])
        return Added(numbers, 0, 0)

    def report(
        self, entry: Entry, now_utc: np.datetime64, door_number: int | None = None
    ) -> Reported:
        """Add what the door itself reports, once.

        Parameters
        ----------
        entry
            What it reports.
        now_utc
            When that is received [datetime64[s]].
        door_number
            The door's own number for it, by which a repeat is known.

        Returns
        -------
        Reported
            A state that the door said shortly before is not kept once more.

        Raises
        ------
        DiaryError
            If nothing could be added.
        """
        with self._writing() as connection, transaction(connection):
            known = None
            if door_number is not None:
                since = now_utc - SAME_REPORT_WITHIN
                known = reported_before(connection, entry, door_number, since)
            if known is None and entry.what in STATES and entry.stamped_by != "door":
                known = same_state_lately(connection, entry, now_utc - SAME_STATE_WITHIN)
            if known is not None:
                return Reported(known, is_new=False)
            act = new_act(connection, REPORTED, now_utc, "")
            digest = digest_of(entry)
            copy = copies_of(connection, digest) + 1
            number = new_entry(connection, act, entry, Known(digest, copy), None)
            new_report(connection, number, door_number)
        return Reported(number, is_new=True)

    def tap(self, entry: Entry, now_utc: np.datetime64, tap: str) -> Tapped:
        """Add what somebody tapped on the page at home, once.

        Parameters
        ----------
        entry
            What it says.
        now_utc
            When that is received [datetime64[s]].
        tap
            32 hexadecimal digits that no other tap has: so one that is sent again is known. What
            says something else is another tap, whatever its digits.

        Raises
        ------
        DiaryError
            If nothing could be added.
        """
        with self._writing() as connection, transaction(connection):
            before = tapped_before(connection, tap)
            if before is not None and _says_the_same(before.entry, entry):
                return Tapped(before, is_new=False)
            uid = tap if before is None else ""
            act = new_act(connection, TAPPED, now_utc, "", uid=uid)
            digest = digest_of(entry)
            known = Known(digest, copies_of(connection, digest) + 1)
            number = new_entry(connection, act, entry, known, None)
            (noted,) = noted_in(connection, "entry", "number = ?", (number,))
        return Tapped(noted, is_new=True)

    def untap(self, number: int, now_utc: np.datetime64) -> Tapped | None:
        """Undo what was tapped on the page at home; None if that entry was not.

        Raises
        ------
        DiaryError
            If it could not be undone.
        """
        with self._writing(make=False) as connection, transaction(connection):
            one = _tapped(connection, number)
            if one is None:
                return None
            if not one.is_live:
                return Tapped(one, is_new=False)
            new_void(connection, new_act(connection, UNDONE, now_utc, ""), number, None)
            return Tapped(one, is_new=True)

    def tapped(self, number: int) -> Noted | None:
        """Return what was tapped on the page at home, whether or not it holds; None for others.

        Raises
        ------
        DiaryError
            If the diary cannot be read.
        """
        with self._reading() as connection:
            return _tapped(connection, number)

    def last_act(self) -> int:
        """Return the number of what was done last; 0 where there is nothing yet.

        Raises
        ------
        DiaryError
            If there is a diary that cannot be read.
        """
        found = self._first("SELECT max(number) FROM act")
        return found if isinstance(found, int) else 0

    def has_reports(self) -> bool:
        """Return whether the door has ever reported by itself.

        Raises
        ------
        DiaryError
            If there is a diary that cannot be read.
        """
        return bool(self._first("SELECT 1 FROM report LIMIT 1"))

    def _first(self, query: str) -> object:
        """Return the first cell that is found; None where there is none, or no diary yet."""
        try:
            with self._reading() as connection:
                row = connection.execute(query).fetchone()
        except NoDiaryError:
            return None
        return None if row is None else row[0]

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
        with self._writing() as connection, transaction(connection):
            new, undone = _lacking(connection, entries, again=again)
            numbers: list[int] = []
            if new:
                act = new_act(connection, IMPORTED, now_utc, source)
                for place, known in new:
                    record = record_number(connection, (records or {}).get(place), entries[place])
                    numbers.append(new_entry(connection, act, entries[place], known, record))
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
            self._writing(make=False) as connection,
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
                    # What door and phones say meanwhile is nobody's last command.
                    where = (
                        "act = (SELECT max(act) FROM live WHERE act NOT IN "
                        "(SELECT number FROM act WHERE kind IN (?, ?)))"
                    )
                    values = [REPORTED, TAPPED]
            undone = list(noted_in(connection, "live", where, values))
            if not undone:
                raise DiaryError(f"{self.path}: there is nothing of that in it to be undone")
            act = new_act(connection, UNDONE, now_utc, "")
            for one in undone:
                new_void(connection, act, one.number, None)
        return undone

    def entries(
        self,
        since_utc: np.datetime64 | None = None,
        until_utc: np.datetime64 | None = None,
        *,
        whats: Iterable[str] = (),
        all_of_them: bool = False,
        or_received: bool = False,
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
        or_received
            Whether those are wanted too that the door reported since, whatever moment it says.

        Raises
        ------
        DiaryError
            If there is no diary, or it cannot be read.
        """
        kinds = tuple(whats)
        wheres, values = ["1"], list[str]()
        if since_utc is not None:
            received = f" OR {_REPORTED_SINCE}" * or_received
            wheres.append(f"(instant_utc >= ?{received})")
            values += [utc_cell(since_utc)] * (1 + or_received)
        if until_utc is not None:
            wheres.append("instant_utc < ?")
            values.append(utc_cell(until_utc))
        if kinds:
            # A bound in time leaves fewer entries than a kind does: the sign keeps SQLite from
            # going by the kind (sqlite.org, "The SQLite Query Optimizer Overview").
            sign = "+" if since_utc is not None else ""
            wheres.append(f"{sign}what IN ({', '.join('?' * len(kinds))})")
            values += kinds
        with self._reading() as connection:
            table = "entry" if all_of_them else "live"
            return list(noted_in(connection, table, " AND ".join(wheres), values))

    def entries_if_any(
        self,
        since_utc: np.datetime64 | None = None,
        until_utc: np.datetime64 | None = None,
        *,
        whats: Iterable[str] = (),
        or_received: bool = False,
    ) -> list[Noted]:
        """Return entries as `entries` does; none where there is no diary yet.

        Raises
        ------
        DiaryError
            If there is one that cannot be read.
        """
        try:
            return self.entries(since_utc, until_utc, whats=whats, or_received=or_received)
        except NoDiaryError:
            return []

    def entry(self, number: int) -> Noted:
        """Return an entry that holds, by its number.

        Raises
        ------
        DiaryError
            If there is none, or it is undone or corrected.
        """
        with self._reading() as connection:
            _refuse_unless_live(connection, self.path, number)
            return next(noted_in(connection, "live", "number = ?", (number,)))

    def record(self, number: int) -> Record:
        """Return a record by its number.

        Raises
        ------
        DiaryError
            If the diary cannot be read.
        """
        with self._reading() as connection:
            row = connection.execute(
                "SELECT name, works, content FROM record WHERE number = ?", (number,)
            ).fetchone()
            if row is None or row[1] not in WORKS:
                raise BrokenRowError(f"record {number} is damaged")
        return Record(*row)


def _says_the_same(one: Entry, other: Entry) -> bool:
    return (one.what, one.value) == (other.what, other.value)


def _tapped(connection: sqlite3.Connection, number: int) -> Noted | None:
    values = (min(number, _MOST_ROWS),)
    one = next(noted_in(connection, "entry", "number = ?", values), None)
    return one if one is not None and one.is_tap else None


def _refuse_unless_live(connection: sqlite3.Connection, path: Path, number: int) -> None:
    number = min(number, _MOST_ROWS)
    if connection.execute("SELECT 1 FROM live WHERE number = ?", (number,)).fetchone():
        return
    there = connection.execute("SELECT 1 FROM entry WHERE number = ?", (number,)).fetchone()
    why = "is undone or corrected already" if there else "is not in it"
    raise DiaryError(f"{path}: entry {number} {why}; `daylatch diary show` numbers those there are")


def _lacking(
    connection: sqlite3.Connection, entries: Sequence[Entry], *, again: bool
) -> tuple[list[tuple[int, Known]], int]:
    """Return the places of entries that are not there, and how many are as undone."""
    seen: Counter[str] = Counter()
    new, undone = [], 0
    for place, entry in enumerate(entries):
        digest = digest_of(entry)
        seen[digest] += 1
        copy = seen[digest]
        held = copies_of(connection, digest)
        if copy > held:
            new.append((place, Known(digest, copy)))
            continue
        live = live_copies_of(connection, digest)
        if copy > live and again:
            new.append((place, Known(digest, held + copy - live)))
        elif copy > live:
            undone += 1
    return new, undone
