"""Where the Sun stands: one short polynomial a day, from the IAU's SOFA routines.

The apparent place of the Sun is computed with ``erfa`` at Greenwich noon of every second day (the
costly part of it, the Earth's place, every fourth day and interpolated) and expanded, for each
day, in cubics about that day's noon. Two curves are enough for everything the program asks: the
equation of time and the sine of the declination. They are kept in blocks of days that begin at
fixed dates, so that a day's polynomial does not depend on the range in which it was asked for.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import erfa
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from numpy.typing import NDArray

FIRST_DAY = np.datetime64("1900-01-01")
LAST_DAY = np.datetime64("2100-12-31")

# One au in light, 499.004783836 s: the IAU's 2012 au (149597870.7 km) over c.
LIGHT_TIME_DAYS_PER_AU = 499.004783836 / 86400.0
# The equatorial horizontal parallax of the Sun at 1 au: asin(6378.1366 km / 149597870.7 km)
# = 8.794143 arc seconds (IAU 2009 system of astronomical constants).
PARALLAX_RAD = 8.794143 / 3600.0 * np.pi / 180.0
# TT - TAI, by definition (IAU 1991).
TT_MINUS_TAI_S = 32.184
JULIAN_DATE_OF_1970 = 2440587.5

_STEP_DAYS = 2
_EARTH_STEP_DAYS = 4
_BLOCK_DAYS = 64
# The value halfway between the middle two of eight even samples (Lagrange's formula).
_HALFWAY = np.array([-5.0, 49.0, -245.0, 1225.0, 1225.0, -245.0, 49.0, -5.0]) / 2048.0
# Nodes about a noon that is itself a sample, and about one that lies between two samples [days].
_NODES_ON_SAMPLE = np.array([-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0])
_NODES_BETWEEN = np.array([-7.0, -5.0, -3.0, -1.0, 1.0, 3.0, 5.0, 7.0])


@dataclass(frozen=True, eq=False)
class SolarDays:
    """The Sun's two curves about Greenwich noon of each day.

    Attributes
    ----------
    equation_of_time_rad : array (4, n)
        Coefficients, constant first, of the equation of time (apparent minus mean solar time, as
        an angle) in powers of days from Greenwich noon [rad, rad/day, ...].
    sin_declination : array (4, n)
        The same for the sine of the Sun's apparent declination.
    parallax_rad : array (n,)
        Horizontal parallax of the Sun [rad].
    """

    equation_of_time_rad: NDArray[np.float64]
    sin_declination: NDArray[np.float64]
    parallax_rad: NDArray[np.float64]


def solar_days(days: NDArray[np.datetime64]) -> SolarDays:
    """Return the Sun's curves for days of the Gregorian calendar.

    Parameters
    ----------
    days
        datetime64[D], any shape; between 1899-12-31 and 2101-01-01, one day more on each side
        than callers may ask of the Sun itself.
    """
    numbers = days.astype("datetime64[D]").astype(np.int64)
    if numbers.ndim == 1 and numbers.size and np.all(np.diff(numbers) == 1):
        return _solar_run(int(numbers[0]), numbers.size)
    of_block, of_day = np.divmod(numbers, _BLOCK_DAYS)
    # Any one block will do where no day is asked for.
    wanted = np.array(sorted(set(of_block.ravel().tolist())) or [0], np.int64)
    blocks = [_solar_block(number) for number in wanted.tolist()]
    index = np.searchsorted(wanted, of_block) * _BLOCK_DAYS + of_day
    return SolarDays(
        np.concatenate([block.equation_of_time_rad for block in blocks], axis=1)[:, index],
        np.concatenate([block.sin_declination for block in blocks], axis=1)[:, index],
        np.concatenate([block.parallax_rad for block in blocks])[index],
    )


def delta_t_s(days_since_1970: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return TT - UT1 in seconds, with UT1 taken as UTC from 1972 on.

    From 1972: 32.184 s plus the leap seconds of IERS Bulletin C, as kept by ``erfa``; the last
    announced value holds for the future. Before: the polynomials of F. Espenak and J. Meeus,
    "Five Millennium Canon of Solar Eclipses", NASA/TP-2006-214141, section 2.7 (from memory,
    checked in the tests against two libraries). The curves move by 0.04 arc seconds for each
    second of Delta T, that is by less than 0.01 s of time.
    """
    year = 1970.0 + days_since_1970 / 365.2425
    table = erfa.leap_seconds.get()
    table = table[table["year"] >= 1972]
    starts = np.array([f"{r['year']:04d}-{r['month']:02d}-01" for r in table], "datetime64[D]")
    row = np.searchsorted(starts.astype(np.int64), days_since_1970, side="right") - 1
    modern = TT_MINUS_TAI_S + table["tai_utc"][np.maximum(row, 0)]
    t = year - 1900.0
    to_1920 = -2.79 + t * (1.494119 + t * (-0.0598939 + t * (0.0061966 - 0.000197 * t)))
    t = year - 1920.0
    to_1941 = 21.20 + t * (0.84493 + t * (-0.076100 + t * 0.0020936))
    t = year - 1950.0
    to_1961 = 29.07 + t * (0.407 + t * (-1.0 / 233.0 + t / 2547.0))
    t = year - 1975.0
    to_1972 = 45.45 + t * (1.067 + t * (-1.0 / 260.0 - t / 718.0))
    return np.select(
        [year < 1920.0, year < 1941.0, year < 1961.0, row < 0],
        [to_1920, to_1941, to_1961, to_1972],
        modern,
    )


