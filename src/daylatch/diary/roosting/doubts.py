"""Why what was learned may be no birds' doing: a clock, a habit, the plan itself, or too little."""

from __future__ import annotations

import math
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.roosting.instants import depression_of
from daylatch.diary.roosting.light import FEWEST_EVENINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.clock import ClockChange, Zone
    from daylatch.diary.roosting.light import Light
    from daylatch.diary.roosting.looks import Looks

    Floats = NDArray[np.float64]

DOUBTED_DEG = (-1.0, 9.0)
"""Outside of these it is asked whether the log's clock is right (our choice, no source)."""
MOST_ERROR_DEG = 1.5
"""With a light known no better nothing is proposed (our choice, no source)."""
_ALIKE_MIN = 0.75
_SAME = 0.8
"""Of the evenings, or of an hour, from which on it is no chance (our choice, no source)."""
_FAR_APART = 1.5
"""In joint errors of 95 %."""
_MOVED_MIN = 20.0
"""By so much the Sun has moved on meanwhile, if one time of the clock is to be odd."""
_BESIDE_CHANGE = (5, 30)
"""How many moments on either side of a change of the clocks are looked at, at least and at most."""


class Doubt(Enum):
    """Why what was learned may be wrong."""

    ONE_TIME = "one time"
    """All at one time of the clock, though the Sun's moved."""
    ALIKE = "alike"
    """All alike, as birds never are."""
    BRIGHT = "bright"
    DARK = "dark"
    """A light in which hens hardly go in."""
    KINDS_DIFFER = "kinds differ"
    """Moments and checks say different lights."""
    JUMPS = "jumps"
    """They jump where the clocks change, as no birds do."""
    VAGUE = "vague"
    """Too little is known of the light."""
    FROM_PLAN = "from plan"
    """They are at the minute at which the door is due."""


GRAVE = frozenset(
    {
        Doubt.ONE_TIME,
        Doubt.ALIKE,
        Doubt.BRIGHT,
        Doubt.DARK,
        Doubt.JUMPS,
        Doubt.VAGUE,
        Doubt.FROM_PLAN,
    }
)
"""Doubts that keep anything from being proposed: a wrong hour costs birds."""


def spread_of(minutes: Floats) -> float:
    """Return half of what the middle two of three values span [min]: a normal one's sigma."""
    if not len(minutes):
        return math.nan
    low, high = np.quantile(minutes, [0.1587, 0.8413])
    return float(high - low) / 2


def find_doubts(
    looks: Looks,
    zone: Zone,
    minutes: Floats,
    light: Light,
    lights: list[Light],
) -> Iterator[Doubt]:
    """Yield why what was learned may be wrong.

    Parameters
    ----------
    minutes
        How long after the light each moment was; NaN where there is none.
    """
    seen = np.isfinite(minutes)
    exact, known = looks.exact_utc[seen], minutes[seen]
    if len(known):
        # A clock of the wall, or one that is not changed with it.
        if any(_is_one_time(one, known) for one in (exact, zone.to_local(exact).wall)):
            yield Doubt.ONE_TIME
        elif len(known) >= FEWEST_EVENINGS and spread_of(known) < _ALIKE_MIN:
            yield Doubt.ALIKE
        if any(_jumps(exact, known, change) for change in zone.changes(exact[0], exact[-1])):
            yield Doubt.JUMPS
    light_deg = depression_of(looks.half, light.sun_deg)
    if light_deg < DOUBTED_DEG[0]:
        yield Doubt.BRIGHT
    if light_deg > DOUBTED_DEG[1]:
        yield Doubt.DARK
    if light.error_deg > MOST_ERROR_DEG:
        yield Doubt.VAGUE
    if len(lights) > 1:
        apart = abs(lights[0].sun_deg - lights[1].sun_deg)
        if apart > _FAR_APART * math.hypot(*(one.error_deg for one in lights)):
            yield Doubt.KINDS_DIFFER


def _is_one_time(instants: Times, minutes: Floats) -> bool:
    """Return whether a clock shows one time at most of some instants, while the Sun moved on."""
    times = (instants - instants.astype("datetime64[D]")).astype("timedelta64[m]")
    values, counts = np.unique(times, return_counts=True)
    same = times == values[np.argmax(counts)]
    is_most = bool(same.mean() >= _SAME and same.sum() >= FEWEST_EVENINGS)
    return is_most and float(np.ptp(minutes[same])) > _MOVED_MIN


def _jumps(instants: Times, minutes: Floats, change: ClockChange) -> bool:
    """Return whether moments jump at a change of the clocks, by most of that change."""
    before, after = (
        minutes[instants < change.instant_utc][-_BESIDE_CHANGE[1] :],
        minutes[instants >= change.instant_utc][: _BESIDE_CHANGE[1]],
    )
    if min(len(before), len(after)) < _BESIDE_CHANGE[0]:
        return False
    return abs(float(np.median(after) - np.median(before))) >= _SAME * abs(change.minutes)
