"""How the crossings of an altitude are found, for whole arrays at once.

Times are days from Greenwich noon of each element's day, *x*; the Sun's local hour angle is
2 pi x + longitude + equation of time(x). Most elements are settled by two steps and an
extrapolation (`solve_quickly`), grazing days and the poles by bracketing (`solve_carefully`).
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.sun.ephemeris import solar_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times

    Floats = NDArray[np.float64]
    Index = NDArray[np.int64] | tuple[NDArray[np.int64], ...]

TWO_PI = 2.0 * np.pi
# Dawn lies before the transit, dusk after it.
SIDES = np.array([-1.0, 1.0])

# The quick way is taken where it is known to be right: its extrapolation adds less than this
# (0.26 s, of which 4 ms are wrong at worst), and the hour angle is well away from 0 and 12 h.
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


class Curves(NamedTuple):
    """What a chunk of sites x days needs, still unbroadcast."""

    sin_latitude: Floats
    cos_latitude: Floats
    longitude_rad: Floats
    equation: Floats
    sine: Floats
    parallax_rad: Floats

    def pick(self, shape: tuple[int, ...], here: Index) -> Curves:
        """Return some elements of the broadcast shape, as flat arrays."""

        def flat(values: Floats) -> Floats:
            return np.broadcast_to(values, shape)[here]

        def flat_all(rows: Floats) -> Floats:
            return np.stack([flat(row) for row in rows])

        return Curves(
            flat(self.sin_latitude),
            flat(self.cos_latitude),
            flat(self.longitude_rad),
            flat_all(self.equation),
            flat_all(self.sine),
            flat(self.parallax_rad),
        )


def gather_curves(latitude_rad: Floats, longitude_deg: Floats, days: Times, ndim: int) -> Curves:
    """Gather what the solvers need, the coefficients' axis before ``ndim`` axes to broadcast."""
    sun = solar_days(days.reshape((1,) * (ndim - days.ndim) + days.shape))
    return Curves(
        np.sin(latitude_rad),
        np.cos(latitude_rad),
        np.radians(longitude_deg),
        sun.equation_of_time_rad,
        sun.sin_declination,
        sun.parallax_rad,
    )


def cubic(coefficients: Floats, x: Floats) -> Floats:
    """Return the values of cubics, given (4, ...) coefficients with the constant first."""
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


def hour_angle_reached(curves: Curves, hour_angle: Floats | float) -> Floats:
    """Return when the Sun's local hour angle has a value [days from Greenwich noon].

    The hour angle is 2 pi x + longitude + equation of time(x). The equation's linear part is
    solved at once; one step for the rest (at most 0.2 s) leaves about 1e-11 days.
    """
    constant, linear, square, cube = curves.equation
    scale = 1.0 / (TWO_PI + linear)
    straight = np.asarray((hour_angle - curves.longitude_rad - constant) * scale)
    return np.asarray(straight - straight * straight * (square + cube * straight) * scale)


def sin_threshold_of(curves: Curves, altitude_rad: Floats) -> Floats:
    """Return the sine of an altitude as seen from the Earth's centre.

    Parallax lowers the Sun by p cos(altitude).
    """
    return np.asarray(np.sin(altitude_rad) + curves.parallax_rad * np.cos(altitude_rad) ** 2)


class Quick(NamedTuple):
    """What the quick way finds: dawn and dusk along the first axis of ``x`` and ``good``."""

    x: Floats
    good: Flags
    always_above: Flags
    always_below: Flags


def solve_quickly(curves: Curves, sin_threshold: Floats, transit: Floats) -> Quick:
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
    sides = SIDES.reshape(2, *(1,) * transit.ndim)

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

        at_transit = cos_hour_angle(cubic(curves.sine, transit))
        clear = 1.0 + _COSINE_DRIFT * (1.0 + np.abs(tan_latitude) + np.abs(level))
        reach = sides * (np.arccos(at_transit) * scale)
        first = transit + reach
        cosine = cos_hour_angle(cubic(curves.sine, first))
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
    return Quick(x, good, at_transit < -clear, at_transit > clear)


def solve_carefully(
    curves: Curves, sin_threshold: Floats, side: float
) -> tuple[Floats, NDArray[np.int8]]:
    """Return crossings of one side by bracketing, for flat arrays: grazing days and the poles.

    Between its lower transit and its transit the Sun's altitude turns at most near those two
    (the declination's drift shifts the turning points), so that the two ends and the two turning
    points cut the side into stretches on which the altitude only rises or only falls.
    """
    transit = hour_angle_reached(curves, 0.0)
    lower = hour_angle_reached(curves, side * np.pi)
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


def _height(curves: Curves, x: Floats) -> Floats:
    """Return the sine of the Sun's geocentric altitude."""
    sine = cubic(curves.sine, x)
    angle = TWO_PI * x + curves.longitude_rad + cubic(curves.equation, x)
    return np.asarray(
        curves.sin_latitude * sine
        + curves.cos_latitude * np.sqrt(1.0 - sine * sine) * np.cos(angle)
    )


def _height_slope(curves: Curves, x: Floats) -> Floats:
    """Return the rate of `_height` [1/day]."""
    sine = cubic(curves.sine, x)
    sine_rate = _slope(curves.sine, x)
    cosine = np.sqrt(1.0 - sine * sine)
    angle = TWO_PI * x + curves.longitude_rad + cubic(curves.equation, x)
    angle_rate = TWO_PI + _slope(curves.equation, x)
    return np.asarray(
        curves.sin_latitude * sine_rate
        - curves.cos_latitude
        * (sine * sine_rate / cosine * np.cos(angle) + cosine * np.sin(angle) * angle_rate)
    )


def _turning_point(curves: Curves, near: Floats, hour_angle: float) -> Floats:
    """Return where the altitude turns near a transit; the transit itself where it does not."""
    cos_angle = np.cos(hour_angle)
    x = near
    for _ in range(4):
        sine = cubic(curves.sine, x)
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
        x = hour_angle_reached(curves, hour_angle + shift)
        cos_angle = np.sign(cos_angle) * np.cos(shift)
    return x


def _root(
    curves: Curves, sin_threshold: Floats, low: Floats, high: Floats, *, rises: bool
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
