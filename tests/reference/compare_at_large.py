"""Crossings and transits of millions of random site-days against the JPL ephemeris DE421.

Run by ``make truth``; too long for the tests, whose sample (`test_jpl_ephemeris`) is small. The JPL
Sun is read by skyfield twice a day over the whole ephemeris and interpolated between; how far that
is from skyfield's own altitude is measured on the way, and printed. Every site-day has both of its
sides sampled every half hour, with the turning points between, so that each crossing is also looked
for without the program. A seed repeats a run.

The table at the end is for `docs/how-the-sun-is-computed.md`. The exit status is 1 if an error is
over the limits of `test_jpl_ephemeris`, or a side is told wrongly.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
import warnings
from importlib.metadata import version
from typing import NamedTuple

import numpy as np

from daylatch.sun.crossings import SkyState, sun_crossings, sun_transits
from reference import jpl_sun
from reference.test_jpl_ephemeris import (
    ALTITUDES_DEG,
    GRAZING_LIMIT_DEG,
    SHALLOW_DEG_PER_H,
    SHALLOW_LIMIT_S,
    STEEP_DEG_PER_H,
    STEEP_LIMIT_S,
    TOUCHING_DEG,
    random_days,
)

BATCH = 4_000
GRID_PER_DAY = 2
US_PER_DAY = 86_400e6
ARCSEC_PER_DEG = 3600.0
STEPS = 24  # of half an hour on a side
# Turning points this near to the altitude are looked at again, sixteen times as finely.
NEAR_DEG = 0.05
DIRECT_PER_BATCH = 2
# Nearer to a pole the season moves the Sun's altitude more than the day does.
POLAR_DEG = 89.0
# WGS 84, and the Earth's rotation [rad/day of UT1]; the speed of light [au/day].
EQUATOR_AU = 6378.137 / 149_597_870.7
FLATTENING = 1.0 / 298.257223563
TURN = 2.0 * np.pi
SPIN_RAD_PER_DAY = TURN * 1.00273781191135448
LIGHT_AU_PER_DAY = 173.144632674


def even_spin(days):
    """Return how far the Earth has turned but for whole turns [rad], if it turned evenly."""
    return TURN * (days % 1.0) + (SPIN_RAD_PER_DAY - TURN) * days


class JplSun:
    """The JPL Sun as seen from the Earth's centre, turning with the Earth, as cubics in time."""

    def __init__(self) -> None:
        from skyfield.framelib import true_equator_and_equinox_of_date  # noqa: PLC0415

        scale, earth, sun = jpl_sun._loaded()
        self.first = float(jpl_sun.FIRST_DATE.astype(int)) - 3.0
        days = float(jpl_sun.LAST_DATE.astype(int)) - self.first + 4.0
        grid = self.first + np.arange(int(days * GRID_PER_DAY)) / GRID_PER_DAY
        rows = np.empty((4, grid.size))
        for start in range(0, grid.size, 2_000):
            here = slice(start, start + 2_000)
            when = scale.ut1_jd(jpl_sun.UNIX_EPOCH_JD + grid[here])
            seen = earth.at(when).observe(sun).apparent()
            rows[:3, here] = seen.frame_xyz(true_equator_and_equinox_of_date).au
            rows[3, here] = np.radians(when.gast * 15.0) - even_spin(grid[here])
        # What is left hardly moves: precession and nutation.
        rows[3] = np.unwrap(rows[3] % TURN)
        # The cubic through four neighbours, in the time since the second of them.
        before, at, after, beyond = (rows[:, i : grid.size - 3 + i] for i in range(4))
        cubics = np.stack(
            [
                at,
                after - before / 3.0 - at / 2.0 - beyond / 6.0,
                (before + after) / 2.0 - at,
                (beyond - before) / 6.0 + (at - after) / 2.0,
            ]
        )
        self.cubics = cubics.transpose(2, 0, 1).copy()

    def place_au(self, days):
        """Return the Sun's apparent place in axes that turn with the Earth, at days since 1970."""
        steps = (days - self.first) * GRID_PER_DAY - 1.0
        index = steps.astype(np.int64)
        part = (steps - index)[..., None]
        c = self.cubics[index]
        x, y, z, angle = np.moveaxis(
            ((c[..., 3, :] * part + c[..., 2, :]) * part + c[..., 1, :]) * part + c[..., 0, :],
            -1,
            0,
        )
        angle = angle + even_spin(days)
        cosine, sine = np.cos(angle), np.sin(angle)
        return x * cosine + y * sine, y * cosine - x * sine, z

    def hour_angle(self, longitude, days):
        """Return the Sun's hour angle as seen from the Earth's centre [rad, -pi to pi]."""
        x, y, _ = self.place_au(days)
        return (longitude - np.arctan2(y, x) + np.pi) % TURN - np.pi

    def transit(self, longitude, days, hour_angle):
        """Return when the hour angle has a value near to a time [days]."""
        for _ in range(3):
            off = self.hour_angle(longitude, days) - hour_angle
            days = days - ((off + np.pi) % TURN - np.pi) / TURN
        return days

    def altitude_deg(self, latitude, longitude, days):
        """Return the airless altitude from the ellipsoid, the aberration by its spin included."""
        sin_latitude, cos_latitude = np.sin(latitude), np.cos(latitude)
        squash = (1.0 - FLATTENING) ** 2
        radius = EQUATOR_AU / np.sqrt(cos_latitude**2 + squash * sin_latitude**2)
        x, y, z = self.place_au(days)
        # Along the site's meridian, to its east, and along the axis.
        out = x * np.cos(longitude) + y * np.sin(longitude) - radius * cos_latitude
        east = y * np.cos(longitude) - x * np.sin(longitude)
        north = z - squash * radius * sin_latitude
        distance = np.sqrt(out * out + east * east + north * north)
        east = east / distance + SPIN_RAD_PER_DAY * radius * cos_latitude / LIGHT_AU_PER_DAY
        out, north = out / distance, north / distance
        up = (out * cos_latitude + north * sin_latitude) / np.sqrt(
            out * out + east * east + north * north
        )
        return np.degrees(np.arcsin(up))


