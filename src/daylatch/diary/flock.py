"""How many birds there are, by losses and gains since they were counted."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable

    from daylatch.clock import Zone
    from daylatch.diary.entries import Entry
    from daylatch.site.housing import Flock


class FlockNow(NamedTuple):
    """How many birds there are on a date.

    Attributes
    ----------
    birds : int
        That many.
    counted : int
        How many the site file has.
    lost, gained : int
        How many since.
    """

    birds: int
    counted: int
    lost: int
    gained: int

    @property
    def words(self) -> str:
        """How many, and why."""
        told = "1 bird" if self.birds == 1 else f"{self.birds} birds"
        changes = [
            f"{count} {word}"
            for word, count in (("lost", self.lost), ("gained", self.gained))
            if count
        ]
        if not changes:
            return f"{told}."
        return f"{told}: {self.counted} in the site file, {' and '.join(changes)} since."


def birds_on(flock: Flock, entries: Iterable[Entry], zone: Zone, date: dt.date) -> FlockNow:
    """Return how many birds there are at the end of a date.

    Parameters
    ----------
    flock
        With its number of birds, and when they were counted.
    entries
        Losses and gains; those of the day of counting are in the count.
    zone
        The site's.
    date
        The day.
    """
    assert flock.birds is not None
    changed = {"lost": 0, "gained": 0}
    for entry in entries:
        on = zone.date_at(entry.instant_utc)
        if on <= date and (flock.counted_on is None or on > flock.counted_on):
            changed[entry.what] += entry.count
    birds = max(0, flock.birds - changed["lost"] + changed["gained"])
    return FlockNow(birds, flock.birds, **changed)
