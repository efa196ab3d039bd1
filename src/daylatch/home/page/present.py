"""The present at a house, and how moments near it are told."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from daylatch.diary.words import told

if TYPE_CHECKING:
    import datetime as dt

    import numpy as np

    from daylatch.clock import Zone
    from daylatch.diary.store.rows import Noted
    from daylatch.wording import ClockFace

_NEAR = {-1: " yesterday", 0: "", 1: " tomorrow"}


@dataclass(frozen=True)
class Present:
    """An instant at a house.

    Attributes
    ----------
    now_utc : datetime64[s]
        The instant.
    zone : Zone
        The wall clock.
    face : ClockFace
        How times of day are written there.
    """

    now_utc: np.datetime64
    zone: Zone
    face: ClockFace

    @cached_property
    def today(self) -> dt.date:
        """The date there."""
        return self.zone.date_at(self.now_utc)

    def time(self, instant_utc: np.datetime64) -> str:
        """Return the time of day of an instant."""
        return self.face.time_at(self.zone, instant_utc)

    def when(self, instant_utc: np.datetime64) -> str:
        """Return an instant as people say it: with its date only where that is another day."""
        date = self.zone.date_at(instant_utc)
        near = _NEAR.get((date - self.today).days)
        time = self.time(instant_utc)
        return f"{time} on {self.day(date)}" if near is None else f"{time}{near}"

    def said(self, noted: Noted) -> str:
        """Return what an entry says, without its moment: who says it is told of guests alone."""
        if not noted.is_report:
            return told(noted.entry, self.face)
        note = f": {noted.entry.note}" if noted.entry.note else ""
        return f"{noted.entry.words(self.face)}{note}"

    def day(self, date: dt.date) -> str:
        """Return a date as short as people say it, with its year where that is another."""
        year = "" if date.year == self.today.year else f" {date.year}"
        return f"{date:%a} {date.day} {date:%b}{year}"
