"""When it was what a log's clock showed: clock changes, and rows that settle a repeated hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.clock import DoorClock, Fold, get_zone
from daylatch.site.diary import DOOR_CLOCK
from daylatch.wording import duration_text, local_text, machine_time

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Numbers, Times
    from daylatch.clock import Zone
    from daylatch.site.diary import DiaryLog
    from daylatch.site.tables import Site

_MOST_NOTES = 5
_NONE = np.datetime64("NaT", "s")
_WEST_H, _EAST_H = -12, 14
"""Hours from UTC that zones without clock changes are named for."""


@dataclass(frozen=True)
class LogClock:
    """The clock that stamped a log.

    Attributes
    ----------
    zone : Zone
        Where it is.
    keeps : DoorClock
        What it keeps there.
    is_door : bool
        Whether it is the door's own.
    """

    zone: Zone
    keeps: DoorClock
    is_door: bool

    def readings(self, walls: Times, is_utc: Flags) -> Readings:
        """Return when it showed some dates and times.

        Parameters
        ----------
        walls
            datetime64[s]
        is_utc
            Which of them are instants already.
        """
        minutes = walls.astype("datetime64[m]")
        if self.keeps is DoorClock.UTC:
            earlier = later = minutes
        elif self.keeps is DoorClock.STANDARD:
            earlier = later = minutes - self.zone.standard_offset(walls.astype("datetime64[D]"))
        else:
            earlier, later = (self.zone.to_instants(minutes, fold) for fold in Fold)
        is_gap = (earlier == later) & (self.keeps is DoorClock.WALL)
        is_gap &= (self.zone.to_local(earlier).wall != minutes) & ~is_utc
        seconds = walls - minutes
        return Readings(
            np.where(is_utc, walls, earlier + seconds),
            np.where(is_utc, walls, later + seconds),
            is_gap,
        )

    def gap_words(self, wall: np.datetime64) -> str:
        """Return what is said of a date and time that it never showed."""
        after = self.zone.to_instants(np.array([wall.astype("datetime64[m]")]), Fold.EARLIER)
        begins = self.zone.to_local(after - MINUTE).wall[0] + MINUTE
        ends = self.zone.to_local(after).wall[0]
        remedy = f"write the time that was right, such as {_clock_time(ends)}"
        return (
            f"{_wall_text(wall)} does not exist in {self.zone.name}, where clocks go from "
            f"{_clock_time(begins)} to {_clock_time(ends)} then: {remedy}, or, for a clock that "
            f"knows no summer time, {self._without_summer_time(wall)}"
        )

    def _without_summer_time(self, wall: np.datetime64) -> str:
        if self.is_door:
            return 'clock = "standard" under [door]'
        offset = self.zone.standard_offset(np.array([wall.astype("datetime64[D]")]))[0]
        hours, rest = divmod(int(offset // MINUTE), 60)
        if rest or not _WEST_H <= hours <= _EAST_H:
            return "another clock for the log"
        # The signs of these names are those of POSIX, the other way round.
        return f'clock = "{f"Etc/GMT{-hours:+d}" if hours else "UTC"}" for the log'

    def fold_words(self, wall: np.datetime64, instants: Times) -> str:
        """Return what is said of a date and time that it showed at two instants."""
        first, second = local_text(self.zone.to_local(instants))
        return (
            f"{_wall_text(wall)} was twice in {self.zone.name}, and the rows around do not say "
            f"which it is: write {first} or {second}"
        )


@dataclass(frozen=True)
class Readings:
    """When a clock showed some dates and times.

    Attributes
    ----------
    earlier, later : datetime64[s]
        The instants, which differ where it showed them twice.
    is_gap : bool
        Where it never showed them.
    """

    earlier: Times
    later: Times
    is_gap: Flags

    def settled(self) -> Times:
        """Return the instants [datetime64[s]], by the order of the rows where there are two.

        NaT where the order leaves both or neither, and where there is none.
        """
        # The oldest row first, as those have it that are sure.
        sure = self.earlier[self.earlier == self.later]
        order = slice(None, None, -1 if is_descending(sure) else 1)
        earlier, later = self.earlier[order], self.later[order]
        # The earliest and the latest instants that the rows around leave.
        first = np.where(earlier == later, earlier, _NONE)
        last = first.copy()
        twice = np.flatnonzero(earlier != later)
        for at in twice:
            before = first[at - 1] if at else _NONE
            first[at] = later[at] if earlier[at] < before else earlier[at]
        for at in twice[::-1]:
            after = last[at + 1] if at + 1 < len(last) else _NONE
            last[at] = earlier[at] if later[at] > after else later[at]
        found = np.where(first == last, first, _NONE)
        for at in twice:
            if (at and first[at] < first[at - 1]) or (first[at : at + 2] < first[at]).any():
                found[at] = _NONE
        return np.where(self.is_gap, _NONE, found[order])


def clock_of(log: DiaryLog, site: Site) -> LogClock:
    """Return the clock that stamped a log."""
    if log.clock == DOOR_CLOCK:
        return LogClock(get_zone(site.zone), site.door_clock, is_door=True)
    return LogClock(get_zone(log.clock or site.zone), DoorClock.WALL, is_door=False)


def is_descending(instants: Times) -> bool:
    """Return whether most rows are older than the row before."""
    signs = np.sign(np.diff(instants).astype(np.int64))
    return int(signs.sum()) < 0


def steps_back(instants: Times, lines: Numbers) -> list[str]:
    """Return what is said of a clock that went backwards.

    Parameters
    ----------
    instants
        Of the rows in the file's order, without any that is not known.
    lines
        Where they stand.
    """
    if is_descending(instants):
        instants, lines = instants[::-1], lines[::-1]
    steps = np.diff(instants)
    back = np.flatnonzero(steps < -MINUTE)
    told = [
        f"line {lines[at + 1]} is {duration_text(-steps[at])} earlier than line {lines[at]}, which "
        "comes before it: did the clock go wrong, or was it set?"
        for at in back[:_MOST_NOTES]
    ]
    more = len(back) - _MOST_NOTES
    return [*told, f"{more} more rows are earlier than the row before them"] if more > 0 else told


def _wall_text(wall: np.datetime64) -> str:
    return str(wall.astype("datetime64[s]")).replace("T", " ").removesuffix(":00")


def _clock_time(wall: np.datetime64) -> str:
    return machine_time(int(wall.astype("datetime64[m]").astype(np.int64)))