class Places(NamedTuple):
    """Random site-days, flat: [rad], [rad], days since 1970, [deg]."""

    latitude: np.ndarray
    longitude: np.ndarray
    day: np.ndarray
    altitude_deg: np.ndarray

    def pick(self, here):
        return Places(*(values[here] for values in self))

    def text(self, index):
        return (
            f"{np.degrees(self.latitude[index]):+.3f} {np.degrees(self.longitude[index]):+.3f}"
            f" {np.datetime64(int(self.day[index]), 'D')} at {self.altitude_deg[index]:.4f} deg"
        )


def random_places(generator, size):
    """Return site-days; half of them ask for a named altitude, half for any between."""
    altitude = np.where(
        generator.random(size) < 0.5,
        generator.choice(ALTITUDES_DEG, size),
        generator.uniform(min(ALTITUDES_DEG), max(ALTITUDES_DEG), size),
    )
    return Places(
        np.radians(generator.uniform(-90.0, 90.0, size)),
        np.radians(generator.uniform(-180.0, 180.0, size)),
        random_days(generator, size).astype("datetime64[D]").astype(np.float64),
        altitude,
    )


class Worst:
    """How many were looked at, the worst of them, and where that was."""

    def __init__(self) -> None:
        self.count, self.value, self.where = 0, 0.0, ""

    def see(self, values, name):
        self.count += values.size
        if values.size and values.max() > self.value:
            index = int(values.argmax())
            self.value, self.where = float(values[index]), name(index)


