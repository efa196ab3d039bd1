"""How wrong a door's clock may be as CSV (RFC 4180), a row for each date."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.door.drift.drift import rounded_up
from daylatch.files.csv_file import lay_out
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
    good = drift.good_until
    rows = [
        [
            date,
            rounded_up(drift.slow_s(date)),
            rounded_up(drift.fast_s(date)),
            drift.facts.margin_min,
            "yes" if good is not None and date <= good else "no",
            drift.set_on,
            good or "",
        ]
        for date in drift.dates
    ]
    return lay_out(HEADER, rows, CAUTION)
