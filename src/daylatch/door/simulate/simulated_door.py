"""A door that a controller works by its table and its own clock, beside what was planned.

The controller asks its table again and again what the door should be now, by its own clock, which
may be wrong; without power, and while it does not know, the door stays where it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY, MINUTE
from daylatch.clock import Fold

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.plan.plan import Plan

    Ask = Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.uint8]]

OPEN, SHUT, UNKNOWN = 2, 1, 0
"""What the reader of a table answers (``reader/daylatch_reader.h``)."""

_EPOCH = np.datetime64("2000-01-01", "D")


@dataclass(frozen=True)
class Outage:
    """A time without power [datetime64[m], UTC]; the end is not part of it."""

    begin_utc: np.datetime64
    end_utc: np.datetime64


@dataclass(frozen=True)
class ClockSetting:
    """Somebody sets the controller's clock.

    Attributes
    ----------
    instant_utc : datetime64[m]
        When.
    wrong_min : int
        By how many minutes it is then fast; below 0, slow.
    """

    instant_utc: np.datetime64
    wrong_min: int = 0


@dataclass(frozen=True)
class ClockTroubles:
    """What goes wrong with a controller's clock; it is set right when the simulation begins.

    Attributes
    ----------
    drift_ppm : float
        By how much it runs fast [parts per million]; below 0, slow.
    settings : tuple of ClockSetting
        When somebody sets it, in the order of time.
    misses_changes : bool
        It stays on the time of its last setting when the clock that it keeps changes.
    outages : tuple of Outage
        When there is no power.
    loses_time : bool
        It stops without power, and is not known until it is set again.
    """

    drift_ppm: float = 0.0
    settings: tuple[ClockSetting, ...] = ()
    misses_changes: bool = False
    outages: tuple[Outage, ...] = ()
    loses_time: bool = False


@dataclass(frozen=True)
class DoorDifference:
    """A stretch of time in which the door is not what was planned.

    Attributes
    ----------
    begin_utc, end_utc : datetime64[m]
        The end is not part of it.
    door_is_open : bool
        What the door is; planned is the other.
    clock_off_s : int or None
        By how much the clock is fast when it begins; None where it is not known.
    powered : bool
        Whether there is power when it begins.
    """

    begin_utc: np.datetime64
    end_utc: np.datetime64
    door_is_open: bool
    clock_off_s: int | None
    powered: bool

    @property
    def minutes(self) -> int:
        """How long it lasts."""
        return int((self.end_utc - self.begin_utc) // MINUTE)


@dataclass(frozen=True, eq=False)
class Simulation:
    """A door's life, minute by minute.

    Attributes
    ----------
    plan : Plan
        What was planned.
    troubles : ClockTroubles
        Of the controller's clock.
    minutes_utc : datetime64[m]
        Every minute of the dates.
    door_is_open, planned_open : bool
        What the door is at each of them, and what it should be.
    knows : bool
        Whether the controller has power and knows what the door should be.
    clock_off_s : int
        By how much its clock is fast; where it has none, what it would be.
    has_time, has_power : bool
        Whether the clock can be trusted, by the controller's own lights; whether there is power.
    """

    plan: Plan
    troubles: ClockTroubles
    minutes_utc: Times
    door_is_open: Flags
    planned_open: Flags
    knows: Flags
    clock_off_s: NDArray[np.int64]
    has_time: Flags
    has_power: Flags

    def differences(self) -> list[DoorDifference]:
        """Return every stretch in which door and plan differ, in order."""
        kind = np.where(self.door_is_open == self.planned_open, 0, 1 + self.door_is_open)
        edges = np.flatnonzero(np.diff(kind, prepend=0, append=0))
        return [
            DoorDifference(
                self.minutes_utc[begin],
                self.minutes_utc[end - 1] + MINUTE,
                bool(self.door_is_open[begin]),
                int(self.clock_off_s[begin]) if self.has_time[begin] else None,
                bool(self.has_power[begin]),
            )
            for begin, end in pairwise(edges)
            if kind[begin]
        ]


def simulate(plan: Plan, ask: Ask, troubles: ClockTroubles) -> Simulation:
    """Let a controller work a door over all of a plan's dates but the first.

    Parameters
    ----------
    plan : Plan
        What should be. Its first date is there for its closing, which may be after midnight.
    ask
        The reader of the table: from dates [days since 2000-01-01] and minutes of the day, as the
        controller's clock shows them, to what the door should be. It is asked once a minute.
    troubles
        Of the clock.
    """
    zone = plan.zone
    ends = np.array([plan.dates[1], plan.dates[-1] + DAY], "datetime64[m]")
    first, last = zone.to_instants(ends, Fold.EARLIER)
    minutes: Times = np.arange(first, last, MINUTE)
    has_power = np.ones(minutes.shape, bool)
    has_time = np.ones(minutes.shape, bool)
    for outage in troubles.outages:
        has_power &= (minutes < outage.begin_utc) | (minutes >= outage.end_utc)
        if troubles.loses_time:
            later = [s.instant_utc for s in troubles.settings if s.instant_utc >= outage.end_utc]
            known_again = min(later, default=last)
            has_time &= (minutes < outage.begin_utc) | (minutes >= known_again)
    off_s, set_utc = _clock_error(minutes, troubles)
    offset = _offset(plan, minutes)
    if troubles.misses_changes:
        missed = _offset(plan, set_utc) - offset
        off_s += missed.astype("timedelta64[s]").astype(np.int64)
    shown = minutes.astype("datetime64[s]") + offset + off_s.astype("timedelta64[s]")
    dates = shown.astype("datetime64[D]")
    answers = ask(
        (dates - _EPOCH).astype(np.int64),
        (shown.astype("datetime64[m]") - dates).astype(np.int64),
    )
    planned = _planned_open(plan, minutes)
    knows = has_power & has_time & (answers != UNKNOWN)
    # What the controller last knew holds; before that, what was planned at the begin.
    latest = np.maximum.accumulate(np.where(knows, np.arange(len(minutes)), -1))
    door = np.where(latest < 0, planned[0], answers[latest] == OPEN)
    return Simulation(plan, troubles, minutes, door, planned, knows, off_s, has_time, has_power)


def _clock_error(minutes: Times, troubles: ClockTroubles) -> tuple[NDArray[np.int64], Times]:
    """Return by how much the clock is fast [s] if no change is missed, and when it was last set."""
    settings = [
        ClockSetting(minutes[0]),
        *(setting for setting in troubles.settings if setting.instant_utc > minutes[0]),
    ]
    instants = np.array([setting.instant_utc for setting in settings], "datetime64[m]")
    wrong = np.array([setting.wrong_min for setting in settings])
    row = np.searchsorted(instants, minutes, side="right") - 1
    since_s = (minutes - instants[row]).astype("timedelta64[s]").astype(np.int64)
    off = 60 * wrong[row] + np.round(since_s * troubles.drift_ppm / 1e6)
    return off.astype(np.int64), instants[row]


def _offset(plan: Plan, instants_utc: Times) -> NDArray[np.timedelta64[Any]]:
    """Return the clock that the controller keeps minus UTC."""
    return plan.zone.clock_offset(plan.door_clock, instants_utc)


def _planned_open(plan: Plan, minutes: Times) -> Flags:
    """Return whether the door should be open at each minute."""
    up = plan.is_open
    opened = np.searchsorted(plan.open_utc[up], minutes, side="right")
    closed = np.searchsorted(plan.close_utc[up], minutes, side="right")
    return opened > closed
