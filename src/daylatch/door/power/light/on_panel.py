"""How much light a site's panel gets on each day of a year, at the lower and the upper end.

Light by month is taken so that each month keeps its mean; within it a day's light on the level goes
by what it would be without an atmosphere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.light.plane import receiver
from daylatch.door.power.light.split import (
    LEAST_DIFFUSE,
    day_shape,
    split_high,
    split_known,
    split_low,
)
from daylatch.door.power.light.sun_year import (
    DAY_OF_MONTH,
    DAYS,
    HOUR_ANGLE_RAD,
    MONTH_OF_DAY,
    STEP_H,
    month_means,
    sun_year,
)
from daylatch.sun.crossings import sun_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags
    from daylatch.door.power.light.light_file import MonthlyLight
    from daylatch.door.power.light.plane import Plane, Receiver, Skyline
    from daylatch.door.power.light.split import Split
    from daylatch.door.power.light.sun_year import SunYear
    from daylatch.door.power.light.typical_year import TypicalYear

    Floats = NDArray[np.float64]

_W_PER_KW = 1000.0
_HOURS = 24
_DEG_PER_HOUR = 15
# Three days stand for a month where only its clearness is looked for.
_SAMPLE = np.flatnonzero(np.isin(DAY_OF_MONTH, (5, 15, 25)))
_HALVINGS = 24
_LEAST_KWH = 0.2
"""So much of a cloudless day leaves some light on any [kWh/m²] (this program's choice, no
source)."""


class Source(Enum):
    """Where a site's light comes from."""

    CLEAR_SKY = "clear sky"
    PLANE = "plane"
    HORIZONTAL = "horizontal"
    TYPICAL_YEAR = "typical year"
    MONTHS = "months"


@dataclass(frozen=True, eq=False)
class Light:
    """Light on a panel; each array has an element for each day of a year without a leap day.

    Attributes
    ----------
    source : Source
        Where it comes from.
    low, high : float64
        Both ends [kWh/m² a day]; alike where the light is not split.
    warm_share : float64 or None
        Which share of it comes in hours that are not below 0 °C, where hours are known.
    temperature_c : float64 or None
        The day's mean, where the source has it.
    gaps : bool or None
        Days on which a file of hours has no light though the Sun is up.
    """

    source: Source
    low: Floats
    high: Floats
    warm_share: Floats | None = None
    temperature_c: Floats | None = None
    gaps: Flags | None = None

    @property
    def is_bound(self) -> bool:
        """Whether it is more than there will be."""
        return self.source is Source.CLEAR_SKY

    @property
    def has_range(self) -> bool:
        """Whether its ends differ."""
        return not np.array_equal(self.low, self.high)


@dataclass(frozen=True, eq=False)
class Stand:
    """Where a panel stands, and how.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        North and east positive.
    plane : Plane
        Its plane.
    skyline : Skyline or None
        What shades it.
    sun : SunYear
        The Sun over it.
    """

    latitude_deg: float
    longitude_deg: float
    plane: Plane
    skyline: Skyline | None
    sun: SunYear

    @classmethod
    def at(
        cls, latitude_deg: float, longitude_deg: float, plane: Plane, skyline: Skyline | None
    ) -> Stand:
        """Return a stand at a place."""
        return cls(
            latitude_deg, longitude_deg, plane, skyline, sun_year(latitude_deg, longitude_deg)
        )

    def with_skyline(self, skyline: Skyline | None) -> Stand:
        """Return the same behind a skyline, or without one."""
        return replace(self, skyline=skyline)

    def tilted(self, tilt_deg: float) -> Stand:
        """Return the same with another tilt."""
        return replace(self, plane=self.plane._replace(tilt_deg=tilt_deg))

    def facing(self, azimuth_deg: float) -> Stand:
        """Return the same facing elsewhere."""
        return replace(self, plane=self.plane._replace(azimuth_deg=azimuth_deg))

    def receiver(self) -> Receiver:
        """Return what reaches the panel."""
        return receiver(self.plane, self.sun.altitude_rad, self.sun.azimuth_rad, self.skyline)


def clear_light(stand: Stand) -> Floats:
    """Return the most light of a cloudless sky on a panel [kWh/m² a day], by day.

    As little of it is diffuse as in any hour of Erbs et al. (1982), for a panel that faces the Sun
    gets most of a beam; or all of it, for one behind a hill, or that faces away, gets most of that.
    """
    total, seen = stand.sun.clear, stand.receiver()
    ends = (_by_day(seen.light(total, share * total)) for share in (LEAST_DIFFUSE, 1.0))
    return np.maximum(*ends)


def clear_level(sun: SunYear) -> Floats:
    """Return the same on a horizontal plane."""
    return _by_day(sun.clear)


def from_clear_sky(stand: Stand) -> Light:
    """Return the light of a cloudless sky, which no weather reaches."""
    light = clear_light(stand)
    return Light(Source.CLEAR_SKY, light, light)


def from_level(stand: Stand, months: Floats) -> Light:
    """Return the light by its monthly means on the level [kWh/m² a day].

    What is rounded in a table would grow without bounds under a very low Sun: see `_on_plane`.
    """
    clearness = clearness_of(stand.sun, months)
    seen = stand.receiver()
    ends = [
        _on_plane(stand.sun, seen, clearness, split, of_level=True)
        for split in (split_low, split_high)
    ]
    return _between(Source.HORIZONTAL, *ends)


