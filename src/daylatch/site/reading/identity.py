"""One identity, one house: finding site files that share an ``id``."""

from __future__ import annotations

import tomllib
import uuid
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.errors import Problem, SiteError
from daylatch.site.messages import told_text
from daylatch.site.reading.site_file import LARGEST_BYTES, line_of_key

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.tables import Site


_MOST_NAMED = 4
_WHERE = ("latitude", "longitude", "city")


class Twins(NamedTuple):
    """The other files of a folder with a site's ``id``.

    Attributes
    ----------
    copies : list of Path
        Of the same house: the same name at the same place.
    houses : list of Path
        Of another one, which got the ``id`` by copying.
    """

    copies: list[Path]
    houses: list[Path]


def twins_of(site: Site, path: Path) -> Twins:
    """Return the other TOML files of a site file's folder that carry its ``id``."""
    copies: list[Path] = []
    houses: list[Path] = []
    for other, data in _others(path):
        try:
            given = data.get("id")
            if not isinstance(given, str) or str(uuid.UUID(given)) != site.id:
                continue
        except ValueError:
            continue
        (copies if _is_same_house(site, data) else houses).append(other)
    return Twins(copies, houses)


def _others(path: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Yield the other TOML files of a file's folder, with what is in them."""
    for other in sorted(Path(path).parent.iterdir()):
        try:
            if other.suffix.lower() != ".toml":
                continue
            # A pipe would be waited for without end.
            if not other.is_file() or other.samefile(path):
                continue
            if other.stat().st_size > LARGEST_BYTES:
                continue
            yield other, tomllib.loads(other.read_text("utf-8-sig"))
        except (OSError, ValueError, RecursionError):
            # Not a site file, or one that has its own troubles.
            continue


def _is_same_house(site: Site, data: dict[str, Any]) -> bool:
    place, own = data.get("place"), site.settings.place
    return (
        data.get("name") == site.name
        and isinstance(place, dict)
        and own is not None
        and all(place.get(key) == getattr(own, key) for key in _WHERE)
    )


def copy_problem(site: Site, copies: list[Path]) -> Problem:
    """Return what is said of copies of a site file beside it."""
    words = (
        f"the same id stands in {_named(copies)}, of the same house: what one of them puts into a "
        "calendar, the other changes; for a copy to try something, `daylatch new --like "
        "FILE -o COPY` gives one with an id of its own"
    )
    return _problem(site, words)


def other_house_problem(site: Site, houses: list[Path]) -> Problem:
    """Return what is said of files of another house that carry a site's ``id``."""
    words = (
        f"the same id stands in {_named(houses)} under another name or place, and calendars could "
        "not tell the houses apart: `daylatch new --like FILE -o COPY` gives a copy with an id of "
        "its own"
    )
    return _problem(site, words)


def refuse_other_house(site: Site, twins: Twins) -> None:
    """Refuse to go on where two houses could be mixed.

    Raises
    ------
    SiteError
        If another house in the folder carries the same ``id``.
    """
    if twins.houses:
        raise SiteError(site.file_name, [other_house_problem(site, twins.houses)])


def _problem(site: Site, words: str) -> Problem:
    return Problem("id", f'"{site.id}"', words, line_of_key(site, ("id",)))


def _named(paths: list[Path]) -> str:
    named = ", ".join(told_text(path.name) for path in paths[:_MOST_NAMED])
    more = len(paths) - _MOST_NAMED
    return f"{named} and {more} more" if more > 0 else named
