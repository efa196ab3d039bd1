"""What should be looked at of houses that have a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE, once
from daylatch.door.works.due import works_of
from daylatch.wording import days_text, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.arrays import Flags, Minutes
    from daylatch.plan.door_times import DoorTimes
    from daylatch.site.tables import Site

IN_DAYLIGHT, SHORT, INEXACT = "in daylight", "short", "inexact"
"""Kinds of warnings, by which they are counted."""


def warnings_of(sites: Sequence[Site], times: DoorTimes) -> Iterator[tuple[int, str, str]]:
    """Yield the column, the kind and the words of each warning of a block."""
    bad = times.closes_in_daylight
    for column in _columns(bad):
        days = times.dates[bad[:, column]]
        yield (
            column,
            IN_DAYLIGHT,
            f"closes in daylight on {days_text(len(days))}, first on {days[0]}: birds outside then "
            "stay out",
        )
    for missing, what in (
        (times.decisions.open_shortfall, "day.least_open_h"),
        (times.decisions.night_shortfall, "night.least_h"),
    ):
        yield from _short(missing, times, what)
    for column, site in enumerate(sites):
        if not works_of(site).is_exact(site):
            yield (
                column,
                INEXACT,
                f'door.works = "{site.works}": the door moves later than planned; these are the '
                "planned times",
            )


def _short(missing: Minutes, times: DoorTimes, what: str) -> Iterator[tuple[int, str, str]]:
    if not once(missing).any():
        return
    lacking = missing > np.timedelta64(0, "m")
    for column in _columns(lacking):
        own = missing[:, column]
        yield (
            column,
            SHORT,
            f"falls short of {what} on {days_text(int(lacking[:, column].sum()))}, by up to "
            f"{duration_text(own.max() // MINUTE * MINUTE)} on {times.dates[np.argmax(own)]}",
        )


def _columns(found: Flags) -> list[int]:
    columns: list[int] = np.flatnonzero(found.any(axis=0)).tolist()
    return columns
