"""The Sun by the published low-precision formulas, once a day: for checks, never for a plan.

It shares nothing with `daylatch.sun.ephemeris`, neither formulas nor code, so that both can hardly
be wrong together. From 1902 to 2099 it stands within 0.0045 degrees of JPL's and SOFA's Sun
(`tests/sun/test_noon_sun.py` measures that).

References
----------
J. Meeus, Astronomical Algorithms, 2nd ed. (1998): chapter 25, low accuracy, as in the NOAA's
spreadsheet; (12.4) for sidereal time. J. Meeus, Astronomical Formulae for Calculators, 4th ed.
(1988), chapter 18, for what the planets and the Moon add. All numbers from memory; a slip in one
shows in the measured error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Numbers, Times

    Floats = NDArray[np.float64]

# Noon of this date is the epoch J2000.
_EPOCH = np.datetime64("2000-01-01")
_ONE_DAY = np.timedelta64(1, "D")
_CENTURY_DAYS = 36_525.0
# TT - UT1 was about 0 s in 1902 and is taken as 69 s for the future; from the middle it is never so
# far that the Sun, which moves by 0.041" a second, is off by more than 1.5".
_DELTA_T_DAYS = 35.0 / 86_400.0
# What Venus (twice), Jupiter, the Moon and a slow term of Venus and the Earth add to the Sun's
# longitude: amplitude [deg], angle in 1900 [deg], its rate [deg a century]; all as cosines.
_PULLS = (
    (0.00134, 153.23, 22_518.7541),
    (0.00154, 216.57, 45_037.5082),
    (0.00200, 312.69, 32_964.3577),
    (0.00179, 350.74 - 90.0, 445_267.1142),
    (0.00178, 231.19 - 90.0, 20.20),
)


class Place(NamedTuple):
    """Where the Sun stands at instants.

    Attributes
    ----------
    longitude_deg : float64
        Apparent ecliptic longitude.
    declination_rad : float64
        Apparent declination.
    equation_rad : float64
        Equation of time: its hour angle at Greenwich less that of the mean Sun.
    """

    longitude_deg: Floats
    declination_rad: Floats
    equation_rad: Floats


class NoonSun(NamedTuple):
    """Quadratics in days from Greenwich noon, one a date: (3, days), the constant first."""

    equation_rad: Floats
    sin_declination: Floats
    cos_declination: Floats


def noon_sun(days: Times) -> NoonSun:
    """Return the Sun about the Greenwich noons of dates.

    Parameters
    ----------
    days
        (days,) datetime64[D]. All dates between the first and the last are computed.

    Returns
    -------
    NoonSun
        Parabolas through three noons: a day from the middle one they leave the Sun by less than
        0.0001 degrees.
    """
    first = days.min() - _ONE_DAY
    noons = np.arange(first, days.max() + 2 * _ONE_DAY)
    place = place_of((noons - _EPOCH).astype(np.float64))
    middle = (days - first).astype(np.int64)
    return NoonSun(
        _parabolas(place.equation_rad, middle),
        _parabolas(np.sin(place.declination_rad), middle),
        _parabolas(np.cos(place.declination_rad), middle),
    )


def place_of(days_ut: Floats) -> Place:
    """Return the Sun's apparent place.

    Parameters
    ----------
    days_ut
        UT1 since J2000 (2000-01-01 12:00) [days].
    """
    century = (days_ut + _DELTA_T_DAYS) / _CENTURY_DAYS
    mean_deg = 280.46646 + century * (36_000.76983 + century * 0.0003032)
    anomaly = np.radians(357.52911 + century * (35_999.05029 - century * 0.0001537))
    longitude_deg = mean_deg + (
        (1.914602 - century * (0.004817 + century * 0.000014)) * np.sin(anomaly)
        + (0.019993 - century * 0.000101) * np.sin(2.0 * anomaly)
        + 0.000289 * np.sin(3.0 * anomaly)
    )
    for amplitude_deg, angle_deg, rate_deg in _PULLS:
        longitude_deg += amplitude_deg * np.cos(np.radians(angle_deg + rate_deg * (century + 1.0)))
    node = np.radians(125.04 - 1_934.136 * century)
    nutation_deg = -0.00478 * np.sin(node)
    # The constant is aberration.
    longitude_deg += nutation_deg - 0.00569
    longitude = np.radians(longitude_deg)
    obliquity = np.radians(23.439291 - 0.0130042 * century + 0.00256 * np.cos(node))
    sin_longitude, cos_obliquity = np.sin(longitude), np.cos(obliquity)
    right_ascension = np.arctan2(cos_obliquity * sin_longitude, np.cos(longitude))
    # Sidereal time at Greenwich less 15 degrees for each hour since noon: whole turns left out.
    sidereal_deg = (
        280.46061837
        + 0.98564736629 * days_ut
        + 0.000387933 * (days_ut / _CENTURY_DAYS) ** 2
        + nutation_deg * cos_obliquity
    )
    turn = 2.0 * np.pi
    return Place(
        longitude_deg % 360.0,
        np.arcsin(np.sin(obliquity) * sin_longitude),
        (np.radians(sidereal_deg) - right_ascension + np.pi) % turn - np.pi,
    )


def _parabolas(noons: Floats, middle: Numbers) -> Floats:
    before, at, after = noons[middle - 1], noons[middle], noons[middle + 1]
    return np.stack([at, (after - before) / 2.0, (after + before) / 2.0 - at])
