"""Files beside the site file that it names: the tables and lists of a door, its panel's light."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from daylatch.site.tables import Site

_MOST_BYTES = 10_000_000


class BesideError(ValueError):
    """A file that cannot be read; its text says why, and what would help."""


class Kind(NamedTuple):
    """A kind of file that a site file names.

    Attributes
    ----------
    key : str
        By which key.
    words : str
        What such a file is called.
    which : str
        Which one it must be.
    """

    key: str
    words: str
    which: str


IN_USE = Kind("in_use", "table or list", "the file that is in the door")
LIGHT = Kind("light_file", "file of light", "a file of light for the place")


def read_beside(site: Site, name: str, kind: Kind = IN_USE) -> bytes:
    """Return a file that lies beside the site file.

    Raises
    ------
    BesideError
        If it cannot be read.
    """
    path = Path(site.folder) / name
    try:
        if path.exists() and not path.is_file():
            raise BesideError(f"is no file: name {kind.which}")
        with path.open("rb") as stream:
            # Not all of it, since a device may have no end.
            content = stream.read(_MOST_BYTES + 1)
    except BesideError:
        raise
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise BesideError(
            f"cannot be read ({why}): name {kind.which}, or take {kind.key} out"
        ) from error
    if len(content) > _MOST_BYTES:
        raise BesideError(f"is over {_MOST_BYTES} bytes, and no {kind.words} is")
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