class Side(NamedTuple):
    """What the JPL Sun does on a side, at nodes in order of time."""

    days: np.ndarray
    above: np.ndarray
    nearest_deg: np.ndarray  # how near a turning point or a transit comes to the altitude
    transits_off_deg: np.ndarray  # how near either of its two transits comes to it


def look_at_side(sun, places, start, end):
    """Sample a side, and find the points between at which the altitude turns."""
    step = ((end - start) / STEPS)[:, None]
    # One step more at each end shows a turning point in the first and in the last.
    days = start[:, None] + step * np.arange(-1, STEPS + 2)
    site = Places(*(values[:, None] for values in places))
    heights = sun.altitude_deg(site.latitude, site.longitude, days)
    rising = np.diff(heights, axis=1) > 0.0
    row, column = np.nonzero(rising[:, 1:] != rising[:, :-1])
    column += 1
    x, height = days[row, column], heights[row, column]
    wide = step[row, 0]
    x, height = turning_point(x, wide, heights[row, column - 1], height, heights[row, column + 1])
    again = np.flatnonzero(np.abs(height - places.altitude_deg[row]) < NEAR_DEG)
    one = places.pick(row[again])
    fine = wide[again] / 16.0
    three = [
        sun.altitude_deg(one.latitude, one.longitude, x[again] + fine * shift)
        for shift in (-1.0, 0.0, 1.0)
    ]
    x[again], height[again] = turning_point(x[again], fine, *three)
    inside = (x > start[row]) & (x < end[row])
    row, x, height = row[inside], x[inside], height[inside]
    # At most one near each end: two more columns hold them, or the side's start again.
    which = np.arange(row.size) - np.searchsorted(row, row)
    assert which.max(initial=0) < 2
    more_days = np.repeat(start[:, None], 2, axis=1)
    more_heights = np.repeat(heights[:, 1:2], 2, axis=1)
    more_days[row, which], more_heights[row, which] = x, height
    days = np.concatenate([days[:, 1:-1], more_days], axis=1)
    heights = np.concatenate([heights[:, 1:-1], more_heights], axis=1)
    order = np.argsort(days, axis=1, kind="stable")
    off = heights - site.altitude_deg
    above = np.take_along_axis(off >= 0.0, order, axis=1)
    ends = off[:, [0, STEPS]]
    nearest = np.abs(np.concatenate([off[:, -2:], ends], axis=1)).min(axis=1)
    return Side(np.take_along_axis(days, order, axis=1), above, nearest, np.abs(ends).min(axis=1))


def turning_point(x, step, before, at, after):
    """Return time and height of the parabola's turning point through three samples."""
    slope, bend = (after - before) / 2.0, before - 2.0 * at + after
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend == 0.0, 0.0, -slope / bend)
    return x + step * shift, at + slope * shift / 2.0


