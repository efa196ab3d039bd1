"""Where the Sun stands: one short polynomial a day, from the IAU's SOFA routines.

The apparent place of the Sun is computed with ``erfa`` at Greenwich noon of every second day (the
costly part of it, the Earth's place and motion, every eighth day and interpolated) and expanded,
for each day, in cubics about that day's noon. Two curves are enough for everything the program
asks: the equation of time and the sine of the declination. They are kept in blocks of days that
begin at fixed dates, so that a day's polynomial does not depend on the range in which it was asked
for.
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
_EARTH_STEP_DAYS = 8
_EARTH_BLOCK_DAYS = 64
_BLOCK_DAYS = 128
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
    starts, tai_minus_utc_s = _leap_seconds()
    row = np.searchsorted(starts, days_since_1970, side="right") - 1
    modern = TT_MINUS_TAI_S + tai_minus_utc_s[np.maximum(row, 0)]
    if np.all(row >= 0):
        return np.asarray(modern)
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


@lru_cache(maxsize=1)
def _leap_seconds() -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the days since 1970 on which TAI - UTC took a new value, and the values [s]."""
    table = erfa.leap_seconds.get()
    table = table[table["year"] >= 1972]
    starts = np.array([f"{r['year']:04d}-{r['month']:02d}-01" for r in table], "datetime64[D]")
    return starts.astype(np.int64), np.asarray(table["tai_utc"], np.float64)


