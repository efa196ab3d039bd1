"""What entries tell of the door, as an audit looks at it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.clock import WallTime
from daylatch.diary.entries import Kind
from daylatch.diary.moves import Readings, Seen

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from daylatch.arrays import Times
    from daylatch.clock import DoorClock, Zone
    from daylatch.diary.entries import Entry

DOOR = "door"
_HALF_A_DAY = DAY_MIN // 2


def seen_in(entries: Iterable[Entry], *, by_person: bool) -> Seen:
    """Return what entries tell of the door.

    Parameters
    ----------
    entries
        In any order.
    by_person
        Whether a person works the door, so that moving it by hand is what was due.
    """
    told = [(one, one.kind.door) for one in entries if one.kind.door is not None]
    told.sort(key=lambda pair: pair[0].instant_utc)
    kinds = tuple(
        Kind.MOVED if by_person and door.kind is Kind.BY_HAND else door.kind
        for _, door in told
        if door is not None
    )
    return Seen(
        at_utc=_instants([one for one, _ in told]),
        opening=np.array([door is not None and door.is_open for _, door in told], np.bool_),
        kinds=kinds,
        within_min=np.array([one.within_min for one, _ in told], np.float64),
        outside=np.array([one.stamped_by != DOOR for one, _ in told], np.bool_),
    )


def readings_in(entries: Iterable[Entry], zone: Zone, clock: DoorClock) -> Readings:
    """Return what the door's clock said beside a right one, by entries that the door did not stamp.

    Parameters
    ----------
    entries
        In any order.
    zone
        The site's.
    clock
        What the door's clock should keep.
    """
    told = sorted(
        (one for one in entries if one.what == "clock_said" and one.stamped_by != DOOR),
        key=lambda one: one.instant_utc,
    )
    at = _instants(told)
    # A clock that shows no seconds stands at a minute for all of it; so does one that was read to
    # the minute only.
    shown = np.array([WallTime.parse(one.value).minutes + 0.5 for one in told], np.float64)
    right = at + zone.clock_offset(clock, at)
    seconds = (right - right.astype("datetime64[D]")).astype(np.int64)
    right_min = np.where(seconds % 60 == 0, seconds / 60 + 0.5, seconds / 60)
    error = (shown - right_min + _HALF_A_DAY) % DAY_MIN - _HALF_A_DAY
    # One that is half a day wrong stays so, and does not jump from fast to slow.
    error = np.unwrap(error, period=DAY_MIN)
    within = np.array([one.within_min for one in told], np.float64)
    return Readings(at, error, within)


def clock_set_in(entries: Iterable[Entry]) -> Times:
    """Return when somebody set the door's clock [datetime64[s]]."""
    return np.sort(_instants([one for one in entries if one.what == "clock_set"]))


def _instants(entries: Sequence[Entry]) -> Times:
    return np.array([one.instant_utc for one in entries], "datetime64[s]")
