"""A house as the web server knows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.home.guests.book import GuestBook
    from daylatch.home.page.pages import Pages
    from daylatch.home.report.receiver import Receiver
    from daylatch.home.secrets import Secrets
    from daylatch.home.server.door_times import TimesOfHouse
    from daylatch.home.watch.watcher import Watcher


class House(NamedTuple):
    """A house that is looked after.

    Attributes
    ----------
    name : callable
        Returns what the keeper calls it.
    secrets : callable
        Returns its secrets as they are now.
    receiver : Receiver
        Takes in its door's reports.
    watcher : Watcher
        Watches it.
    guests : GuestBook
        Knows who may see it.
    pages : Pages
        Its page, taps and papers.
    times : TimesOfHouse
        Tells its door the times.
    """

    name: Callable[[], str]
    secrets: Callable[[], Secrets]
    receiver: Receiver
    watcher: Watcher
    guests: GuestBook
    pages: Pages
    times: TimesOfHouse
