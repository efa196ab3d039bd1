"""Files that are being written beside the one that they will replace, and those left half written.

Whoever writes one holds a lock on it, which ends with the process however that ends: one that can
be locked was left by a run that was killed.
"""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows, where a file in use cannot be deleted anyway
    fcntl = None  # type: ignore[assignment]

_ENDING = ".daylatch.part"
_LONGEST_NAME = 40


@contextlib.contextmanager
def new_part(path: Path) -> Iterator[tuple[BinaryIO, Path]]:
    """Give a new open file in the folder of the one that it will replace; delete what is left.

    Raises
    ------
    OSError
        If there can be none.
    """
    handle, part = _create(path)
    # The file can be closed before it is moved, and stays locked.
    held = None if fcntl is None else os.dup(handle)
    try:
        yield os.fdopen(handle, "wb"), part
    finally:
        if held is not None:
            os.close(held)
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _create(path: Path) -> tuple[int, Path]:
    while True:
        prefix = f".{path.name[:_LONGEST_NAME]}."
        handle, name = tempfile.mkstemp(prefix=prefix, suffix=_ENDING, dir=path.parent)
        if fcntl is not None:
            # Where a disk knows no locks, nothing is ever cleared.
            with contextlib.suppress(OSError):
                fcntl.flock(handle, fcntl.LOCK_EX)
        # Another run may have taken it for a left-over before it was locked.
        if os.fstat(handle).st_nlink:
            return handle, Path(name)
        os.close(handle)


def is_part(name: str) -> bool:
    """Return whether a file is called like one that is being written."""
    return name.endswith(_ENDING)


def clear_left_overs(folder: Path) -> None:
    """Delete what runs that were killed left half written in a folder."""
    for part in folder.glob(f".*{_ENDING}"):
        # What cannot be deleted does no harm.
        with contextlib.suppress(OSError):
            # A pipe would be waited for without end.
            if stat.S_ISREG(part.lstat().st_mode):
                _delete_if_left(part)


def _delete_if_left(part: Path) -> None:
    """Delete a file that nobody writes any more.

    Raises
    ------
    OSError
        If somebody does, or it cannot be deleted.
    """
    with part.open("rb") as file:
        if fcntl is not None:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        part.unlink()
