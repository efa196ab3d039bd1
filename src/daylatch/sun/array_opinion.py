"""A check of light events on arrays, for thousands of houses: what was found, judged anew.

It knows nothing of how events are found. Its Sun is `noon_sun`'s, once a date and carried to each
event by parabolas, and it asks of each side of each solar day:

1. Does the Sun stand at the altitude at the event?
2. Does the event lie on its own side of its own day? Hour angles are counted from that day's
   transit with whole turns left in, so that another day's event is a turn away.
3. Are events in order?
4. Must there be an event, or can there be none? The altitudes at the two ends of the side tell.
5. Does the sky's state say the same?

It computes in single precision, which is 0.0001 degrees here, for speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.sun.array_faults import Fault, FirstFaults, SiteFault

# The names of the sky's states are all that this shares with what it checks.
from daylatch.sun.crossings import SkyState
from daylatch.sun.noon_sun import noon_sun

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from daylatch.arrays import Flags, Numbers, Times

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

TOLERANCE_DEG = 0.01
"""How far the Sun may stand from the altitude. `noon_sun` is off by at most 0.0045 deg."""
MARGIN_DEG = 0.004
"""How near to the altitude the end of a side may come before nothing is said of whether there is an
event. At both ends only the declination counts, which is off by at most 0.0018 deg."""
SIDE_TOLERANCE_DEG = 0.02
"""How far outside its side an event's hour angle may lie. The equation of time is off by at most
0.0044 deg."""
ORDER_TOLERANCE_S = 1.0
"""How far a setting may lie behind the next day's rising. Both can be at the lower transit, which
either day's own curves place within hundredths of a second."""
ALTITUDE_LIMIT_DEG = 89.0
"""Beyond it an altitude's sine tells too little of it."""

# 8.794143" (IAU 2009). At 1 au: the Earth's path changes it by 0.15" only.
_PARALLAX_RAD = np.radians(8.794143 / 3600.0)
# The Sun's declination changes by 0.4 deg a day at most: the sine of the obliquity times its 1 deg.
_DRIFT_DEG_PER_DAY = 0.4
# Beside a transit the Sun can go beyond the transit's own altitude, by at most r^2 / (2 k): r is
# that drift, and k the bend of the altitude, cos(lat) cos(dec) (2 pi)^2 a day^2; 4 / pi^2 of which
# bounds it over the whole side. That is 0.007^2 / (2 x 0.405 x 0.917 x 39.5) rad over cos(lat),
# and near the poles, where this grows without end, the drift of half a day.
_BULGE_DEG = 1e-4
# The obliquity and half a degree: no transit grazes an altitude that lies further from the least
# and the greatest of the year.
_REACH_DEG = 23.45 + 0.5
_FIRST_DAY, _LAST_DAY = np.datetime64("1900-01-01", "D"), np.datetime64("2100-12-31", "D")

# As plain numbers of the columns' type: NumPy compares enumerations slowly.
_CROSSES, _ABOVE, _BELOW = (np.int8(state) for state in SkyState)
_US_PER_DAY = 86_400_000_000
_US_PER_S = 1_000_000
_QUARTER = np.pi / 2.0
_TURN = 2.0 * np.pi
# The arrays of a chunk are 48 and 96 KiB each: what a core's second cache holds, and below the size
# from which the allocator asks the system for fresh pages.
_CHUNK = 12_288


class EventColumns(NamedTuple):
    """One side's light events: days on the first axis, sites on the last.

    Attributes
    ----------
    time_utc : datetime64[us]
        (D, S), NaT without an event.
    altitude_deg : float64
        Of the Sun's centre; whatever broadcasts to (D, S).
    sky : int8
        (D, S), a `SkyState` each.
    """

    time_utc: Times
    altitude_deg: ArrayLike
    sky: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class ArrayOpinion:
    """What the check said.

    Attributes
    ----------
    checked : int
        Events that were compared.
    worst_deg : float
        The largest difference in altitude among good ones.
    unsure : int
        Sides of days on which the Sun grazes the altitude so closely that either answer may be
        right.
    faulty : bool
        (S,), which sites have a fault.
    faults : tuple of SiteFault
        The first fault of each of those, by site.
    """

    checked: int
    worst_deg: float
    unsure: int
    faulty: Flags
    faults: tuple[SiteFault, ...]


