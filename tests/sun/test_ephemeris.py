"""The Sun's curves and Delta T, against published examples and against SOFA's full chain."""

import erfa
import numpy as np
import pytest
from pvlib import spa
from skyfield.api import Loader
from skyfield_data import get_skyfield_data_path

from daylatch.sun import ephemeris
from daylatch.sun.ephemeris import (
    FIRST_DAY,
    JULIAN_DATE_OF_1970,
    LAST_DAY,
    PARALLAX_RAD,
    delta_t_s,
    solar_days,
)

ARCSEC_PER_RAD = 3600.0 * 180.0 / np.pi
EPOCH = np.datetime64("1970-01-01")
DAY = np.timedelta64(1, "D")


class Sun:
    """What the curves say at one UT instant, as the quantities that books print."""

    def __init__(self, instant):
        instant = np.datetime64(instant, "us")
        day = instant.astype("datetime64[D]")
        curves = solar_days(np.array([day]))
        x = (instant - day) / DAY - 0.5
        powers = np.array([1.0, x, x**2, x**3])
        ut = (JULIAN_DATE_OF_1970 + (day - EPOCH) / DAY, 0.5 + x)
        delta_t = delta_t_s(np.array([(instant - EPOCH) / DAY]))[0]
        tt = (ut[0], ut[1] + delta_t / 86400.0)
        self.equation_of_time_rad = curves.equation_of_time_rad[:, 0] @ powers
        self.declination_rad = np.arcsin(curves.sin_declination[:, 0] @ powers)
        self.sidereal_rad = erfa.gst06a(*ut, *tt)
        self.hour_angle_rad = 2.0 * np.pi * x + self.equation_of_time_rad
        self.right_ascension_rad = (self.sidereal_rad - self.hour_angle_rad) % (2.0 * np.pi)
        obliquity = erfa.obl06(*tt) + erfa.nut06a(*tt)[1]
        self.longitude_rad = np.arctan2(
            np.sin(self.right_ascension_rad) * np.cos(obliquity)
            + np.tan(self.declination_rad) * np.sin(obliquity),
            np.cos(self.right_ascension_rad),
        ) % (2.0 * np.pi)


def distance_au(instant):
    """Return the distance between two noons by a straight line, as parallax is kept by noons."""
    noon = np.datetime64(instant, "D") + np.timedelta64(12, "h")
    after = (np.datetime64(instant, "us") - noon) / DAY
    before = np.floor(after)
    days = np.datetime64(instant, "D") + (before + np.array([0.0, 1.0])) * DAY
    first, second = PARALLAX_RAD / solar_days(days.astype("datetime64[D]")).parallax_rad
    return first + (second - first) * (after - before)


def ut_of_td(dynamical):
    instant = np.datetime64(dynamical, "us")
    seconds = delta_t_s(np.array([(instant - EPOCH) / DAY]))[0]
    return instant - np.timedelta64(round(seconds * 1e6), "us")


# --- Published examples -----------------------------------------------------------------------


# J. Meeus, Astronomical Algorithms, 2nd ed. (1998), example 25.b: 1992-10-13.0 TD, by VSOP87.
def test_meeus_25b_apparent_place():
    sun = Sun(ut_of_td("1992-10-13"))
    # PyMeeus (tests) gives 21.548"; the book prints 21.818" (from memory).
    printed = np.radians(199.0 + 54.0 / 60.0 + 21.7 / 3600.0)
    assert abs(sun.longitude_rad - printed) * ARCSEC_PER_RAD < 0.3
    assert distance_au(ut_of_td("1992-10-13")) == pytest.approx(0.99760852, abs=2e-6)


# The same, example 25.a: the low-accuracy formulas, claimed good to 0.01 deg.
def test_meeus_25a_right_ascension_and_declination():
    sun = Sun(ut_of_td("1992-10-13"))
    right_ascension_deg = (13.0 + 13.0 / 60.0 + 31.4 / 3600.0) * 15.0
    declination_deg = -(7.0 + 47.0 / 60.0 + 6.0 / 3600.0)
    assert np.degrees(sun.right_ascension_rad) == pytest.approx(right_ascension_deg, abs=0.01)
    assert np.degrees(sun.declination_rad) == pytest.approx(declination_deg, abs=0.01)


# The same, example 28: +13 m 42.6 s. The book takes the mean Sun at the dynamical time, we at UT;
# it gains a day in a year of 365.2422, so that Delta T's 59 s are 0.16 s of it.
def test_meeus_28_equation_of_time():
    sun = Sun(ut_of_td("1992-10-13"))
    seconds = sun.equation_of_time_rad * 43_200.0 / np.pi
    seconds += delta_t_s(np.array([(np.datetime64("1992-10-13") - EPOCH) / DAY]))[0] / 365.2422
    assert seconds == pytest.approx(13 * 60 + 42.6, abs=0.1)


