"""When the Sun passes an altitude, and where it stands at an instant.

Knows latitude, longitude, instants and angles; no time zone and no hens. Days are counted by
local mean solar time: day *d* at longitude L is centred on 12:00 UT of *d* minus L/15 hours.
Latitude north and longitude east are positive. Altitudes are those of the Sun's centre as seen
from the site, without weather: an airless horizon, sea level, parallax included.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from daylatch.ephemeris import FIRST_DAY, LAST_DAY, solar_days

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Times = NDArray[np.datetime64]
    _Index = NDArray[np.int64] | tuple[NDArray[np.int64], ...]

_Number = TypeVar("_Number", bound=np.generic)

TWO_PI = 2.0 * np.pi
_US_PER_DAY = 86_400_000_000
_NOON_US = _US_PER_DAY // 2
_NAT = np.datetime64("NaT", "us")
_UNSETTLED = np.int8(-1)
# Dawn lies before the transit, dusk after it.
_SIDES = np.array([-1.0, 1.0])
# The arrays of one chunk (dawn and dusk) are 96 KiB each: what fits a core's cache and stays below
# the size from which the allocator asks the system for fresh pages.
_CHUNK = 6_144

# The quick way is taken where it is known to be right: its extrapolation adds less than this
# (13 ms), of which it is within a few per cent, and the hour angle is well away from 0 and 12 h.
_QUICK_REST_DAYS = 3e-6
_QUICK_COSINE = 0.99
# The sine of the declination changes by at most 0.0035 in half a day (0.4 x 2 pi / 365.25 / 2), the
# cosine of the hour angle by that times the slopes of its two terms, of which 1.2 bounds the rest.
_COSINE_DRIFT = 0.0035 * 1.2
_ROOT_TOLERANCE_DAYS = 1e-9
_ROOT_STEPS = 80


class SkyState(IntEnum):
    """What the Sun does about an altitude between a transit and that side's lower transit."""

    CROSSES = 0
    ALWAYS_ABOVE = 1
    ALWAYS_BELOW = 2


@dataclass(frozen=True, eq=False)
class SunCrossings:
    """Crossings of one altitude, all of one shape.

    Attributes
    ----------
    rising, transit, setting : datetime64[us]
        UTC; NaT where there is no crossing.
    dawn_sky, dusk_sky : int8
        A `SkyState` for each side. Without a crossing it says where the Sun is at the transit;
        only within about a degree of a pole can it have been otherwise earlier on that side.
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
    curves = _curves(np.radians(latitude), longitude, days, len(shape))
    noons_us = _noons_us(days)
    altitude_rad = np.radians(altitude)
    out = SunCrossings(
        *(np.empty(shape, "datetime64[us]") for _ in range(3)),
        *(np.empty(shape, np.int8) for _ in range(2)),
    )
    for part in _chunks(shape):
        cut = _Curves(*(_cut(rows, part, shape) for rows in curves))
        _fill_quickly(out, part, cut, _cut(noons_us, part, shape), _cut(altitude_rad, part, shape))
    for side, times, sky in (
        (-1.0, out.rising, out.dawn_sky),
        (+1.0, out.setting, out.dusk_sky),
    ):
        unsettled = np.flatnonzero(sky == _UNSETTLED)
        for start in range(0, len(unsettled), _CHUNK):
            here = np.unravel_index(unsettled[start : start + _CHUNK], shape)
            picked = curves.pick(shape, here)
            threshold = _sin_threshold(picked, np.broadcast_to(altitude_rad, shape)[here])
            x, states = _careful(picked, threshold, side)
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
    curves = _curves(np.zeros(()), longitude, days, max(longitude.ndim, days.ndim))
    noons_us = _noons_us(days)
    lower = _instants(noons_us, _hour_angle_reached(curves, -np.pi))
    return lower, _instants(noons_us, _hour_angle_reached(curves, 0.0))


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
    curves = _curves(np.radians(latitude), longitude, days, ndim)
    sin_declination = _cubic(curves.sine, x)
    cos_declination = np.sqrt(1.0 - sin_declination**2)
    hour_angle = TWO_PI * x + curves.longitude_rad + _cubic(curves.equation, x)
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


class _Curves(NamedTuple):
    """What a chunk of sites x days needs, still unbroadcast."""

    sin_latitude: Floats
    cos_latitude: Floats
    longitude_rad: Floats
    equation: Floats
    sine: Floats
    parallax_rad: Floats

    def pick(self, shape: tuple[int, ...], here: _Index) -> _Curves:
        """Return some elements of the broadcast shape, as flat arrays."""

        def flat(values: Floats) -> Floats:
            return np.broadcast_to(values, shape)[here]

        def flat_all(rows: Floats) -> Floats:
            return np.stack([flat(row) for row in rows])

        return _Curves(
            flat(self.sin_latitude),
            flat(self.cos_latitude),
            flat(self.longitude_rad),
            flat_all(self.equation),
            flat_all(self.sine),
            flat(self.parallax_rad),
        )


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


def _curves(latitude_rad: Floats, longitude_deg: Floats, days: Times, ndim: int) -> _Curves:
    """Gather what the solvers need, the coefficients' axis before ``ndim`` axes to broadcast."""
    sun = solar_days(days.reshape((1,) * (ndim - days.ndim) + days.shape))
    return _Curves(
        np.sin(latitude_rad),
        np.cos(latitude_rad),
        np.radians(longitude_deg),
        sun.equation_of_time_rad,
        sun.sin_declination,
        sun.parallax_rad,
    )


