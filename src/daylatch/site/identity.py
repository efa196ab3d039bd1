"""One identity, one house: finding site files that share an ``id``."""

from __future__ import annotations

import tomllib
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.errors import Problem, SiteError
from daylatch.site.reading import LARGEST_BYTES

if TYPE_CHECKING:
    from daylatch.site.tables import Site


_MOST_NAMED = 4


def same_id_beside(site: Site, path: Path) -> list[Path]:
    """Return the other TOML files of a site file's folder that carry its ``id``."""
    found = []
    for other in sorted(Path(path).parent.glob("*.toml")):
        try:
            # A pipe would be waited for without end.
            if not other.is_file() or other.samefile(path):
                continue
            if other.stat().st_size > LARGEST_BYTES:
                continue
            given = tomllib.loads(other.read_text("utf-8")).get("id")
            if isinstance(given, str) and str(uuid.UUID(given)) == site.id:
                found.append(other)
        except (OSError, ValueError, RecursionError):
            # Not a site file, or one that has its own troubles.
            continue
    return found


def refuse_same_id(site: Site, path: Path) -> None:
    """Refuse to go on where two houses could be mixed.

    Raises
    ------
    SiteError
        If another file in the folder carries the same ``id``.
    """
    others = same_id_beside(site, path)
    if others:
        named = ", ".join(map(str, others[:_MOST_NAMED]))
        if len(others) > _MOST_NAMED:
            named += f" and {len(others) - _MOST_NAMED} more"
        remedy = (
            f"the same id stands in {named}, and calendars could not tell the houses apart: give "
            "each its own, as a file that `daylatch new` writes has it"
        )
        raise SiteError(str(path), [Problem("id", f'"{site.id}"', remedy)])
