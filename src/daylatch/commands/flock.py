"""How many birds there are: by the site file, and the diary's losses and gains since."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from daylatch.clock import get_zone
from daylatch.commands.diary import diary_of
from daylatch.console import say
from daylatch.diary.flock import FlockNow, birds_on

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.diary.store.store import Diary
    from daylatch.site.tables import Site


def flock_on(site: Site, diary: Diary, date: dt.date) -> FlockNow | None:
    """Return how many birds there are at the end of a date; None if that is not known.

    Raises
    ------
    DiaryError
        If the diary cannot be read.
    """
    flock = site.settings.flock
    if flock is None or flock.birds is None:
        return None
    noted = diary.entries_if_any(whats=("lost", "gained"))
    return birds_on(flock, [one.entry for one in noted], get_zone(site.zone), date)


def birds_text(site: Site, diary: Diary, date: dt.date) -> str:
    """Return that in words; empty if it is not known."""
    now = flock_on(site, diary, date)
    return "" if now is None else now.words


def with_birds_on(site: Site, date: dt.date) -> Site:
    """Return a site with as many birds as there are on a date, and say so if they have changed.

    Raises
    ------
    DiaryError
        If its diary cannot be read.
    """
    now = flock_on(site, diary_of(site), date)
    flock = site.settings.flock
    if now is None or flock is None or now.birds == flock.birds:
        return site
    say(f"by the diary, {now.words}")
    # Of a flock of none nothing is known.
    flock = flock.model_copy(update={"birds": now.birds or None})
    return replace(site, settings=replace(site.settings, flock=flock))
