"""Crossings, transits and positions against the JPL ephemeris DE421, read by skyfield.

Most checks put skyfield's Sun at the instants that `daylatch.sun.crossings` returns and divide its
distance from the asked altitude by its rate: the error in seconds. Skyfield's own searches for
risings and settings are run beside that, so that an event that `daylatch` missed would show.
"""

import numpy as np
import pytest

from daylatch.sun.crossings import SkyState, sun_crossings, sun_position, sun_transits
from reference import jpl_sun

ALTITUDES_DEG = (-0.8333, -6.0, -12.0, -18.0)
LATITUDES_DEG = (0.0, 12.0, 25.0, 35.0, 43.0, 48.0, 52.0, 56.0, 60.0, 64.0, 67.0, 70.0, 74.0, 78.0)
POLAR_LATITUDES_DEG = (85.0, 89.0)
DAYS_PER_CELL = 60
# The product's goals: by how fast the Sun's altitude changes at the crossing.
STEEP_DEG_PER_H = 5.0
SHALLOW_DEG_PER_H = 1.0
STEEP_LIMIT_S = 0.1
SHALLOW_LIMIT_S = 1.0
# Slower than that a time says little (it goes to infinity as the Sun just touches the altitude),
# so the altitude is judged: what 0.1 s is at the steep band's slow end, 0.5 arc seconds.
GRAZING_LIMIT_DEG = STEEP_LIMIT_S * STEEP_DEG_PER_H / 3600.0
# Where the Sun's turning point comes this near to the altitude, either answer is right.
TOUCHING_DEG = 0.001


def random_days(generator, shape):
    span = (jpl_sun.LAST_DATE - jpl_sun.FIRST_DATE).astype(int)
    return jpl_sun.FIRST_DATE + generator.integers(0, span, shape)


@pytest.fixture(scope="module")
def grid():
    """Return flat latitude, longitude, altitude, instant, error [s] and rate [deg/h] of events."""
    generator = np.random.default_rng(421)
    both = [sign * value for value in LATITUDES_DEG + POLAR_LATITUDES_DEG for sign in (1.0, -1.0)]
    shape = (len(both), len(ALTITUDES_DEG), DAYS_PER_CELL)
    latitude = np.broadcast_to(np.array(both)[:, None, None], shape)
    altitude = np.broadcast_to(np.array(ALTITUDES_DEG)[:, None], shape)
    longitude = generator.uniform(-180.0, 180.0, shape)
    found = sun_crossings(latitude, longitude, random_days(generator, shape), altitude)
    parts = []
    for instants in (found.rising, found.setting):
        real = ~np.isnat(instants)
        parts.append((latitude[real], longitude[real], altitude[real], instants[real]))
    latitude, longitude, altitude, instants = map(np.concatenate, zip(*parts, strict=True))
    reached, rate = jpl_sun.altitude_and_rate(latitude, longitude, instants)
    return latitude, altitude, reached - altitude, np.abs(rate)


def test_crossings_by_the_altitude_rate(grid, capsys):
    _, _, off_deg, rate = grid
    error_s = np.abs(off_deg) / rate * 3600.0
    steep = rate >= STEEP_DEG_PER_H
    shallow = (rate >= SHALLOW_DEG_PER_H) & ~steep
    grazing = rate < SHALLOW_DEG_PER_H
    with capsys.disabled():
        print("\ncrossings against DE421, 1900 to 2053, worst error in each band of altitude rate")
        for name, here, limit in (
            (">= 5 deg/h", steep, f"{STEEP_LIMIT_S} s"),
            ("1 to 5 deg/h", shallow, f"{SHALLOW_LIMIT_S} s"),
            ("< 1 deg/h", grazing, f"{GRAZING_LIMIT_DEG * 3600:.1f} arcsec"),
        ):
            print(
                f"  {name:13} {here.sum():6d} events   {error_s[here].max():6.3f} s"
                f"   {np.abs(off_deg[here]).max() * 3600:6.3f} arcsec   limit {limit}"
            )
    # Each band must have been tried in earnest.
    assert steep.sum() > 5000
    assert shallow.sum() > 1000
    assert grazing.sum() > 100
    assert error_s[steep].max() <= STEEP_LIMIT_S
    assert error_s[shallow].max() <= SHALLOW_LIMIT_S
    assert np.abs(off_deg[grazing]).max() <= GRAZING_LIMIT_DEG


