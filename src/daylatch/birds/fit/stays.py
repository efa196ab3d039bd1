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


_NONE = np.timedelta64(0, "us")


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
        with more than ``awake_h`` or a lamp that burns in them, since that wakes birds on purpose.
    shut : datetime64[D]
        The flock days on which the door stays shut.
    lamp : datetime64[D]
        The flock days on which a lamp burns behind the shut door.
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
    lamp: Times
    unknown: Times
    long: Times
    awake_h: float
    long_night_h: float
    most_awake_h: float | None

    @property
    def are_awake(self) -> bool:
        """Whether the birds are ever awake inside."""
        return bool(len(self.awake) or len(self.shut) or len(self.lamp))


def find_stays(nights: Nights, norms: Norms) -> Stays:
    """Return which lock-ins birds only sleep through, and where else they are awake or shut in."""
    single = nights.shut_days == 0
    known = single & nights.known
    waking_h = nights.waking / HOUR
    awake = known & ((waking_h > norms.awake_h) | (nights.lamp_burns > _NONE))
    long = known & (nights.length / HOUR > norms.long_night_h)
    return Stays(
        asleep=nights.dates[known & ~awake],
        awake=nights.dates[awake],
        shut=nights.plan.dates[~nights.due.is_open],
        lamp=nights.plan.dates[nights.day_burns > _NONE],
        unknown=nights.dates[single & ~nights.known],
        long=nights.dates[long],
        awake_h=norms.awake_h,
        long_night_h=norms.long_night_h,
        most_awake_h=float(waking_h[known].max()) if known.any() else None,
    )


def share_of_days(nights: Nights, row: int) -> float:
    """Return how many days' light a lock-in holds.

    For each flock day it is the share of that day's light, civil light and a lamp's, that lies
    within the lock-in; a day that lies in it whole counts as one, even without any light.
    """
    start, end = (
        instants[row].astype("datetime64[us]") for instants in (nights.start_utc, nights.end_utc)
    )
    lower, light = light_until(nights.plan, np.array([end]))
    whole = (lower[:-1] >= start) & (lower[1:] <= end)
    within = np.clip(end, light.start, light.end) - np.clip(start, light.start, light.end)
    length = light.end - light.start
    lamp = nights.lamp.alone
    within += np.diff(lamp.before(np.clip(lower, start, end)))
    length += np.diff(lamp.before(lower))
    lit = length > _NONE
    parts = np.divide(within, length, out=np.zeros(len(length)), where=lit)
    return float(np.where(whole, 1.0, parts).sum())
