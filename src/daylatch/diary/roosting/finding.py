"""The light of the days that come to it: white nights say nothing of one that they never reach."""

from __future__ import annotations

import math
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.roosting.instants import depression_of, light_instants, progress_deg
from daylatch.diary.roosting.light import (
    FEWEST_CHECKS,
    FEWEST_OF_EACH,
    Light,
    combined,
    light_of_checks,
    light_of_moments,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags
    from daylatch.diary.roosting.looks import Half, Looks
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

BELIEVED_DEG = (-6.0, 12.0)
"""Between which depressions a light of hens is believed: from the Sun 6° up, as under black clouds,
to nautical depression (our choice, no source)."""
_DARK_ENOUGH_DEG = (12.0, 6.0)
"""Depressions by which it is begun: nights so dark come to any light that is believed."""
_VAGUEST_DEG = 3.0
"""With a wider interval no light is told (our choice, no source)."""
_ROUNDS = 8
_DIGITS = 2


class WhyNot(Enum):
    """Why no light can be told."""

    TOO_FEW = "too few"
    NO_SUCH_LIGHT = "no such light"
    """Too few of the nights get so dark."""
    BACKWARDS = "backwards"
    """Yes and no do not turn with the light."""
    TOO_VAGUE = "too vague"
    """What there is lies too far apart."""
    NOT_BELIEVED = "not believed"
    """No bird goes in at such a light."""


class NotTold(NamedTuple):
    """That no light can be told, and of what.

    Attributes
    ----------
    looks : Looks
        What was seen.
    why : WhyNot
        Why not.
    moments, yes, no : int
        How many moments there are, and how many checks of either answer.
    waited : int
        On how many mornings the first bird had waited for the door.
    light_deg : float
        The depression that is not believed; NaN otherwise.
    error_deg : float
        Half of the interval that is too wide; NaN otherwise.
    """

    looks: Looks
    why: WhyNot
    moments: int
    yes: int
    no: int
    waited: int = 0
    light_deg: float = math.nan
    error_deg: float = math.nan

    @property
    def half(self) -> Half:
        """Which half of the days."""
        return self.looks.half

    @property
    def days(self) -> int:
        """On how many days something was seen."""
        return len(self.looks)


class Found(NamedTuple):
    """A light, and of what it was found.

    Attributes
    ----------
    light : Light
        What was found.
    kept : bool
        The days that come to it.
    lights : list of Light
        The lights by moments and by looks, as far as there are either.
    """

    light: Light
    kept: Flags
    lights: list[Light]


def find_light(looks: Looks, site: Site) -> Found | NotTold:
    """Return the light of what was seen, on the days that come to it, or why there is none.

    A night that never gets as dark as the flock's light says nothing of it: its birds go in at
    another one. So it begins with the darkest nights, and takes in all that come to their light.
    """
    exact, after, until = (
        progress_deg(looks.half, site, instants)
        for instants in (looks.exact_utc, looks.after_utc, looks.until_utc)
    )
    # A yes that the door's opening brought about is none of somebody who looked; of two looks on
    # one day, whose second came of the first, one counts, whichever that is by the date.
    is_odd = looks.dates.astype(np.int64) % 2 == 1
    both = ~np.isnan(after) & ~np.isnan(until)
    places = _Places(
        exact,
        np.where(looks.is_exact | (both & is_odd), np.nan, after),
        np.where(looks.is_exact | looks.waited | (both & ~is_odd), np.nan, until),
        np.where(looks.waited, until, np.nan),
    )

    def comes_to(sun_deg: float) -> Flags:
        return ~np.isnat(light_instants(looks.half, site, looks.solar_days, sun_deg))

    everyday = np.ones(len(looks), np.bool_)
    starts = [comes_to(depression_of(looks.half, deg)) for deg in _DARK_ENOUGH_DEG]
    for kept in (*starts, everyday):
        found = _light_of(looks, places, kept)
        if isinstance(found, Found):
            break
    else:
        return found
    for _ in range(_ROUNDS):
        kept = comes_to(rounded(found.light.sun_deg))
        if (kept == found.kept).all():
            return found
        again = _light_of(looks, places, kept)
        if isinstance(again, NotTold):
            return again._replace(why=WhyNot.NO_SUCH_LIGHT)
        found = again
    return found


def rounded(sun_deg: float) -> float:
    """Return a light to the hundredths that the site file gets."""
    return round(float(sun_deg), _DIGITS)


class _Places(NamedTuple):
    """Where the Sun was, as `progress_deg` has it; NaN where there is none of an instant."""

    exact: Floats
    after: Floats
    until: Floats
    waited: Floats


def _light_of(looks: Looks, places: _Places, kept: Flags) -> Found | NotTold:
    """Return the light of some of the days."""
    half = looks.half
    low, high = sorted(depression_of(half, end) for end in BELIEVED_DEG)
    checks = np.concatenate([places.after[kept], places.until[kept]])
    answers = np.repeat([False, True], int(kept.sum()))
    # Far from dusk an answer goes without saying, or is a slip, and would tilt the rest.
    near = (checks >= low) & (checks <= high)
    exact = places.exact[kept & ~np.isnan(places.exact)]
    waited = places.waited[kept & ~np.isnan(places.waited)]
    both = (light_of_moments(exact, waited), light_of_checks(checks[near], answers[near]))
    lights = [one for one in both if one is not None]
    yes, no = int((near & answers).sum()), int((near & ~answers).sum())
    if not lights:
        enough = yes + no >= FEWEST_CHECKS and min(yes, no) >= FEWEST_OF_EACH
        why = WhyNot.BACKWARDS if enough else WhyNot.TOO_FEW
        return NotTold(looks, why, len(exact), yes, no, len(waited))
    light = combined(lights)
    if light.error_deg > _VAGUEST_DEG:
        why = WhyNot.TOO_VAGUE
        return NotTold(looks, why, len(exact), yes, no, error_deg=light.error_deg)
    if not low <= light.sun_deg <= high:
        depression = depression_of(half, light.sun_deg)
        why = WhyNot.NOT_BELIEVED
        return NotTold(looks, why, len(exact), yes, no, light_deg=depression)
    return Found(light, kept, lights)
