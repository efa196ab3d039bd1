"""Putting a file in place: whole or not at all, and never over what is not ours."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from daylatch.errors import OutputError
from daylatch.files.parts import clear_left_overs, new_part

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

PRIVATE = stat.S_IRUSR | stat.S_IWUSR
LARGEST_BYTES = 256 * 1024 * 1024


def is_same_file(one: Path, other: Path) -> bool:
    """Return whether two names mean one file; a file that cannot be looked at is no other's."""
    try:
        return one.samefile(other)
    except OSError:
        # Such as one that is not there, or whose name is too long, which is said elsewhere.
        return False


def read_own(path: Path, wrote: Callable[[bytes], bool], *, force: bool) -> bytes | None:
    """Return the content of the file that is about to be replaced.

    Parameters
    ----------
    path
        Where a file is to be written.
    wrote
        Whether a content was made by this program.
    force
        Whether the keeper agreed to lose whatever is there.

    Returns
    -------
    bytes or None
        None if there is no file, or one that is not ours and may be lost.

    Raises
    ------
    OutputError
        If there is something that must not be replaced.
    """
    try:
        mode = path.lstat().st_mode
    except FileNotFoundError:
        return None
    except OSError as error:
        raise OutputError(f"{path}: cannot be looked at: {error.strerror}") from error
    if stat.S_ISLNK(mode):
        raise OutputError(f"{path}: is a symbolic link; name the file that it points to")
    if stat.S_ISDIR(mode):
        raise OutputError(f"{path}: is a folder; name a file in it")
    if not stat.S_ISREG(mode):
        raise OutputError(
            f"{path}: is not a plain file, so it is left alone; leave out -o to print"
        )
    if not force and not _may_be_written(path, mode):
        raise OutputError(
            f"{path}: is write-protected, so it is left as it is; choose another name, take the "
            "protection off, or add --force to replace it"
        )
    try:
        content = path.read_bytes() if path.stat().st_size <= LARGEST_BYTES else b""
    except OSError as error:
        raise OutputError(f"{path}: cannot be read: {error.strerror}") from error
    if wrote(content):
        return content
    if not force:
        raise OutputError(
            f"{path}: exists and was not written by daylatch in this form, so it is left as it is; "
            "choose another name, or add --force to replace it"
        )
    return None


def changeable(path: Path) -> Path:
    """Return the file behind a name, which a keeper's own file may be a link to.

    Raises
    ------
    OutputError
        If it is write-protected.
    """
    try:
        target = path.resolve(strict=True)
        mode = target.stat().st_mode
    except (OSError, RuntimeError) as error:
        raise OutputError(f"{path}: cannot be looked at: {error}") from error
    if not _may_be_written(target, mode):
        raise OutputError(
            f"{path}: is write-protected, so it is left as it is: take the protection off"
        )
    return target


def _may_be_written(path: Path, mode: int) -> bool:
    """Return whether a file is free to be changed; an administrator's power does not count."""
    return bool(mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)) and os.access(path, os.W_OK)


def put(path: Path, content: bytes, *, private: bool = False) -> None:
    """Write a file so that a crash or a full disk leaves the old one whole.

    What a run that was killed left half written in the folder is cleared away.

    Parameters
    ----------
    path
        Where to.
    content
        What.
    private
        Whether nobody else may read it.

    Raises
    ------
    OutputError
        If it cannot be written; nothing has changed then.
    """
    try:
        clear_left_overs(path.parent)
        with new_part(path) as (file, part):
            with file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            part.chmod(PRIVATE if private else _mode(path))
            part.replace(path)
    except OSError as error:
        raise OutputError(
            f"{path}: cannot be written: {error.strerror or error}; nothing was changed"
        ) from error


def _mode(path: Path) -> int:
    """Return the permissions of the file that is replaced, or those of any new file."""
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        umask = os.umask(0)
        os.umask(umask)
        return 0o666 & ~umask
