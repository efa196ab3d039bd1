"""What the diary's file looks like inside, and how older ones become like it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.files.own import DIARY_ID

if TYPE_CHECKING:
    import sqlite3

_FIRST = (
    # The house that it is of; one row.
    "CREATE TABLE house (id TEXT NOT NULL) STRICT",
    # What somebody did at once: an entry added, a log imported, something undone.
    """CREATE TABLE act (
        number INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        entered_utc TEXT NOT NULL,
        source TEXT NOT NULL
    ) STRICT""",
    # A table or list that was in the door, as it was.
    """CREATE TABLE record (
        number INTEGER PRIMARY KEY,
        digest TEXT NOT NULL UNIQUE,
        name TEXT NOT NULL,
        works TEXT NOT NULL,
        content BLOB NOT NULL
    ) STRICT""",
    # Entries that say the same are told apart by their copy: so one that comes again is known.
    """CREATE TABLE entry (
        number INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        act INTEGER NOT NULL REFERENCES act,
        instant_utc TEXT NOT NULL,
        what TEXT NOT NULL,
        value TEXT NOT NULL,
        stamped_by TEXT NOT NULL,
        within_min REAL NOT NULL,
        by_whom TEXT NOT NULL,
        note TEXT NOT NULL,
        record INTEGER REFERENCES record,
        digest TEXT NOT NULL,
        copy INTEGER NOT NULL,
        UNIQUE (digest, copy)
    ) STRICT""",
    "CREATE INDEX entry_instant ON entry (instant_utc)",
    "CREATE INDEX entry_act ON entry (act)",
    "CREATE INDEX entry_what ON entry (what)",
    # What is undone, or corrected by another entry.
    """CREATE TABLE void (
        number INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        act INTEGER NOT NULL REFERENCES act,
        entry INTEGER NOT NULL REFERENCES entry,
        instead INTEGER REFERENCES entry
    ) STRICT""",
    "CREATE INDEX void_entry ON void (entry)",
    # A correction holds until the entry that it brought is itself undone.
    """CREATE VIEW live AS SELECT * FROM entry WHERE NOT EXISTS (
        SELECT 1 FROM void WHERE void.entry = entry.number AND (
            void.instead IS NULL OR NOT EXISTS (
                SELECT 1 FROM void AS undone
                WHERE undone.entry = void.instead AND undone.instead IS NULL
            )
        )
    )""",
    *(
        f"CREATE TRIGGER {table}_{action}_refused BEFORE {action} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'nothing in a diary is ever rewritten'); END"
        for table in ("house", "act", "record", "entry", "void")
        for action in ("UPDATE", "DELETE")
    ),
    f"PRAGMA application_id = {DIARY_ID}",
)

_SECOND = (
    # What a door reported by itself, with its own number, so that it is taken once.
    """CREATE TABLE report (
        number INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        entry INTEGER NOT NULL REFERENCES entry,
        door_number INTEGER
    ) STRICT""",
    "CREATE INDEX report_entry ON report (entry)",
    "CREATE INDEX report_door_number ON report (door_number)",
    *(
        f"CREATE TRIGGER report_{action}_refused BEFORE {action} ON report "
        "BEGIN SELECT RAISE(ABORT, 'nothing in a diary is ever rewritten'); END"
        for action in ("UPDATE", "DELETE")
    ),
)

UPGRADES: tuple[tuple[str, ...], ...] = (_FIRST, _SECOND)
"""What makes each version from the one before; the first begins with an empty file. Files are out
there: a step that has been released never changes."""


def version_of(connection: sqlite3.Connection) -> int:
    """Return which version a file has; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def upgrade(connection: sqlite3.Connection, version: int | None = None) -> None:
    """Bring a file to a version, the newest if left out, within the transaction that is open."""
    newest = len(UPGRADES) if version is None else version
    for statements in UPGRADES[version_of(connection) : newest]:
        for statement in statements:
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {newest}")
