"""Files beside the site file, which it names."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daylatch.site.tables import Site

IN_USE = ("the table or list that is in the door", "in_use")
"""What `read_beside` is told of the file that is in use."""
_MOST_BYTES = 10_000_000


class BesideError(ValueError):
    """A file that cannot be read; its text says why, and what would help."""


def read_beside(site: Site, name: str, what: str, key: str) -> bytes:
    """Return a file that lies beside the site file.

    Parameters
    ----------
    site
        Whose file names it.
    name
        Its path, from where the site file lies.
    what
        What it should be, in a keeper's words, such as "the table or list that is in the door".
    key
        By which the site file names it.

    Raises
    ------
    BesideError
        If it cannot be read.
    """
    path = Path(site.folder) / name
    try:
        if path.exists() and not path.is_file():
            raise BesideError(f"is no file: name {what}")
        with path.open("rb") as stream:
            # Not all of it, since a device may have no end.
            content = stream.read(_MOST_BYTES + 1)
    except BesideError:
        raise
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise BesideError(f"cannot be read ({why}): name {what}, or take {key} out") from error
    if len(content) > _MOST_BYTES:
        raise BesideError(f"is over {_MOST_BYTES} bytes: name {what}")
    return content


def stamp_of_files(site: Site) -> tuple[object, ...]:
    """Return what changes when a file that the site file names does."""
    settings = site.settings
    names = (
        settings.door.in_use,
        None if settings.skyline is None else settings.skyline.file,
        None if settings.panel is None else settings.panel.light_file,
    )
    return tuple(_stamp(site, name) for name in names if name is not None)


def _stamp(site: Site, name: str) -> object:
    try:
        stat = (Path(site.folder) / name).stat()
    except (OSError, ValueError):
        return "none"
    return stat.st_mtime_ns, stat.st_size, stat.st_ino
