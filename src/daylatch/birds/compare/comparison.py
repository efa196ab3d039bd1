"""Two plans of the same dates, side by side: what one set of rules costs or gains against another.

What is said of the second plan is said against the first: a gain is open time that only the second
has. Rules are held against rules, so all times are planned ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.nights.nights import Nights, make_nights
from daylatch.errors import PlanError
from daylatch.plan.due import exactly

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.plan import Plan


_ZERO = np.timedelta64(0, "m")


@dataclass(frozen=True, eq=False)
class Comparison:
    """Two plans with an element for each day that both have.

    Attributes
    ----------
    first, second : Plan
        Of the same dates.
    first_name, second_name : str
        What they are called beside each other.
    first_nights, second_nights : Nights
        Their lock-ins.
    """

    first: Plan
    second: Plan
    first_name: str
    second_name: str
    first_nights: Nights
    second_nights: Nights

    @property
    def dates(self) -> Times:
        """The dates [datetime64[D]]."""
        return self.first.dates

    @cached_property
    def open_moved(self) -> Minutes:
        """By how much the second opens later on the wall clock [timedelta64[m]]; NaT if shut."""
        return self.second.on_wall(self.second.open_utc).wall - (
            self.first.on_wall(self.first.open_utc).wall
        )

    @cached_property
    def close_moved(self) -> Minutes:
        """By how much the second closes later on the wall clock [timedelta64[m]]; NaT if shut."""
        return self.second.on_wall(self.second.close_utc).wall - (
            self.first.on_wall(self.first.close_utc).wall
        )

    @cached_property
    def changed(self) -> Flags:
        """Whether a day has other times, or is shut in one plan only."""
        moved = (self.open_moved != _ZERO) | (self.close_moved != _ZERO)
        changed: Flags = moved & (self.first.is_open | self.second.is_open)
        return changed

    @cached_property
    def gained(self) -> Minutes:
        """How much longer the second is open on each day [timedelta64[m]]; negative is a loss."""
        gained: Minutes = open_time(self.second) - open_time(self.first)
        return gained


def compare_plans(first: Plan, second: Plan, first_name: str, second_name: str) -> Comparison:
    """Return two plans side by side.

    Raises
    ------
    PlanError
        If they do not have the same dates, as where one site's calendar skipped a date.
    """
    if first.dates.shape != second.dates.shape or (first.dates != second.dates).any():
        raise PlanError(
            "the two sites do not have the same dates (one calendar skipped a date): compare them "
            "on other dates"
        )
    return Comparison(
        first,
        second,
        first_name,
        second_name,
        make_nights(exactly(first)),
        make_nights(exactly(second)),
    )


def open_time(plan: Plan) -> Minutes:
    """Return how long the door is open on each day [timedelta64[m]]; zero where it stays shut."""
    return np.where(plan.is_open, plan.close_utc - plan.open_utc, _ZERO)


def open_before_dawn(nights: Nights) -> Flags:
    """Return on which days the door opens before civil dawn, or on a day without one."""
    return nights.plan.open_utc < nights.light.start


def open_after_dusk(nights: Nights) -> Flags:
    """Return on which days the door closes after civil dusk, or on a day without one."""
    return nights.plan.close_utc > nights.light.end


def open_in_the_dark(nights: Nights) -> Minutes:
    """Return how long the door is open on each day with the Sun below civil depression."""
    light = nights.light.end - nights.light.start
    dark: Minutes = open_time(nights.plan) - (light - nights.day_waking)
    return dark
