"""When direct sun passes the skyline: hills, trees and houses round a place.

A skyline is an elevation for each azimuth, straight between its corners. The Sun's path is looked
at every two minutes; between two looks its altitude and azimuth stay within bounds that follow from
the Earth's turning, and so does the skyline along them. Where these bounds leave it open whether
the Sun passes the skyline, the piece is cut smaller, down to 15 ms. So no stretch of sun or shade
that lasts longer is lost, and none is looked for where there can be none.

Altitudes are those of `daylatch.sun.crossings`: of the Sun's centre, without refraction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.sun.crossings import sun_position

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from daylatch.arrays import Flags, Numbers, Times

    Floats = NDArray[np.float64]

LOWEST_DEG, HIGHEST_DEG = -89.0, 89.0
"""What an elevation can be, short of overhead and underfoot [deg]."""
MOST_CORNERS = 7_200
"""A corner every twentieth of a degree, which is finer than any survey."""

_S = 1_000_000
_STEP_US = 120 * _S
# Each piece that is open is cut into so many; the last are 15 ms long.
_CUTS = (4, 4, 4, 5, 5, 5)
_CHUNK_DAYS = 100
# The hour angle goes round in a day [rad/us]; the Sun's own motion is a part in 300 of that.
_TURN = 2.0 * math.pi / (86_400 * _S) * 1.005
# What the bounds below are rounded up by, for the season's part in the motion [deg].
_SPARE_DEG = 1e-6


@dataclass(frozen=True, eq=False)
class Skyline:
    """The skyline of a place, straight between its corners and closed all round.

    Attributes
    ----------
    azimuth_deg, elevation_deg : array
        The corners: clockwise from true north, rising from [0, 360), each once; and the height of
        the skyline there above the horizontal.
    """

    azimuth_deg: Floats
    elevation_deg: Floats

    @property
    def lowest_deg(self) -> float:
        """The elevation of its lowest corner."""
        return float(self.elevation_deg.min())

    @property
    def highest_deg(self) -> float:
        """The elevation of its highest corner."""
        return float(self.elevation_deg.max())

    def elevation_at(self, azimuth_deg: ArrayLike) -> Floats:
        """Return its elevation at azimuths of any size [deg]."""
        round_once = np.asarray(azimuth_deg, np.float64) % 360.0
        return np.asarray(np.interp(round_once, *self.turned()))

    def turned(self) -> tuple[Floats, Floats]:
        """Return its corners with those of a turn more on either side."""
        turns = np.array([[-360.0], [0.0], [360.0]])
        return (self.azimuth_deg + turns).ravel(), np.tile(self.elevation_deg, 3)


def check_azimuths(azimuth_deg: ArrayLike) -> None:
    """Refuse azimuths that are none of a skyline's corners.

    Raises
    ------
    ValueError
        Naming the first that is outside [0, 360], or that stands twice; 360 is 0.
    """
    azimuths = np.asarray(azimuth_deg, np.float64)
    # Not a number is outside too.
    outside = ~((azimuths >= 0.0) & (azimuths <= 360.0))
    if outside.any():
        raise ValueError(
            f"{azimuths[outside][0]:g} is no azimuth: count clockwise from true north, 0 to 360; "
            "if south is 0 and west 90 in your figures, add 180"
        )
    turned = np.sort(azimuths % 360.0)
    twice = turned[1:][turned[1:] == turned[:-1]]
    if twice.size:
        raise ValueError(f"azimuth {twice[0]:g} stands twice: drop one, with its elevation")


def check_elevations(elevation_deg: ArrayLike, lowest_deg: float = LOWEST_DEG) -> None:
    """Refuse elevations that no skyline has.

    Parameters
    ----------
    elevation_deg
        Of its corners.
    lowest_deg
        What the lowest may be.

    Raises
    ------
    ValueError
        Naming the first below that, or over ``HIGHEST_DEG``.
    """
    elevations = np.asarray(elevation_deg, np.float64)
    outside = ~((elevations >= lowest_deg) & (elevations <= HIGHEST_DEG))
    if outside.any():
        raise ValueError(
            f"{elevations[outside][0]:g} is no elevation: write degrees above the horizontal, "
            f"{lowest_deg:g} to {HIGHEST_DEG:g}"
        )


def make_skyline(azimuth_deg: ArrayLike, elevation_deg: ArrayLike) -> Skyline:
    """Return a skyline from corners in any order.

    Parameters
    ----------
    azimuth_deg
        Clockwise from true north, [0, 360], each once; 360 is 0.
    elevation_deg
        As many; ``LOWEST_DEG`` to ``HIGHEST_DEG``.

    Raises
    ------
    ValueError
        If they are none, not as many, too many, outside those bounds, or an azimuth stands twice.
    """
    azimuths = np.atleast_1d(np.asarray(azimuth_deg, np.float64))
    elevations = np.atleast_1d(np.asarray(elevation_deg, np.float64))
    if azimuths.shape != elevations.shape or azimuths.ndim != 1 or not azimuths.size:
        raise ValueError(
            f"{azimuths.size} azimuths and {elevations.size} elevations: give one elevation for "
            "each azimuth"
        )
    if len(azimuths) > MOST_CORNERS:
        raise ValueError(f"{len(azimuths)} corners: a skyline has at most {MOST_CORNERS}")
    check_azimuths(azimuths)
    check_elevations(elevations)
    order = np.argsort(azimuths % 360.0, kind="stable")
    azimuths, elevations = (azimuths % 360.0)[order], elevations[order]
    return Skyline(azimuths, elevations)


class Sunlit(NamedTuple):
    """Stretches of time with direct sun, in order and apart from each other.

    Attributes
    ----------
    start_utc, end_utc : datetime64[us]
        An element a stretch; at the ends of what was asked for, those.
    """

    start_utc: Times
    end_utc: Times


def find_sunlit(
    latitude_deg: float,
    longitude_deg: float,
    start_utc: np.datetime64,
    end_utc: np.datetime64,
    skyline: Skyline,
) -> Sunlit:
    """Return when the Sun's centre stands at or above a skyline.

    Parameters
    ----------
    latitude_deg, longitude_deg
        [-90, 90] and [-180, 180], north and east positive.
    start_utc, end_utc
        Instants, 1900 to 2100.
    skyline
        What hides the Sun.

    Returns
    -------
    Sunlit
        Exact to 15 ms on the given skyline, as far as the Sun's place is; what is shorter than that
        may be left out.

    Raises
    ------
    ValueError
        For a place or an instant outside those ranges.
    """
    start, end = np.array([start_utc, end_utc], "datetime64[us]").astype(np.int64).tolist()
    search = _Search(latitude_deg, longitude_deg, skyline)
    day_us = 86_400 * _S
    first, last = start // day_us, -(-end // day_us)
    passed, is_lit = [np.zeros(0, np.int64)], False
    for day in range(first, last, _CHUNK_DAYS):
        pieces = search.between(day, min(day + _CHUNK_DAYS, last))
        if day == first:
            is_lit = bool(pieces.before.excess[0] >= 0.0)
        passed.append(search.passed(pieces))
    found = np.concatenate(passed)
    # Whether there is sun at the beginning hangs on how often the skyline was passed before it.
    is_lit ^= bool((found < start).sum() % 2)
    found = found[(found >= start) & (found < end)]
    if is_lit:
        found = np.insert(found, 0, start)
    if len(found) % 2:
        found = np.append(found, end)
    edges = found.reshape(-1, 2)
    # One that only begins where it ends is none.
    edges = edges[edges[:, 0] < edges[:, 1]]
    starts, ends = edges.astype("datetime64[us]").T
    return Sunlit(starts, ends)


class _Looks(NamedTuple):
    """The Sun at some moments, and by how much it stands above the skyline [deg]."""

    altitude: Floats
    azimuth: Floats
    excess: Floats

    def at(self, where: Flags | slice) -> _Looks:
        return _Looks(*(values[where] for values in self))


class _Pieces(NamedTuple):
    """Pieces of the Sun's path, all of one length."""

    start_us: Numbers
    length_us: int
    before: _Looks
    after: _Looks

    def at(self, where: Flags) -> _Pieces:
        return _Pieces(
            self.start_us[where], self.length_us, self.before.at(where), self.after.at(where)
        )


