"""On which days to change fixed times, so that they are changed least, or are late least.

Whole numbers only: no clock, no hens. A *stretch* of days has one setting for each side (opening
and closing, or one of them) and each kind of day (such as weekdays that share a setting): the
least multiple of the step that is not before any of the stretch's days. Its *lateness* is the most
by which a setting comes after one of its days. Days may have a limit: a stretch with a setting
beyond that of one of its days keeps no tolerance.

What makes the results exact: a part of a stretch is never later than the whole, because over fewer
days the latest day is no later and the earliest no earlier; nor is it beyond a limit that the whole
keeps.

* **Fewest stretches within a tolerance.** Beginning with the first day, make each stretch as long
  as the tolerance lets it be. Whatever other list keeps the tolerance, its n-th stretch ends no
  later than the n-th of this one: true of the first, and if true of the n-th, the other's next
  stretch without its first days is a stretch that could begin where this list's next one begins,
  is no later, and ends no further than that can reach. So no list has fewer.
* **Least lateness with at most so many stretches.** The fewest stretches never become more as the
  tolerance grows, and lateness is a whole number of minutes: halving finds the least tolerance that
  so many stretches keep.
* **Least lateness added up**, among all lists that are best in both of these: a dynamic programme,
  stretch by stretch. With as few stretches as can be, the n-th cannot begin later than that of the
  list above, nor so early that the rest cannot come to the end. Between these two lie few days, and
  no day lies there for two stretches: it could be reached with fewer.
* **A year that comes round.** Days in a circle have a stretch that reaches over their end to their
  beginning. Every list has a stretch that holds the first day, and changes no later than that day's
  stretch can reach: the circle is cut open at each day up to there, and the best line wins. All
  lines are looked at together; one column of an array is one stretch of each of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.timer.stretches import NO_LIMIT_MIN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Numbers
    from daylatch.door.timer.stretches import TimerDays


# More than all minutes of all days together.
_TOO_LATE = 10**9


def settings_of(days: TimerDays, starts: list[int]) -> Numbers:
    """Return every day's setting, sides by days [min]; on shut days, what was needed.

    Parameters
    ----------
    days
        What they have to do.
    starts
        The first day of each stretch, in order.
    """
    stretch = np.searchsorted(starts, np.arange(len(days)), side="right") - 1
    kinds, kind = np.unique(days.kind, return_inverse=True)
    # The days before the first stretch go on with the last.
    own = stretch % len(starts) * len(kinds) + kind
    latest = np.full((len(days.needed_min), len(starts) * len(kinds)), -NO_LIMIT_MIN)
    for setting, needed in zip(latest, days.needed_min, strict=True):
        np.maximum.at(setting, own, needed)
    return np.where(days.is_open, days.rounded_up(latest[:, own]), days.needed_min)


def lateness_of(days: TimerDays, starts: list[int]) -> int:
    """Return the worst lateness of a list [min], whether it keeps its limits or not."""
    return int((settings_of(days, starts) - days.needed_min).max())


def all_starts(days: TimerDays) -> list[int]:
    """Return every day on which a stretch may begin: the list that is late least."""
    edges = {first for first, _ in days.runs}
    allowed = np.flatnonzero(days.may_change & days.is_open).tolist()
    return sorted(edges.union(allowed))


def fewest(days: TimerDays, tolerance_min: int | None) -> list[int] | None:
    """Return the first days of the fewest stretches that keep a tolerance; None if none do.

    Without a tolerance, those that cannot be done without; None if none keep the limits.
    """
    ways = _Ways(days, NO_LIMIT_MIN if tolerance_min is None else tolerance_min)
    walked = ways.walk(len(days))
    return None if walked is None else sorted((walked[0] % len(days)).tolist())


def least_late(days: TimerDays, most: int) -> int | None:
    """Return the least tolerance that at most so many stretches keep [min]; None if none do."""
    loosest = fewest(days, None)
    if loosest is None or len(loosest) > most:
        return None
    low = lateness_of(days, all_starts(days))
    high = lateness_of(days, loosest)
    while low < high:
        middle = (low + high) // 2
        if _Ways(days, middle).walk(most) is not None:
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
    ways = _Ways(days, tolerance_min)
    walked = ways.walk(len(days))
    assert walked is not None
    return sorted((ways.best(walked) % len(days)).tolist())


class _Ways:
    """From which day to which a stretch may go, under a tolerance; days count on behind the last.

    Attributes
    ----------
    cuts : int64
        The days at which a circle is cut open to a line, to find its best list; of a line, its
        first day.
    far : int64
        By the first day: the day behind the longest stretch.
    next : int64
        By the first day: the last day up to there on which the next stretch may begin; the first
        day itself if there is none.
    starts : int64
        All days on which a stretch may begin.
    """

    def __init__(self, days: TimerDays, tolerance_min: int) -> None:
        self._days = days
        count = len(days)
        first = np.arange(count)
        edge = days.is_open != np.roll(days.is_open, 1)
        edges = np.flatnonzero(np.tile(edge, 2))
        self.far = first + days.longest(tolerance_min)
        if edges.size:
            behind = edges[np.searchsorted(edges, first, side="right")]
            self.far = np.where(days.is_open, np.minimum(self.far, behind), behind)
        else:
            self.far = np.where(days.is_open, self.far, first + count)
        may_start = np.tile(days.may_change & days.is_open | edge, 2)
        self.starts = np.flatnonzero(may_start)
        twice = np.arange(2 * count)
        last_start = np.maximum.accumulate(np.where(may_start, twice, -1))
        self.next = np.maximum(last_start[np.minimum(self.far, 2 * count - 1)], first)
        self.cuts = self._cuts(edges)
        self.far = np.append(self.far, self.far + count)
        self.next = np.append(self.next, self.next + count)

    def _cuts(self, edges: Numbers) -> Numbers:
        inner = edges[(edges > 0) & (edges < len(self._days))]
        if not self._days.circular:
            return np.array([0])
        if inner.size:
            # Every list changes there.
            return np.array([0, inner[0]])
        held = self._days.may_change[1 : self.far[0] + 1]
        return np.append(0, np.flatnonzero(held) + 1)

    def walk(self, most: int) -> Numbers | None:
        """Return the fewest stretches' first days as late as they can be, a row for each cut.

        None if so many stretches do not do. Cuts that need more are left out.
        """
        at, ends = self.cuts, self.cuts + len(self._days)
        rows = []
        for _ in range(most):
            rows.append(at)
            done = self.far[at] >= ends
            if done.any():
                latest: Numbers = np.stack(rows, axis=1)[done]
                return latest
            at = self.next[at]
        return None

    def best(self, latest: Numbers) -> Numbers:
        """Return the first days of as many stretches, the least late in all.

        Parameters
        ----------
        latest
            What `walk` returned. No list with as few stretches has its n-th begin later, nor
            earlier than the rest of them can make up for.
        """
        ends = latest[:, :1] + len(self._days)
        low = np.searchsorted(self.starts, self._earliest(latest, ends[:, 0]))
        high = np.searchsorted(self.starts, latest)
        late = self._minutes_in_all()
        at, value = latest[:, :1], np.zeros((len(latest), 1), np.int64)
        columns, came_from = [], []
        for number in range(1, latest.shape[1] + 1):
            columns.append(at)
            if number < latest.shape[1]:
                # Lines with fewer days to begin on have their last one more than once.
                beside = np.arange((high[:, number] - low[:, number]).max() + 1)
                ranks = np.minimum(low[:, number, None] + beside, high[:, number, None])
                there = self.starts[ranks]
            else:
                there = ends
            length = np.minimum(there[:, None, :] - at[:, :, None], late.shape[1])
            offered = late[(at % len(self._days))[:, :, None], length - 1] + value[:, :, None]
            came_from.append(offered.argmin(axis=1))
            value = offered.min(axis=1)
            at = there
        line = int(value[:, 0].argmin())
        column, found = 0, []
        for chosen, starts in zip(came_from[::-1], columns[::-1], strict=True):
            column = chosen[line, column]
            found.append(starts[line, column])
        return np.array(found)

    def _minutes_in_all(self) -> NDArray[np.int32]:
        """Return the lateness of stretches added up, with no end to it where they are too long."""
        reach = self.far[: len(self._days)] - np.arange(len(self._days))
        longest = int(reach.max())
        late = np.full((len(reach), longest + 1), _TOO_LATE, np.int32)
        inside = np.arange(longest) < reach[:, None]
        np.copyto(late[:, :longest], self._days.minutes_in_all(longest), where=inside)
        return late

    def _earliest(self, latest: Numbers, ends: Numbers) -> Numbers:
        """Return the first days from which so many stretches still come to the end, as `latest`."""
        earliest = latest.copy()
        behind = ends
        for number in range(latest.shape[1] - 1, 0, -1):
            day = np.searchsorted(self.far, behind)
            behind = self.starts[np.searchsorted(self.starts, day)]
            earliest[:, number] = behind
        return earliest