def _cubic(coefficients: Floats, x: Floats) -> Floats:
    c0, c1, c2, c3 = coefficients
    out = np.asarray(c3 * x)
    out += c2
    out *= x
    out += c1
    out *= x
    out += c0
    return out


def _slope(coefficients: Floats, x: Floats) -> Floats:
    _, c1, c2, c3 = coefficients
    return np.asarray(c1 + x * (2.0 * c2 + 3.0 * c3 * x))


def _hour_angle_reached(curves: _Curves, hour_angle: Floats | float) -> Floats:
    """Return when the Sun's local hour angle has a value [days from Greenwich noon].

    The hour angle is 2 pi x + longitude + equation of time(x). The equation's linear part is
    solved at once; one step for the rest (at most 0.2 s) leaves about 1e-11 days.
    """
    constant, linear, square, cube = curves.equation
    scale = 1.0 / (TWO_PI + linear)
    straight = np.asarray((hour_angle - curves.longitude_rad - constant) * scale)
    return np.asarray(straight - straight * straight * (square + cube * straight) * scale)


def _noons_us(days: Times) -> NDArray[np.int64]:
    return days.astype("datetime64[us]").astype(np.int64) + _NOON_US


def _instants(noons_us: NDArray[np.int64], x: Floats) -> Times:
    return (noons_us + np.rint(x * _US_PER_DAY).astype(np.int64)).view("datetime64[us]")


def _sin_threshold(curves: _Curves, altitude_rad: Floats) -> Floats:
    """Return the sine of an altitude as seen from the Earth's centre.

    Parallax lowers the Sun by p cos(altitude).
    """
    return np.asarray(np.sin(altitude_rad) + curves.parallax_rad * np.cos(altitude_rad) ** 2)


def _fill_quickly(
    out: SunCrossings,
    part: tuple[slice, ...],
    curves: _Curves,
    noons_us: NDArray[np.int64],
    altitude_rad: Floats,
) -> None:
    """Fill in a part of the results where the quick way is right, and mark the rest."""
    transit = _hour_angle_reached(curves, 0.0)
    quick = _quick(curves, _sin_threshold(curves, altitude_rad), transit)
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


class _Quick(NamedTuple):
    """What the quick way finds: dawn and dusk along the first axis of ``x`` and ``good``."""

    x: Floats
    good: NDArray[np.bool_]
    always_above: NDArray[np.bool_]
    always_below: NDArray[np.bool_]


def _quick(curves: _Curves, sin_threshold: Floats, transit: Floats) -> _Quick:
    """Return crossings by two steps and an extrapolation, and where they are good.

    A step takes the declination where the last one ended and finds the hour angle at which the
    Sun has the altitude, cos H = sin h / (cos lat cos dec) - tan lat tan dec. Steps shrink by a
    nearly constant factor, so the rest of the series is summed in closed form (Aitken).

    Where that cosine is clear of 1 at the transit by more than it can change in half a day, there
    is no crossing on either side.
    """
    constant, linear, square, cube = curves.equation
    scale = 1.0 / (TWO_PI + linear)
    straight = (-curves.longitude_rad - constant) * scale
    sides = _SIDES.reshape(2, *(1,) * transit.ndim)

    with np.errstate(invalid="ignore", divide="ignore"):
        level = sin_threshold / curves.cos_latitude
        tan_latitude = curves.sin_latitude / curves.cos_latitude

        def cos_hour_angle(sine: Floats) -> Floats:
            out = level - tan_latitude * sine
            cosine = sine * sine
            np.subtract(1.0, cosine, out=cosine)
            np.sqrt(cosine, out=cosine)
            out /= cosine
            return np.asarray(out)

        at_transit = cos_hour_angle(_cubic(curves.sine, transit))
        clear = 1.0 + _COSINE_DRIFT * (1.0 + np.abs(tan_latitude) + np.abs(level))
        reach = sides * (np.arccos(at_transit) * scale)
        first = transit + reach
        cosine = cos_hour_angle(_cubic(curves.sine, first))
        x = np.arccos(cosine)
        x *= sides * scale
        x += straight
        bend = first * first
        bend *= scale
        bend *= square + cube * first
        x -= bend
        last = x - first
        shrink = last / reach
        rest = last * shrink
        x += rest / (1.0 - shrink)
        good = np.abs(rest) < _QUICK_REST_DAYS
        good &= np.abs(cosine) < _QUICK_COSINE
    return _Quick(x, good, at_transit < -clear, at_transit > clear)


