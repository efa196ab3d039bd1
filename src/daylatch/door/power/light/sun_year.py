"""The Sun's path over a site through a year, in quarter hours.

Light by month is a matter of climate and not of one year, so any year does: on the same date of
another the Sun stands within half a degree. Days are those of local mean solar time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.light.clear_sky import airless, haurwitz
from daylatch.sun.crossings import sun_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Numbers, Times

    Floats = NDArray[np.float64]

DAYS = 365
"""How many rows a year has: 29 February repeats the 28th."""
YEAR = 2027
STEPS = 96
"""How many times a day is looked at, in the middle of each quarter of an hour."""
STEP_H = 24 / STEPS
_S_PER_DEG = 240
_FIRST = np.datetime64(f"{YEAR}-01-01", "D")
DATES = _FIRST + np.arange(DAYS)
HOUR_ANGLE_RAD = np.radians(((np.arange(STEPS) + 0.5) * STEP_H - 12) * 15)
DAY_OF_MONTH = (DATES - DATES.astype("datetime64[M]")).astype(np.int64) + 1
MONTH_OF_DAY = DATES.astype("datetime64[M]").astype(np.int64) % 12
LEAP_ROW = 59
"""Before which row a leap day would stand."""


@dataclass(frozen=True, eq=False)
class SunYear:
    """Where the Sun stands; arrays of days x steps.

    Attributes
    ----------
    days : int64
        Which days of the year they are, from 0.
    altitude_rad, azimuth_rad : float64
        Of its centre, without refraction; from north by east.
    """

    days: Numbers
    altitude_rad: Floats
    azimuth_rad: Floats

    @property
    def month(self) -> Numbers:
        """The month of each day, from 0."""
        return MONTH_OF_DAY[self.days]

    @cached_property
    def up(self) -> Floats:
        """The sine of the altitude, and 0 where the Sun is down."""
        up: Floats = np.maximum(np.sin(self.altitude_rad), 0.0)
        return up

    @cached_property
    def airless(self) -> Floats:
        """Light on a horizontal plane without an atmosphere [W/m²]."""
        number: Floats = self.days.astype(np.float64) + 1
        light: Floats = airless(number)[:, None] * self.up
        return light

    @cached_property
    def clear(self) -> Floats:
        """Light of a cloudless sky on a horizontal plane [W/m²]."""
        return haurwitz(self.up)

    @cached_property
    def sunset_deg(self) -> Floats:
        """The hour angle at sunset, the mean of each month; 180 where the Sun stays up."""
        daylight = (self.up > 0).mean(axis=1) * 180.0
        return np.bincount(self.month, daylight) / np.bincount(self.month)

    def some(self, days: Numbers) -> SunYear:
        """Return some of the days of a whole year, at least one of each month."""
        return SunYear(days, self.altitude_rad[days], self.azimuth_rad[days])


def sun_year(latitude_deg: float, longitude_deg: float) -> SunYear:
    """Return the Sun's path over a place through a year."""
    steps = (np.arange(STEPS) + 0.5) * STEP_H * 3600 - longitude_deg * _S_PER_DEG
    instants = DATES.astype("datetime64[s]")[:, None] + steps.astype(np.int64)
    found = sun_position(latitude_deg, longitude_deg, instants)
    return SunYear(np.arange(DAYS), np.radians(found.altitude_deg), np.radians(found.azimuth_deg))


def rows_of(dates: Times) -> Numbers:
    """Return the row of a year for each date; 29 February has that of the 28th."""
    days = dates.astype("datetime64[D]")
    since = (days - days.astype("datetime64[Y]")).astype(np.int64)
    years = days.astype("datetime64[Y]").astype(np.int64) + 1970
    leap = (years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0))
    rows: Numbers = since - (leap & (since >= LEAP_ROW))
    return rows


def month_means(values: Floats) -> Floats:
    """Return the mean of each month of what has an element a day."""
    return np.bincount(MONTH_OF_DAY, values) / np.bincount(MONTH_OF_DAY)
