"""On which days to change fixed times, so that they are changed least, or are late least.

Whole numbers only: no clock, no hens. A *stretch* of days has one setting for each side (opening
and closing, or one of them) and each kind of day (such as weekdays that share a setting): the
least multiple of the step that is not before any of the stretch's days. Its *lateness* is the most
by which a setting comes after one of its days.

What makes the results exact: a part of a stretch is never later than the whole, because over fewer
days the latest day is no later and the earliest no earlier.

* **Fewest stretches within a tolerance.** Beginning with the first day, make each stretch as long
  as the tolerance lets it be. Whatever other list keeps the tolerance, its n-th stretch ends no
  later than the n-th of this one: true of the first, and if true of the n-th, the other's next
  stretch without its first days is a stretch that could begin where this list's next one begins,
  is no later, and ends no further than that can reach. So no list has fewer.
* **Least lateness with at most so many stretches.** The fewest stretches never become more as the
  tolerance grows, and lateness is a whole number of minutes: halving finds the least tolerance that
  so many stretches keep.
* **Least lateness added up**, among all lists that are best in both of these: a dynamic programme
  over the last day of each stretch, with the number of stretches and the minutes in all as its
  value, compared in this order.
* **A year that comes round.** Days in a circle have a stretch that reaches over their end to their
  beginning. Every list has a stretch that holds the first day, and changes no later than that day's
  stretch can reach: the circle is cut open at each day up to there, and the best line wins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers


_NEVER = -(10**6)
# More than all minutes of all days together, so that a stretch weighs more than any lateness.
_A_STRETCH = 10**10


@dataclass(frozen=True, eq=False)
class TimerDays:
    """What fixed times have to do.

    Attributes
    ----------
    needed_min : int64, sides by days
        The least setting of each day [min]; any number on shut days.
    is_open : bool
        Whether the day needs settings at all; the rest are shut, and a stretch of their own.
    may_change : bool
        Whether a stretch may begin on the day; where open days begin or end, one always does.
    kind : int64
        Which kind of day it is.
    step_min : int
        What settings are a multiple of [min].
    circular : bool
        Whether the first day comes again behind the last. A stretch may then reach over the end.
    """

    needed_min: Numbers
    is_open: Flags
    may_change: Flags
    kind: Numbers
    step_min: int
    circular: bool = False

    def __len__(self) -> int:
        return len(self.is_open)

    def side(self, number: int) -> TimerDays:
        """Return one side by itself."""
        return replace(self, needed_min=self.needed_min[number : number + 1])

    def rounded_up(self, minutes: Any) -> Any:
        """Return the least setting that is not before a time."""
        return -(-minutes // self.step_min) * self.step_min

    @cached_property
    def lateness(self) -> NDArray[np.int32]:
        """The lateness of the stretch from a day on, by its length less one [min].

        Behind the last day, it goes on with the first.
        """
        count = len(self)
        twice = np.concatenate([self.needed_min, self.needed_min], axis=1).astype(np.int32)
        kinds = np.concatenate([self.kind, self.kind])
        table = np.zeros((count, count), np.int32)
        for kind in set(self.kind.tolist()):
            for needed in twice:
                # Days of other kinds neither raise the latest nor lower the earliest.
                high = np.where(kinds == kind, needed, _NEVER).astype(np.int32)
                low = np.where(kinds == kind, needed, -_NEVER).astype(np.int32)
                for start in range(count):
                    latest = np.maximum.accumulate(high[start : start + count])
                    earliest = np.minimum.accumulate(low[start : start + count])
                    np.maximum(table[start], self.rounded_up(latest) - earliest, out=table[start])
        return table

    def opened_at(self, day: int) -> TimerDays:
        """Return a circle cut open, so that it begins with a day."""
        return replace(
            self,
            needed_min=np.roll(self.needed_min, -day, axis=1),
            is_open=np.roll(self.is_open, -day),
            may_change=np.roll(self.may_change, -day),
            kind=np.roll(self.kind, -day),
            circular=False,
        )

    @property
    def runs(self) -> list[tuple[int, int]]:
        """The runs of days that are all open or all shut: the first, and the one behind."""
        edges = [0, *(np.flatnonzero(np.diff(self.is_open)) + 1).tolist(), len(self)]
        return list(pairwise(edges))


def stretches(days: TimerDays, starts: list[int]) -> Iterator[Numbers]:
    """Yield the days of each stretch; of a circle, the last may go on with the first days."""
    for first, behind in zip(starts, [*starts[1:], starts[0] + len(days)], strict=True):
        yield np.arange(first, behind) % len(days)


def settings_of(days: TimerDays, starts: list[int]) -> Numbers:
    """Return every day's setting, sides by days [min]; on shut days, what was needed.

    Parameters
    ----------
    days
        What they have to do.
    starts
        The first day of each stretch, in order.
    """
    settings = days.needed_min.copy()
    for stretch in stretches(days, starts):
        if not days.is_open[stretch[0]]:
            continue
        for kind in set(days.kind[stretch].tolist()):
            alike = stretch[days.kind[stretch] == kind]
            latest = days.needed_min[:, alike].max(axis=1, keepdims=True)
            settings[:, alike] = days.rounded_up(latest)
    return settings


def lateness_of(days: TimerDays, starts: list[int]) -> int:
    """Return the worst lateness of a list [min]."""
    return int((settings_of(days, starts) - days.needed_min).max())


def all_starts(days: TimerDays) -> list[int]:
    """Return every day on which a stretch may begin: the list that is late least."""
    edges = {first for first, _ in days.runs}
    allowed = np.flatnonzero(days.may_change & days.is_open).tolist()
    return sorted(edges.union(allowed))


def fewest(days: TimerDays, tolerance_min: int | None) -> list[int] | None:
    """Return the first days of the fewest stretches that keep a tolerance; None if none do.

    Without a tolerance, those that cannot be done without.
    """
    lines = _lines(days, -_NEVER if tolerance_min is None else tolerance_min)
    found = ((line.fewest(), line) for line in lines)
    lists = [line.turned_back(starts) for starts, line in found if starts is not None]
    return min(lists, key=len, default=None)


def least_late(days: TimerDays, most: int) -> int | None:
    """Return the least tolerance that at most so many stretches keep [min]; None if none do."""
    low = lateness_of(days, all_starts(days))
    loosest = fewest(days, None)
    assert loosest is not None
    if len(loosest) > most:
        return None
    high = lateness_of(days, loosest)
    while low < high:
        middle = (low + high) // 2
        found = fewest(days, middle)
        if found is not None and len(found) <= most:
            high = middle
        else:
            low = middle + 1
    return low


def least_in_all(days: TimerDays, tolerance_min: int) -> list[int]:
    """Return the list with the fewest stretches, and among those the least minutes late in all.

    Parameters
    ----------
    days
        What they have to do.
    tolerance_min
        One that some list keeps.
    """
    counted = [(line.fewest(), line) for line in _lines(days, tolerance_min)]
    least = min(len(starts) for starts, _ in counted if starts is not None)
    lists = [
        line.turned_back(line.least_in_all())
        for starts, line in counted
        if starts is not None and len(starts) == least
    ]
    return min(lists, key=lambda starts: int((settings_of(days, starts) - days.needed_min).sum()))


def _lines(days: TimerDays, tolerance_min: int) -> list[_Line]:
    """Return the lines that a circle is cut open to, to find its best list; a line as it is."""
    reaches = _Reaches(days, tolerance_min)
    cuts = [0]
    if days.circular:
        edges = [first for first, _ in days.runs[1:]]
        if edges:
            # Every list changes there.
            cuts.append(edges[0])
        else:
            reach = reaches.length(0)
            cuts += (np.flatnonzero(days.may_change[1 : reach + 1]) + 1).tolist()
    return [_Line(days.opened_at(cut), cut, reaches) for cut in cuts]


class _Reaches:
    """How long a stretch from each day on may be at most; each day is looked at once."""

    def __init__(self, days: TimerDays, tolerance_min: int) -> None:
        self._lateness = days.lateness
        self._tolerance_min = tolerance_min
        self._found: dict[int, int] = {}

    def length(self, start: int) -> int:
        """Return the most days that a stretch may have, wherever it may end."""
        if start not in self._found:
            kept = np.searchsorted(self._lateness[start], self._tolerance_min, side="right")
            self._found[start] = int(kept)
        return self._found[start]


class _Line:
    """Days in a line, perhaps those of a circle that was cut open."""

    def __init__(self, days: TimerDays, cut: int, reaches: _Reaches) -> None:
        self.days = days
        self.cut = cut
        self.reaches = reaches

    def turned_back(self, starts: list[int]) -> list[int]:
        """Return the first days of stretches as the days were numbered before the cut."""
        return sorted((start + self.cut) % len(self.days) for start in starts)

    def fewest(self) -> list[int] | None:
        """Return the first days of the fewest stretches; None if none keep the tolerance."""
        # The last day, up to each one, on which a change is allowed.
        numbers = np.arange(len(self.days))
        allowed = np.maximum.accumulate(np.where(self.days.may_change, numbers, -1)).tolist()
        starts: list[int] = []
        for first, behind in self.days.runs:
            if not self.days.is_open[first]:
                starts.append(first)
                continue
            start = first
            while True:
                starts.append(start)
                end = start + self._length(start)
                if end >= behind:
                    break
                if allowed[end] <= start:
                    return None
                start = allowed[end]
        return starts

    def least_in_all(self) -> list[int]:
        """Return the first days of the fewest stretches that are least late in all."""
        starts: list[int] = []
        for first, behind in self.days.runs:
            starts += self._best_of_run(first, behind) if self.days.is_open[first] else [first]
        return starts

    def _length(self, start: int) -> int:
        return self.reaches.length((start + self.cut) % len(self.days))

    def _best_of_run(self, first: int, behind: int) -> list[int]:
        """Return the stretches of a run of open days."""
        count = behind - first
        value = np.full(count + 1, np.iinfo(np.int64).max)
        came_from = np.full(count + 1, -1)
        value[0] = 0
        may_end = np.append(self.days.may_change[first + 1 : behind], True)
        for start in range(count):
            if came_from[start] < 0 and start:
                continue
            kept = min(self._length(first + start), count - start)
            in_all = _minutes_in_all(self.days, first + start, first + start + kept)
            ends = start + 1 + np.flatnonzero(may_end[start : start + kept])
            offered = value[start] + _A_STRETCH + in_all[ends - start - 1]
            better = offered < value[ends]
            value[ends[better]] = offered[better]
            came_from[ends[better]] = start
        starts: list[int] = []
        end = count
        while end > 0:
            end = int(came_from[end])
            starts.append(first + end)
        return starts[::-1]


def _minutes_in_all(days: TimerDays, start: int, behind: int) -> Numbers:
    """Return the lateness, added up, of the stretches from a day on, by their last day."""
    in_all = np.zeros(behind - start, np.int64)
    kinds = days.kind[start:behind]
    for kind in set(kinds.tolist()):
        alike = kinds == kind
        so_far = np.cumsum(alike)
        for needed in days.needed_min[:, start:behind]:
            setting = days.rounded_up(np.maximum.accumulate(np.where(alike, needed, _NEVER)))
            late = so_far * setting - np.cumsum(np.where(alike, needed, 0))
            in_all += np.where(so_far > 0, late, 0)
    return in_all
