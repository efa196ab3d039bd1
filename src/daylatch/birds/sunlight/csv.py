"""Direct sun as CSV (RFC 4180), a row for each stretch, and one for each day without any."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, minutes_text, to_minutes, utc_text

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.birds.sunlight.dusk import Dusk
    from daylatch.birds.sunlight.sunlight import Sunlight

HEADER = (
    "date",
    "stretch",
    "from_local",
    "from_utc",
    "until_local",
    "until_utc",
    "day_sun_min",
    "day_sunrise_to_sunset_min",
    "opens_in_shade",
    "zone",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)
_NOT = np.datetime64("NaT", "us")


def render(sunlight: Sunlight, dusk: Dusk | None) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601; wall-clock times are whole minutes.

    The caution stands in the first row alone.
    """
    plan = sunlight.plan
    sunless = np.flatnonzero(sunlight.sunless)
    # Those without sun take their places among the others.
    rows = np.concatenate([sunlight.rows, sunless])
    order = np.argsort(rows, kind="stable")
    rows = rows[order]
    nothing = np.full(len(sunless), _NOT)
    starts: Times = np.concatenate([sunlight.start_utc, nothing])[order]
    ends: Times = np.concatenate([sunlight.end_utc, nothing])[order]
    first = np.searchsorted(rows, rows, "left")
    numbers = np.arange(len(rows)) - first + 1
    half = np.timedelta64(30, "s")
    columns = zip(
        map(str, plan.dates[rows]),
        ["" if none else number for number, none in zip(numbers, np.isnat(starts), strict=True)],
        local_text(plan.on_wall(starts + half)),
        utc_text(starts),
        local_text(plan.on_wall(ends + half)),
        utc_text(ends),
        minutes_text(to_minutes(sunlight.length[rows])),
        minutes_text(to_minutes(sunlight.daylight.length[rows])),
        ["yes" if shade else "no" for shade in sunlight.opens_in_shade[rows]],
        strict=True,
    )
    fixed = (plan.site.zone, zone_rules_version())
    return lay_out(HEADER, ((*row, *fixed) for row in columns), CAUTION)