class _Side(NamedTuple):
    """One side's events, and what is wanted of them."""

    number: int
    time_us: Numbers
    absent: Flags
    sky: NDArray[np.int8]
    # The sine of the altitude as seen from the Earth's centre, and what makes of a small difference
    # of sines one of altitudes [rad].
    sine: Singles
    per_sine: Singles

    @property
    def direction(self) -> float:
        """Return -1 before the transit and 1 after it."""
        return -1.0 if self.number == 0 else 1.0

    def part(self, rows: slice, columns: Numbers | slice) -> _Side:
        """Return some days and sites."""
        return self._replace(
            time_us=self.time_us[rows, columns],
            absent=self.absent[rows, columns],
            sky=self.sky[rows, columns],
            sine=_cut(self.sine, rows, columns),
            per_sine=_cut(self.per_sine, rows, columns),
        )


class _Curves(NamedTuple):
    """The Sun of the days: each (3, D, 1), for powers of days from noon."""

    hour_angle: Singles
    sine: Singles
    cosine: Singles

    def part(self, rows: slice) -> _Curves:
        return _Curves(*(curve[:, rows] for curve in self))


class _Sites(NamedTuple):
    """What is needed of the sites, each (S,)."""

    number: Numbers
    longitude: Singles
    sin_latitude: Singles
    cos_latitude: Singles
    # How far from the altitude an end must be for no event to be possible.
    clear: Singles

    def part(self, columns: Numbers | slice) -> _Sites:
        return _Sites(
            self.number[columns],
            self.longitude[columns],
            self.sin_latitude[columns],
            self.cos_latitude[columns],
            self.clear[columns],
        )


def check_events(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    solar_days: ArrayLike,
    rising: EventColumns,
    setting: EventColumns,
) -> ArrayOpinion:
    """Judge light events by a Sun of the check's own.

    Parameters
    ----------
    latitude_deg, longitude_deg
        (S,), north and east positive.
    solar_days
        (D, 1) or (D, S) datetime64[D]: days of local mean solar time, increasing.
    rising, setting
        For each day the last upward crossing between its lower transit and its transit, and the
        first downward one between its transit and the next lower transit.

    Returns
    -------
    ArrayOpinion
        Faults are data here: the caller knows whose plans they stop.

    Raises
    ------
    ValueError
        For what cannot be checked: a latitude, longitude, day or altitude out of range, days that
        do not increase, columns of other shapes.
    """
    latitude = _within("latitude", latitude_deg, 90.0)
    longitude = _within("longitude", longitude_deg, 180.0)
    days = np.asarray(solar_days, "datetime64[D]")
    if days.ndim != 2 or days.shape[1] not in {1, latitude.size}:
        raise ValueError("days: a row for each, and one column or one for each site")
    if np.any(days[1:] <= days[:-1]) or not np.all((days >= _FIRST_DAY) & (days <= _LAST_DAY)):
        raise ValueError(f"days: they must increase, from {_FIRST_DAY} to {_LAST_DAY}")
    shape = (len(days), latitude.size)
    sides = (_side(0, rising, shape), _side(1, setting, shape))
    sites = _sites(latitude, longitude)
    deepest = max(_greatest(columns.altitude_deg) for columns in (rising, setting))
    graze = np.abs(latitude) + _REACH_DEG + deepest >= 90.0
    for side in sides:
        graze |= side.absent.any(axis=0) | (side.sky != _CROSSES).any(axis=0)

    faults = FirstFaults(latitude.size)
    worst_rad, unsure = 0.0, 0
    for columns in _alike(days):
        there = np.asarray(days[:, columns][:, 0])
        part = (sides[0].part(slice(None), columns), sides[1].part(slice(None), columns))
        worst, grazing = _check_alike(
            there, sites.part(columns), part, np.flatnonzero(graze[columns]), faults
        )
        worst_rad, unsure = max(worst_rad, worst), unsure + grazing
    return ArrayOpinion(
        checked=sum(int(np.count_nonzero(~side.absent)) for side in sides),
        worst_deg=float(np.degrees(worst_rad)),
        unsure=unsure,
        faulty=faults.faulty,
        faults=tuple(_told(faults, days, (rising, setting), shape)),
    )


def _within(name: str, values: ArrayLike, limit: float) -> Floats:
    array = np.asarray(values, np.float64)
    if array.ndim != 1 or not np.all(np.abs(array) <= limit):
        raise ValueError(f"{name}: one for each site, between -{limit:g} and {limit:g} degrees")
    return array


def _greatest(altitude_deg: ArrayLike) -> float:
    return float(np.abs(altitude_deg).max(initial=0.0))


