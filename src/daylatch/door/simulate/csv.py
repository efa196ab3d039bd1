"""Where a simulated door and the plan differ, as CSV (RFC 4180), a row a stretch of time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, utc_text

if TYPE_CHECKING:
    from daylatch.door.simulate.simulated_door import Simulation
    from daylatch.files.occasion import Occasion

HEADER = (
    "from_local",
    "from_utc",
    "until_local",
    "until_utc",
    "minutes",
    "door",
    "planned",
    "clock_fast_s",
    "power",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)


def render(found: Simulation, occasion: Occasion) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601; the last column only in the first row."""
    differences = found.differences()
    columns = [
        np.array([getattr(difference, name) for difference in differences], "datetime64[m]")
        for name in ("begin_utc", "end_utc")
    ]
    local = [local_text(found.plan.on_wall(column)) for column in columns]
    utc = [utc_text(column) for column in columns]
    rows = [
        [
            *(local[0][index], utc[0][index], local[1][index], utc[1][index]),
            difference.minutes,
            *(("open", "shut") if difference.door_is_open else ("shut", "open")),
            "" if difference.clock_off_s is None else difference.clock_off_s,
            "yes" if difference.powered else "no",
            zone_rules_version(),
        ]
        for index, difference in enumerate(differences)
    ]
    return lay_out(HEADER, rows, CAUTION)
