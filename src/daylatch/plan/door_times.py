"""Door times as columns: of one site, an element a day, or of several, days x sites."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import Record
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.daily.rules import Decisions
    from daylatch.plan.daily.settings import DailySettings


FAR_FROM_NIGHT = np.timedelta64(3, "h")
"""A closing with the Sun up and the lower transit further away than this is in daylight (this
program's choice, no source)."""


class SunTimes(NamedTuple):
    """The Sun's day, for reading and drawing: UTC datetime64[us], NaT without a crossing."""

    dawn: Times
    sunrise: Times
    transit: Times
    sunset: Times
    dusk: Times
    dawn_sky: NDArray[np.int8]
    dusk_sky: NDArray[np.int8]
    sunrise_sky: NDArray[np.int8]
    sunset_sky: NDArray[np.int8]


class Guard(NamedTuple):
    """When the Sun passes the guard: whole minutes rounded towards noon, NaT without a crossing."""

    open_utc: Times
    close_utc: Times
    open_sky: NDArray[np.int8]
    close_sky: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class DoorTimes(Record):
    """Door times of consecutive flock days, and how they came about.

    Attributes
    ----------
    dates : datetime64[D]
        The flock days' civil dates; they have no axis of sites.
    day_start_utc, day_end_utc : datetime64[us]
        The lower transits that bound each flock day.
    settings : DailySettings
        The settings in force.
    decisions : Decisions
        Door times with their traces.
    open_event_utc, close_event_utc : datetime64[us]
        The light events chosen by the settings.
    open_sky, close_sky : int8
        The `SkyState` of each side for that light.
    sun : SunTimes
        The Sun's day.
    guard : Guard
        The light past which predators hunt, on either side of the day.
    next_open_utc : datetime64[m]
        The opening that ends the lock-in which each day's closing begins; NaT if the door does
        not close that day, or no opening was found within `LOOK_AHEAD_DAYS` of the last date.
    """

    dates: Times
    day_start_utc: Times
    day_end_utc: Times
    settings: DailySettings
    decisions: Decisions
    open_event_utc: Times
    close_event_utc: Times
    open_sky: NDArray[np.int8]
    close_sky: NDArray[np.int8]
    sun: SunTimes
    guard: Guard
    next_open_utc: Times

    def __len__(self) -> int:
        return len(self.dates)

    @property
    def open_utc(self) -> Times:
        """When the door opens [datetime64[m]]; NaT on days it stays shut."""
        return self.decisions.open.time

    @property
    def close_utc(self) -> Times:
        """When the door closes [datetime64[m]]; NaT on days it stays shut."""
        return self.decisions.close.time

    @property
    def head_count_utc(self) -> Times:
        """When heads would be counted by the plan alone [datetime64[m]]; due: `Due`."""
        return self.close_utc + self.settings.head_count

    @property
    def lock_in(self) -> Minutes:
        """From each planned closing to the next planned opening [timedelta64[m]]; due: `Due`."""
        return self.next_open_utc - self.close_utc

    @property
    def is_open(self) -> Flags:
        """Whether the door opens that day."""
        return ~np.isnat(self.open_utc)

    @cached_property
    def closes_in_daylight(self) -> Flags:
        """Whether the door closes, as planned, with the Sun up and far from night."""
        closes = self.close_utc
        found: Flags = self.is_open & self.sun_is_up(closes) & self.is_far_from_night(closes)
        return found

    def sun_is_up(self, instants_utc: Times) -> Flags:
        """Return whether the Sun stands above the horizon at instants, one a day."""
        sun = self.sun
        before = np.where(
            sun.sunrise_sky == SkyState.CROSSES,
            instants_utc >= sun.sunrise,
            sun.sunrise_sky == SkyState.ALWAYS_ABOVE,
        )
        after = np.where(
            sun.sunset_sky == SkyState.CROSSES,
            instants_utc < sun.sunset,
            sun.sunset_sky == SkyState.ALWAYS_ABOVE,
        )
        return np.where(instants_utc < sun.transit, before, after)

    def is_far_from_night(self, instants_utc: Times) -> Flags:
        """Return whether instants, one a day, lie far from the lower transits of their days."""
        to_night = np.minimum(
            np.abs(instants_utc - self.day_start_utc), np.abs(self.day_end_utc - instants_utc)
        )
        far: Flags = to_night > FAR_FROM_NIGHT
        return far
