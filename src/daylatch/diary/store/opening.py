"""Opening a diary's file: to write, or to read it where nothing may be written."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import time
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.diary.store.schema import UPGRADES, upgrade, version_of
from daylatch.diary.store.troubles import WAIT_S, told
from daylatch.errors import DiaryError, NoDiaryError
from daylatch.files.own import DIARY_ID

if TYPE_CHECKING:
    from collections.abc import Iterator

_PAUSE_S = 0.02
MOST_BYTES = 256 * 1024 * 1024
"""How large a diary is at most; half a million entries fit."""


@contextmanager
def opened_to_write(
    path: Path, house: str, *, make: bool = True, wait_s: float = WAIT_S
) -> Iterator[sqlite3.Connection]:
    """Give a diary's file, brought to the newest version.

    What is written in a transaction is safe on the disk once the transaction has ended.

    Parameters
    ----------
    path
        Where it is.
    house
        The id of the house that it is of.
    make
        Whether one is made if there is none.
    wait_s
        How long another program's writing is waited for [s].

    Raises
    ------
    DiaryError
        If it cannot be used, or is another house's.
    """
    _look_for(path, is_needed=not make)
    with (
        told(path),
        closing(_connect(f"{path.absolute().as_uri()}?mode=rwc", wait_s)) as connection,
    ):
        with _one_moment(connection):
            _check(connection, path, house)
        if not make and not version_of(connection):
            raise _none_yet(path)
        _keep_a_log(connection, wait_s)
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        if version_of(connection) < len(UPGRADES):
            with transaction(connection):
                # Another program may have been faster.
                _check(connection, path, house)
                if version_of(connection) < len(UPGRADES):
                    _make(connection, house)
        yield connection


def _make(connection: sqlite3.Connection, house: str) -> None:
    is_new = version_of(connection) == 0
    upgrade(connection)
    if is_new:
        connection.execute("INSERT INTO house VALUES (?)", (house,))


@contextmanager
def opened_to_read(
    path: Path, house: str, *, wait_s: float = WAIT_S
) -> Iterator[sqlite3.Connection]:
    """Give a diary's file to read, which works in a folder that may not be written too.

    Parameters are those of `opened_to_write`.

    Raises
    ------
    DiaryError
        If there is none, or it cannot be used, or is another house's.
    """
    _look_for(path, is_needed=True)
    with told(path), _readable(path, wait_s) as connection:
        with _one_moment(connection):
            _check(connection, path, house)
        if not version_of(connection):
            raise _none_yet(path)
        with _newest(connection) as current:
            yield current


@contextmanager
def opened_bytes(content: bytes, path: Path, house: str) -> Iterator[sqlite3.Connection]:
    """Give the content of a diary's file, such as a backup, brought to the newest version.

    Raises
    ------
    DiaryError
        If it is none, is damaged, or is another house's.
    """
    with told(path), closing(_connect(":memory:")) as connection:
        # Bytes 18 and 19 say that a log stands beside a file, which has none in memory
        # (sqlite.org, "Deserialize a database").
        connection.deserialize(content[:18] + b"\x01\x01" + content[20:])
        _check(connection, path, house)
        if connection.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
            raise DiaryError(f"{path}: is damaged: name another backup")
        if not version_of(connection):
            raise DiaryError(f"{path}: holds no diary: name a file of `daylatch diary backup`")
        with _newest(connection) as current:
            yield current


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do all that is within, or nothing of it."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:  # some errors have ended it
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


@contextmanager
def _one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """Read a file as it stands at one moment, while another program may be making it."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:  # some errors have ended it
            connection.execute("ROLLBACK")


def _connect(uri: str, wait_s: float = WAIT_S) -> sqlite3.Connection:
    return sqlite3.connect(uri, timeout=wait_s, isolation_level=None, uri=True)


