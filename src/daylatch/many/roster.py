"""All sites of a table: which house each row is, where it is, and what it sets.

It holds a million of them in some 150 MB, so what many rows share stands once.
"""

from __future__ import annotations

import hashlib
import uuid
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.clock import UnknownZoneError, get_zone, zone_at, zone_names
from daylatch.many.keys import is_given, key_columns
from daylatch.many.rows import ID, LATITUDE, LONGITUDE, ZONE, BadRow, Unreadable
from daylatch.site.messages import show_value, suggest
from daylatch.site.table import check_text
from daylatch.site.values.degrees import read_degrees

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from numpy.typing import NDArray

    from daylatch.many.rows import Batch, Table

HOUSES = uuid.UUID("b4e1e0c1-6c1b-5d0e-9a55-6f9d2f0b7a3e")
"""The namespace of houses' identities (RFC 9562, version 5): fixed for good."""
LONGEST_ID = 200


class Roster(NamedTuple):
    """The good rows of a table.

    Attributes
    ----------
    keys : tuple of str
        The columns that are keys of the site file.
    lines : int64 array
        Where each row stands.
    ids : list of str
        What each is called in the table.
    digests : bytes array
        The 16 bytes of each house's UUID, before version and variant are set in it.
    latitude_deg, longitude_deg : float64 arrays
        Where it is.
    zones : list of str
        Names of zones.
    zone_of : int32 array
        Which of them each has.
    settings : list of tuples
        Different rows of cells, an element for each of ``keys``.
    settings_of : int32 array
        Which of them each has.
    """

    keys: tuple[str, ...]
    lines: NDArray[np.int64]
    ids: list[str]
    digests: NDArray[np.bytes_]
    latitude_deg: NDArray[np.float64]
    longitude_deg: NDArray[np.float64]
    zones: list[str]
    zone_of: NDArray[np.int32]
    settings: list[tuple[Any, ...]]
    settings_of: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.ids)


def house_id(name: str) -> str:
    """Return the permanent identity of a house by what a table calls it."""
    # As `uuid.uuid5`, which takes some time to get there.
    return str(uuid.UUID(bytes=_digest(name), version=5))


def _digest(name: str) -> bytes:
    """Return a house's UUID before version and variant are set in it."""
    return hashlib.sha1(HOUSES.bytes + name.encode()).digest()[:16]


def read_roster(
    file: str,
    table: Table,
    ignored: Collection[str] = (),
    tell: Callable[[int], None] = lambda _: None,
) -> tuple[Roster, list[BadRow]]:
    """Return the good rows of a table, and the bad ones in the order of their lines.

    Parameters
    ----------
    file
        Its name, for messages.
    table
        From `daylatch.many.rows.open_table`.
    ignored
        Columns that are passed over.
    tell
        Is told how many rows were read so far.

    Raises
    ------
    UsageError
        If it has a column that means nothing.
    """
    gathering = _Gathering(key_columns(file, table.names, ignored))
    for batch in table.batches:
        gathering.take(batch)
        tell(len(gathering.ids) + len(gathering.bad))
    return gathering.end()


class _Gathering:
    """Gathers rows, a batch at a time."""

    def __init__(self, keys: tuple[str, ...]) -> None:
        self.keys = keys
        self.ids: list[str] = []
        self.bad: list[BadRow] = []
        self.zones: dict[str, int] = {}
        self.settings: list[tuple[Any, ...]] = []
        self.numbers: dict[tuple[Any, ...], int] = {}
        self.columns: list[tuple[NDArray[Any], ...]] = []

    def take(self, batch: Batch) -> None:
        """Take the rows of a batch."""
        self.bad += batch.bad
        cells = batch.columns
        none = [None] * len(batch.lines)
        rows = zip(
            batch.lines,
            cells[ID],
            cells[LATITUDE],
            cells[LONGITUDE],
            cells.get(ZONE, none),
            zip(*(cells[key] for key in self.keys), strict=True) if self.keys else [()] * len(none),
            strict=True,
        )
        taken: list[tuple[int, float, float, int, int]] = []
        digests = []
        for line, name, latitude, longitude, zone, settings in rows:
            try:
                place = _place(latitude, longitude, zone)
                named = _name(name)
                _refuse_unreadable(settings)
            except ValueError:
                reasons = _reasons(name, latitude, longitude, zone)
                cells_of = zip(self.keys, settings, strict=True)
                reasons += tuple(
                    f"{key}: {cell}" for key, cell in cells_of if isinstance(cell, Unreadable)
                )
                self.bad.append(BadRow(line, _shown(name), reasons))
                continue
            self.ids.append(named)
            digests.append(_digest(named))
            taken.append(
                (
                    line,
                    place[0],
                    place[1],
                    self.zones.setdefault(place[2], len(self.zones)),
                    self._number(settings),
                )
            )
        columns = zip(*taken, strict=True) if taken else [()] * 5
        kinds = (np.int64, np.float64, np.float64, np.int32, np.int32)
        self.columns.append(
            (
                *(np.array(one, kind) for one, kind in zip(columns, kinds, strict=True)),
                np.array(digests, "S16"),
            )
        )

    def _number(self, settings: tuple[Any, ...]) -> int:
        """Return which different row of cells it is; 1, 1.0 and true are different."""
        key = (*settings, *map(type, settings)) if settings else ()
        number = self.numbers.setdefault(key, len(self.numbers))
        if number == len(self.settings):
            self.settings.append(settings)
        return number

    def end(self) -> tuple[Roster, list[BadRow]]:
        """Return what was gathered, without rows that share their id."""
        empty = tuple(np.empty(0, kind) for kind in ("i8", "f8", "f8", "i4", "i4", "S16"))
        lines, latitude, longitude, zone_of, settings_of, digests = (
            np.concatenate(parts) for parts in zip(empty, *self.columns, strict=True)
        )
        same = _shared(digests)
        if same:
            kept = np.ones(len(lines), np.bool_)
            for rows in same:
                kept[rows] = False
                for row in rows:
                    others = ", ".join(str(lines[other]) for other in rows[:4] if other != row)
                    self.bad.append(
                        BadRow(
                            int(lines[row]),
                            self.ids[row],
                            (f"has the id of line {others} too: give each house its own",),
                        )
                    )
            self.ids = [name for name, keep in zip(self.ids, kept.tolist(), strict=True) if keep]
            lines, latitude, longitude = lines[kept], latitude[kept], longitude[kept]
            zone_of, settings_of, digests = zone_of[kept], settings_of[kept], digests[kept]
        roster = Roster(
            self.keys,
            lines,
            self.ids,
            digests,
            latitude,
            longitude,
            list(self.zones),
            zone_of,
            self.settings,
            settings_of,
        )
        return roster, sorted(self.bad)


