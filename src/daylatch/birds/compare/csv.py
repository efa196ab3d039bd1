"""Two plans side by side as CSV (RFC 4180), a row a flock day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.compare.comparison import open_after_dusk, open_before_dawn, open_time
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import defuse, lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, minutes_text, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from daylatch.birds.compare.comparison import Comparison
    from daylatch.birds.nights.nights import Nights

_SIDE_COLUMNS = (
    "open_local",
    "close_local",
    "open_span_min",
    "waking_min",
    "opens_before_dawn",
    "closes_after_dusk",
    "open_shortfall_min",
    "night_shortfall_min",
)
HEADER = (
    "date",
    "changed",
    *(f"first_{name}" for name in _SIDE_COLUMNS),
    *(f"second_{name}" for name in _SIDE_COLUMNS),
    "open_moved_min",
    "close_moved_min",
    "gained_min",
    "first_rules",
    "second_rules",
    "first_zone",
    "second_zone",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)


def render(comparison: Comparison) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601 with their distance from UTC.

    Minutes gained and moved are the second's against the first's; movements are compared on the
    wall clock. The caution stands in the first row alone.
    """
    fixed = [
        defuse(comparison.first_name),
        defuse(comparison.second_name),
        comparison.first.site.zone,
        comparison.second.site.zone,
        zone_rules_version(),
    ]
    columns = zip(
        map(str, comparison.dates),
        _flags(comparison.changed),
        *_side(comparison.first_nights),
        *_side(comparison.second_nights),
        minutes_text(comparison.open_moved),
        minutes_text(comparison.close_moved),
        minutes_text(comparison.gained),
        strict=True,
    )
    return lay_out(HEADER, ((*row, *fixed) for row in columns), CAUTION)


def _flags(flags: Iterable[bool]) -> list[str]:
    return ["yes" if flag else "no" for flag in flags]


def _side(nights: Nights) -> Iterator[list[str]]:
    """Yield the columns of one plan."""
    plan = nights.plan
    yield local_text(plan.on_wall(plan.open_utc))
    yield local_text(plan.on_wall(plan.close_utc))
    yield minutes_text(open_time(plan))
    yield minutes_text(to_minutes(nights.day_waking))
    yield _flags(open_before_dawn(nights))
    yield _flags(open_after_dusk(nights))
    yield minutes_text(plan.decisions.open_shortfall)
    yield minutes_text(plan.decisions.night_shortfall)
