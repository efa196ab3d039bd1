"""The tables and lists of a door, as files beside the site file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daylatch.site.tables import Site

_MOST_BYTES = 10_000_000


class BesideError(ValueError):
    """A file that cannot be read; its text says why, and what would help."""


def read_beside(site: Site, name: str) -> bytes:
    """Return a table or list that lies beside the site file.

    Raises
    ------
    BesideError
        If it cannot be read.
    """
    path = Path(site.folder) / name
    try:
        if path.exists() and not path.is_file():
            raise BesideError("is no file: name the table or list that is in the door")
        with path.open("rb") as stream:
            # Not all of it, since a device may have no end.
            content = stream.read(_MOST_BYTES + 1)
    except BesideError:
        raise
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise BesideError(
            f"cannot be read ({why}): name the file that is in the door, or take in_use out"
        ) from error
    if len(content) > _MOST_BYTES:
        raise BesideError(f"is over {_MOST_BYTES} bytes, and no table or list is")
    return content


def stamp_of_file_in_use(site: Site) -> object:
    """Return what changes when the file that is in the door does; None if none is named."""
    name = site.settings.door.in_use
    if name is None:
        return None
    try:
        stat = (Path(site.folder) / name).stat()
    except (OSError, ValueError):
        return "none"
    return stat.st_mtime_ns, stat.st_size, stat.st_ino
