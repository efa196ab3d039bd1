"""What is likely wrong with an entry that is about to be noted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone
from daylatch.commands.flock import flock_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.entries import Entry
    from daylatch.diary.store.store import Diary
    from daylatch.site.tables import Site

_SECOND = np.timedelta64(1, "s")


def doubts(site: Site, diary: Diary, entry: Entry, now_utc: np.datetime64) -> Iterator[str]:
    """Yield sentences on what to look at again; it is noted all the same."""
    if entry.instant_utc > now_utc:
        shown = site.face.instant(get_zone(site.zone), entry.instant_utc)
        yield (
            f"{shown} is still to come: if it was another day, undo this and write the date before "
            "it, such as yesterday"
        )
    yield from count_doubts(site, diary, entry)
    at = entry.instant_utc
    for one in diary.entries_if_any(at, at + _SECOND, whats=[entry.what]):
        if one.entry == entry:
            yield f"entry {one.number} says the same; undo one if it was once only"
            return


def count_doubts(site: Site, diary: Diary, entry: Entry) -> Iterator[str]:
    """Yield sentences on a count of birds that is not that of the flock."""
    flock = flock_on(site, diary, get_zone(site.zone).date_at(entry.instant_utc))
    if flock is not None and entry.what == "all_in" and 0 < entry.count < flock.birds:
        missing = flock.birds - entry.count
        yield (
            f"{entry.count} are not all of {flock.words.rstrip('.')}: if the others are out, undo "
            f'this and note "{missing} still out"'
        )
    counted = entry.what in {"lost", "still_out", "hurt"}
    if flock is not None and counted and entry.count > flock.birds:
        yield f"{entry.count} are more than there are: {flock.words}"
