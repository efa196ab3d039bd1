"""How wrong a door's clock may be as CSV (RFC 4180), a row for each date."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.door.drift.drift import rounded_up
from daylatch.files.own import header_is

if TYPE_CHECKING:
    from daylatch.door.drift.drift import Drift

HEADER = (
    "date",
    "slow_at_most_s",
    "fast_at_most_s",
    "margin_min",
    "within_margin",
    "set_on",
    "set_again_by",
    "caution",
)
wrote = header_is(HEADER)


def render(drift: Drift) -> bytes:
    """Return the file: UTF-8, CRLF, whole seconds rounded up.

    ``set_again_by`` is empty if the margin does not last the day on which the clock is set.
    """
    file = io.StringIO(newline="")
    rows = csv.writer(file, lineterminator="\r\n")
    rows.writerow(HEADER)
    good = drift.good_until
    caution = CAUTION
    for date in drift.dates:
        rows.writerow(
            [
                date,
                rounded_up(drift.slow_s(date)),
                rounded_up(drift.fast_s(date)),
                drift.facts.margin_min,
                "yes" if good is not None and date <= good else "no",
                drift.set_on,
                good or "",
                caution,
            ]
        )
        caution = ""
    return file.getvalue().encode()