# The same, chapter 27: the solstice of 1962-06-21 21:24:42 TD is where the longitude is 90 deg.
def test_meeus_27_solstice():
    sun = Sun(ut_of_td("1962-06-21T21:24:42"))
    # Half a second of rounding is 0.02", the book's VSOP87 is shortened to some 0.2".
    assert abs(sun.longitude_rad - np.pi / 2.0) * ARCSEC_PER_RAD < 0.3


# I. Reda and A. Andreas, NREL/TP-560-34302, table A5.1: 2003-10-17 12:30:30 at UTC-7, longitude
# -105.1786. The report claims 0.0003 deg; its Delta T of 67 s is 2.8 s longer than ours.
def test_nrel_spa_intermediate_values():
    sun = Sun("2003-10-17T19:30:30")
    claimed = 0.0003
    assert np.degrees(sun.declination_rad) == pytest.approx(-9.31434, abs=claimed)
    assert np.degrees(sun.right_ascension_rad) == pytest.approx(202.22741, abs=claimed)
    assert np.degrees(sun.sidereal_rad) == pytest.approx(318.511910, abs=claimed)
    assert np.degrees(sun.hour_angle_rad) - 105.1786 == pytest.approx(11.10590, abs=claimed)
    assert sun.equation_of_time_rad * 720.0 / np.pi == pytest.approx(14.64, abs=0.005)
    assert distance_au("2003-10-17T19:30:30") == pytest.approx(0.9965422974, abs=2e-6)


# --- Against SOFA's routines without our shortcuts ------------------------------------------


def full_chain(day, x):
    """Return GHA minus 2 pi x, declination [rad] and distance [au], nothing sampled or left out.

    Light time is iterated at the Sun's own barycentric place; nutation is IAU 2000A with 2006's
    adjustments and the complete bias-precession-nutation matrix, at each instant.
    """
    ut = (JULIAN_DATE_OF_1970 + day, 0.5 + x)
    tt = (ut[0], ut[1] + delta_t_s(day + ut[1]) / 86400.0)
    speed_au_per_day = 173.144632674  # of light: 299792.458 km/s, au 149597870.7 km
    _, earth = erfa.epv00(*tt)
    light_time = 0.0
    for _ in range(3):
        heliocentric, barycentric = erfa.epv00(tt[0], tt[1] - light_time)
        to_sun = barycentric["p"] - heliocentric["p"] - earth["p"]
        distance = np.linalg.norm(to_sun, axis=-1)
        light_time = distance / speed_au_per_day
    velocity = earth["v"] / speed_au_per_day
    apparent = erfa.ab(
        to_sun / distance[:, None],
        velocity,
        distance,
        np.sqrt(1.0 - np.sum(velocity**2, axis=-1)),
    )
    of_date = np.einsum("nij,nj->ni", erfa.pnm06a(*tt), apparent)
    right_ascension = np.arctan2(of_date[:, 1], of_date[:, 0])
    return (
        erfa.gst06a(*ut, *tt) - right_ascension - 2.0 * np.pi * x,
        np.arcsin(of_date[:, 2]),
        distance,
    )


# erfa counts its range from 2000 by a hundred years; the program goes on to the end of 2100.
@pytest.mark.filterwarnings("ignore:.*epv00.*outside:erfa.ErfaWarning")
def test_curves_against_the_full_chain(capsys):
    generator = np.random.default_rng(2006)
    count = 3000
    days = FIRST_DAY + generator.integers(0, (LAST_DAY - FIRST_DAY).astype(int) + 1, count)
    # At 180 deg of longitude a solar day reaches a whole day from Greenwich's noon.
    x = generator.uniform(-1.0, 1.0, count)
    equation, declination, distance = full_chain((days - EPOCH) / DAY, x)
    curves = solar_days(days)
    powers = np.stack([np.ones(count), x, x**2, x**3])
    turned = np.sum(curves.equation_of_time_rad * powers, axis=0) - equation
    turned = (turned + np.pi) % (2.0 * np.pi) - np.pi
    equation_arcsec = np.abs(turned).max() * ARCSEC_PER_RAD
    lifted = np.arcsin(np.sum(curves.sin_declination * powers, axis=0)) - declination
    declination_arcsec = np.abs(lifted).max() * ARCSEC_PER_RAD
    with capsys.disabled():
        print(
            f"\ncurves against SOFA's full chain, 1900 to 2100, worst of {count}: equation of "
            f"time {equation_arcsec:.3f} arcsec, declination {declination_arcsec:.3f} arcsec"
        )
    # A twentieth of the 0.1 s that a crossing may be off: 0.005 s of time are 0.075 arc seconds.
    assert equation_arcsec < 0.075
    assert declination_arcsec < 0.075
    # The parallax is kept for noons: the distance changes by 0.03 % a day at most.
    assert np.abs(PARALLAX_RAD / curves.parallax_rad - distance).max() < 0.0003