def _careful(
    curves: _Curves, sin_threshold: Floats, side: float
) -> tuple[Floats, NDArray[np.int8]]:
    """Return crossings of one side by bracketing, for flat arrays: grazing days and the poles.

    Between its lower transit and its transit the Sun's altitude turns at most near those two
    (the declination's drift shifts the turning points), so that the two ends and the two turning
    points cut the side into stretches on which the altitude only rises or only falls.
    """
    transit = _hour_angle_reached(curves, 0.0)
    lower = _hour_angle_reached(curves, side * np.pi)
    nodes = np.stack([lower, lower, transit, transit])
    nodes[1] = _turning_point(curves, lower, side * np.pi)
    nodes[2] = _turning_point(curves, transit, 0.0)
    earliest, latest = np.minimum(lower, transit), np.maximum(lower, transit)
    nodes = np.sort(np.clip(nodes, earliest, latest), axis=0)
    above = np.stack([_height(curves, x) >= sin_threshold for x in nodes])
    if side < 0:
        passes = ~above[:-1] & above[1:]
        stretch = 2 - np.argmax(passes[::-1], axis=0)
    else:
        passes = above[:-1] & ~above[1:]
        stretch = np.argmax(passes, axis=0)
    crosses = np.asarray(passes.any(axis=0))
    at_transit = above[-1] if side < 0 else above[0]
    sky = np.where(at_transit, SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW).astype(np.int8)
    sky[crosses] = SkyState.CROSSES
    column = np.flatnonzero(crosses)
    low, high = nodes[stretch[column], column], nodes[stretch[column] + 1, column]
    x = transit
    x[column] = _root(
        curves.pick(crosses.shape, column), sin_threshold[column], low, high, rises=side < 0
    )
    return x, sky


def _height(curves: _Curves, x: Floats) -> Floats:
    """Return the sine of the Sun's geocentric altitude."""
    sine = _cubic(curves.sine, x)
    angle = TWO_PI * x + curves.longitude_rad + _cubic(curves.equation, x)
    return np.asarray(
        curves.sin_latitude * sine
        + curves.cos_latitude * np.sqrt(1.0 - sine * sine) * np.cos(angle)
    )


def _height_slope(curves: _Curves, x: Floats) -> Floats:
    """Return the rate of `_height` [1/day]."""
    sine = _cubic(curves.sine, x)
    sine_rate = _slope(curves.sine, x)
    cosine = np.sqrt(1.0 - sine * sine)
    angle = TWO_PI * x + curves.longitude_rad + _cubic(curves.equation, x)
    angle_rate = TWO_PI + _slope(curves.equation, x)
    return np.asarray(
        curves.sin_latitude * sine_rate
        - curves.cos_latitude
        * (sine * sine_rate / cosine * np.cos(angle) + cosine * np.sin(angle) * angle_rate)
    )


def _turning_point(curves: _Curves, near: Floats, hour_angle: float) -> Floats:
    """Return where the altitude turns near a transit; the transit itself where it does not."""
    cos_angle = np.cos(hour_angle)
    x = near
    for _ in range(4):
        sine = _cubic(curves.sine, x)
        sine_rate = _slope(curves.sine, x)
        cosine = np.sqrt(1.0 - sine * sine)
        angle_rate = TWO_PI + _slope(curves.equation, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            sin_angle = (
                curves.sin_latitude * sine_rate
                - curves.cos_latitude * sine * sine_rate / cosine * cos_angle
            ) / (curves.cos_latitude * cosine * angle_rate)
        turns = np.abs(sin_angle) < 1.0
        shift = np.arcsin(np.where(turns, sin_angle, 0.0)) * np.sign(cos_angle)
        x = _hour_angle_reached(curves, hour_angle + shift)
        cos_angle = np.sign(cos_angle) * np.cos(shift)
    return x


def _root(
    curves: _Curves, sin_threshold: Floats, low: Floats, high: Floats, *, rises: bool
) -> Floats:
    """Return the crossing in each bracket by Newton's rule, kept inside by halving."""
    low, high = low.copy(), high.copy()
    x = 0.5 * (low + high)
    moving = np.arange(len(x))
    for _ in range(_ROOT_STEPS):
        there = x[moving]
        some = curves.pick(x.shape, moving)
        excess = _height(some, there) - sin_threshold[moving]
        later = (excess < 0.0) == rises
        low[moving[later]] = there[later]
        high[moving[~later]] = there[~later]
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = there - excess / _height_slope(some, there)
        inside = (newton >= low[moving]) & (newton <= high[moving])
        x[moving] = np.where(inside, newton, 0.5 * (low[moving] + high[moving]))
        moving = moving[np.abs(x[moving] - there) > _ROOT_TOLERANCE_DAYS]
        if not moving.size:
            break
    return x
