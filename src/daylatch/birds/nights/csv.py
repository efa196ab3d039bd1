"""Lock-ins as CSV (RFC 4180), a row for each closing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, minutes_text, to_minutes, utc_text

if TYPE_CHECKING:
    from daylatch.arrays import Minutes
    from daylatch.birds.nights.nights import Nights
    from daylatch.birds.nights.summary import NightsSummary


HEADER = (
    "date",
    "close_local",
    "close_utc",
    "next_open_local",
    "next_open_utc",
    "lock_in_min",
    "dark_min",
    "waking_min",
    "open_span_min",
    "shut_days",
    "lamp_min",
    "zone",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)


def render(summary: NightsSummary) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601 with their distance from UTC.

    The caution stands in the first row alone.
    """
    nights = summary.nights
    columns = zip(
        map(str, nights.dates),
        local_text(nights.plan.on_wall(nights.start_utc)),
        utc_text(nights.start_utc),
        local_text(nights.plan.on_wall(nights.end_utc)),
        utc_text(nights.end_utc),
        *map(minutes_text, whole_minutes(nights)),
        minutes_text(nights.open_span),
        nights.shut_days.tolist(),
        minutes_text(to_minutes(nights.lamp_lit)),
        strict=True,
    )
    fixed = (nights.plan.site.zone, zone_rules_version())
    return lay_out(HEADER, ((*row, *fixed) for row in columns), CAUTION)


def whole_minutes(nights: Nights) -> tuple[Minutes, Minutes, Minutes]:
    """Return length, dark and waking part in whole minutes that add up."""
    waking = to_minutes(nights.waking)
    length = nights.length.astype("timedelta64[m]")
    return length, length - waking, waking
