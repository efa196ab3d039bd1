"""Reading a file that must be a plain one of some size: a pipe would be waited for without end."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


class NotPlainError(OSError):
    """Something that is no plain file, such as a folder or a pipe."""


def read_plain(path: Path, most_bytes: int) -> tuple[os.stat_result, bytes]:
    """Return what is known of a plain file, and what it holds.

    Parameters
    ----------
    path
        Where it is.
    most_bytes
        How much of it is read at most [bytes]; of a larger one, one byte more.

    Raises
    ------
    FileNotFoundError
        If there is none.
    NotPlainError
        If it is no plain file.
    OSError
        If it cannot be read.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise NotPlainError("is no plain file")
    with path.open("rb") as file:
        return os.fstat(file.fileno()), file.read(most_bytes + 1)
