"""What all JSON files have in common: what stands above their rows, and how they are laid out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Protocol

import daylatch
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from daylatch.clock import DoorClock


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
    fields = [f"  {json.dumps(key)}: {_compact(value)}" for key, value in head.items()]
    for key, values in rows.items():
        lines = ",\n".join("    " + _compact(value) for value in values)
        fields.append(f"  {json.dumps(key)}: [\n{lines}\n  ]")
    return ("{\n" + ",\n".join(fields) + "\n}\n").encode()


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(", ", ": "))
