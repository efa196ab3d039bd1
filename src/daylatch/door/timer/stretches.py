"""Days on which fixed times are wanted, and how late they are from any day to any other.

What a stretch, its lateness and its limits are: `daylatch.door.timer.fewest_changes`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers


NO_LIMIT_MIN = 10**6
"""What stands for no limit."""
# More than any tolerance, so that no stretch keeps one.
_BEYOND_LIMIT = 2 * NO_LIMIT_MIN
_APART = 4 * NO_LIMIT_MIN


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
    limit_min : int64, sides by days, or None
        The greatest setting that each day bears, by its side [min]; never less than it needs.
    """

    needed_min: Numbers
    is_open: Flags
    may_change: Flags
    kind: Numbers
    step_min: int
    circular: bool = False
    limit_min: Numbers | None = None

    def __len__(self) -> int:
        return len(self.is_open)

    def side(self, number: int) -> TimerDays:
        """Return one side by itself."""
        one = slice(number, number + 1)
        limit_min = None if self.limit_min is None else self.limit_min[one]
        return replace(self, needed_min=self.needed_min[one], limit_min=limit_min)

    @property
    def without_limits(self) -> TimerDays:
        """Return the same days, with settings as late as may be."""
        return replace(self, limit_min=None)

    def rounded_up(self, minutes: Any) -> Any:
        """Return the least setting that is not before a time."""
        return -(-minutes // self.step_min) * self.step_min

    @cached_property
    def lateness(self) -> NDArray[np.int32]:
        """The lateness of the stretch from a day on, by its length less one [min].

        Behind the last day, it goes on with the first. Beyond a limit, more than any tolerance.
        """
        table = np.zeros((len(self), len(self)), np.int32)
        for late in self._of_each_kind(len(self), TimerDays._late):
            np.maximum(table, late, out=table)
        return table

    def longest(self, tolerance_min: int) -> Numbers:
        """Return how many days the stretch from each day on may have under a tolerance."""
        rows = np.arange(len(self))
        # Lateness only grows along a row, so all of it is in order if rows are far enough apart.
        found = np.searchsorted(self._in_order, tolerance_min + rows * _APART, side="right")
        return found - rows * len(self)

    @cached_property
    def _in_order(self) -> Numbers:
        return (self.lateness + np.arange(len(self))[:, None] * _APART).ravel()

    def minutes_in_all(self, longest: int) -> NDArray[np.int32]:
        """Return the lateness, added up, of the stretch from a day on, by its length less one.

        Parameters
        ----------
        longest
            The most days that a stretch is asked for.
        """
        table = np.zeros((len(self), longest), np.int32)
        for late in self._of_each_kind(longest, TimerDays._late_in_all):
            table += late
        table[~self.is_open] = 0
        return table

    def _of_each_kind(
        self, longest: int, find: Callable[[TimerDays, int], NDArray[np.int32]]
    ) -> Iterator[NDArray[np.int32]]:
        """Yield what is found for one kind of days by itself, by the stretches of all days."""
        for kind in sorted(set(self.kind.tolist())):
            alike = self.kind == kind
            days = np.flatnonzero(alike)
            if days.size == len(self):
                yield find(self, longest)
                continue
            found = find(self._only(days), min(longest, days.size))
            # By the first day of this kind, and how many there are; of none there is nothing.
            found = np.pad(found, ((0, 0), (1, 0)))
            first = np.searchsorted(days, np.arange(len(self))) % days.size
            yield found[first[:, None], _sums(alike, longest)]

    def _only(self, days: Numbers) -> TimerDays:
        return replace(
            self,
            needed_min=self.needed_min[:, days],
            is_open=self.is_open[days],
            may_change=self.may_change[days],
            kind=self.kind[days],
            limit_min=None if self.limit_min is None else self.limit_min[:, days],
        )

    def _late(self, longest: int) -> NDArray[np.int32]:
        """Return the lateness of the stretch from a day on, all days taken as of one kind."""
        table = np.zeros((len(self), longest), np.int32)
        for side, needed in enumerate(self.needed_min):
            settings = self._settings(side, longest)
            late = settings - np.minimum.accumulate(_windows(needed, longest), axis=1)
            if self.limit_min is not None and (self.limit_min[side] < NO_LIMIT_MIN).any():
                limits = np.minimum.accumulate(_windows(self.limit_min[side], longest), axis=1)
                late[settings > limits] = _BEYOND_LIMIT
            np.maximum(table, late, out=table)
        return table

    def _late_in_all(self, longest: int) -> NDArray[np.int32]:
        """Return that lateness added up."""
        table = np.zeros((len(self), longest), np.int32)
        counted = np.arange(1, longest + 1, dtype=np.int32)
        for side, needed in enumerate(self.needed_min):
            table += self._settings(side, longest) * counted
            table -= _sums(needed, longest)
        return table

    def _settings(self, side: int, longest: int) -> NDArray[np.int32]:
        steps = self.rounded_up(self.needed_min[side])
        settings: NDArray[np.int32] = np.maximum.accumulate(_windows(steps, longest), axis=1)
        return settings

    @property
    def runs(self) -> list[tuple[int, int]]:
        """The runs of days that are all open or all shut: the first, and the one behind."""
        edges = [0, *(np.flatnonzero(np.diff(self.is_open)) + 1).tolist(), len(self)]
        return list(pairwise(edges))


def _windows(column: NDArray[Any], length: int) -> NDArray[np.int32]:
    """Return the so many days from each day on, a row each; behind the last comes the first."""
    twice = np.append(column, column).astype(np.int32)
    rows: NDArray[np.int32] = sliding_window_view(twice, length)[: len(column)]
    return rows


def _sums(column: NDArray[Any], longest: int) -> NDArray[np.int32]:
    """Return what the days from each day on add up to, by how many they are less one."""
    sums = np.append(0, np.cumsum(np.append(column, column)))
    rows = sliding_window_view(sums[1:], longest)[: len(column)] - sums[: len(column), None]
    sums_of: NDArray[np.int32] = rows.astype(np.int32)
    return sums_of
