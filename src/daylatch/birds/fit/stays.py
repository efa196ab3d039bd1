"""How the birds stay inside, by the lock-ins: asleep, awake, or shut in all day."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import HOUR
from daylatch.birds.nights.nights import light_until

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.birds.nights.nights import Nights
    from daylatch.site.norms import Norms


class Case(Enum):
    """When a requirement counts."""

    ASLEEP = "asleep inside"
    AWAKE = "awake inside or shut all day"
    ALWAYS = "any date"


@dataclass(frozen=True, eq=False)
class Stays:
    """On which dates which case holds.

    Attributes
    ----------
    asleep, awake : datetime64[D]
        Closing dates of the lock-ins without a day shut all day: with little light in them, and
        with more than ``awake_h``.
    shut : datetime64[D]
        The flock days on which the door stays shut.
    unknown : datetime64[D]
        Closing dates of lock-ins without a known end, if no day shut all day stands in the range.
    long : datetime64[D]
        Those of ``asleep`` and ``awake`` whose lock-in is longer than ``long_night_h``.
    awake_h, long_night_h : float
        What counts as awake and as long.
    most_awake_h : float or None
        The most light in a lock-in of ``asleep`` or ``awake``; None if there is none.
    """

    asleep: Times
    awake: Times
    shut: Times
    unknown: Times
    long: Times
    awake_h: float
    long_night_h: float
    most_awake_h: float | None

    @property
    def are_awake(self) -> bool:
        """Whether the birds are ever awake inside."""
        return bool(len(self.awake) or len(self.shut))


def find_stays(nights: Nights, norms: Norms) -> Stays:
    """Return which lock-ins birds only sleep through, and where else they are awake or shut in."""
    single = nights.shut_days == 0
    known = single & nights.known
    waking_h = nights.waking / HOUR
    awake = known & (waking_h > norms.awake_h)
    long = known & (nights.length / HOUR > norms.long_night_h)
    return Stays(
        asleep=nights.dates[known & ~awake],
        awake=nights.dates[awake],
        shut=nights.plan.dates[~nights.due.is_open],
        unknown=nights.dates[single & ~nights.known],
        long=nights.dates[long],
        awake_h=norms.awake_h,
        long_night_h=norms.long_night_h,
        most_awake_h=float(waking_h[known].max()) if known.any() else None,
    )


def share_of_days(nights: Nights, row: int) -> float:
    """Return how many days' light a lock-in holds.

    For each flock day it is the share of that day's civil light that lies within the lock-in; a day
    that lies in it whole counts as one, even without any light.
    """
    start, end = (
        instants[row].astype("datetime64[us]") for instants in (nights.start_utc, nights.end_utc)
    )
    lower, light = light_until(nights.plan, np.array([end]))
    whole = (lower[:-1] >= start) & (lower[1:] <= end)
    within = np.clip(end, light.start, light.end) - np.clip(start, light.start, light.end)
    length = light.end - light.start
    lit = length > np.timedelta64(0, "us")
    parts = np.divide(within, length, out=np.zeros(len(length)), where=lit)
    return float(np.where(whole, 1.0, parts).sum())
