"""What all JSON files have in common: what stands above their rows, and how they are laid out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import daylatch
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


def head_of(plan: Plan, generator: str, form: int) -> dict[str, Any]:
    """Return what stands above the rows of any file about a plan.

    Parameters
    ----------
    plan
        The plan.
    generator
        What tells this kind of file from others.
    form
        Raised whenever a field changes its meaning or goes.
    """
    return head_of_site(plan.site, generator, form)


def head_of_site(site: Site, generator: str, form: int) -> dict[str, Any]:
    """Return what stands above the rows of any file about a site, as `head_of` does."""
    return {
        "generator": {"name": generator, "version": daylatch.__version__, "format": form},
        "zone_rules": zone_rules_version(),
        "clock": {"zone": site.zone, "door_clock": site.settings.door.clock.value},
        "caution": CAUTION,
        "site": {
            "id": site.id,
            "name": site.name,
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "zone": site.zone,
        },
    }


def lay_out(head: Mapping[str, Any], rows: Mapping[str, Iterable[Any]]) -> bytes:
    """Return a file: UTF-8, one line for each field of the head and for each row."""
    fields = [f"  {json.dumps(key)}: {_compact(value)}" for key, value in head.items()]
    for key, values in rows.items():
        lines = ",\n".join("    " + _compact(value) for value in values)
        fields.append(f"  {json.dumps(key)}: [\n{lines}\n  ]")
    return ("{\n" + ",\n".join(fields) + "\n}\n").encode()


def made_by(content: bytes, generator: str) -> bool:
    """Return whether a file's content names this generator."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return False
    found = data.get("generator") if isinstance(data, dict) else None
    return isinstance(found, dict) and found.get("name") == generator


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(", ", ": "))