class _Search:
    """The skyline of one place, and the pieces of the Sun's path that may pass it."""

    def __init__(self, latitude_deg: float, longitude_deg: float, skyline: Skyline) -> None:
        self.place = (latitude_deg, longitude_deg)
        self.skyline = skyline
        self.range = _Range(*skyline.turned())

    def look(self, times_us: Numbers) -> _Looks:
        """Return the Sun at some moments, with the skyline below or above it."""
        sun = sun_position(*self.place, times_us.astype("datetime64[us]"))
        excess = sun.altitude_deg - self.skyline.elevation_at(sun.azimuth_deg)
        return _Looks(sun.altitude_deg, sun.azimuth_deg, excess)

    def between(self, first_day: int, last_day: int) -> _Pieces:
        """Return all pieces of some days [days since 1970], the last day not included."""
        days = np.arange(first_day, last_day)[:, None] * (86_400 * _S)
        # A row for each day of UTC: its Sun is then looked up once.
        starts = days + np.arange(0, 86_400 * _S, _STEP_US)
        end = np.array([last_day * 86_400 * _S])
        looks = _Looks(
            *(
                np.concatenate([rows.ravel(), last])
                for rows, last in zip(self.look(starts), self.look(end), strict=True)
            )
        )
        return _Pieces(starts.ravel(), _STEP_US, looks.at(slice(-1)), looks.at(slice(1, None)))

    def passed(self, pieces: _Pieces) -> Numbers:
        """Return the moments at which the Sun passes the skyline, in order [us since 1970]."""
        for cuts in _CUTS:
            pieces = self._cut(pieces.at(self._is_open(pieces)), cuts)
        before, after = pieces.before.excess, pieces.after.excess
        crosses = (before >= 0.0) != (after >= 0.0)
        before, after = before[crosses], after[crosses]
        part = before / (before - after)
        return np.asarray(pieces.start_us[crosses] + np.rint(part * pieces.length_us).astype(int))

    def _is_open(self, pieces: _Pieces) -> Flags:
        """Return for which pieces it is open whether the Sun passes the skyline.

        With H the hour angle, a the altitude and A the azimuth, d2a/dH2 is at most 2 / cos a and
        d2A/dH2 at most 3 / cos2 a; a curve leaves its ends by an eighth of that times the square
        of the way. (Differentiate sin a = sin lat sin dec + cos lat cos dec cos H twice, with
        cos dec sin H = -cos a sin A.)
        """
        before, after = pieces.before, pieces.after
        eighth = (_TURN * pieces.length_us) ** 2 / 8.0
        steepest = np.maximum(np.abs(before.altitude), np.abs(after.altitude)) + 0.5
        cosine = np.cos(np.radians(np.minimum(steepest, HIGHEST_DEG)))
        sag = np.degrees(2.0 * eighth / cosine) + _SPARE_DEG
        low = np.minimum(before.altitude, after.altitude) - sag
        high = np.maximum(before.altitude, after.altitude) + sag
        is_open = np.asarray((low <= self.skyline.highest_deg) & (high >= self.skyline.lowest_deg))
        near = np.flatnonzero(is_open)
        stray = np.degrees(3.0 * eighth / cosine[near] ** 2) + _SPARE_DEG
        begin = before.azimuth[near]
        turned = (after.azimuth[near] - begin + 180.0) % 360.0 - 180.0
        left = begin + np.minimum(turned, 0.0) - stray
        right = begin + np.maximum(turned, 0.0) + stray
        lowest, highest = self.range.extremes(left, right)
        is_open[near] = (low[near] <= highest) & (high[near] >= lowest)
        return is_open

    def _cut(self, pieces: _Pieces, cuts: int) -> _Pieces:
        """Cut each piece into so many."""
        length = pieces.length_us // cuts
        starts = pieces.start_us[:, None] + length * np.arange(cuts)
        inner = self.look(starts[:, 1:])
        nodes = [
            np.concatenate([before[:, None], between, after[:, None]], axis=1)
            for before, between, after in zip(pieces.before, inner, pieces.after, strict=True)
        ]
        return _Pieces(
            starts.ravel(),
            length,
            _Looks(*(values[:, :-1].ravel() for values in nodes)),
            _Looks(*(values[:, 1:].ravel() for values in nodes)),
        )


