"""Lock-ins: how long the birds are shut in, and how much of that it is light.

A lock-in runs from a closing to the next opening, in UTC, and belongs to its closing date. Its
*dark* part has the Sun below civil depression; the rest is its *waking* part, light enough for
birds to be awake and shut in. The light of a lamp counts as waking too. Beside the nights stand the
flock days: how much of each the door is shut, and shut in the light. They tile the time line, so
months are added up from them. All of it is by due times: when the door really moves.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.sun.crossings import SkyState, sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan


_ZERO = np.timedelta64(0, "us")
_NOT_KNOWN = np.timedelta64("NaT", "us")


class LitStretches(NamedTuple):
    """When it is light: stretches in order, apart from each other.

    Of the natural light there is one a flock day, empty on dark days: civil dawn and dusk, or the
    day's own bounds where the Sun stays above; both are the transit where it stays below.

    Attributes
    ----------
    start, end : datetime64[us]
        Where each begins and ends.
    """

    start: Times
    end: Times

    def before(self, instants: Times) -> Minutes:
        """Return how much light there was before instants [timedelta64[us]], from the first on."""
        if not len(self.start):
            return np.where(np.isnat(instants), _NOT_KNOWN, _ZERO)
        sums = np.append(_ZERO, np.cumsum(self.end - self.start))
        known = ~np.isnat(instants)
        at = np.where(known, instants, self.start[0]).astype("datetime64[us]")
        # Before the first day's light the index would be -1.
        index = np.maximum(np.searchsorted(self.start, at, side="right") - 1, 0)
        within = np.clip(at, self.start[index], self.end[index]) - self.start[index]
        return np.where(known, sums[index] + within, _NOT_KNOWN)


class LampLight(NamedTuple):
    """When a lamp burns, on to the end of the last lock-in.

    Attributes
    ----------
    burns : LitStretches
        When it burns, by day or night.
    alone : LitStretches
        When it burns and it is not light by nature.
    """

    burns: LitStretches
    alone: LitStretches


@dataclass(frozen=True, eq=False)
class Nights:
    """The lock-ins of a plan, in the order of their closing dates, and its flock days.

    Attributes
    ----------
    due : Due
        When the door moves.
    rows : int
        The plan's rows whose closings begin them; the columns up to ``shut_days`` have an element
        for each.
    start_utc, end_utc : datetime64[m]
        Closing and next opening; the end is NaT if none is known (open-ended).
    length, waking, dark : timedelta64[us]
        Waking and dark add up to the length; NaT where that is not known.
    open_span : timedelta64[m]
        How long the door was open before the closing.
    shut_days : int
        Whole flock days on which the door stays shut meanwhile; where the end is not known, those
        that the plan holds.
    light : LitStretches
        When it is light by nature on the plan's flock days.
    lamp : LampLight
        When a lamp burns.
    lamp_lit, lamp_burns : timedelta64[us]
        Of each lock-in: how much of its waking part is the lamp's alone, and how long the lamp
        burns in it, be it light by nature or not.
    day_shut, day_waking, day_lamp, day_burns : timedelta64[us]
        Of each flock day of the plan: how long the door is shut, how much of that it is light, how
        much of that by the lamp alone, and how long the lamp burns behind the shut door.
    """

    due: Due
    rows: NDArray[np.intp]
    start_utc: Times
    end_utc: Times
    length: Minutes
    waking: Minutes
    dark: Minutes
    open_span: Minutes
    shut_days: NDArray[np.intp]
    light: LitStretches
    lamp: LampLight
    lamp_lit: Minutes
    lamp_burns: Minutes
    day_shut: Minutes
    day_waking: Minutes
    day_lamp: Minutes
    day_burns: Minutes

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def plan(self) -> Plan:
        """The plan that the due times belong to."""
        return self.due.plan

    @cached_property
    def dates(self) -> Times:
        """The closing dates [datetime64[D]]."""
        return self.plan.dates[self.rows]

    @cached_property
    def has_lamp(self) -> bool:
        """Whether a lamp makes part of the door's shut time light."""
        return bool((self.day_lamp > _ZERO).any() or (self.lamp_lit > _ZERO).any())

    @cached_property
    def known(self) -> Flags:
        """Whether the end of each lock-in is known."""
        return ~np.isnat(self.end_utc)

    @cached_property
    def single(self) -> Flags:
        """Whether each lock-in is known to be of one night, without a day shut all day."""
        single: Flags = self.known & (self.shut_days == 0)
        return single


