"""When the Sun passes an altitude, and where it stands at an instant.

Knows latitude, longitude, instants and angles; no time zone and no hens. Days are counted by
local mean solar time: day *d* at longitude L is centred on 12:00 UT of *d* minus L/15 hours.
Latitude north and longitude east are positive. Altitudes are those of the Sun's centre as seen
from the site, without weather: an airless horizon, sea level, parallax included.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from daylatch.sun.ephemeris import FIRST_DAY, LAST_DAY
from daylatch.sun.solver import (
    TWO_PI,
    Curves,
    Local,
    Quick,
    SkyState,
    about_transits,
    cubic,
    gather_curves,
    hour_angle_reached,
    polish,
    settled_without,
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
# A chunk's arrays should fit a core's cache, but each step on them costs 1 to 2 us for a start:
# larger chunks than this gain nothing more.
_CHUNK = 24_576
# With fewer places and days a loop over the altitudes costs more than it saves.
_FEW = 1_024
# Added to a number of days in us this leaves its whole part, rounded as `numpy.rint` does, in the
# low bits of the sum. That is one pass over memory less than rounding and converting.
_ROUNDING = 1.5 * 2.0**52
_ROUNDING_BITS = int(np.float64(_ROUNDING).view(np.int64))


def _keep_freed_memory() -> None:
    """Let the C library keep the memory of one chunk for the next.

    Left alone, glibc gives blocks of a chunk's size back to the system as they are freed, and gets
    them again page by page, which can take longer than the arithmetic. Once it has seen a larger
    block freed it keeps up to twice as much (mallopt(3), M_MMAP_THRESHOLD). This one is never
    written to, so that it takes no memory.
    """
    np.empty(_LARGER_THAN_CHUNKS_BYTES, np.uint8)


_LARGER_THAN_CHUNKS_BYTES = 16_000_000
_keep_freed_memory()


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
    complete = True
    places = _shape_of_places(shape, latitude, longitude, days)
    for part in _chunks(places):
        cut = Curves(*(_cut(rows, part, shape) for rows in curves))
        transit = hour_angle_reached(cut, 0.0)
        local, noons = about_transits(cut, transit), _cut(noons_us, part, shape)
        for here in _at_each_altitude(part, places, shape):
            threshold = sin_threshold_of(cut, _cut(altitude_rad, here, shape))
            level = threshold / cut.cos_latitude
            complete &= _fill_quickly(out, here, noons, transit, local, level)
    if not complete:
        _fill_carefully(out, curves, noons_us, altitude_rad)
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
    if days.ndim and (days == days[..., :1]).all():
        # What is asked day by day looks each day's Sun up once.
        days = days[..., :1]
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
    if not (np.abs(array) <= limit).all():
        raise ValueError(f"{name}: every value must lie between -{limit:g} and {limit:g} degrees")
    return array


def _days(dates: ArrayLike) -> Times:
    days = np.asarray(dates).astype("datetime64[D]")
    # NaT is neither.
    if not ((days >= FIRST_DAY) & (days <= LAST_DAY)).all():
        raise ValueError(f"dates: the Sun is computed from {FIRST_DAY} to {LAST_DAY}")
    return days


def _shape_of_places(shape: tuple[int, ...], *arrays: NDArray[Any]) -> tuple[int, ...]:
    """Return the shape of places and days, in which axes that only altitudes have count one.

    Along those, what does not depend on the altitude is computed once. That is not worth a loop
    for few places and days, whose altitudes are computed together.
    """
    places = np.broadcast_shapes((1,) * len(shape), *(array.shape for array in arrays))
    return places if math.prod(places) > _FEW else shape


def _chunks(shape: tuple[int, ...]) -> Iterator[tuple[slice, ...]]:
    """Cut a shape into parts of at most `_CHUNK` elements that lie together in memory.

    A part without any slice is the whole.
    """
    if math.prod(shape) <= _CHUNK:
        yield ()
        return
    axis, rest = 0, math.prod(shape[1:])
    while rest > _CHUNK:
        axis += 1
        rest //= shape[axis]
    pieces = math.ceil(shape[axis] / (_CHUNK // rest))
    bounds = [shape[axis] * piece // pieces for piece in range(pieces + 1)]
    whole = (slice(None),) * (len(shape) - axis - 1)
    for before in np.ndindex(shape[:axis]):
        for start, end in pairwise(bounds):
            yield (*(slice(i, i + 1) for i in before), slice(start, end), *whole)


def _at_each_altitude(
    part: tuple[slice, ...], places: tuple[int, ...], shape: tuple[int, ...]
) -> Iterator[tuple[slice, ...]]:
    """Return the parts of the whole shape for which a part of the places and days stands."""
    if places == shape:
        yield part
        return
    part = part or (slice(None),) * len(shape)
    altitudes = [n if n != m else 0 for n, m in zip(shape, places, strict=True)]
    for index in np.ndindex(*(max(1, n) for n in altitudes)):
        yield tuple(
            slice(i, i + 1) if n else piece
            for i, n, piece in zip(index, altitudes, part, strict=True)
        )


def _cut(
    array: NDArray[_Number], part: tuple[slice, ...], shape: tuple[int, ...]
) -> NDArray[_Number]:
    """Cut an array as the shape it broadcasts to is cut, leaving axes of length one alone.

    Axes before those of the shape (a row for each coefficient) are kept whole.
    """
    if not part:
        return array
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
    times = np.empty(x.shape, "datetime64[us]")
    _put_instants(times, noons_us, x)
    return times


def _put_instants(times: Times, noons_us: NDArray[np.int64], x: Floats) -> None:
    rounded = np.asarray(x * _US_PER_DAY)
    rounded += _ROUNDING
    np.add(rounded.view(np.int64), noons_us - _ROUNDING_BITS, out=times.view(np.int64))


def _fill_quickly(
    out: SunCrossings,
    here: tuple[slice, ...],
    noons_us: NDArray[np.int64],
    transit: Floats,
    local: Local,
    level: Floats,
) -> bool:
    """Fill in a part of the results where the quick way is right, and mark the rest.

    Returns whether there is nothing to mark.
    """
    quick = solve_quickly(local, level)
    complete = bool(quick.good.all())
    if not complete:
        otherwise = _settle(local, level, quick)
    before, after = quick.reach
    np.subtract(transit, before, out=before)
    after += transit
    _put_instants(out.transit[here], noons_us, transit)
    _put_instants(out.rising[here], noons_us, before)
    _put_instants(out.setting[here], noons_us, after)
    for good, times, sky in (
        (quick.good[0], out.rising[here], out.dawn_sky[here]),
        (quick.good[1], out.setting[here], out.dusk_sky[here]),
    ):
        if complete:
            sky[...] = SkyState.CROSSES
        else:
            np.copyto(times, _NAT, where=~good)
            sky[...] = np.where(good, np.int8(SkyState.CROSSES), otherwise)
    return complete


def _settle(local: Local, level: Floats, quick: Quick) -> NDArray[np.int8]:
    """Polish what is not good but may cross; return the sky states of what does not.

    Reaches that are not good are set to zero, so that they can be made into instants.
    """
    above, below = settled_without(local, level, quick.cos_at_transit)
    shape = above.shape
    tried = np.flatnonzero(~(quick.good | above | below))
    side, index = np.divmod(tried, above.size)
    at = np.unravel_index(index, shape)
    reach, good = quick.reach.reshape(-1), quick.good.reshape(-1)
    reach[tried], good[tried] = polish(
        local.pick(shape, at), np.broadcast_to(level, shape)[at], 2.0 * side - 1.0, reach[tried]
    )
    np.copyto(quick.reach, 0.0, where=~quick.good)
    states = np.where(below, np.int8(SkyState.ALWAYS_BELOW), _UNSETTLED)
    return np.where(above, np.int8(SkyState.ALWAYS_ABOVE), states)


def _fill_carefully(
    out: SunCrossings, curves: Curves, noons_us: NDArray[np.int64], altitude_rad: Floats
) -> None:
    """Fill in what the quick way has marked."""
    shape = out.transit.shape
    dawns, dusks = (np.flatnonzero(sky == _UNSETTLED) for sky in (out.dawn_sky, out.dusk_sky))
    unsettled = np.concatenate([dawns, dusks])
    sides = np.repeat([-1.0, 1.0], [len(dawns), len(dusks)])
    for start in range(0, len(unsettled), _CHUNK):
        side = sides[start : start + _CHUNK]
        here = np.unravel_index(unsettled[start : start + _CHUNK], shape)
        picked = curves.pick(shape, here)
        threshold = sin_threshold_of(picked, np.broadcast_to(altitude_rad, shape)[here])
        x, states = solve_carefully(picked, threshold, side)
        found = _instants(np.broadcast_to(noons_us, shape)[here], x)
        found[states != SkyState.CROSSES] = _NAT
        for one, times, sky in (
            (side < 0.0, out.rising, out.dawn_sky),
            (side > 0.0, out.setting, out.dusk_sky),
        ):
            there = tuple(axis[one] for axis in here)
            times[there], sky[there] = found[one], states[one]
