"""What the watch looks at, and what it finds."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.home.watch.kinds import Kind
from daylatch.site.timekeeping import MARGIN_MIN
from daylatch.site.watch import DOOR, HEAD_COUNT, LEAST_EARLY_MIN

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.diary.store.rows import Noted
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site
    from daylatch.site.watch import Watch


CATCH_UP = np.timedelta64(5, "m")
"""How long after a time without a listener the door's reports of that time are waited for (our
choice, no source)."""


class Trouble(NamedTuple):
    """Something that is wrong and must be told.

    Attributes
    ----------
    key : str
        What it is about: troubles that follow each other under one key are one alarm.
    kind : Kind
        What is wrong.
    words : str
        In sentences.
    """

    key: str
    kind: Kind
    words: str


class Unknown(NamedTuple):
    """That nothing can be said yet, and what is waited for, in a sentence."""

    words: str


Found = Trouble | str | None | Unknown
"""What is found under a key: a trouble; in a sentence, that it is right; nothing; or not yet."""


class Ending(NamedTuple):
    """Something that ends: a table, a list or a certificate.

    Attributes
    ----------
    what : str
        What it is called.
    last : date
        The last date on which it can be used.
    remedy : str
        What to do.
    """

    what: str
    last: dt.date
    remedy: str


@dataclass(frozen=True)
class Findings:
    """What the watch found.

    Attributes
    ----------
    troubles : list of Trouble
        What is wrong.
    fine : dict
        By key, in a sentence, what has become right.
    waiting : dict
        By key, in a sentence, what cannot be judged yet.
    """

    troubles: list[Trouble] = field(default_factory=list)
    fine: dict[str, str] = field(default_factory=dict)
    waiting: dict[str, str] = field(default_factory=dict)

    @property
    def is_blind(self) -> bool:
        """Whether something kept the watch from looking, so that what it misses may still be."""
        return any(trouble.kind is Kind.IN_DOUBT for trouble in self.troubles)

    def take(self, key: str, found: Found) -> None:
        """Take in what was found under a key."""
        match found:
            case Trouble():
                self.troubles.append(found)
            case Unknown():
                self.waiting[key] = found.words
            case str():
                self.fine[key] = found

    def may_stand(self, key: str) -> bool:
        """Return whether what was wrong under a key may still be, though it was not found."""
        return key in self.waiting or (self.is_blind and key not in self.fine)


@dataclass(frozen=True, eq=False)
class Scene:
    """All that the watch looks at.

    Attributes
    ----------
    due : Due
        When the door was due on the days around, as `days_around` has them.
    watch : Watch
        What is expected, and how long it is waited for.
    noted : sequence of Noted
        Entries of these days that hold.
    has_reported : bool
        Whether the door has ever reported by itself.
    birds : int or None
        How many there are, if that is known.
    link_lost_utc : datetime64[s] or None
        Since when the door's link is lost; None if it is not.
    broker_lost_utc : datetime64[s] or None
        Since when the broker of the door's reports cannot be reached; None if it can.
    volts : sequence of Noted
        Entries of the battery, of some time.
    clock_off_min : float or None
        By how much the door's clock is fast now, as an audit found it [min].
    endings : sequence of Ending
        What ends.
    began_utc : datetime64[s] or None
        When the house was first watched: before that nobody was asked for anything. None if that
        is not known.
    listening_since_utc : datetime64[s] or None
        Since when the door could report without a gap; None if that does not matter.
    doubts : dict
        What keeps the watch from looking, each by what it concerns.
    """

    due: Due
    watch: Watch
    noted: Sequence[Noted] = ()
    has_reported: bool = False
    birds: int | None = None
    link_lost_utc: np.datetime64 | None = None
    broker_lost_utc: np.datetime64 | None = None
    volts: Sequence[Noted] = ()
    clock_off_min: float | None = None
    endings: Sequence[Ending] = ()
    began_utc: np.datetime64 | None = None
    listening_since_utc: np.datetime64 | None = None
    doubts: dict[str, str] = field(default_factory=dict)

    @property
    def site(self) -> Site:
        """Whose house it is."""
        return self.due.plan.site

    @property
    def expects_door(self) -> bool:
        """Whether the door must report: it is expected to, and has done so before."""
        return DOOR in self.watch.expects and self.has_reported

    @property
    def expects_count(self) -> bool:
        """Whether somebody must count heads."""
        return HEAD_COUNT in self.watch.expects

    @property
    def margin_min(self) -> int:
        """How wrong the door's clock may be [min]."""
        clock = self.site.settings.clock
        return MARGIN_MIN if clock is None else clock.margin_min

    @property
    def early(self) -> np.timedelta64:
        """How long before a movement word of it counts [timedelta64[m]]."""
        given = self.watch.early_min
        return self.early_opening if given is None else np.timedelta64(given, "m")

    @property
    def has_second_pass(self) -> bool:
        """Whether the door closes once more at the time of the head count."""
        return self.site.settings.head_count.second_pass

    @property
    def early_opening(self) -> np.timedelta64:
        """How much too early an opening may be that is that of the day [timedelta64[m]]."""
        return np.timedelta64(max(LEAST_EARLY_MIN, self.margin_min), "m")

    @cached_property
    def by_receipt(self) -> list[Noted]:
        """The entries in the order in which they count.

        What the door reports counts when it is received, whatever its clock says. What a person
        writes down happened when they say.
        """
        received: np.datetime64 = np.datetime64("0000-01-01", "s")
        order: list[tuple[np.datetime64, int, Noted]] = []
        for one in sorted(self.noted, key=lambda one: one.number):
            if one.is_report:
                # The clock of this computer may have been put back meanwhile.
                received = one.entered_utc if one.entered_utc > received else received
            when = received if one.is_report else one.entry.instant_utc
            order.append((when, one.number, one))
        return [one for _, _, one in sorted(order, key=lambda row: row[:2])]

    def waited_until(self, until_utc: np.datetime64) -> np.datetime64:
        """Return until when word of a movement is waited for, which usually is an instant.

        After a time without a listener, a door that could not report may only be about to.
        """
        if self.listening_since_utc is None:
            return until_utc
        return max(until_utc, self.listening_since_utc + CATCH_UP)

    def time(self, instant_utc: np.datetime64) -> str:
        """Return an instant as people at the house read it, with its date."""
        return self.site.face.instant(self.due.plan.zone, instant_utc)

    def told(self, noted: Noted) -> str:
        """Return what an entry says, and when."""
        entry = noted.entry
        return f"{entry.words(self.site.face)} at {self.time(entry.instant_utc)} ({entry.by})"


def grace(minutes: int) -> np.timedelta64:
    """Return minutes as a duration [timedelta64[m]]."""
    return np.timedelta64(minutes, "m")
