"""``daylatch check``: what was understood of a site file."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from daylatch.clock import zone_rules_version
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.now import date_at, now_utc, warn_about
from daylatch.console import printable
from daylatch.plan.plan import make_plan
from daylatch.plan.summary import describe_place, describe_rules, summarize
from daylatch.site.identity import refuse_same_id
from daylatch.site.reading import load_site
from daylatch.wording import labelled, listed, setting_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pydantic import BaseModel

    from daylatch.site.tables import Site, Span

_LABEL = 9
SQUARE_FEET_PER_M2 = 1 / 0.09290304
"""The international foot is 0.3048 m exactly."""


def run(path: Path) -> None:
    """Print what was understood and how the next year's plan comes out."""
    site = load_site(path)
    refuse_same_id(site, path)
    print(f"{printable(site.file_name)} was understood:")
    print("\n".join(labelled(_understood(site), _LABEL)))
    warn_about(site)
    first = date_at(site, now_utc())
    plan = make_plan(site, first, first + dt.timedelta(days=DEFAULT_DAYS - 1))
    print(f"\nA plan from {plan.dates[0]} to {plan.dates[-1]} can be made:")
    print("\n".join(summarize(plan)))


def _understood(site: Site) -> Iterator[tuple[str, str]]:
    settings = site.settings
    yield "Name", site.name
    yield "Id", site.id
    yield "Place", describe_place(site)
    yield "Zone", f"{site.zone} ({site.zone_source.value}); zone rules {zone_rules_version()}"
    yield "Clock", f"the door keeps {_DOOR_CLOCKS[settings.door.clock.value]}"
    for line in describe_rules(site):
        yield "Rule", line
    for number, span in enumerate(settings.spans, start=1):
        yield f"Span {number}", _span(span)
    for name in ("flock", "house", "run", "laying", "norms", "card"):
        table: BaseModel | None = getattr(settings, name)
        if table is not None and (name != "card" or table.model_fields_set):
            yield name.capitalize(), _facts(table)


_DOOR_CLOCKS = {
    "wall": "the wall clock, with its clock changes",
    "standard": "standard time all year",
    "utc": "UTC",
}


def _span(span: Span) -> str:
    changes = [f"{key} = {setting_text(value)}" for key, value in span.changes()]
    words = f"{span.first} until {span.last}: {listed(changes) or 'changes nothing'}"
    return f"{words} ({span.reason})" if span.reason else words


def _facts(table: BaseModel) -> str:
    facts = []
    for key in type(table).model_fields:
        value = getattr(table, key)
        if key not in table.model_fields_set or value is None:
            continue
        match key:
            case "floor_m2":
                facts.append(f"floor {value:g} m2 ({value * SQUARE_FEET_PER_M2:.1f} sq ft)")
            case "floor_ft2":
                facts.append(f"floor {value / SQUARE_FEET_PER_M2:.2f} m2 ({value:g} sq ft)")
            case _:
                facts.append(f"{key} {setting_text(value)}")
    return ", ".join(facts) or "nothing given"
