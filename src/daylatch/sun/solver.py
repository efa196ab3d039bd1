"""How the crossings of an altitude are found, for whole arrays at once.

Times are days from Greenwich noon of each element's day, *x*; the Sun's local hour angle is
2 pi x + longitude + equation of time(x). Most elements are settled by two steps and an
extrapolation (`solve_quickly`), the other ordinary crossings by Newton's rule from there
(`polish`), grazing days and the poles by bracketing (`solve_carefully`).
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.sun.ephemeris import solar_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times

    Floats = NDArray[np.float64]
    Index = tuple[NDArray[np.int64], ...]

TWO_PI = 2.0 * np.pi

# The quick way is taken where it is known to be right: its extrapolation adds less than this
# (0.26 s, of which 4 ms are wrong at worst), and the hour angle is well away from 0 and 12 h.
_QUICK_REST_DAYS = 3e-6
_QUICK_COSINE = 0.99
# In half a day (rounded up, since the Sun's own day varies) the sine of the declination leaves its
# tangent by at most 0.4 x (2 pi / 365.25)^2 / 8 = 1.5e-5. The cosine of the hour angle changes by
# what the sine does times the slopes of its two terms, 1 / cos^3 and sin / cos^3 of the
# declination, which are at most 1.30 and 0.52.
_HALF_DAY = 0.501
_SINE_BENDS = 2e-5
_STEEPEST = 1.31
# After a last step of at most this Newton's rule is within 1e-11 days.
_POLISH_STEPS = 2
_POLISHED_STEP_DAYS = 1e-7
# The most that the season moves the Sun's altitude [rad/day], rounded up (0.4 x 2 pi / 365.25).
_HIGHEST_RATE = 0.0072
_ROOT_TOLERANCE_DAYS = 1e-9
_ROOT_STEPS = 80


class SkyState(IntEnum):
    """What the Sun does about an altitude between a transit and that side's lower transit."""

    CROSSES = 0
    ALWAYS_ABOVE = 1
    ALWAYS_BELOW = 2


class Curves(NamedTuple):
    """What a chunk of sites and days needs, still unbroadcast."""

    sin_latitude: Floats
    cos_latitude: Floats
    longitude_rad: Floats
    equation: Floats
    sine: Floats
    parallax_rad: Floats

    def pick(self, shape: tuple[int, ...], here: Index) -> Curves:
        """Return some elements of the broadcast shape, as flat arrays."""

        index: tuple[Any, ...] = (..., *here)

        def flat(values: Floats) -> Floats:
            rows = values.shape[: max(0, values.ndim - len(shape))]
            return np.asarray(np.broadcast_to(values, (*rows, *shape))[index])

        return Curves(*(flat(values) for values in self))

    def take(self, here: NDArray[np.int64]) -> Curves:
        """Return some elements of flat arrays."""
        return Curves(*(np.asarray(values[..., here]) for values in self))


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
    straight = np.asarray((hour_angle - curves.longitude_rad) - constant)
    straight = np.asarray(straight * scale)
    bend = np.asarray(cube * scale * straight)
    bend += square * scale
    bend *= straight
    bend *= straight
    straight -= bend
    return straight


def sin_threshold_of(curves: Curves, altitude_rad: Floats) -> Floats:
    """Return the sine of an altitude as seen from the Earth's centre.

    Parallax lowers the Sun by p cos(altitude).
    """
    return np.asarray(np.sin(altitude_rad) + curves.parallax_rad * np.cos(altitude_rad) ** 2)


class Local(NamedTuple):
    """The Sun about each transit, whatever the altitude, with y the days since the transit.

    The sine of the declination is ``sine + y (rate + y (curve + y cube))``; ``scale`` times the
    hour angle, in radians, is ``y + y (bend_rate + y (bend_curve + y bend_cube))``.
    """

    tan_latitude: Floats
    scale: Floats
    sine: Floats
    rate: Floats
    curve: Floats
    cube: Floats
    bend_rate: Floats
    bend_curve: Floats
    bend_cube: Floats

    def pick(self, shape: tuple[int, ...], here: Index) -> Local:
        """Return some elements of the broadcast shape, as flat arrays."""
        return Local(*(np.broadcast_to(values, shape)[here] for values in self))

    def bend(self, y: Floats) -> Floats:
        """Return what the equation of time's curve takes from the days in an hour angle."""
        return np.asarray(y * (self.bend_rate + y * (self.bend_curve + y * self.bend_cube)))