@contextmanager
def _readable(path: Path, wait_s: float) -> Iterator[sqlite3.Connection]:
    """Give a connection that can read a file, whatever may be written beside it."""
    uri = path.absolute().as_uri()
    # Who may write clears away the log beside the file at the end.
    for mode in ("rw", "ro"):
        with closing(_connect(f"{uri}?mode={mode}", wait_s)) as connection:
            try:
                connection.execute("PRAGMA query_only = ON")
                version_of(connection)
            except sqlite3.OperationalError:
                continue
            yield connection
            return
    log = path.with_name(f"{path.name}-wal")
    if not log.exists():
        # Nobody writes to it, or there would be one.
        with closing(_connect(f"{uri}?mode=ro&immutable=1")) as connection:
            yield connection
        return
    with tempfile.TemporaryDirectory() as folder:
        for file in (path, log):
            shutil.copyfile(file, Path(folder) / file.name)
        with closing(_connect((Path(folder) / path.name).as_uri())) as connection:
            yield connection


@contextmanager
def _newest(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Give an older file's content as the newest version has it; the file itself is left alone."""
    if version_of(connection) == len(UPGRADES):
        yield connection
        return
    with closing(_connect(":memory:")) as copy:
        connection.backup(copy)
        with transaction(copy):
            upgrade(copy)
        yield copy


def _none_yet(path: Path) -> NoDiaryError:
    return NoDiaryError(
        f"{path}: there is no diary yet: `daylatch diary add` or `daylatch diary import` begins "
        "one, and `daylatch diary restore` brings back a backup"
    )


def _look_for(path: Path, *, is_needed: bool) -> None:
    """Refuse what is no file, and that there is none where one is needed."""
    with told(path):
        there = path.exists()
        if not there and is_needed:
            raise _none_yet(path)
        if there and not path.is_file():
            raise DiaryError(f"{path}: is no file: name another as file under [diary]")


def _check(connection: sqlite3.Connection, path: Path, house: str) -> None:
    """Refuse what is no diary, a newer one, and another house's; a file with nothing in it is new.

    Raises
    ------
    DiaryError
        Saying which.
    """
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark != DIARY_ID:
        if connection.execute("SELECT 1 FROM sqlite_master").fetchone() or version_of(connection):
            raise DiaryError(
                f"{path}: is another program's database, and no diary: name another file as file "
                "under [diary], or move this one away"
            )
        return
    if version_of(connection) > len(UPGRADES):
        raise DiaryError(
            f"{path}: was written by a newer daylatch (version {version_of(connection)} of "
            f"diaries, and this one knows {len(UPGRADES)}): update daylatch"
        )
    if _shape(connection) != _shape_made_by(UPGRADES[: version_of(connection)]):
        raise DiaryError(
            f"{path}: is damaged, for another program has changed how it is made: keep a copy of "
            "it, move it away, and bring back the last backup with `daylatch diary restore`"
        )
    found = next(iter(connection.execute("SELECT id FROM house")), (None,))[0]
    if found != house:
        raise DiaryError(
            f"{path}: is the diary of another house (id {found}, and the site file has {house}): "
            "name this house's as file under [diary], or move this one away"
        )


def _shape(connection: sqlite3.Connection) -> set[tuple[str, ...]]:
    """Return what a file is made of: its tables, views, indexes and triggers."""
    found = connection.execute("SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master")
    return set(found.fetchall())


@cache
def _shape_made_by(upgrades: tuple[tuple[str, ...], ...]) -> set[tuple[str, ...]]:
    with closing(_connect(":memory:")) as connection, transaction(connection):
        upgrade(connection, len(upgrades))
        return _shape(connection)


def _keep_a_log(connection: sqlite3.Connection, wait_s: float) -> None:
    """Let readers and a writer work at the same time (sqlite.org, "Write-Ahead Logging").

    Raises
    ------
    sqlite3.OperationalError
        If that is refused for long.
    """
    for left in reversed(range(int(wait_s / _PAUSE_S))):
        try:
            # On a share of a network there may be none: then readers wait for the writer.
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            # The change itself does not wait for others.
            if error.sqlite_errorname != "SQLITE_BUSY" or not left:
                raise
        time.sleep(_PAUSE_S)
