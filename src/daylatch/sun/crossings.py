"""When the Sun passes an altitude, and where it stands at an instant.

Knows latitude, longitude, instants and angles; no time zone and no hens. Days are counted by
local mean solar time: day *d* at longitude L is centred on 12:00 UT of *d* minus L/15 hours.
Latitude north and longitude east are positive. Altitudes are those of the Sun's centre as seen
from the site, without weather: an airless horizon, sea level, parallax included.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from daylatch.sun.ephemeris import FIRST_DAY, LAST_DAY
from daylatch.sun.solver import (
    TWO_PI,
    Curves,
    SkyState,
    cubic,
    gather_curves,
    hour_angle_reached,
    sin_threshold_of,
    solve_carefully,
    solve_quickly,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from daylatch.arrays import Times

    Floats = NDArray[np.float64]

__all__ = [
    "SkyState",
    "SunCrossings",
    "SunPositions",
    "sun_crossings",
    "sun_position",
    "sun_transits",
]

_Number = TypeVar("_Number", bound=np.generic)

_US_PER_DAY = 86_400_000_000
_NOON_US = _US_PER_DAY // 2
_NAT = np.datetime64("NaT", "us")
_UNSETTLED = np.int8(-1)
# The arrays of one chunk (dawn and dusk) are 96 KiB each: what fits a core's cache and stays below
# the size from which the allocator asks the system for fresh pages.
_CHUNK = 6_144


@dataclass(frozen=True, eq=False)
class SunCrossings:
    """Crossings of one altitude, all of one shape.

    Attributes
    ----------
    rising, transit, setting : datetime64[us]
        UTC; NaT where there is no crossing.
    dawn_sky, dusk_sky : int8
        A `SkyState` for each side. Without a crossing it says where the Sun is at the transit;
        elsewhere on that side it can have been otherwise near a pole, and a hair beside a transit
        that grazes the altitude.
    """

    rising: Times
    transit: Times
    setting: Times
    dawn_sky: NDArray[np.int8]
    dusk_sky: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class SunPositions:
    """Where the Sun's centre stands: ``altitude_deg``, ``azimuth_deg`` from north by east."""

    altitude_deg: Floats
    azimuth_deg: Floats


def sun_crossings(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    dates: ArrayLike,
    altitude_deg: ArrayLike,
) -> SunCrossings:
    """Return when the Sun's centre rises and sets through an altitude, and each upper transit.

    The four arguments broadcast against each other by NumPy's rules; for sites x days give the
    sites a last axis of length one.

    Parameters
    ----------
    latitude_deg, longitude_deg
        [-90, 90] and [-180, 180], north and east positive.
    dates
        datetime64[D] or what NumPy reads as that: local mean solar days, 1900 to 2100.
    altitude_deg
        [-90, 90]; sunrise and sunset are -0.8333, civil twilight -6.

    Returns
    -------
    SunCrossings
        ``rising`` is the last upward crossing between the lower transit before and the transit,
        ``setting`` the first downward crossing between the transit and the lower transit after.

    Raises
    ------
    ValueError
        For a latitude, longitude, date or altitude outside those ranges.

    References
    ----------
    SOFA (IAU) through ``erfa``: ``epv00``, ``ab``, ``nut00b``, ``pn06``, ``gst06``. The formula
    for the hour angle: J. Meeus, Astronomical Algorithms, 2nd ed. (1998), chapter 15.
    """
    latitude = _within("latitude", latitude_deg, 90.0)
    longitude = _within("longitude", longitude_deg, 180.0)
    altitude = _within("altitude", altitude_deg, 90.0)
    days = _days(dates)
    shape = np.broadcast_shapes(latitude.shape, longitude.shape, days.shape, altitude.shape)
    if not shape:
        # NumPy turns results without an axis into plain numbers, which cannot be filled in place.
        one = sun_crossings(latitude[None], longitude[None], days[None], altitude[None])
        return SunCrossings(*(values.reshape(()) for values in vars(one).values()))
    curves = gather_curves(np.radians(latitude), longitude, days, len(shape))
    noons_us = _noons_us(days)
    altitude_rad = np.radians(altitude)
    out = SunCrossings(
        *(np.empty(shape, "datetime64[us]") for _ in range(3)),
        *(np.empty(shape, np.int8) for _ in range(2)),
    )
    for part in _chunks(shape):
        cut = Curves(*(_cut(rows, part, shape) for rows in curves))
        _fill_quickly(out, part, cut, _cut(noons_us, part, shape), _cut(altitude_rad, part, shape))
    for side, times, sky in (
        (-1.0, out.rising, out.dawn_sky),
        (+1.0, out.setting, out.dusk_sky),
    ):
        unsettled = np.flatnonzero(sky == _UNSETTLED)
        for start in range(0, len(unsettled), _CHUNK):
            here = np.unravel_index(unsettled[start : start + _CHUNK], shape)
            picked = curves.pick(shape, here)
            threshold = sin_threshold_of(picked, np.broadcast_to(altitude_rad, shape)[here])
            x, states = solve_carefully(picked, threshold, side)
            found = _instants(np.broadcast_to(noons_us, shape)[here], x)
            found[states != SkyState.CROSSES] = _NAT
            times[here], sky[here] = found, states
    return out


