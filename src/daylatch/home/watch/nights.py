"""The nights and the days of a door, and what was said of it in them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.store.rows import Noted
    from daylatch.home.watch.scene import Scene

_LAST = np.datetime64("9999-01-01", "m")
_UNSURE_MIN = 5.0
"""Up to here how sure a moment is does not matter: a person's memory."""
_STILL_NOW = np.timedelta64(2, "m")
"""How far a person's clock may be ahead."""
_OF_A_NIGHT = 8
IN = frozenset({"all_in", "last_in"})
"""Entries that say that all birds are in."""
OUT = "still_out"


class Stretch(NamedTuple):
    """From one movement of the door to the next.

    Attributes
    ----------
    key : str
        The date of the movement that it begins with.
    begins_utc, ends_utc : datetime64[m]
        When the movements are due, the second far away if none is known.
    late : timedelta64[m]
        How much later than that the first may rightly come.
    count_utc : datetime64[m]
        For a night: when heads are counted; NaT if that is not known.
    moves : bool
        Whether it does begin with a movement: the door may have been shut before all that is known.
    """

    key: str
    begins_utc: np.datetime64
    ends_utc: np.datetime64
    late: np.timedelta64
    count_utc: np.datetime64 = np.datetime64("NaT", "m")
    moves: bool = True

    def holds(self, instant_utc: np.datetime64) -> bool:
        """Return whether an instant lies in it."""
        return bool(self.begins_utc <= instant_utc < self.ends_utc)


def nights(scene: Scene) -> Iterator[Stretch]:
    """Yield the nights: from closing to opening, as people are told them."""
    due = scene.due
    first = np.flatnonzero(due.is_open)
    opens = due.told_open_utc[first[0]] if first.size else _LAST
    begins = due.plan.day_start_utc[0].astype("datetime64[m]")
    if begins < opens:
        # One that has begun before all that is planned here is known by its end.
        yield Stretch(f"until {opens}", begins, opens, grace_of(scene, 0), moves=False)
    for index in first.tolist():
        ends = due.next_open_utc[index]
        yield Stretch(
            str(due.plan.dates[index]),
            due.told_close_utc[index],
            _LAST if np.isnat(ends) else ends,
            grace_of(scene, index),
            due.head_count_utc[index],
        )


def days(scene: Scene) -> Iterator[Stretch]:
    """Yield the days: from opening to closing."""
    due = scene.due
    for index in np.flatnonzero(due.is_open).tolist():
        yield Stretch(
            str(due.plan.dates[index]),
            due.told_open_utc[index],
            due.told_close_utc[index],
            grace_of(scene, index),
        )


def grace_of(scene: Scene, index: int) -> np.timedelta64:
    """Return how late what works the door may rightly be on a day."""
    due = scene.due
    late = 0 if due.known[index] or due.up_to_min is None else due.up_to_min
    return np.timedelta64(late, "m")


def said_in(scene: Scene, stretch: Stretch, now_utc: np.datetime64) -> list[Noted]:
    """Return the entries that tell of a stretch, in the order in which they count.

    Those from shortly before its first movement do; one whose moment is not sure must surely lie
    after that. Word that the door is open counts also if only its receipt does, whatever the door
    says of the moment. What a person says to be still to come counts for nothing.
    """
    since = stretch.begins_utc - scene.early if stretch.moves else stretch.begins_utc
    return [one for one in scene.by_receipt if _tells_of(one, since, stretch.ends_utc, now_utc)]


def _tells_of(
    one: Noted, since: np.datetime64, ends: np.datetime64, now_utc: np.datetime64
) -> bool:
    entry = one.entry
    if one.is_report and says_open(one):
        return bool(since <= moment_of(one) < ends)
    if not one.is_report and entry.instant_utc > now_utc + _STILL_NOW:
        return False
    earliest = entry.instant_utc
    if entry.within_min > _UNSURE_MIN and not says_open(one):
        earliest = earliest - np.timedelta64(round(60 * entry.within_min), "s")
    return bool(since <= earliest and entry.instant_utc < ends)


def moment_of(one: Noted) -> np.datetime64:
    """Return when a word that the door is open counts from [datetime64[s]].

    That is when it is received: by the door's own clock it may be the opening of the morning.
    """
    return max(one.entry.instant_utc, one.entered_utc) if one.is_report else one.entry.instant_utc


def opening_allowance(scene: Scene, stretch: Stretch) -> np.timedelta64:
    """Return how long before the due opening an opening is that of the day [timedelta64[s]].

    That is little of a short night.
    """
    part = (stretch.ends_utc - stretch.begins_utc).astype("timedelta64[s]") // _OF_A_NIGHT
    return min(scene.early_opening.astype("timedelta64[s]"), part)


def says_open(one: Noted) -> bool:
    """Return whether an entry says that the door is open."""
    door = one.entry.kind.door
    return door is not None and door.is_open


def is_count_of_all(scene: Scene, one: Noted) -> bool:
    """Return whether an entry says that all birds are in, and names no fewer than there are."""
    return one.entry.what in IN and not is_count_of_some(scene, one)


def is_count_of_some(scene: Scene, one: Noted) -> bool:
    """Return whether an entry names fewer birds than there are."""
    return scene.birds is not None and 0 < one.entry.count < scene.birds
