"""What is said when a diary's file cannot be used."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from daylatch.errors import DiaryError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class BrokenRowError(sqlite3.DatabaseError):
    """A row that the program would never have written; its text says which."""


WAIT_S = 30
"""How long another program's writing is waited for, where nobody waits for an answer [s]."""

_DAMAGED = (
    "keep a copy of it, move it away, and bring back the last backup with `daylatch diary restore`"
)
# By what SQLite's names of errors begin with.
_WORDS = {
    "SQLITE_FULL": "the disk is full: make room, and do it again",
    "SQLITE_BUSY": "another program keeps writing to it: do it again later",
    "SQLITE_LOCKED": "another program keeps writing to it: do it again later",
    "SQLITE_READONLY": "it may be read, but not written: look at the rights of the file and of its "
    "folder",
    "SQLITE_CANTOPEN": "it cannot be opened: look at the rights of the file and of its folder",
    "SQLITE_PERM": "it cannot be opened: look at the rights of the file and of its folder",
    "SQLITE_IOERR": "the disk reports an error, or is full: look at it, and do it again",
    "SQLITE_NOTADB": "is no diary: name another file as file under [diary], or move this one away",
    "SQLITE_CORRUPT": f"is damaged: {_DAMAGED}",
}


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what SQLite and the disk raise into a message about a diary.

    Raises
    ------
    DiaryError
        Instead of any error of theirs.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise DiaryError(f"{path}: {words_for(error)}") from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise DiaryError(f"{path}: cannot be used ({why}): look at the disk") from error


def words_for(error: sqlite3.Error) -> str:
    """Return what is wrong, and what would help."""
    if isinstance(error, BrokenRowError):
        return f"{error}; {_DAMAGED}"
    name = getattr(error, "sqlite_errorname", "")
    for beginning, words in _WORDS.items():
        if name.startswith(beginning):
            return words
    return f"cannot be used ({error})"
