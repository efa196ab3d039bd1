"""The Sun by skyfield from the JPL ephemeris DE421, as the tests' first reference.

Instants are read on the UT1 scale, as `daylatch.sun.crossings` does with UTC. Skyfield's Delta T is
its own built-in table (IERS, and Stephenson, Morrison and Hohenkerk 2016 outside it), not ours.
DE421 ends on 2053-10-08.
"""

from functools import cache

import numpy as np
from skyfield import almanac
from skyfield.api import Loader, wgs84
from skyfield_data import get_skyfield_data_path

FIRST_DATE = np.datetime64("1900-01-01")
LAST_DATE = np.datetime64("2053-10-01")
UNIX_EPOCH_JD = 2440587.5
# Two skyfield places a minute apart give the altitude's rate; over that the rate is constant to
# 1e-4 except on days that the tests judge by altitude alone.
RATE_STEP_DAYS = 0.5 / 1440.0


@cache
def _loaded():
    loader = Loader(get_skyfield_data_path())
    kernel = loader("de421.bsp")
    return loader.timescale(builtin=True), kernel["earth"], kernel["sun"]


def timescale():
    return _loaded()[0]


def _time(instants, shift_days=0.0):
    days = np.asarray(instants, "datetime64[us]").astype(np.int64) / 86_400e6
    return timescale().ut1_jd(UNIX_EPOCH_JD + days + shift_days)


def apparent(latitude_deg, longitude_deg, instants, shift_days=0.0):
    """Return skyfield's apparent topocentric Sun, for flat arrays of one length."""
    _, earth, sun = _loaded()
    site = earth + wgs84.latlon(latitude_deg, longitude_deg)
    return site.at(_time(instants, shift_days)).observe(sun).apparent()


def altitude_azimuth_deg(latitude_deg, longitude_deg, instants, shift_days=0.0):
    """Return airless altitude and azimuth."""
    altitude, azimuth, _ = apparent(latitude_deg, longitude_deg, instants, shift_days).altaz()
    return altitude.degrees, azimuth.degrees


def altitude_and_rate(latitude_deg, longitude_deg, instants):
    """Return altitude [deg] and its rate [deg/h]."""
    before, _ = altitude_azimuth_deg(latitude_deg, longitude_deg, instants, -RATE_STEP_DAYS)
    after, _ = altitude_azimuth_deg(latitude_deg, longitude_deg, instants, RATE_STEP_DAYS)
    at, _ = altitude_azimuth_deg(latitude_deg, longitude_deg, instants)
    return at, (after - before) / (2.0 * RATE_STEP_DAYS * 24.0)


def error_s(latitude_deg, longitude_deg, instants, altitude_deg):
    """Return how late each instant is for the crossing of an altitude that lies near it."""
    at, rate = altitude_and_rate(latitude_deg, longitude_deg, instants)
    return (at - altitude_deg) / rate * 3600.0


def crossings(latitude_deg, longitude_deg, start, end, altitude_deg):
    """Return skyfield's own search of risings and settings, as two datetime64 arrays."""
    scale, earth, sun = _loaded()
    site = earth + wgs84.latlon(latitude_deg, longitude_deg)
    span = [
        scale.ut1_jd(UNIX_EPOCH_JD + np.datetime64(day, "D").astype(np.int64))
        for day in (start, end)
    ]
    found = []
    for search in (almanac.find_risings, almanac.find_settings):
        times, real = search(site, sun, *span, horizon_degrees=altitude_deg)
        us = np.rint((times.ut1 - UNIX_EPOCH_JD) * 86_400e6).astype(np.int64)
        found.append(us.view("datetime64[us]")[np.asarray(real, bool)])
    return tuple(found)