def _side(number: int, columns: EventColumns, shape: tuple[int, int]) -> _Side:
    times = np.asarray(columns.time_utc, "datetime64[us]")
    altitude = np.radians(np.asarray(columns.altitude_deg, np.float64)).astype(np.float32)
    altitude = altitude.reshape((1,) * (2 - altitude.ndim) + altitude.shape)
    if times.shape != shape or columns.sky.shape != shape:
        raise ValueError("times and skies: a row for each day, a column for each site")
    if np.any((columns.sky < _CROSSES) | (columns.sky > _BELOW)):
        raise ValueError("skies: a `SkyState` each")
    if not np.all(np.abs(altitude) <= np.radians(ALTITUDE_LIMIT_DEG)):
        raise ValueError(f"altitude: at most {ALTITUDE_LIMIT_DEG:g} degrees up or down")
    cosine = np.cos(altitude)
    return _Side(
        number,
        times.view(np.int64),
        np.isnat(times),
        columns.sky,
        np.sin(altitude) + np.float32(_PARALLAX_RAD) * cosine**2,
        np.asarray(1.0 / cosine, np.float32),
    )


def _sites(latitude_deg: Floats, longitude_deg: Floats) -> _Sites:
    latitude = np.radians(latitude_deg)
    cosine = np.cos(latitude)
    bulge_deg = np.minimum(_BULGE_DEG / cosine, _DRIFT_DEG_PER_DAY / 2.0)
    return _Sites(
        np.arange(latitude.size),
        np.radians(longitude_deg).astype(np.float32),
        np.sin(latitude).astype(np.float32),
        cosine.astype(np.float32),
        np.radians(MARGIN_DEG + bulge_deg).astype(np.float32),
    )


def _alike(days: Times) -> Iterator[Numbers | slice]:
    """Group sites by their days: a calendar that skipped a date is rare."""
    if np.all(days == days[:, :1]):
        yield slice(None)
        return
    left = np.arange(days.shape[1])
    while left.size:
        same = (days[:, left] == days[:, left[:1]]).all(axis=0)
        yield left[same]
        left = left[~same]


def _cut(values: Singles, rows: slice, columns: Numbers | slice) -> Singles:
    """Cut what may have axes of length one, and leave those alone."""
    if values.shape[0] > 1:
        values = values[rows]
    return values[:, columns] if values.shape[1] > 1 else values


