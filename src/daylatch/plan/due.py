"""Due times: when what works the door will really move it.

The plan says what should be. A plain timer moves the door a few minutes later, a person when a row
of the card says; what is due is found in `daylatch.door.works` and handed on as an argument.
People are told due times, with the planned ones beside them where they differ.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.plan.daily.rules import NEVER, past_guard

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.plan import Plan


@dataclass(frozen=True)
class InUse:
    """What is said of the file that is really in the door.

    Attributes
    ----------
    name : str
        As the site file names it.
    first, last : datetime64[D]
        The dates that it covers.
    differs : datetime64[D] or None
        The first date on which it moves the door at another time than the site file now says.
    remedy : str
        The command that makes a new one.
    """

    name: str
    first: np.datetime64
    last: np.datetime64
    differs: np.datetime64 | None
    remedy: str


class DueTimes(NamedTuple):
    """When the door will really move on some days, as what works it has it.

    Attributes
    ----------
    open_utc, close_utc : datetime64[m]
        NaT on days it stays shut, and where that is not known.
    known : bool
        Whether that is known.
    up_to_min : int or None
        Where it is not: by how many minutes it is late at most; None if nothing bounds it.
    """

    open_utc: Times
    close_utc: Times
    known: Flags
    up_to_min: int | None = None


@dataclass(frozen=True, eq=False)
class Due:
    """When the door will really move on the days of a plan; arrays have one element a day.

    Attributes
    ----------
    plan : Plan
        What it is held against.
    open_utc, close_utc : datetime64[m]
        When it moves; NaT on days it stays shut, and where that is not known.
    known : bool
        Whether that is known.
    next_open_utc : datetime64[m]
        The opening that ends the lock-in which each day's closing begins, the planned one where the
        due one is not known; NaT without one.
    up_to_min : int or None
        Where it is not known: by how many minutes it is late at most; None if nothing bounds it.
    in_use : InUse or None
        The file in the door, if the site file names one.
    """

    plan: Plan
    open_utc: Times
    close_utc: Times
    known: Flags
    next_open_utc: Times
    up_to_min: int | None = None
    in_use: InUse | None = None

    def __len__(self) -> int:
        return len(self.plan)

    @cached_property
    def told_open_utc(self) -> Times:
        """The opening that people are told: the due one, or the planned where it is not known."""
        return np.where(self.known, self.open_utc, self.plan.open_utc)

    @cached_property
    def told_close_utc(self) -> Times:
        """The closing that people are told."""
        return np.where(self.known, self.close_utc, self.plan.close_utc)

    def part(self, where: Flags) -> Due:
        """Return what is due on some of the days."""
        return replace(
            self,
            plan=self.plan.part(where),
            open_utc=self.open_utc[where],
            close_utc=self.close_utc[where],
            known=self.known[where],
            next_open_utc=self.next_open_utc[where],
        )

    @cached_property
    def is_open(self) -> Flags:
        """Whether the door opens that day, as far as is known."""
        return ~np.isnat(self.told_open_utc)

    @cached_property
    def head_count_utc(self) -> Times:
        """When a person looks whether all are in [datetime64[m]]: never before the door has moved.

        Where only a bound of the closing is known it is counted from that, and NaT without one.
        """
        latest = self.told_close_utc
        if self.up_to_min is not None:
            latest = np.where(self.known, latest, latest + np.timedelta64(self.up_to_min, "m"))
        else:
            latest = np.where(self.known, latest, NEVER)
        return latest + self.plan.settings.head_count

    @property
    def lock_in(self) -> Minutes:
        """From each day's closing to the next opening [timedelta64[m]]; NaT without either."""
        return self.next_open_utc - self.told_close_utc

    @cached_property
    def open_late(self) -> Minutes:
        """By how much the opening is late [timedelta64[m]]; NaT where that is not known."""
        return self.open_utc - self.plan.open_utc

    @cached_property
    def close_late(self) -> Minutes:
        """By how much the closing is late [timedelta64[m]]; NaT where that is not known."""
        return self.close_utc - self.plan.close_utc

    @cached_property
    def differs(self) -> Flags:
        """Whether something else is due on a day than is planned, as far as is known."""
        pairs = (
            (self.told_open_utc, self.plan.open_utc),
            (self.told_close_utc, self.plan.close_utc),
        )
        other = np.zeros(len(self), np.bool_)
        for due, planned in pairs:
            other |= (due != planned) & ~(np.isnat(due) & np.isnat(planned))
        return other

    @cached_property
    def sun_up_at_close(self) -> Flags:
        """Whether the Sun stands above the horizon when the door closes."""
        up: Flags = self.is_open & self.plan.sun_is_up(self.told_close_utc)
        return up

    @cached_property
    def closes_in_daylight(self) -> Flags:
        """Whether birds outside stay out: the Sun is up, and the lowest Sun is far."""
        return self.sun_up_at_close & self.plan.is_far_from_night(self.told_close_utc)

    @cached_property
    def past_guard(self) -> tuple[Flags, Flags]:
        """Whether the door opens, and closes, beyond the guard, when it is due or planned.

        What the settings ask for is told though an old file is still in use.
        """
        guard, decisions = self.plan.guard, self.plan.decisions
        crossings = guard.open_utc, guard.close_utc
        opens = past_guard(self.told_open_utc, *crossings, guard.open_sky)
        closes = past_guard(self.told_close_utc, *crossings, guard.close_sky)
        return (
            self.is_open & opens | decisions.past_guard_open,
            self.is_open & closes | decisions.past_guard_close,
        )

    @cached_property
    def at_the_wrong_end(self) -> tuple[Flags, Flags]:
        """Whether the door opens after dusk, and closes before dawn, has passed the guard."""
        guard = self.plan.guard
        return self.told_open_utc > guard.close_utc, self.told_close_utc < guard.open_utc


def exactly(plan: Plan) -> Due:
    """Return what is due where the door moves to the planned minute."""
    return Due(
        plan, plan.open_utc, plan.close_utc, np.ones(len(plan), np.bool_), plan.next_open_utc
    )