def sun_transits(longitude_deg: ArrayLike, dates: ArrayLike) -> tuple[Times, Times]:
    """Return each day's lower transit before noon, and its upper transit.

    A day's lower transit after noon is the next day's lower transit before noon.

    Parameters
    ----------
    longitude_deg, dates
        As for `sun_crossings`.

    Returns
    -------
    tuple of datetime64[us] arrays
        UTC.
    """
    longitude = _within("longitude", longitude_deg, 180.0)
    days = _days(dates)
    curves = gather_curves(np.zeros(()), longitude, days, max(longitude.ndim, days.ndim))
    noons_us = _noons_us(days)
    lower = _instants(noons_us, hour_angle_reached(curves, -np.pi))
    return lower, _instants(noons_us, hour_angle_reached(curves, 0.0))


def sun_position(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, instants: ArrayLike
) -> SunPositions:
    """Return the altitude and azimuth of the Sun's centre at instants.

    Parameters
    ----------
    latitude_deg, longitude_deg
        As for `sun_crossings`.
    instants
        datetime64 in UTC, 1900 to 2100.

    Returns
    -------
    SunPositions
        Topocentric, without refraction [deg].

    Raises
    ------
    ValueError
        For a latitude, longitude or instant outside those ranges.
    """
    latitude = _within("latitude", latitude_deg, 90.0)
    longitude = _within("longitude", longitude_deg, 180.0)
    times = np.asarray(instants, "datetime64[us]")
    days = _days(times)
    x = (times - days).astype(np.int64) / _US_PER_DAY - 0.5
    ndim = max(latitude.ndim, longitude.ndim, days.ndim)
    curves = gather_curves(np.radians(latitude), longitude, days, ndim)
    sin_declination = cubic(curves.sine, x)
    cos_declination = np.sqrt(1.0 - sin_declination**2)
    hour_angle = TWO_PI * x + curves.longitude_rad + cubic(curves.equation, x)
    up = curves.sin_latitude * sin_declination + curves.cos_latitude * cos_declination * np.cos(
        hour_angle
    )
    south = (
        curves.sin_latitude * cos_declination * np.cos(hour_angle)
        - curves.cos_latitude * sin_declination
    )
    west = cos_declination * np.sin(hour_angle)
    geocentric = np.arctan2(up, np.hypot(south, west))
    altitude = geocentric - curves.parallax_rad * np.cos(geocentric)
    azimuth = np.degrees(np.arctan2(-west, -south)) % 360.0
    return SunPositions(np.degrees(altitude), np.broadcast_to(azimuth, altitude.shape))


def _within(name: str, values: ArrayLike, limit: float) -> Floats:
    array = np.asarray(values, np.float64)
    if not np.all(np.abs(array) <= limit):
        raise ValueError(f"{name}: every value must lie between -{limit:g} and {limit:g} degrees")
    return array


def _days(dates: ArrayLike) -> Times:
    days = np.asarray(dates).astype("datetime64[D]")
    if np.any(np.isnat(days)) or np.any(days < FIRST_DAY) or np.any(days > LAST_DAY):
        raise ValueError(f"dates: the Sun is computed from {FIRST_DAY} to {LAST_DAY}")
    return days


def _chunks(shape: tuple[int, ...]) -> Iterator[tuple[slice, ...]]:
    """Cut a shape along its longest axis into parts of about `_CHUNK` elements."""
    whole = tuple(slice(None) for _ in shape)
    size = int(np.prod(shape, dtype=np.int64))
    if size <= _CHUNK:
        yield whole
        return
    axis = int(np.argmax(shape))
    step = max(1, _CHUNK * shape[axis] // size)
    for start in range(0, shape[axis], step):
        yield (*whole[:axis], slice(start, start + step), *whole[axis + 1 :])


def _cut(
    array: NDArray[_Number], part: tuple[slice, ...], shape: tuple[int, ...]
) -> NDArray[_Number]:
    """Cut an array as the shape it broadcasts to is cut, leaving axes of length one alone.

    Axes before those of the shape (a row for each coefficient) are kept whole.
    """
    lead = array.ndim - len(shape)
    pieces = tuple(
        piece if array.shape[axis + lead] > 1 else slice(None)
        for axis, piece in enumerate(part)
        if axis + lead >= 0
    )
    index: tuple[Any, ...] = (Ellipsis, *pieces)
    return np.asarray(array[index])


def _noons_us(days: Times) -> NDArray[np.int64]:
    return days.astype("datetime64[us]").astype(np.int64) + _NOON_US


def _instants(noons_us: NDArray[np.int64], x: Floats) -> Times:
    return (noons_us + np.rint(x * _US_PER_DAY).astype(np.int64)).view("datetime64[us]")


def _fill_quickly(
    out: SunCrossings,
    part: tuple[slice, ...],
    curves: Curves,
    noons_us: NDArray[np.int64],
    altitude_rad: Floats,
) -> None:
    """Fill in a part of the results where the quick way is right, and mark the rest."""
    transit = hour_angle_reached(curves, 0.0)
    quick = solve_quickly(curves, sin_threshold_of(curves, altitude_rad), transit)
    out.transit[part] = _instants(noons_us, transit)
    settled_above, settled_below = quick.always_above, quick.always_below
    some_missing = not quick.good.all()
    if some_missing:
        quick.x[~quick.good] = 0.0
    times = _instants(noons_us, quick.x)
    for times_out, sky_out, found, good in (
        (out.rising, out.dawn_sky, times[0], quick.good[0]),
        (out.setting, out.dusk_sky, times[1], quick.good[1]),
    ):
        if some_missing:
            sky = np.where(good, np.int8(SkyState.CROSSES), _UNSETTLED)
            sky[settled_above] = SkyState.ALWAYS_ABOVE
            sky[settled_below] = SkyState.ALWAYS_BELOW
            found[~good] = _NAT
            sky_out[part] = sky
        else:
            sky_out[part] = SkyState.CROSSES
        times_out[part] = found