def test_transits(capsys):
    generator = np.random.default_rng(422)
    longitude = generator.uniform(-180.0, 180.0, 1500)
    lower, upper = sun_transits(longitude, random_days(generator, 1500))
    worst = {}
    for name, instants, wanted in (("upper", upper, 0.0), ("lower", lower, 12.0)):
        hours = jpl_sun.apparent(np.zeros(1500), longitude, instants).hadec()[0].hours
        worst[name] = np.abs((hours - wanted + 12.0) % 24.0 - 12.0).max() * 3600.0
    with capsys.disabled():
        print(
            "\ntransits against DE421, worst of 1500: "
            + ", ".join(f"{name} {value:.4f} s" for name, value in worst.items())
        )
    # Of this 0.0213 s (0.3195 arc seconds) are the aberration of light by the Earth's spin, which
    # skyfield includes: it moves the Sun east at noon, and hardly in altitude at the horizon.
    assert max(worst.values()) <= STEEP_LIMIT_S / 2.0


def site_years():
    """Return latitude, longitude, year and altitude of searches, the same at every run."""
    generator = np.random.default_rng(423)
    for index, altitude in enumerate(ALTITUDES_DEG * 12):
        latitude = (-1) ** index * LATITUDES_DEG[index % len(LATITUDES_DEG)]
        longitude = generator.uniform(-180.0, 180.0)
        yield latitude, longitude, int(generator.integers(1900, 2053)), altitude


def test_no_event_is_missed_or_made_up():
    """Skyfield's almanac.find_risings and find_settings give the same events, one for one."""
    latitudes, longitudes, altitudes, ours, theirs = [], [], [], [], []
    for latitude, longitude, year, altitude in site_years():
        start, end = np.datetime64(f"{year}-01-01"), np.datetime64(f"{year + 1}-01-01")
        days = np.arange(start - 2, end + 2)
        found = sun_crossings(latitude, longitude, days, altitude)
        searched = jpl_sun.crossings(latitude, longitude, start, end, altitude)
        for instants, reference in zip((found.rising, found.setting), searched, strict=True):
            inside = instants[(instants >= start) & (instants < end)]
            assert inside.size == reference.size, (latitude, longitude, year, altitude)
            ours.append(inside)
            theirs.append(reference)
            latitudes.append(np.full(inside.size, latitude))
            longitudes.append(np.full(inside.size, longitude))
            altitudes.append(np.full(inside.size, altitude))
    ours, theirs = np.concatenate(ours), np.concatenate(theirs)
    assert ours.size > 20_000
    azimuth = sun_position(np.concatenate(latitudes), np.concatenate(longitudes), ours).azimuth_deg
    # The diurnal part of the rate, which is all of it but some 0.02 deg/h.
    rate = (
        15.0 * np.cos(np.radians(np.concatenate(latitudes))) * np.abs(np.sin(np.radians(azimuth)))
    )
    apart_s = np.abs((ours - theirs).astype(np.int64)) / 1e6
    assert apart_s[rate >= STEEP_DEG_PER_H].max() <= STEEP_LIMIT_S
    assert apart_s[rate >= SHALLOW_DEG_PER_H].max() <= SHALLOW_LIMIT_S


SAMPLES = 73  # every ten minutes of a side


def dense_side(latitude, longitude, start, end):
    """Return times [days from start] and skyfield's altitudes over one side, turning points too.

    A parabola through the three samples about a turning point gives its height to 1e-5 deg.
    """
    length = (end - start) / np.timedelta64(1, "D")
    x = np.linspace(0.0, length, SAMPLES)
    instants = start + np.rint(x * 86_400e6).astype("timedelta64[us]")
    flat = np.full(SAMPLES, 1.0)
    altitude, _ = jpl_sun.altitude_azimuth_deg(latitude * flat, longitude * flat, instants)
    below, at, above = altitude[:-2], altitude[1:-1], altitude[2:]
    turns = np.flatnonzero((at - below) * (above - at) < 0.0)
    slope = (above[turns] - below[turns]) / 2.0
    bend = below[turns] - 2.0 * at[turns] + above[turns]
    x_turn = x[turns + 1] - slope / bend * (x[1] - x[0])
    altitude_turn = at[turns] - slope**2 / (2.0 * bend)
    order = np.argsort(np.concatenate([x, x_turn]))
    return (
        np.concatenate([x, x_turn])[order],
        np.concatenate([altitude, altitude_turn])[order],
        np.concatenate([altitude_turn, altitude[[0, -1]]]),
    )


