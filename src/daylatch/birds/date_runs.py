"""Dates in a row that have something in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Times


@dataclass(frozen=True)
class DateRun:
    """Dates or lock-ins that follow each other.

    Attributes
    ----------
    first, last : datetime64[D]
        The first and the last date.
    count : int
        How many.
    """

    first: np.datetime64
    last: np.datetime64
    count: int


def date_runs(dates: Times, flags: Flags) -> list[DateRun]:
    """Return the runs of neighbours among dates that are flagged."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))
    firsts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [
        DateRun(dates[first], dates[end - 1], int(end - first))
        for first, end in zip(firsts, ends, strict=True)
    ]