class _Range:
    """The lowest and the highest that a line through corners is between any two places.

    For runs of 1, 2, 4, ... corners the extremes are kept, so that two runs cover any others.
    """

    def __init__(self, places: Floats, heights: Floats) -> None:
        self.places, self.heights = places, heights
        self.lowest, self.highest = [heights], [heights]
        run = 1
        while 2 * run <= len(heights):
            for kept, pick in ((self.lowest, np.minimum), (self.highest, np.maximum)):
                values = kept[-1]
                kept.append(pick(values[:-run], values[run:]))
            run *= 2

    def extremes(self, left: Floats, right: Floats) -> tuple[Floats, Floats]:
        """Return the lowest and the highest between places, which may lie beyond the corners."""
        ends = (
            np.interp(left, self.places, self.heights),
            np.interp(right, self.places, self.heights),
        )
        low, high = np.minimum(*ends), np.maximum(*ends)
        begin = np.searchsorted(self.places, left, "right")
        end = np.searchsorted(self.places, right, "left")
        count = end - begin
        for level, (lowest, highest) in enumerate(zip(self.lowest, self.highest, strict=True)):
            here = np.flatnonzero((count >= 1 << level) & (count < 2 << level))
            first, last = begin[here], end[here] - (1 << level)
            low[here] = np.minimum(low[here], np.minimum(lowest[first], lowest[last]))
            high[here] = np.maximum(high[here], np.maximum(highest[first], highest[last]))
        return low, high
