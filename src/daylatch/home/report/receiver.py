"""Taking in what a door reports: into the diary, once, or not at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.console import say
from daylatch.errors import DiaryError
from daylatch.wording import FACE_24_HOURS

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from daylatch.diary.store.store import Diary, Reported
    from daylatch.home.report.report import Report


class Receiver:
    """Takes in the reports of one house's door.

    Parameters
    ----------
    diary
        Returns where they go.
    clock
        Returns this instant [datetime64[s]].
    name
        Returns what the keeper calls the house.
    wake
        Called when there is something new to look at.
    """

    def __init__(
        self,
        diary: Callable[[], Diary],
        clock: Callable[[], np.datetime64],
        name: Callable[[], str],
        wake: Callable[[], None],
    ) -> None:
        self.diary = diary
        self.clock = clock
        self.name = name
        self.wake = wake
        self.trouble = ""
        """Why the last report could not be noted; empty if it could."""

    def take(self, report: Report) -> Reported:
        """Note a report, and return its entry.

        Raises
        ------
        DiaryError
            If it could not be noted; then it must come again.
        """
        now = self.clock()
        try:
            noted = self.diary().report(report.entry, now, report.number)
        except DiaryError as error:
            self.trouble = str(error)
            self.wake()
            raise
        self.trouble = ""
        if noted.is_new:
            at = report.entry.instant_utc
            words = report.entry.words(FACE_24_HOURS)
            held = "" if at == now else f", of {at}Z"
            say(f"{now}Z {self.name()}: entry {noted.number}: {words}{held}")
            self.wake()
        return noted