@lru_cache(maxsize=64)
def _solar_run(first: int, count: int) -> SolarDays:
    """Return the curves of consecutive days, counted from 1970-01-01."""
    numbers = range(first // _BLOCK_DAYS, (first + count - 1) // _BLOCK_DAYS + 1)
    blocks = [_solar_block(number) for number in numbers]
    skip = first % _BLOCK_DAYS
    return SolarDays(
        np.concatenate([b.equation_of_time_rad for b in blocks], axis=1)[:, skip : skip + count],
        np.concatenate([b.sin_declination for b in blocks], axis=1)[:, skip : skip + count],
        np.concatenate([b.parallax_rad for b in blocks])[skip : skip + count],
    )


@lru_cache(maxsize=2048)
def _solar_block(number: int) -> SolarDays:
    """Return the curves of one block of days."""
    first = number * _BLOCK_DAYS
    start = first - 4 * _STEP_DAYS
    noons = np.arange(start, first + _BLOCK_DAYS + 5 * _STEP_DAYS, _STEP_DAYS)
    equation, sine, distance_au = _sample(noons)
    days = np.arange(first, first + _BLOCK_DAYS)
    return SolarDays(
        _expand(equation, start, days),
        _expand(sine, start, days),
        PARALLAX_RAD / np.interp(days, noons, distance_au),
    )


def _sample(
    noons: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return equation of time [rad], sine of declination and distance [au] at Greenwich noons."""
    first_block = (int(noons[0]) - 4 * _EARTH_STEP_DAYS) // _BLOCK_DAYS
    last_block = (int(noons[-1]) + 4 * _EARTH_STEP_DAYS) // _BLOCK_DAYS
    to_sun = np.concatenate([_apparent_sun(n) for n in range(first_block, last_block + 1)])
    first_node = (noons - first_block * _BLOCK_DAYS) // _EARTH_STEP_DAYS
    halfway = sliding_window_view(to_sun, len(_HALFWAY), axis=0)[first_node - 3] @ _HALFWAY
    on_node = (noons % _EARTH_STEP_DAYS == 0)[:, None]
    apparent = np.where(on_node, to_sun[first_node], halfway)
    distance_au = np.sqrt(np.sum(apparent**2, axis=-1))

    day, tt_fraction = _noon_dates(noons)
    nutation = erfa.nut00b(day, tt_fraction)
    *_, matrix = erfa.pn06(day, tt_fraction, *nutation)
    of_date = np.einsum("nij,nj->ni", matrix, apparent / distance_au[:, None])
    right_ascension = np.arctan2(of_date[:, 1], of_date[:, 0])
    sidereal = erfa.gst06(day, 0.5, day, tt_fraction, matrix)
    equation = np.remainder(sidereal - right_ascension + np.pi, 2.0 * np.pi) - np.pi
    return equation, of_date[:, 2], distance_au


def _noon_dates(noons: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the day and the TT fraction of Greenwich noons, as SOFA's two-part Julian dates."""
    day = np.asarray(noons + JULIAN_DATE_OF_1970, np.float64)
    return day, 0.5 + delta_t_s(noons.astype(np.float64)) / 86400.0


@lru_cache(maxsize=2048)
def _apparent_sun(block: int) -> NDArray[np.float64]:
    """Return (n, 3): the Sun's apparent place, from the Earth on the axes of the GCRS [au].

    At every fourth Greenwich noon of a block of days.
    """
    first = block * _BLOCK_DAYS
    noons = np.arange(first, first + _BLOCK_DAYS, _EARTH_STEP_DAYS)
    day, tt_fraction = _noon_dates(noons)
    with warnings.catch_warnings():
        # The samples reach a few days past 1900 and 2100, where erfa calls a year dubious; the
        # series is as good there.
        warnings.simplefilter("ignore", erfa.ErfaWarning)
        heliocentric, barycentric = erfa.epv00(day, tt_fraction)
    sun_velocity = barycentric["v"] - heliocentric["v"]
    distance_au = np.linalg.norm(heliocentric["p"], axis=-1)
    light_time = distance_au * LIGHT_TIME_DAYS_PER_AU
    to_sun = -heliocentric["p"] - sun_velocity * light_time[:, None]
    direction = to_sun / np.linalg.norm(to_sun, axis=-1)[:, None]
    velocity = barycentric["v"] * LIGHT_TIME_DAYS_PER_AU
    lorentz = np.sqrt(1.0 - np.sum(velocity**2, axis=-1))
    apparent = erfa.ab(direction, velocity, distance_au, lorentz)
    return np.asarray(apparent * distance_au[:, None])


def _taylor_weights(nodes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (4, nodes): weights that give the first four Taylor coefficients at zero."""
    return np.asarray(np.linalg.inv(np.vander(nodes, increasing=True))[:4], np.float64)


def _expand(
    samples: NDArray[np.float64], start: int, days: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return (4, days) Taylor coefficients from samples that begin at day ``start``."""
    out = np.empty((4, len(days)))
    for nodes, odd in ((_NODES_ON_SAMPLE, 0), (_NODES_BETWEEN, 1)):
        here = days % _STEP_DAYS == odd
        first_node = (days[here] + int(nodes[0]) - start) // _STEP_DAYS
        windows = sliding_window_view(samples, len(nodes))[first_node]
        out[:, here] = (windows @ _taylor_weights(nodes).T).T
    return out