def from_plane(stand: Stand, months: Floats) -> Light:
    """Return the light by its monthly means on the panel's own plane [kWh/m² a day].

    Which light on the level brings that is found first: a skyline takes more of the beam than of
    the rest.
    """
    open_plane = stand.with_skyline(None).receiver()
    ends = []
    for split in (split_low, split_high):
        clearness = _clearness_on_plane(stand, months, split)
        light = _on_plane(stand.sun, open_plane, clearness, split, of_level=False)
        mean = month_means(light)
        factor = np.divide(months, mean, out=np.zeros_like(months), where=mean > 0)
        if stand.skyline is None:
            ends.append(light * factor[MONTH_OF_DAY])
            # The mean of a month is given, and within it both ends differ by nothing that counts.
            ends.append(ends[0])
            break
        shaded = _on_plane(stand.sun, stand.receiver(), clearness, split, of_level=False)
        ends.append(shaded * factor[MONTH_OF_DAY])
    return _between(Source.PLANE, *ends)


def _between(source: Source, one: Floats, other: Floats) -> Light:
    """Return a range: in summer, on steep planes, the two ways to split change places."""
    return Light(source, np.minimum(one, other), np.maximum(one, other))


def from_months(stand: Stand, file: MonthlyLight) -> Light:
    """Return the light by a file of monthly means."""
    if file.plane is not None:
        found = from_plane(stand, file.plane)
    elif file.diffuse_share is not None and file.level is not None:
        clearness = clearness_of(stand.sun, file.level)
        split = split_known(file.diffuse_share)
        light = _on_plane(stand.sun, stand.receiver(), clearness, split, of_level=True)
        found = Light(Source.MONTHS, light, light)
    else:
        assert file.level is not None
        found = from_level(stand, file.level)
    warmth = None if file.temperature_c is None else file.temperature_c[MONTH_OF_DAY]
    return Light(Source.MONTHS, found.low, found.high, None, warmth)


def from_hours(stand: Stand, file: TypicalYear) -> Light:
    """Return the light hour by hour of a typical year, by its own days."""
    sun = sun_position(stand.latitude_deg, stand.longitude_deg, file.instants_utc)
    altitude, azimuth = np.radians(sun.altitude_deg), np.radians(sun.azimuth_deg)
    seen = receiver(stand.plane, altitude, azimuth, stand.skyline)
    light = seen.light_of_beam(file.beam_normal, file.level, file.diffuse)
    shift = round(stand.longitude_deg / _DEG_PER_HOUR)
    # By days of the place, of which a typical year is a ring.
    by_hour, warmth, level = (
        np.roll(values, shift).reshape(DAYS, _HOURS)
        for values in (light, file.temperature_c, file.level)
    )
    of_day = by_hour.sum(axis=1) / _W_PER_KW
    warm = np.where(warmth >= 0, by_hour, 0.0).sum(axis=1) / _W_PER_KW
    share = np.divide(warm, of_day, out=np.ones_like(warm), where=of_day > 0)
    gaps = (level.sum(axis=1) == 0) & (clear_level(stand.sun) > _LEAST_KWH)
    return Light(Source.TYPICAL_YEAR, of_day, of_day, share, warmth.mean(axis=1), gaps)


def clearness_of(sun: SunYear, months: Floats) -> Floats:
    """Return months' light on the level, of that without an atmosphere; 0 where there is none."""
    airless = month_means(_by_day(sun.airless))
    clearness: Floats = np.divide(months, airless, out=np.zeros_like(months), where=airless > 0)
    return clearness


def _on_plane(
    sun: SunYear, seen: Receiver, clearness: Floats, split: Split, *, of_level: bool
) -> Floats:
    """Return the light on a panel by day, from the clearness of months.

    Of a table on the level, which may be rounded, no beam is taken that is stronger than that of a
    cloudless sky: under a very low Sun a little of it is much on a steep plane.
    """
    of_day = clearness[sun.month] * sun.airless.sum(axis=1)
    total = of_day[:, None] * day_shape(sun.up, HOUR_ANGLE_RAD)
    diffuse = split(sun, clearness, total)
    beam = total - diffuse
    if of_level:
        beam = np.minimum(beam, (1 - LEAST_DIFFUSE) * sun.clear)
    return _by_day(seen.light(beam + diffuse, diffuse))


def _clearness_on_plane(stand: Stand, months: Floats, split: Split) -> Floats:
    """Return the clearness that brings months' light on a plane, or one close by."""
    some = stand.sun.some(_SAMPLE)
    seen = receiver(stand.plane, some.altitude_rad, some.azimuth_rad)
    low, high = np.zeros(len(months)), np.ones(len(months))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        light = _on_plane(some, seen, middle, split, of_level=False)
        enough = np.bincount(some.month, light) / np.bincount(some.month) >= months
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return (low + high) / 2


def _by_day(light: Floats) -> Floats:
    """Return steps' light [W/m²] as that of days [kWh/m²]."""
    of_day: Floats = light.sum(axis=1) * STEP_H / _W_PER_KW
    return of_day