def _shared(digests: NDArray[np.bytes_]) -> list[list[int]]:
    """Return the rows that have the same identity, in groups."""
    order = np.argsort(digests, kind="stable")
    again = digests[order][1:] == digests[order][:-1]
    groups: list[list[int]] = []
    for at in np.flatnonzero(again).tolist():
        if not (groups and groups[-1][-1] == order[at]):
            groups.append([int(order[at])])
        groups[-1].append(int(order[at + 1]))
    return groups


def _refuse_unreadable(settings: tuple[Any, ...]) -> None:
    for cell in settings:
        if type(cell) is Unreadable:
            raise ValueError(str(cell))


def _name(cell: Any) -> str:
    """Return what a house is called.

    Raises
    ------
    ValueError
        If it cannot be called so.
    """
    if not is_given(cell):
        raise ValueError("is missing: give each house an id of its own")
    if isinstance(cell, bool | Unreadable):
        raise ValueError("write text or a whole number")
    text = str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell).strip()
    if len(text) > LONGEST_ID:
        raise ValueError(f"is too long: at most {LONGEST_ID} characters")
    return text if text.isprintable() else check_text(text)


def _degrees(cell: Any, limit: int) -> float:
    if type(cell) is float and -limit <= cell <= limit:
        return cell
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        cell = "" if cell is None else str(cell)
    return read_degrees(str(cell), limit)


@lru_cache(maxsize=1024)
def _known_zone(name: str) -> str:
    try:
        return get_zone(name).name
    except UnknownZoneError:
        meant = suggest(name, zone_names()) or "; write one like Europe/Oslo, or none"
        raise ValueError(f"no such zone{meant}") from None


def _place(latitude: Any, longitude: Any, zone: Any) -> tuple[float, float, str]:
    north, east = _degrees(latitude, 90), _degrees(longitude, 180)
    return north, east, _zone(zone, north, east)


def _zone(cell: Any, latitude_deg: float, longitude_deg: float) -> str:
    if is_given(cell):
        return _known_zone(str(cell).strip())
    found = zone_at(latitude_deg, longitude_deg)
    if found is None:
        raise ValueError("no time zone is known there: give one like Europe/Oslo")
    return found


def _reasons(name: Any, latitude: Any, longitude: Any, zone: Any) -> tuple[str, ...]:
    """Return everything that is wrong with a row's place and id."""
    found: list[str] = []
    place: list[float] = []
    for column, cell, limit in ((LATITUDE, latitude, 90), (LONGITUDE, longitude, 180)):
        try:
            place.append(_degrees(cell, limit))
        except ValueError as error:
            if not is_given(cell):
                found.append(f"{column}: is missing")
            else:
                found.append(f"{column} = {show_value(cell)}: {_projected(cell)}{error}")
    for column, cell, read in (
        (ID, name, _name),
        (ZONE, zone, lambda cell: _zone(cell, *(place if len(place) == 2 else (0.0, 0.0)))),
    ):
        try:
            read(cell)
        except ValueError as error:
            value = f" = {show_value(cell)}" if is_given(cell) else ""
            found.append(f"{column}{value}: {error}")
    return tuple(found)


def _projected(cell: Any) -> str:
    """Return that a coordinate seems to be one of a map projection, if it does."""
    try:
        return "these are metres of a map projection, it seems; " if abs(float(cell)) > 1000 else ""
    except (TypeError, ValueError):
        return ""


def _shown(cell: Any) -> str:
    return str(cell)[:LONGEST_ID] if is_given(cell) else ""