# --- Delta T --------------------------------------------------------------------------------


def months(first_year, last_year):
    """Return the middle of each month [days since 1970], its year and its number."""
    count = (last_year - first_year + 1) * 12
    year, month = first_year + np.arange(count) // 12, 1 + np.arange(count) % 12
    return (year + (month - 0.5) / 12.0 - 1970.0) * 365.2425, year, month


def test_delta_t_before_1972_is_the_published_polynomial():
    # pvlib carries the polynomials of Espenak and Meeus as well; what it adds up for a month is
    # up to a few days off ours, in which Delta T moved by less than 0.02 s.
    days, year, month = months(1900, 1971)
    theirs = spa.calculate_deltat(year, month)
    assert np.abs(delta_t_s(days) - theirs).max() < 0.02


def test_delta_t_against_measured_values():
    # Skyfield's built-in table: measured values, since 1973 of the IERS.
    scale = Loader(get_skyfield_data_path()).timescale(builtin=True)
    early, _, _ = months(1900, 1971)
    measured = scale.ut1_jd(JULIAN_DATE_OF_1970 + early).delta_t
    # The polynomials of one curve and the splines of a later one part by 1.2 s at the most, in
    # 1900 to 1910; that is 0.05 arc seconds of the Sun's place.
    assert np.abs(delta_t_s(early) - measured).max() < 1.25
    late, _, _ = months(1972, 2025)
    measured = scale.ut1_jd(JULIAN_DATE_OF_1970 + late).delta_t
    # UT1 is kept within 0.9 s of UTC by leap seconds.
    assert np.abs(delta_t_s(late) - measured).max() <= 0.9


def test_delta_t_takes_up_each_leap_second_on_its_day():
    # IERS Bulletin C 52: TAI - UTC is 37 s from 2017-01-01.
    days = (np.array(["2016-12-31", "2017-01-01", "2026-11-25"], "datetime64[D]") - EPOCH) / DAY
    assert delta_t_s(days) == pytest.approx([32.184 + 36.0, 32.184 + 37.0, 32.184 + 37.0])


def test_delta_t_stays_at_the_last_announced_value():
    days = (np.array(["2040-01-01", "2100-12-31"], "datetime64[D]") - EPOCH) / DAY
    latest = erfa.leap_seconds.get()["tai_utc"][-1]
    assert delta_t_s(days) == pytest.approx([32.184 + latest] * 2)


# --- What is kept ----------------------------------------------------------------------------


def forget():
    """Empty every cache, so that what comes next is computed anew."""
    caches = [value for value in vars(ephemeris).values() if hasattr(value, "cache_clear")]
    assert caches
    for cache in caches:
        cache.cache_clear()


def same_curves(first, second):
    return all(
        np.array_equal(a, b)
        for a, b in zip(vars(first).values(), vars(second).values(), strict=True)
    )


def test_a_day_does_not_depend_on_the_range_asked_for():
    days = np.arange(np.datetime64("2023-12-25"), np.datetime64("2025-01-08"))
    whole = solar_days(days)
    # The ends of the range, of the years in it and of a kept block of days.
    for index in (0, 6, 7, 59, 60, 61, 372, 373, 379):
        forget()
        alone = solar_days(days[index : index + 1])
        part = ephemeris.SolarDays(
            whole.equation_of_time_rad[:, index : index + 1],
            whole.sin_declination[:, index : index + 1],
            whole.parallax_rad[index : index + 1],
        )
        assert same_curves(alone, part)


def test_any_shape_and_order_of_days():
    days = np.array([["2025-01-01", "1999-12-31"], ["2100-12-31", "1900-01-01"]], "datetime64[D]")
    curves = solar_days(days)
    assert curves.equation_of_time_rad.shape == (4, 2, 2)
    assert curves.sin_declination.shape == (4, 2, 2)
    assert curves.parallax_rad.shape == (2, 2)
    for index in np.ndindex(2, 2):
        alone = solar_days(days[index])
        assert np.array_equal(alone.sin_declination, curves.sin_declination[:, *index])
    assert solar_days(days[:0]).sin_declination.shape == (4, 0, 2)


@pytest.mark.parametrize(
    ("first", "last"), [("1999-11-01", "2000-04-01"), ("1971-12-01", "1972-02-01")]
)
def test_neighbouring_days_meet_at_midnight(first, last):
    days = np.arange(np.datetime64(first), np.datetime64(last))
    curves = solar_days(days)
    end, start = np.array([0.5**n for n in range(4)]), np.array([(-0.5) ** n for n in range(4)])
    for coefficients in (curves.equation_of_time_rad, curves.sin_declination):
        step = end @ coefficients[:, :-1] - start @ coefficients[:, 1:]
        # A leap second moves them by 0.04 arc seconds.
        assert np.abs(step).max() * ARCSEC_PER_RAD < 0.05