NO_LAMP = LampLight(*[LitStretches(*[np.array([], "datetime64[us]")] * 2)] * 2)


def make_nights(due: Due, lamp: LampLight = NO_LAMP) -> Nights:
    """Return the lock-ins of due times.

    Parameters
    ----------
    due
        When the door moves.
    lamp
        When a lamp burns.

    Raises
    ------
    PlanError
        If the flock days beyond the plan's end, into which its last lock-in runs, cannot be found.
    """
    plan = due.plan
    opens, closes = due.told_open_utc, due.told_close_utc
    rows = np.flatnonzero(due.is_open)
    start, end = closes[rows], due.next_open_utc[rows]
    lower, light = light_until(plan, end)
    lamp_lit, lamp_burns = (
        when.before(end) - when.before(start) for when in (lamp.alone, lamp.burns)
    )
    waking = light.before(end) - light.before(start) + lamp_lit
    length = (end - start).astype("timedelta64[us]")
    here = LitStretches(*(column[: len(plan)] for column in light))
    bounds = lower[: len(plan) + 1]
    open_span = np.where(due.is_open, closes - opens, np.timedelta64(0, "m"))
    last = np.where(np.isnat(end), len(plan), np.searchsorted(lower, end, side="right") - 1)
    day_lamp, day_burns = (
        np.diff(when.before(bounds))
        - np.where(due.is_open, when.before(closes) - when.before(opens), _ZERO)
        for when in (lamp.alone, lamp.burns)
    )
    return Nights(
        due=due,
        rows=rows,
        start_utc=start,
        end_utc=end,
        length=length,
        waking=waking,
        dark=length - waking,
        open_span=open_span[rows],
        shut_days=last - rows - 1,
        light=here,
        lamp=lamp,
        lamp_lit=lamp_lit,
        lamp_burns=lamp_burns,
        day_shut=np.diff(bounds) - open_span,
        day_waking=waking_by_day(here, opens, closes) + day_lamp,
        day_lamp=day_lamp,
        day_burns=day_burns,
    )


def waking_by_day(light: LitStretches, open_utc: Times, close_utc: Times) -> Minutes:
    """Return for each flock day how long it is light while the door is shut [timedelta64[us]].

    Parameters
    ----------
    light
        Of the same days.
    open_utc, close_utc
        datetime64[m]; NaT on days on which the door stays shut.
    """
    up = ~np.isnat(open_utc)
    opens = np.where(up, np.clip(open_utc, light.start, light.end), light.start)
    closes = np.where(up, np.clip(close_utc, light.start, light.end), light.start)
    waking: Minutes = (light.end - light.start) - (closes - opens)
    return waking


def light_of(
    start: Times, transit: Times, end: Times, crossings: tuple[Times, Times, Any, Any]
) -> LitStretches:
    """Return when it is light on flock days.

    Parameters
    ----------
    start, transit, end
        Bounds and middle of the flock days [datetime64[us]].
    crossings
        Rising and setting [datetime64[us]] through the altitude that counts as light, and the
        `SkyState` of the dawn and the dusk side.
    """
    rising, setting, dawn_sky, dusk_sky = crossings
    dark = (dawn_sky == SkyState.ALWAYS_BELOW, dusk_sky == SkyState.ALWAYS_BELOW)
    return LitStretches(
        np.select([dawn_sky == SkyState.CROSSES, dark[0]], [rising, transit], start),
        np.select([dusk_sky == SkyState.CROSSES, dark[1]], [setting, transit], end),
    )


def light_until(plan: Plan, ends_utc: Times) -> tuple[Times, LitStretches]:
    """Return the flock days of a plan and on to the last of some instants, with their light.

    Parameters
    ----------
    plan
        Whose first day is the first.
    ends_utc
        datetime64[m]; the last flock day reaches past all of them.

    Returns
    -------
    lower : datetime64[us]
        Bounds of the flock days, one more than days.
    light : LitStretches
        Their light.
    """
    last = plan.dates[-1]
    known = ends_utc[~np.isnat(ends_utc)]
    if known.size:
        # The date at the site may be a day on.
        last = max(last, known.max().astype("datetime64[D]") + DAY)
    site = plan.site
    days = find_flock_days(site.longitude_deg, plan.zone, plan.dates[0], last, spare=0)
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, days.solar_days, CIVIL_ALTITUDE_DEG)
    lower = days.lower_utc
    return lower, light_of(
        lower[:-1],
        days.transit_utc,
        lower[1:],
        (sun.rising, sun.setting, sun.dawn_sky, sun.dusk_sky),
    )
