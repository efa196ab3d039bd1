"""How entries stand in the tables of a diary's file: put down, and read back with a check."""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.entries import WHATS, EntryError, check_year, make_entry, minutes_text
from daylatch.diary.store.troubles import BrokenRowError

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Sequence

    from daylatch.diary.entries import Entry

_COLUMNS = "instant_utc, what, value, stamped_by, within_min, by_whom, note"

TAPPED = "tapped"
"""The kind of what was tapped on the page at home."""
DOOR_WORDS = tuple(what for what, kind in WHATS.items() if kind.door is not None)
"""The kinds of entries that tell of the door."""
_EVENING_WORDS = (*DOOR_WORDS, "all_in", "last_in", "still_out")


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
    is_report : bool
        Whether the door itself reported it.
    corrected_by : int or None
        The number of the entry that corrects it.
    is_tap : bool
        Whether it was tapped on the page at home.
    """

    number: int
    entry: Entry
    entered_utc: np.datetime64
    record: int | None
    is_live: bool
    is_report: bool = False
    corrected_by: int | None = None
    is_tap: bool = False


class Known(NamedTuple):
    """What an entry is known by: what it says, and which it is of those that say the same."""

    digest: str
    copy: int


def digest_of(entry: Entry) -> str:
    """Return what entries have alike that say the same."""
    return hashlib.sha256("\x1f".join(map(str, _cells(entry))).encode()).hexdigest()


def _cells(entry: Entry) -> tuple[str | float, ...]:
    return (
        utc_cell(entry.instant_utc),
        entry.what,
        entry.value,
        entry.stamped_by,
        entry.within_min,
        entry.by,
        entry.note,
    )


def utc_cell(instant_utc: np.datetime64) -> str:
    """Return an instant as the tables have it."""
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
        "(SELECT kind FROM act WHERE act.number = act), "
        "number IN (SELECT report.entry FROM report), "
        f"{is_live}, {corrected_by} FROM {table} WHERE {where} ORDER BY instant_utc, number",
        values,
    )
    for number, *cells, record, entered, kind, reported, live, corrected in found:
        entry, entered_utc = _checked(number, cells, entered)
        is_tap = kind == TAPPED
        yield Noted(
            number, entry, entered_utc, record, bool(live), bool(reported), corrected, is_tap
        )


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


def new_act(
    connection: sqlite3.Connection, kind: str, now_utc: np.datetime64, source: str, uid: str = ""
) -> int | None:
    """Put down that something is done, under a name of its own, and return its number."""
    return connection.execute(
        "INSERT INTO act (uid, kind, entered_utc, source) VALUES (?, ?, ?, ?)",
        (uid or _uid(), kind, utc_cell(now_utc), source),
    ).lastrowid


def new_entry(
    connection: sqlite3.Connection,
    act: int | None,
    entry: Entry,
    known: Known,
    record: int | None,
) -> int:
    """Put down an entry, and return its number."""
    number = connection.execute(
        f"INSERT INTO entry (uid, act, {_COLUMNS}, record, digest, copy) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (_uid(), act, *_cells(entry), record, *known),
    ).lastrowid
    assert number is not None
    return number


def new_void(
    connection: sqlite3.Connection, act: int | None, number: int, instead: int | None
) -> None:
    """Put down that an entry is undone, or corrected by another."""
    connection.execute(
        "INSERT INTO void (uid, act, entry, instead) VALUES (?, ?, ?, ?)",
        (_uid(), act, number, instead),
    )


def new_report(connection: sqlite3.Connection, entry: int, door_number: int | None) -> None:
    """Put down that the door itself reported an entry."""
    connection.execute(
        "INSERT INTO report (uid, entry, door_number) VALUES (?, ?, ?)",
        (_uid(), entry, door_number),
    )


def tapped_before(connection: sqlite3.Connection, tap: str) -> Noted | None:
    """Return the entry that a tap on the page at home has brought already; None for a new one."""
    where = "act IN (SELECT number FROM act WHERE uid = ?)"
    return next(noted_in(connection, "entry", where, (tap,)), None)


def reported_before(
    connection: sqlite3.Connection, entry: Entry, door_number: int, since_utc: np.datetime64
) -> int | None:
    """Return the number of an entry that the door has reported already; None for a new one.

    Parameters
    ----------
    connection
        To the file.
    entry
        What it reports.
    door_number
        Its own number for that.
    since_utc
        From when on the same number means the same report, if the door says no time of its own
        [datetime64[s]].
    """
    row = connection.execute(
        "SELECT entry.number, report.number FROM report JOIN entry ON entry.number = report.entry "
        "JOIN act ON act.number = entry.act WHERE door_number = ? AND what = ? AND value = ? "
        "AND (CASE WHEN ? = 'door' THEN digest = ? "
        "ELSE stamped_by != 'door' AND entered_utc >= ? END) ORDER BY report.number DESC",
        (
            door_number,
            entry.what,
            entry.value,
            entry.stamped_by,
            digest_of(entry),
            utc_cell(since_utc),
        ),
    ).fetchone()
    if row is None:
        return None
    number, report = row
    door = entry.kind.door
    if entry.stamped_by != "door" and door is not None and door.is_open:
        latest = connection.execute("SELECT max(number) FROM report").fetchone()
        if report != latest[0]:
            # A door that began to count anew must not be taken for repeating that it is open.
            return None
    return int(number)


def same_state_lately(
    connection: sqlite3.Connection, entry: Entry, since_utc: np.datetime64
) -> int | None:
    """Return the number of the last word of door or birds, if the door then said the same as now.

    Parameters
    ----------
    connection
        To the file.
    entry
        What the door reports now.
    since_utc
        From when on that word is of now [datetime64[s]].

    Returns
    -------
    int or None
        None if it is another word, of before, less sure, or another's.
    """
    row = connection.execute(
        "SELECT live.number, what, stamped_by, within_min, entered_utc, "
        "live.number IN (SELECT report.entry FROM report) "
        "FROM live JOIN act ON act.number = live.act "
        f"WHERE what IN ({', '.join('?' * len(_EVENING_WORDS))}) ORDER BY live.number DESC LIMIT 1",
        _EVENING_WORDS,
    ).fetchone()
    if row is None:
        return None
    number, what, stamped_by, within_min, entered, is_report = row
    is_same = is_report and what == entry.what and stamped_by == entry.stamped_by
    is_lately = within_min <= entry.within_min and entered >= utc_cell(since_utc)
    return int(number) if is_same and is_lately else None


def _uid() -> str:
    return uuid.uuid4().hex


def copies_of(connection: sqlite3.Connection, digest: str) -> int:
    """Return how many entries there are that say the same."""
    found = connection.execute("SELECT max(copy) FROM entry WHERE digest = ?", (digest,)).fetchone()
    return int(found[0] or 0)


def live_copies_of(connection: sqlite3.Connection, digest: str) -> int:
    """Return how many of them hold."""
    found = connection.execute("SELECT count(*) FROM live WHERE digest = ?", (digest,)).fetchone()
    return int(found[0])


def record_number(
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