@lru_cache(maxsize=64)
def _solar_run(first: int, count: int) -> SolarDays:
    """Return the curves of consecutive days, counted from 1970-01-01."""
    numbers = range(first // _BLOCK_DAYS, (first + count - 1) // _BLOCK_DAYS + 1)
    blocks = [_solar_block(number) for number in numbers]
    cut = slice(first % _BLOCK_DAYS, first % _BLOCK_DAYS + count)
    return _keep(
        SolarDays(
            np.concatenate([b.equation_of_time_rad for b in blocks], axis=1)[:, cut],
            np.concatenate([b.sin_declination for b in blocks], axis=1)[:, cut],
            np.concatenate([b.parallax_rad for b in blocks])[cut],
        )
    )


@lru_cache(maxsize=2048)
def _solar_block(number: int) -> SolarDays:
    """Return the curves of one block of days."""
    first = number * _BLOCK_DAYS
    # As many samples more on each side as the widest set of nodes reaches.
    noons = np.arange(first - 8, first + _BLOCK_DAYS + 7, _STEP_DAYS)
    equation, sine, distance_au = _sample(noons)
    days = np.arange(first, first + _BLOCK_DAYS)
    coefficients = _expand(np.stack([equation, sine]))
    return _keep(
        SolarDays(
            coefficients[0], coefficients[1], PARALLAX_RAD / np.interp(days, noons, distance_au)
        )
    )


def _sample(
    noons: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return equation of time [rad], sine of declination and distance [au] at Greenwich noons."""
    delta_t_days = delta_t_s(noons.astype(np.float64)) / 86400.0
    to_sun, velocity = _sun_and_motion(noons, delta_t_days)
    distance_au = np.sqrt(np.sum(to_sun**2, axis=-1))
    # Annual aberration, from the Earth's motion in units of the speed of light.
    in_light = velocity * LIGHT_TIME_DAYS_PER_AU
    lorentz = np.sqrt(1.0 - np.sum(in_light**2, axis=-1))
    apparent = erfa.ab(to_sun / distance_au[:, None], in_light, distance_au, lorentz)

    # SOFA takes dates in two parts, here the day and its fraction.
    day, tt_fraction = noons + JULIAN_DATE_OF_1970, 0.5 + delta_t_days
    nutation = erfa.nut00b(day, tt_fraction)
    *_, matrix = erfa.pn06(day, tt_fraction, *nutation)
    of_date = np.einsum("nij,nj->ni", matrix, apparent)
    right_ascension = np.arctan2(of_date[:, 1], of_date[:, 0])
    sidereal = erfa.gst06(day, 0.5, day, tt_fraction, matrix)
    equation = np.remainder(sidereal - right_ascension + np.pi, 2.0 * np.pi) - np.pi
    return equation, of_date[:, 2], distance_au


def _sun_and_motion(
    noons: NDArray[np.int64], delta_t_days: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (n, 3): the Sun as it is seen from the Earth [au], and the Earth's motion [au/day].

    On the axes of the GCRS, at Greenwich noons on even days. Between the nodes of `_earth` by
    Hermite's formula (place and motion at four nodes), which follows also the Earth's monthly
    swing about its common centre with the Moon.
    """
    first = (int(noons[0]) - _EARTH_STEP_DAYS) // _EARTH_BLOCK_DAYS
    last = (int(noons[-1]) + 2 * _EARTH_STEP_DAYS) // _EARTH_BLOCK_DAYS
    nodes = np.concatenate([_earth(block) for block in range(first, last + 1)])
    node, offset = np.divmod(noons - first * _EARTH_BLOCK_DAYS, _EARTH_STEP_DAYS)
    around = sliding_window_view(nodes, 4, axis=0)[node - 1]
    lagrange, of_place, of_motion = (weights[offset // _STEP_DAYS] for weights in _BETWEEN_NODES)

    def between(kind: int, weights: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.einsum("nck,nk->nc", around[:, kind], weights))

    motion, barycentric_motion = between(_MOTION, lagrange), between(_BARYCENTRIC, lagrange)
    place = between(_PLACE, of_place) + between(_MOTION, of_motion)
    # From noon TT, the time of the nodes (which knows no leap seconds), to noon UT1.
    place = place + motion * delta_t_days[:, None]
    # The Sun is seen where it was when its light left it.
    light_time = np.sqrt(np.sum(place**2, axis=-1)) * LIGHT_TIME_DAYS_PER_AU
    return -place - (barycentric_motion - motion) * light_time[:, None], barycentric_motion


_PLACE, _MOTION, _BARYCENTRIC = range(3)


@lru_cache(maxsize=2048)
def _earth(block: int) -> NDArray[np.float64]:
    """Return (n, 3, 3): the Earth at 12:00 TT of every eighth day of a block.

    Its heliocentric place [au] and motion [au/day] and its barycentric motion.
    """
    first = block * _EARTH_BLOCK_DAYS
    day = np.arange(first, first + _EARTH_BLOCK_DAYS, _EARTH_STEP_DAYS) + JULIAN_DATE_OF_1970
    with warnings.catch_warnings():
        # The samples reach a few days past 1900 and 2100, where erfa calls a year dubious; the
        # series is as good there.
        warnings.simplefilter("ignore", erfa.ErfaWarning)
        heliocentric, barycentric = erfa.epv00(day, 0.5)
    return np.stack([heliocentric["p"], heliocentric["v"], barycentric["v"]], axis=1)


def _between_nodes() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return weights of four nodes for each even day after the second of them.

    Lagrange's for a value, and Hermite's for a value given with its rate of change.
    """
    nodes = _EARTH_STEP_DAYS * np.arange(-1.0, 3.0)
    x = np.arange(0.0, _EARTH_STEP_DAYS, _STEP_DAYS)[:, None]
    others = [np.delete(nodes, i) for i in range(len(nodes))]
    lagrange = np.stack(
        [
            np.prod((x - other) / (node - other), axis=1)
            for node, other in zip(nodes, others, strict=True)
        ],
        axis=1,
    )
    rate = np.array([np.sum(1 / (node - other)) for node, other in zip(nodes, others, strict=True)])
    return lagrange, (1 - 2 * (x - nodes) * rate) * lagrange**2, (x - nodes) * lagrange**2


_BETWEEN_NODES = _between_nodes()


def _keep(curves: SolarDays) -> SolarDays:
    """Return curves that are kept for later, and so must not be written to."""
    for values in vars(curves).values():
        values.flags.writeable = False
    return curves


def _taylor_weights(nodes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (4, nodes): weights that give the first four Taylor coefficients at zero."""
    return np.asarray(np.linalg.inv(np.vander(nodes, increasing=True))[:4], np.float64)


_TAYLOR_STENCILS = tuple(
    (nodes, _taylor_weights(nodes).T) for nodes in (_NODES_ON_SAMPLE, _NODES_BETWEEN)
)


def _expand(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (curves, 4, days) Taylor coefficients of a block's days.

    From (curves, n) samples of every second noon, of which the first is 8 days before the block.
    """
    days = np.empty((len(samples), 4, _BLOCK_DAYS))
    for odd, (nodes, weights) in enumerate(_TAYLOR_STENCILS):
        first = (8 + odd + int(nodes[0])) // _STEP_DAYS
        windows = sliding_window_view(samples, len(nodes), axis=1)[:, first:]
        windows = windows[:, : _BLOCK_DAYS // _STEP_DAYS]
        days[:, :, odd::_STEP_DAYS] = np.moveaxis(windows @ weights, 2, 1)
    return days