def grazing_sides(generator, latitude, longitude, days):
    """Yield days on which an extreme of the Sun's altitude comes within 0.15 deg of an altitude."""
    lower, upper = sun_transits(longitude, days)
    highest = sun_position(latitude, longitude, upper).altitude_deg
    lowest = sun_position(latitude, longitude, lower).altitude_deg
    for altitude in ALTITUDES_DEG:
        near = np.abs(highest - altitude) < 0.15
        near |= np.abs(lowest - altitude) < 0.15
        for day in generator.permutation(np.flatnonzero(near[:-1]))[:6]:
            yield days[day], altitude, lower[day], upper[day], lower[day + 1]


def test_sky_states_of_grazing_days_and_near_the_poles():
    generator = np.random.default_rng(424)
    tried = dict.fromkeys(SkyState, 0)
    touching = 0
    for latitude in (49.0, 54.0, 61.0, 66.0, 70.0, 76.0, 83.0, 87.0, 89.0, 89.9, 90.0):
        sign = generator.choice([-1.0, 1.0])
        longitude = generator.uniform(-180.0, 180.0)
        year = int(generator.integers(1900, 2050))
        days = np.arange(np.datetime64(f"{year}-01-01"), np.datetime64(f"{year + 3}-01-01"))
        for day, altitude, before, transit, after in grazing_sides(
            generator, sign * latitude, longitude, days
        ):
            found = sun_crossings(sign * latitude, longitude, day, altitude)
            for instant, sky, start, end, rises in (
                (found.rising, found.dawn_sky, before, transit, True),
                (found.setting, found.dusk_sky, transit, after, False),
            ):
                x, heights, extremes = dense_side(sign * latitude, longitude, start, end)
                if np.abs(extremes - altitude).min() < TOUCHING_DEG:
                    touching += 1
                    continue
                above = heights >= altitude
                passes = np.flatnonzero(
                    (~above[:-1] & above[1:]) if rises else (above[:-1] & ~above[1:])
                )
                case = (sign * latitude, longitude, day, altitude, rises)
                if passes.size:
                    expected = SkyState.CROSSES
                    step = passes[-1] if rises else passes[0]
                    at = (instant - start) / np.timedelta64(1, "D")
                    # A microsecond's rounding of the instant may fall just outside.
                    assert x[step] - 1e-9 <= at <= x[step + 1] + 1e-9, case
                    reached, _ = jpl_sun.altitude_azimuth_deg(sign * latitude, longitude, instant)
                    assert abs(reached - altitude) <= GRAZING_LIMIT_DEG, case
                else:
                    at_transit = above[-1] if rises else above[0]
                    expected = SkyState.ALWAYS_ABOVE if at_transit else SkyState.ALWAYS_BELOW
                    assert np.isnat(instant), case
                assert sky == expected, case
                tried[expected] += 1
    assert min(tried.values()) > 30
    assert touching < sum(tried.values()) / 10


def test_positions():
    generator = np.random.default_rng(425)
    latitude = generator.uniform(-90.0, 90.0, 1500)
    longitude = generator.uniform(-180.0, 180.0, 1500)
    seconds = generator.integers(0, 86_400, 1500).astype("timedelta64[s]")
    instants = random_days(generator, 1500) + seconds
    ours = sun_position(latitude, longitude, instants)
    altitude, azimuth = jpl_sun.altitude_azimuth_deg(latitude, longitude, instants)
    # One arc second; near the zenith and the poles the azimuth counts for less.
    assert np.abs(ours.altitude_deg - altitude).max() * 3600.0 < 1.0
    turned = (ours.azimuth_deg - azimuth + 180.0) % 360.0 - 180.0
    assert np.abs(turned * np.cos(np.radians(altitude))).max() * 3600.0 < 1.0