class Comparison:
    """All that is counted over the batches."""

    def __init__(self, seed) -> None:
        self.generator = np.random.default_rng(seed)
        self.sun = JplSun()
        self.site_days = 0
        self.steep_s, self.shallow_s, self.grazing_arcsec = Worst(), Worst(), Worst()
        self.transit_s = Worst()
        self.interpolation_arcsec = Worst()
        self.sides = dict.fromkeys(SkyState, 0)
        self.touching = Worst()
        self.wrong: list[str] = []
        self.wrong_way, self.wrong_way_polar = Worst(), 0
        self.wrong_way_from = (90.0, "")

    def batch(self, size):
        """Compare some site-days more."""
        places = random_places(self.generator, size)
        self.site_days += size
        latitude, longitude = np.degrees(places.latitude), np.degrees(places.longitude)
        dates = places.day.astype(int).astype("datetime64[D]")
        found = sun_crossings(latitude, longitude, dates, places.altitude_deg)
        lower, upper = sun_transits(longitude, dates)
        after, _ = sun_transits(longitude, dates + 1)
        true_upper = self.transits(places, upper, 0.0)
        for instants, sky, start, end, rises in (
            (found.rising, found.dawn_sky, self.transits(places, lower, np.pi), true_upper, True),
            (found.setting, found.dusk_sky, true_upper, self.transits(places, after, np.pi), False),
        ):
            self.events(places, instants)
            side = look_at_side(self.sun, places, start, end)
            self.states(places, days_of(instants), sky, side, rises=rises)

    def transits(self, places, instants, hour_angle):
        """Return the true transits near those that were told."""
        told = days_of(instants)
        true = self.sun.transit(places.longitude, told, hour_angle)
        self.transit_s.see(np.abs(told - true) * 86_400.0, places.text)
        return true

    def events(self, places, instants):
        """Judge the instants of crossings by the true altitude and its rate."""
        real = np.flatnonzero(~np.isnat(instants))
        places, days = places.pick(real), days_of(instants[real])
        reached, before, after = (
            self.sun.altitude_deg(places.latitude, places.longitude, days + shift)
            for shift in (0.0, -jpl_sun.RATE_STEP_DAYS, jpl_sun.RATE_STEP_DAYS)
        )
        rate = np.abs(after - before) / (2.0 * jpl_sun.RATE_STEP_DAYS * 24.0)
        off_deg = np.abs(reached - places.altitude_deg)
        with np.errstate(divide="ignore"):
            error_s = off_deg / rate * 3600.0
        for worst, values, here in (
            (self.steep_s, error_s, rate >= STEEP_DEG_PER_H),
            (self.shallow_s, error_s, (rate >= SHALLOW_DEG_PER_H) & (rate < STEEP_DEG_PER_H)),
            (self.grazing_arcsec, off_deg * ARCSEC_PER_DEG, rate < SHALLOW_DEG_PER_H),
        ):
            index = np.flatnonzero(here)
            worst.see(values[index], lambda i, index=index: places.text(index[i]))
        some = self.generator.integers(0, real.size, DIRECT_PER_BATCH)
        direct, _ = jpl_sun.altitude_azimuth_deg(
            np.degrees(places.latitude[some]),
            np.degrees(places.longitude[some]),
            instants[real[some]],
        )
        self.interpolation_arcsec.see(
            np.abs(direct - reached[some]) * ARCSEC_PER_DEG, lambda i: places.text(some[i])
        )

    def states(self, places, told, sky, side, *, rises):
        """Judge what was told of a side by what the true Sun does on it."""
        first, second = side.above[:, :-1], side.above[:, 1:]
        passes = ~first & second if rises else first & ~second
        count = passes.shape[1]
        step = count - 1 - np.argmax(passes[:, ::-1], axis=1) if rises else passes.argmax(axis=1)
        crosses = passes.any(axis=1)
        at_transit = side.above[:, -1] if rises else side.above[:, 0]
        true_sky = np.where(at_transit, SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW)
        true_sky[crosses] = SkyState.CROSSES
        rows = np.arange(told.size)
        # As long as the Sun takes for the altitude's own error, an instant may lie outside.
        slack = 1.0 / 86_400.0
        elsewhere = crosses & (
            (told < side.days[rows, step] - slack) | (told > side.days[rows, step + 1] + slack)
        )
        wrong = np.flatnonzero((sky != true_sky) | elsewhere)
        for state in SkyState:
            self.sides[state] += int((true_sky == state).sum())
        touching_arcsec = side.nearest_deg[wrong] * ARCSEC_PER_DEG
        self.touching.see(touching_arcsec, lambda i: places.text(wrong[i]))
        self.wrong += [places.text(i) for i in wrong if side.nearest_deg[i] >= TOUCHING_DEG]
        self.wrong_ways(places, side, first & ~second if rises else ~first & second)

    def wrong_ways(self, places, side, passes):
        """Count sides with a passage down before the transit, or up behind it."""
        backward = passes.any(axis=1)
        latitude = np.degrees(np.abs(places.latitude))
        polar = latitude > POLAR_DEG
        self.wrong_way_polar += int((backward & polar).sum())
        here = np.flatnonzero(backward & ~polar)
        self.wrong_way.see(
            side.transits_off_deg[here] * ARCSEC_PER_DEG, lambda i: places.text(here[i])
        )
        for index in here:
            self.wrong_way_from = min(
                self.wrong_way_from, (float(latitude[index]), places.text(index))
            )

    def good(self):
        """Return whether every error is within the tests' limits."""
        return (
            self.steep_s.value <= STEEP_LIMIT_S
            and self.shallow_s.value <= SHALLOW_LIMIT_S
            and self.grazing_arcsec.value <= GRAZING_LIMIT_DEG * ARCSEC_PER_DEG
            and not self.wrong
        )

    def table(self):
        """Return what was found, as text."""
        lines = [f"{'':34} {'looked at':>11}  {'worst':>9}          where"]
        for name, worst, unit in (
            ("crossings, 5 deg/h or more", self.steep_s, "s"),
            ("crossings, 1 to 5 deg/h", self.shallow_s, "s"),
            ("crossings, less than 1 deg/h", self.grazing_arcsec, "arcsec"),
            ("upper and lower transits", self.transit_s, "s"),
            ("interpolation of the JPL Sun", self.interpolation_arcsec, "arcsec"),
        ):
            lines.append(
                f"{name:34} {worst.count:11,}  {worst.value:9.4f} {unit:6}   {worst.where}"
            )
        crosses, above, below = (self.sides[state] for state in SkyState)
        lines += [
            f"sides: {crosses:,} cross, {above:,} always above, {below:,} always below",
            f"told otherwise: {self.touching.count}, where the Sun turns within "
            f"{self.touching.value:.3f} arcsec of the altitude   {self.touching.where}",
            f"of these further than {TOUCHING_DEG * ARCSEC_PER_DEG:g} arcsec from it: "
            f"{len(self.wrong)}",
            f"with a passage the wrong way: {self.wrong_way_polar} within {90 - POLAR_DEG:g} deg "
            f"of a pole, and {self.wrong_way.count} elsewhere, there beside a transit that stands "
            f"within {self.wrong_way.value:.2f} arcsec of the altitude   {self.wrong_way.where}",
            f"  nearest the equator: {self.wrong_way_from[1] or 'none'}",
        ]
        return "\n".join([*lines, *self.wrong[:20]])


