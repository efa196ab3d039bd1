"""Two plans side by side as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.birds.compare.comparison import (
    open_after_dusk,
    open_before_dawn,
    open_in_the_dark,
    open_time,
)
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import local_text, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.compare.comparison import Comparison
    from daylatch.birds.nights.nights import Nights

GENERATOR = "daylatch comparison"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(comparison: Comparison) -> bytes:
    """Return the file: both sets of rules in the head, and a line for each day."""
    head = head_of(comparison.first.site, GENERATOR, FORMAT)
    for name, title, nights in (
        ("first", comparison.first_name, comparison.first_nights),
        ("second", comparison.second_name, comparison.second_nights),
    ):
        head[name] = {"rules": title, **_totals(nights)}
    head["second"] |= {"site": comparison.second.site.name, "zone": comparison.second.site.zone}
    head["changed_days"] = int(comparison.changed.sum())
    head["gained_min"] = _minutes(comparison.gained.sum())
    return lay_out(head, {"days": _days(comparison)})


def _totals(nights: Nights) -> dict[str, Any]:
    plan = nights.plan
    return {
        "open_min": _minutes(open_time(plan).sum()),
        "waking_min": _minutes(nights.day_waking.sum()),
        "open_in_the_dark_min": _minutes(open_in_the_dark(nights).sum()),
        "opens_before_dawn_days": int(open_before_dawn(nights).sum()),
        "closes_after_dusk_days": int(open_after_dusk(nights).sum()),
        "shut_days": int((~plan.is_open).sum()),
        "open_shortfall_min": _minutes(plan.decisions.open_shortfall.sum()),
        "night_shortfall_min": _minutes(plan.decisions.night_shortfall.sum()),
    }


def _minutes(duration: np.timedelta64) -> int:
    return int(to_minutes(duration) // MINUTE)


def _days(comparison: Comparison) -> Iterator[dict[str, Any]]:
    sides = [list(_side(n)) for n in (comparison.first_nights, comparison.second_nights)]
    moved = (comparison.open_moved, comparison.close_moved)
    for row, date in enumerate(comparison.dates):
        opened, closed = (None if np.isnat(m[row]) else _minutes(m[row]) for m in moved)
        yield {
            "date": str(date),
            "changed": bool(comparison.changed[row]),
            "first": sides[0][row],
            "second": sides[1][row],
            "open_moved_min": opened,
            "close_moved_min": closed,
            "gained_min": _minutes(comparison.gained[row]),
        }


def _side(nights: Nights) -> Iterator[dict[str, Any]]:
    plan = nights.plan
    columns = zip(
        local_text(plan.on_wall(plan.open_utc)),
        local_text(plan.on_wall(plan.close_utc)),
        nights.day_waking,
        strict=True,
    )
    for opens, closes, waking in columns:
        yield {"open": opens or None, "close": closes or None, "waking_min": _minutes(waking)}
