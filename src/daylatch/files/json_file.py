"""What all JSON files have in common: what stands above their rows, and how they are laid out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Protocol

import daylatch
from daylatch.arrays import Coded
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from daylatch.clock import DoorClock

    Columns = Mapping[str, "list[Any] | Coded[Any] | Columns"]
    """Rows by their fields: plain values, one after another; any values; or fields of fields."""


class House(Protocol):
    """A site, as far as files tell of it."""

    @property
    def id(self) -> str:
        """The permanent identity."""

    @property
    def name(self) -> str:
        """What the keeper calls it."""

    @property
    def latitude_deg(self) -> float:
        """North positive."""

    @property
    def longitude_deg(self) -> float:
        """East positive."""

    @property
    def zone(self) -> str:
        """IANA name."""

    @property
    def door_clock(self) -> DoorClock:
        """What the door's own clock keeps."""

    @property
    def works(self) -> str:
        """What works the door."""


def head_of(site: House, generator: str, form: int) -> dict[str, Any]:
    """Return what stands above the rows of any file.

    Parameters
    ----------
    site
        Whose it is.
    generator
        What tells this kind of file from others.
    form
        Raised whenever a field changes its meaning or goes.
    """
    return {
        "generator": {"name": generator, "version": daylatch.__version__, "format": form},
        "zone_rules": zone_rules_version(),
        "clock": {"zone": site.zone, "door_clock": site.door_clock.value},
        "caution": CAUTION,
        "site": {
            "id": site.id,
            "name": site.name,
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "zone": site.zone,
            "door": {"works": site.works},
        },
    }


def lay_out(head: Mapping[str, Any], rows: Mapping[str, Iterable[Any]]) -> bytes:
    """Return a file: UTF-8, one line for each field of the head and for each row."""
    return _laid_out(head, {key: map(_compact, values) for key, values in rows.items()})


def lay_out_columns(head: Mapping[str, Any], rows: Mapping[str, Columns]) -> bytes:
    """Return the file that `lay_out` would, its rows given by their columns."""
    return _laid_out(head, {key: _lines(columns) for key, columns in rows.items()})


def _laid_out(head: Mapping[str, Any], rows: Mapping[str, Iterable[str]]) -> bytes:
    fields = [f"  {json.dumps(key)}: {_compact(value)}" for key, value in head.items()]
    for key, values in rows.items():
        lines = ",\n".join(f"    {value}" for value in values)
        fields.append(f"  {json.dumps(key)}: [\n{lines}\n  ]")
    return ("{\n" + ",\n".join(fields) + "\n}\n").encode()


def _lines(columns: Columns) -> Iterator[str]:
    """Yield rows as JSON, a line each."""
    written: list[list[str]] = []
    line = _line_of(columns, written)
    return (line % values for values in zip(*written, strict=True))


def _line_of(columns: Columns, written: list[list[str]]) -> str:
    """Return what stands around the values of a row, and put their columns, as JSON, in order."""
    fields = []
    for key, column in columns.items():
        place = "%s"
        if isinstance(column, Coded):
            written.append(column.each(_compact).column())
        elif isinstance(column, list):
            # No line breaks within any JSON value, and no list or object is within these.
            written.append(_COLUMN.encode(column)[1:-1].split("\n"))
        else:
            place = _line_of(column, written)
        fields.append(f"{_compact(key)}: {place}")
    return f"{{{', '.join(fields)}}}"


_compact = json.JSONEncoder(ensure_ascii=False, separators=(", ", ": ")).encode
_COLUMN = json.JSONEncoder(ensure_ascii=False, separators=("\n", ": "))
