"""The instant that a wall clock's date and time mean, where there is one and only one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import Fold
from daylatch.diary.entries import EntryError
from daylatch.wording import local_text

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.clock import WallTime, Zone


def instants_shown(zone: Zone, wall: np.datetime64) -> tuple[np.datetime64, ...]:
    """Return every instant at which a wall clock shows a date and time: none, one or two.

    Parameters
    ----------
    zone
        Whose clock.
    wall
        datetime64, to the minute or the second.
    """
    minute = wall.astype("datetime64[m]")
    both = np.array(
        [zone.to_instants(np.array([minute]), fold)[0] for fold in (Fold.EARLIER, Fold.LATER)]
    )
    shown = zone.to_local(both).wall == minute
    return tuple(np.unique(both[shown]) + (wall.astype("datetime64[s]") - minute))


def instant_shown(zone: Zone, date: dt.date, time: WallTime) -> np.datetime64:
    """Return the instant at which the wall clock shows a time on a date.

    Raises
    ------
    EntryError
        If it never does, or does twice.
    """
    wall = np.datetime64(date, "m") + np.timedelta64(time.minutes, "m")
    instants = instants_shown(zone, wall)
    if not instants:
        raise EntryError(
            f"{time} on {date} does not exist in {zone.name}, whose clock was put on over it then: "
            "write the time that it showed"
        )
    if len(instants) > 1:
        first, second = local_text(zone.to_local(np.array(instants)))
        raise EntryError(
            f"{time} on {date} was there twice in {zone.name}, as its clock was put back: say "
            f"which with --at {first[:16]}{first[19:]} or --at {second[:16]}{second[19:]}"
        )
    return instants[0]


def day_begins(zone: Zone, date: dt.date) -> np.datetime64:
    """Return the instant at which a date begins at a place [datetime64[s]]."""
    midnight = np.array([np.datetime64(date, "m")])
    begins: np.datetime64 = zone.to_instants(midnight, Fold.EARLIER)[0].astype("datetime64[s]")
    return begins