def _check_alike(
    days: Times,
    sites: _Sites,
    sides: tuple[_Side, _Side],
    grazed: Numbers,
    faults: FirstFaults,
) -> tuple[float, int]:
    """Check sites that have the same days; return the worst of the good [rad], and the unsure."""
    sun = noon_sun(days)
    hour_angle = sun.equation_rad.copy()
    hour_angle[1] += _TURN
    curves = _Curves(
        *(
            curve.astype(np.float32)[..., None]
            for curve in (hour_angle, sun.sin_declination, sun.cos_declination)
        )
    )
    noons_us = ((days.astype(np.int64) * 2 + 1) * (_US_PER_DAY // 2))[:, None]
    worst, unsure = 0.0, 0
    for rows in _chunks(len(days), sites.number.size):
        here = curves.part(rows)
        for side in sides:
            part = side.part(rows, slice(None))
            worst = max(worst, _check_times(here, sites, part, noons_us[rows], rows.start, faults))
    columns = slice(None) if grazed.size == sites.number.size else grazed
    some, parts = sites.part(columns), [side.part(slice(None), columns) for side in sides]
    for rows in _chunks(len(days), grazed.size):
        short = [part.part(rows, slice(None)) for part in parts]
        unsure += _check_existence(curves.part(rows), some, short, rows.start, faults)
    _check_order(sites, *sides, faults)
    return worst, unsure


def _chunks(days: int, sites: int) -> Iterator[slice]:
    """Cut days into parts of about `_CHUNK` elements; none for no sites."""
    if sites:
        step = max(1, _CHUNK // sites)
        yield from (slice(start, start + step) for start in range(0, days, step))


def _at(curve: Singles, x: Singles) -> Singles:
    """Return the values of parabolas at times from their noons."""
    constant, linear, square = curve
    out = np.asarray(square * x)
    out += linear
    out *= x
    out += constant
    return out


def _check_times(
    curves: _Curves,
    sites: _Sites,
    side: _Side,
    noons_us: Numbers,
    start: int,
    faults: FirstFaults,
) -> float:
    """Check where the Sun stands at events; return the worst of the good [rad]."""
    lacking = side.absent.any()
    x = (side.time_us - noons_us).astype(np.float32)
    x *= np.float32(1.0 / _US_PER_DAY)
    if lacking:
        np.putmask(x, side.absent, 0.0)
    # Counted from the middle of the side, where the Sun stands in the east or the west: there the
    # side ends a quarter of a turn before and after, and the cosine of the hour angle is a sine.
    angle = _at(curves.hour_angle, x)
    angle += sites.longitude - np.float32(side.direction * _QUARTER)
    reach = np.abs(angle)
    np.sin(angle, out=angle)
    angle *= _at(curves.cosine, x)
    angle *= sites.cos_latitude * np.float32(-side.direction)
    off = _at(curves.sine, x)
    off *= sites.sin_latitude
    off += angle
    off -= side.sine
    off *= side.per_sine
    distance = np.abs(off, out=angle)
    outside = reach > np.float32(_QUARTER + np.radians(SIDE_TOLERANCE_DEG))
    wrong = distance > np.float32(np.radians(TOLERANCE_DEG))
    wrong |= outside
    if lacking:
        wrong &= ~side.absent
        np.putmask(distance, side.absent, 0.0)
    if wrong.any():
        outside &= wrong
        hours = (reach - _QUARTER) * (24.0 / _TURN)
        faults.add(Fault.ELSEWHERE, side.number, outside, hours, start, sites.number)
        amounts = np.abs(_degrees(off, side))
        faults.add(Fault.OFF, side.number, wrong & ~outside, amounts, start, sites.number)
        distance[wrong] = 0.0
    return float(distance.max(initial=0.0))


def _check_existence(
    curves: _Curves, sites: _Sites, sides: list[_Side], start: int, faults: FirstFaults
) -> int:
    """Check which events there are by the altitudes at the ends of the sides; return the unsure."""
    transit = (curves.hour_angle[0] + sites.longitude) * np.float32(-1.0 / _TURN)
    highest = _at(curves.sine, transit)
    highest *= sites.sin_latitude
    highest += _at(curves.cosine, transit) * sites.cos_latitude
    margin = np.float32(np.radians(MARGIN_DEG))
    unsure = 0
    for side in sides:
        lower = transit + np.float32(side.direction * 0.5)
        lowest = _at(curves.sine, lower)
        lowest *= sites.sin_latitude
        lowest -= _at(curves.cosine, lower) * sites.cos_latitude
        top, bottom = ((end - side.sine) * side.per_sine for end in (highest, lowest))
        must = (bottom < -margin) & (top > margin)
        never = (bottom > sites.clear) | (top < -sites.clear)
        unsure += int(np.count_nonzero(~(must | never)))
        crosses = side.sky == _CROSSES
        missing = side.absent & must
        impossible = never & ~side.absent
        # Where an event lacks, the sky says where the Sun is at the transit.
        sky = (side.sky == _ABOVE) & (top < -margin)
        sky |= (side.sky == _BELOW) & (top > margin)
        sky |= crosses == side.absent
        if not (missing.any() or impossible.any() or sky.any()):
            continue
        top_deg, bottom_deg = _degrees(top, side), _degrees(bottom, side)
        for fault, wrong, amounts in (
            (Fault.MISSING, missing, np.maximum(np.minimum(top_deg, -bottom_deg), 0.0)),
            (Fault.IMPOSSIBLE, impossible, np.maximum(bottom_deg, -top_deg)),
            (Fault.SKY, sky, np.abs(top_deg)),
        ):
            faults.add(fault, side.number, wrong, amounts, start, sites.number)
    return unsure


def _check_order(sites: _Sites, rising: _Side, setting: _Side, faults: FirstFaults) -> None:
    """Check that each day's rising comes before its setting, and after that of the day before."""
    # NaT is less than any number.
    late = rising.time_us >= setting.time_us
    late &= ~setting.absent
    early = rising.time_us[1:] + round(ORDER_TOLERANCE_S * _US_PER_S) < setting.time_us[:-1]
    early &= ~rising.absent[1:]
    if late.any():
        beyond_s = (rising.time_us - setting.time_us) / _US_PER_S
        faults.add(Fault.ORDER, rising.number, late, beyond_s, 0, sites.number)
    if early.any():
        beyond_s = (setting.time_us[:-1] - rising.time_us[1:]) / _US_PER_S
        faults.add(Fault.ORDER, rising.number, early, beyond_s, 1, sites.number)


def _degrees(off: Singles, side: _Side) -> Floats:
    """Return differences in altitude, however large."""
    sine = np.clip(off / side.per_sine + side.sine, -1.0, 1.0)
    return np.asarray(np.degrees(np.arcsin(sine) - np.arcsin(side.sine)), np.float64)


def _told(
    faults: FirstFaults,
    days: Times,
    columns: tuple[EventColumns, EventColumns],
    shape: tuple[int, int],
) -> Iterator[SiteFault]:
    altitudes = [np.broadcast_to(np.asarray(side.altitude_deg), shape) for side in columns]
    dates = np.broadcast_to(days, shape)
    for site in np.flatnonzero(faults.faulty).tolist():
        row, side = int(faults.row[site]), int(faults.side[site])
        yield SiteFault(
            site,
            Fault(faults.fault[site]),
            side,
            float(altitudes[side][row, site]),
            dates[row, site],
            float(faults.amount[site]),
        )
