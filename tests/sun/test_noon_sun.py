"""The Sun of the checks, against a worked example, JPL's ephemeris, SOFA and SPA."""

import numpy as np
import pytest
from pvlib import spa

from daylatch.sun.ephemeris import solar_days
from daylatch.sun.noon_sun import noon_sun, place_of
from reference import jpl_sun

# What docs/how-the-sun-is-computed.md says; the check's tolerances stand on these.
PLACE_LIMIT_DEG = 0.0045
DECLINATION_LIMIT_DEG = 0.0018
EQUATION_LIMIT_DEG = 0.0044
PARALLAX_DEG = 8.794 / 3600.0
DAY = np.timedelta64(1, "D")


def carried(sun, x):
    """Return equation of time and declination at times from the noons [deg]."""
    equation, sine, cosine = (curve[0] + x * (curve[1] + x * curve[2]) for curve in sun)
    return np.degrees(equation), np.degrees(np.arctan2(sine, cosine))


def altitude_deg(latitude_deg, longitude_deg, instants):
    days = instants.astype("datetime64[D]")
    x = (instants - days) / DAY - 0.5
    equation_deg, declination_deg = carried(noon_sun(days), x)
    hour_angle = np.radians(360.0 * x + longitude_deg + equation_deg)
    latitude, declination = np.radians(latitude_deg), np.radians(declination_deg)
    sine = np.sin(latitude) * np.sin(declination)
    sine += np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    centre = np.degrees(np.arcsin(sine))
    return centre - PARALLAX_DEG * np.cos(np.radians(centre))


def test_meeus_worked_example():
    """Chapters 25 and 28: 1992 October 13, 0h TD.

    Apparent longitude 199 deg 54' 21.8" and equation of time +13 m 42.6 s by the full theory; the
    declination -7 deg 47' 06" by the low-precision one.
    """
    delta_t_s = 35.0
    place = place_of(np.array([2448908.5 - 2451545.0 - delta_t_s / 86_400.0]))
    assert place.longitude_deg[0] == pytest.approx(199 + 54 / 60 + 21.8 / 3600, abs=0.002)
    assert np.degrees(place.declination_rad[0]) == pytest.approx(
        -(7 + 47 / 60 + 6 / 3600), abs=0.0015
    )
    equation_s = np.degrees(place.equation_rad[0]) * 240.0
    assert equation_s == pytest.approx(13 * 60 + 42.6, abs=0.5)


@pytest.mark.parametrize("x", [-1.01, -0.5, 0.0, 0.5, 1.01])
def test_every_day_against_sofa(x):
    days = np.arange(np.datetime64("1902-01-01"), np.datetime64("2100-01-01"))
    theirs = solar_days(days)
    powers = np.array([1.0, x, x**2, x**3])
    declination_deg = np.degrees(np.arcsin(powers @ theirs.sin_declination))
    equation_deg, ours_deg = carried(noon_sun(days), x)
    off_equation = equation_deg - np.degrees(powers @ theirs.equation_of_time_rad)
    off_declination = ours_deg - declination_deg
    assert np.abs(off_declination).max() < DECLINATION_LIMIT_DEG
    assert np.abs(off_equation).max() < EQUATION_LIMIT_DEG
    # No site sees the altitude further off than the two places are apart.
    apart = np.hypot(off_declination, off_equation * np.cos(np.radians(declination_deg)))
    assert apart.max() < PLACE_LIMIT_DEG


def random_places(generator, count, first, last):
    first, last = (np.datetime64(day, "s").astype(np.int64) for day in (first, last))
    return (
        np.degrees(np.arcsin(generator.uniform(-1.0, 1.0, count))),
        generator.uniform(-180.0, 180.0, count),
        generator.integers(first, last, count).astype("datetime64[s]").astype("datetime64[us]"),
    )


def test_altitudes_against_jpl():
    places = random_places(np.random.default_rng(25), 3_000, "1902-01-01", jpl_sun.LAST_DATE)
    theirs, _ = jpl_sun.altitude_azimuth_deg(*places)
    assert np.abs(altitude_deg(*places) - theirs).max() < PLACE_LIMIT_DEG


def test_declinations_against_spa_after_jpl_ends():
    days = np.arange(np.datetime64("2054-01-01"), np.datetime64("2100-01-01"))
    noons_s = (days.astype("datetime64[s]").astype(np.int64) + 43_200).astype(np.float64)
    theirs = spa.solar_position_numpy(noons_s, 0, 0, 0, 0, 0, 69.184, 0, 1, sst=True)
    equation_deg, declination_deg = carried(noon_sun(days), 0.0)
    sidereal_deg, right_ascension_deg, declination_spa_deg = theirs
    assert np.abs(declination_deg - declination_spa_deg).max() < DECLINATION_LIMIT_DEG
    off = (sidereal_deg - right_ascension_deg - equation_deg + 180.0) % 360.0 - 180.0
    assert np.abs(off).max() < EQUATION_LIMIT_DEG


def test_days_that_a_calendar_skipped_change_nothing():
    days = np.datetime64("2011-12-20") + np.arange(20)
    kept = np.delete(days, 10)
    for all_days, some in zip(noon_sun(days), noon_sun(kept), strict=True):
        assert np.array_equal(np.delete(all_days, 10, axis=1), some)
