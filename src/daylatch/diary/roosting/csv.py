"""What was seen of a flock as CSV (RFC 4180), a row for each evening and morning."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import get_zone
from daylatch.diary.roosting.instants import depression_of, progress_deg
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.roosting.half import Learned
    from daylatch.diary.roosting.roosting import Roosting

HEADER = (
    "date",
    "half",
    "moment_utc",
    "after_utc",
    "until_utc",
    "moment_local",
    "depression_deg",
    "light_utc",
    "minutes_past",
    "outlier",
    "caution",
)
wrote = header_is(HEADER)


def render(roosting: Roosting) -> bytes:
    """Return the file: UTF-8, CRLF; minutes are those past the light that was learned."""
    return lay_out(
        HEADER, (row for half in roosting.learned for row in _rows(half, roosting)), CAUTION
    )


def _rows(learned: Learned, roosting: Roosting) -> Iterator[list[object]]:
    looks, zone = learned.looks, get_zone(roosting.site.zone)
    places = progress_deg(looks.half, roosting.site, looks.exact_utc)
    columns = zip(
        looks.dates.tolist(),
        utc_text(looks.exact_utc),
        utc_text(looks.after_utc),
        utc_text(looks.until_utc),
        local_text(zone.to_local(looks.exact_utc)),
        [depression_of(looks.half, place) for place in places.tolist()],
        utc_text(learned.light_utc.astype("datetime64[s]")),
        learned.minutes.tolist(),
        np.where(learned.outliers, "yes", "no").tolist(),
        strict=True,
    )
    for date, moment, after, until, local, place, light, minutes, outlier in columns:
        yield [
            date,
            looks.half.value,
            moment,
            after,
            until,
            local,
            "" if math.isnan(place) else f"{place:.3f}",
            light,
            "" if math.isnan(minutes) else f"{minutes:.1f}",
            outlier,
        ]