def days_of(instants):
    """Return datetime64 as days since 1970; whatever for NaT."""
    return instants.astype("datetime64[us]").astype(np.int64) / US_PER_DAY


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--site-days", type=int, default=5_000_000)
    parser.add_argument("--seed", type=int, default=421)
    options = parser.parse_args()
    # Of skyfield-data only the ephemeris is used.
    warnings.filterwarnings("ignore", "The file finals2000A.all has expired")
    begun = time.monotonic()
    compared = Comparison(options.seed)
    told = 0
    while compared.site_days < options.site_days:
        compared.batch(min(BATCH, options.site_days - compared.site_days))
        done = 100 * compared.site_days // options.site_days
        if done >= told + 5:
            told = done
            print(
                f"{done:3d} % after {time.monotonic() - begun:.0f} s", file=sys.stderr, flush=True
            )
    libraries = ", ".join(
        f"{name} {version(name)}" for name in ("numpy", "pyerfa", "skyfield", "skyfield-data")
    )
    print(f"{dt.datetime.now(dt.UTC).date()}, {libraries}")
    print(
        f"{compared.site_days:,} site-days, latitudes -90 to 90, {jpl_sun.FIRST_DATE} to "
        f"{jpl_sun.LAST_DATE}, seed {options.seed}, {time.monotonic() - begun:.0f} s"
    )
    print(compared.table())
    return 0 if compared.good() else 1


if __name__ == "__main__":
    sys.exit(main())
