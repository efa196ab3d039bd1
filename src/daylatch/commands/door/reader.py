"""``daylatch reader``: put the C reader of controller tables into a folder."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.console import say
from daylatch.door.reader import FILES
from daylatch.errors import OutputError, UsageError
from daylatch.files.put import put, read_own

if TYPE_CHECKING:
    from pathlib import Path


def run(folder: Path | None, *, force: bool) -> None:
    """Write the files that are not there yet; files that differ are left alone.

    A file that differs may hold what its owner filled in, so that it is never replaced unasked.
    """
    if folder is None:
        raise UsageError("name the folder that the files go into: -o DIR")
    package = resources.files("daylatch.door.reader")
    contents = {folder / name: package.joinpath(name).read_bytes() for name in FILES}
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is not a folder; name one")
    if not folder.is_dir():
        try:
            folder.mkdir()
        except OSError as error:
            raise OutputError(f"{folder}: cannot be made: {error.strerror}") from error
    # All are looked at before one is written.
    missing = {path: content for path, content in contents.items() if _is_due(path, content, force)}
    for path, content in missing.items():
        put(path, content)
    if not missing:
        say(f"{folder}: already up to date")
        return
    say(f"wrote into {folder}: {', '.join(path.name for path in missing)}")
    say(CAUTION)


def _is_due(path: Path, content: bytes, force: bool) -> bool:
    """Return whether a file is to be written.

    Raises
    ------
    OutputError
        If it holds something else.
    """
    if path.is_file() and not path.is_symlink() and not force and path.read_bytes() != content:
        raise OutputError(
            f"{path}: differs from what this daylatch writes (you changed it, or another version "
            "wrote it), so nothing was written: choose another folder, or add --force to replace it"
        )
    return read_own(path, lambda found: found == content, force=force) != content