def about_transits(curves: Curves, transit: Floats) -> Local:
    """Return the Sun's curves, expanded anew about each transit by Horner's scheme."""
    _, linear, square, cube = curves.equation
    scale = 1.0 / (TWO_PI + linear)
    bend_cube = cube * scale
    bend_curve = 3.0 * bend_cube * transit
    bend_curve += square * scale
    bend_rate = bend_curve + square * scale
    bend_rate *= transit
    c0, c1, c2, c3 = curves.sine
    more = c3 * transit
    curve = more + c2
    rate = curve * transit
    rate += c1
    sine = rate * transit
    sine += c0
    curve += more
    rate += curve * transit
    curve += more
    # No number is a quarter turn exactly, so that the cosine is never zero.
    tan_latitude = curves.sin_latitude / curves.cos_latitude
    return Local(tan_latitude, scale, sine, rate, curve, c3, bend_rate, bend_curve, bend_cube)


class Quick(NamedTuple):
    """What the quick way finds: dawn and dusk along the first axis of ``reach`` and ``good``."""

    reach: Floats  # the days between the transit and the crossing
    good: Flags
    cos_at_transit: Floats


def solve_quickly(local: Local, level: Floats) -> Quick:
    """Return crossings by two steps and an extrapolation, and where they are good.

    A step takes the declination where the last one ended and finds the hour angle at which the
    Sun has the altitude, cos H = sin h / (cos lat cos dec) - tan lat tan dec; ``level`` is
    sin h / cos lat. Steps shrink by a nearly constant factor, so the rest of the series is summed
    in closed form (Aitken).
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = _cos_hour_angle(local.tan_latitude, level, local.sine)
        first = np.arccos(cosine)
        first *= local.scale
        square = first * first
        # The first step is as long to both sides, so that powers of it are shared by them.
        sine, bend = _both_sides(local, first, square)
        after = _cos_hour_angle(local.tan_latitude, level, sine)
        further, good = _angle_between(cosine, after)
        further *= local.scale
        further -= bend
        np.multiply(further, further, out=after)
        good &= after < _QUICK_REST_DAYS * first
        # first + further + further**2 / first + ..., a geometric series
        reach = np.subtract(first, further, out=further)
        np.divide(square, reach, out=reach)
    return Quick(reach, good, cosine)


def _both_sides(local: Local, first: Floats, square: Floats) -> tuple[Floats, Floats]:
    """Return the sine of the declination, and the bend, at that distance before and after."""
    sides = (2, *first.shape)
    even = local.curve * square
    even += local.sine
    odd = local.cube * square
    odd += local.rate
    odd *= first
    sine = np.empty(sides)
    np.subtract(even, odd, out=sine[0])
    np.add(even, odd, out=sine[1])
    np.multiply(local.bend_curve, square, out=even)
    np.multiply(local.bend_cube, square, out=odd)
    odd += local.bend_rate
    odd *= first
    bend = np.empty(sides)
    np.subtract(odd, even, out=bend[0])
    np.add(odd, even, out=bend[1])
    return sine, bend


def _cos_hour_angle(tan_latitude: Floats, level: Floats, sine: Floats) -> Floats:
    """Return the cosine of the hour angle at a declination, given the sine of that."""
    out = np.asarray(level - tan_latitude * sine)
    cosine = sine * sine
    np.subtract(1.0, cosine, out=cosine)
    np.sqrt(cosine, out=cosine)
    out /= cosine
    return out


def _angle_between(cosine: Floats, after: Floats) -> tuple[Floats, Flags]:
    """Return how much larger the angle of a second cosine is, and where it is well inside.

    By the tangent of half of it, (cos A - cos B) / (sin A + sin B), and the first two terms of
    the arc tangent's series: where the extrapolation is good, the angle is below 0.008, and what
    they leave out below 1e-12. That takes half as long as an arc cosine. ``after`` is used up.
    """
    first_sine = cosine * cosine
    np.subtract(1.0, first_sine, out=first_sine)
    np.sqrt(first_sine, out=first_sine)
    sine = after * after
    np.subtract(1.0, sine, out=sine)
    inside = sine > 1.0 - _QUICK_COSINE**2
    np.sqrt(sine, out=sine)
    sine += first_sine
    half = np.subtract(cosine, after, out=after)
    half /= sine
    np.multiply(half, half, out=sine)
    sine *= -2.0 / 3.0
    sine += 2.0
    sine *= half
    return sine, inside


def settled_without(local: Local, level: Floats, cosine: Floats) -> tuple[Flags, Flags]:
    """Return where the Sun is always above and where always below, for certain.

    Where the cosine is clear of 1 at the transit by more than it can change in half a day, there
    is no crossing on either side.
    """
    change = np.abs(local.rate)
    change *= _HALF_DAY
    change += _SINE_BENDS
    clear = np.abs(level) + np.abs(local.tan_latitude)
    clear = np.asarray(clear * (_STEEPEST * change))
    clear += 1.0
    below = cosine > clear
    return cosine < np.negative(clear, out=clear), below


def polish(local: Local, level: Floats, side: Floats, reach: Floats) -> tuple[Floats, Flags]:
    """Return crossings by Newton's rule from near ones, and where they are surely right.

    For flat arrays, and the equation that `solve_quickly` solves. A crossing is right where the
    last step was small and the Earth's turning moves the Sun's altitude there by far more than
    the season does: then the Sun passes in its side's direction, which it does but once a side.
    """
    tan_latitude, scale = local.tan_latitude, local.scale
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for _ in range(_POLISH_STEPS):
            y = side * reach
            sine = local.sine + y * (local.rate + y * (local.curve + y * local.cube))
            sine_rate = local.rate + y * (2.0 * local.curve + 3.0 * y * local.cube)
            cosine = np.sqrt(1.0 - sine * sine)
            cos_angle = (level - tan_latitude * sine) / cosine
            sin_angle = np.sqrt(1.0 - cos_angle * cos_angle)
            shrink = cos_angle * sine / cosine - tan_latitude
            shrink *= -side * scale * sine_rate / (cosine * sin_angle)
            step = np.arccos(cos_angle) * scale - side * local.bend(y) - reach
            step /= 1.0 - shrink
            reach = reach + step
        turning = TWO_PI * cosine * sin_angle
        right = turning > 2.0 * _HIGHEST_RATE * np.sqrt(1.0 + tan_latitude * tan_latitude)
        right &= np.abs(step) < _POLISHED_STEP_DAYS
        right &= reach > 0.0
    return reach, right


def solve_carefully(
    curves: Curves, sin_threshold: Floats, side: Floats
) -> tuple[Floats, NDArray[np.int8]]:
    """Return crossings by bracketing, for flat arrays: grazing days and the poles.

    ``side`` is -1 for a dawn and 1 for a dusk. Between its lower transit and its transit the Sun's
    altitude turns at most near those two (the declination's drift shifts the turning points), so
    that the two ends and the two turning points cut the side into stretches on which the altitude
    only rises or only falls. Seen from the transit outwards the crossing is the first way down.
    """
    hour_angles = np.stack([np.zeros(len(side)), side * np.pi])
    ends = hour_angle_reached(curves, hour_angles)
    nodes = np.concatenate([ends, _turning_point(curves, ends, hour_angles)])
    nodes = np.sort(np.clip(nodes, ends.min(axis=0), ends.max(axis=0)) * side, axis=0) * side
    above = _height(curves, nodes) >= sin_threshold
    passes = above[:-1] & ~above[1:]
    stretch = np.argmax(passes, axis=0)
    crosses = np.asarray(passes.any(axis=0))
    sky = np.where(above[0], SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW).astype(np.int8)
    sky[crosses] = SkyState.CROSSES
    column = np.flatnonzero(crosses)
    inner, outer = nodes[stretch[column], column], nodes[stretch[column] + 1, column]
    x = ends[0]
    x[column] = _root(curves.take(column), sin_threshold[column], inner, outer)
    return x, sky


def _height(curves: Curves, x: Floats) -> Floats:
    """Return the sine of the Sun's geocentric altitude."""
    sine = cubic(curves.sine, x)
    angle = TWO_PI * x + curves.longitude_rad + cubic(curves.equation, x)
    return np.asarray(
        curves.sin_latitude * sine
        + curves.cos_latitude * np.sqrt(1.0 - sine * sine) * np.cos(angle)
    )


def _height_and_slope(curves: Curves, x: Floats) -> tuple[Floats, Floats]:
    """Return `_height`, and its rate [1/day]."""
    sine = cubic(curves.sine, x)
    sine_rate = _slope(curves.sine, x)
    cosine = np.sqrt(1.0 - sine * sine)
    angle = TWO_PI * x + curves.longitude_rad + cubic(curves.equation, x)
    up = curves.cos_latitude * np.cos(angle)
    turning = (TWO_PI + _slope(curves.equation, x)) * curves.cos_latitude * np.sin(angle)
    return (
        curves.sin_latitude * sine + cosine * up,
        (curves.sin_latitude - sine / cosine * up) * sine_rate - cosine * turning,
    )


def _turning_point(curves: Curves, near: Floats, hour_angle: Floats) -> Floats:
    """Return where the altitude turns near transits; the transits themselves where it does not."""
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


def _root(curves: Curves, sin_threshold: Floats, above: Floats, below: Floats) -> Floats:
    """Return the crossing in each bracket by Newton's rule, kept inside by halving.

    A bracket's ends are a moment when the Sun is above, and one when it is below.
    """
    x = 0.5 * (above + below)
    moving = np.ones(x.shape, bool)
    for _ in range(_ROOT_STEPS):
        height, slope = _height_and_slope(curves, x)
        excess = height - sin_threshold
        below = np.where(excess < 0.0, x, below)
        above = np.where(excess < 0.0, above, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = x - excess / slope
        # Between the two, in whichever order they are; false where the slope is none.
        inside = (newton - above) * (newton - below) <= 0.0
        there = np.where(inside, newton, 0.5 * (above + below))
        step = np.where(moving, there - x, 0.0)
        x = x + step
        moving &= np.abs(step) > _ROOT_TOLERANCE_DAYS
        if not moving.any():
            break
    return x
