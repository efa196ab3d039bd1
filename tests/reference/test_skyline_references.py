"""Direct sun over skylines against published sunsets, JPL's ephemeris and SPA on one profile."""

from __future__ import annotations

import numpy as np
import pytest
from pvlib import spa

from daylatch.sun.crossings import sun_crossings, sun_position
from daylatch.sun.ephemeris import delta_t_s
from daylatch.sun.skyline import find_sunlit, make_skyline
from reference import jpl_sun

# American Museum of Natural History, 2017: the evenings on which the sunset is in line with
# Manhattan's streets, whose azimuth is given there as 299.0 to 299.1 degrees; EDT is UTC-4. A half
# Sun sits on the horizon on 29 May and 13 July, a full one on 30 May and 12 July.
MANHATTAN = (40.7527, -73.9772)
STREETS_DEG = (299.0, 299.1)
ALIGNED = {
    "2017-05-29T20:13": "half",
    "2017-05-30T20:12": "full",
    "2017-07-12T20:20": "full",
    "2017-07-13T20:21": "half",
}


@pytest.mark.parametrize("evening", ALIGNED)
def test_the_sun_sets_along_manhattans_streets_at_the_published_minutes(evening):
    instant = np.datetime64(evening) + np.timedelta64(4, "h")
    azimuth = sun_position(*MANHATTAN, instant).azimuth_deg
    # The minute that is published, and the width of the streets' own figure.
    assert STREETS_DEG[0] - 0.05 <= azimuth <= STREETS_DEG[1] + 0.1
    # Through a street as wide as the Sun between houses it is seen then, and not an hour before.
    canyon = make_skyline([0, 297.5, 298.0, 300.5, 301.0], [40, 40, -1, -1, 40])
    day = np.datetime64(evening[:10])
    evening_utc = day + np.timedelta64(18, "h"), day + np.timedelta64(30, "h")
    found = find_sunlit(*MANHATTAN, *evening_utc, canyon)
    seen = (found.start_utc <= instant) & (instant < found.end_utc)
    assert seen.any()
    assert not ((found.start_utc <= instant - 60) & (instant - 60 < found.end_utc)).any()


def profile():
    random = np.random.default_rng(20)
    azimuths = np.arange(0.0, 360.0, 2.0)
    return make_skyline(azimuths, np.clip(12 + random.normal(0, 4, 180), 0, None))


PLACES = [(60.0, 10.0), (35.0, -106.0), (-43.5, 172.6), (0.5, 36.8)]


def times_and_slopes(place, skyline):
    """Return each passing of a skyline in a year, and how fast the Sun passes it there [deg/s]."""
    start, end = np.datetime64("2027-01-01"), np.datetime64("2028-01-01")
    found = find_sunlit(*place, start, end, skyline)
    instants = np.concatenate([found.start_utc, found.end_utc])
    instants = instants[(instants > start) & (instants < end)]
    half = np.timedelta64(500, "ms")
    around = [sun_position(*place, instants + step) for step in (-half, half)]
    excess = [sun.altitude_deg - skyline.elevation_at(sun.azimuth_deg) for sun in around]
    return instants, excess[1] - excess[0]


@pytest.mark.parametrize("place", PLACES)
def test_jpls_ephemeris_has_the_sun_on_the_skyline_at_each_passing(place):
    skyline = profile()
    instants, slope = times_and_slopes(place, skyline)
    assert len(instants) > 700
    altitude, azimuth = jpl_sun.altitude_azimuth_deg(*place, instants)
    off_s = np.abs(altitude - skyline.elevation_at(azimuth)) / np.abs(slope)
    # Where the Sun all but slides along the skyline, a thousandth of a degree is seconds.
    steep = np.abs(slope) > 0.002
    assert steep.sum() > 600
    assert off_s[steep].max() < 0.1
    assert np.abs(altitude - skyline.elevation_at(azimuth)).max() < 0.001


@pytest.mark.parametrize("place", PLACES)
def test_spa_has_the_sun_on_the_skyline_at_each_passing(place):
    skyline = profile()
    instants, slope = times_and_slopes(place, skyline)
    unix = instants.astype("datetime64[us]").astype(np.int64) / 1e6
    delta_t = delta_t_s(unix / 86_400)
    # Elevation, pressure and temperature as for an airless horizon at sea level.
    found = spa.solar_position(
        unix, *place, 0.0, 0.0, 12.0, float(np.mean(delta_t)), 0.0, numthreads=1, sst=False
    )
    elevation, azimuth = found[3], found[4]
    assert np.abs(elevation - skyline.elevation_at(azimuth)).max() < 0.004
    steep = np.abs(slope) > 0.002
    assert (np.abs(elevation - skyline.elevation_at(azimuth)) / np.abs(slope))[steep].max() < 0.6


def test_passings_of_one_height_are_skyfields_risings_and_settings():
    start, end = np.datetime64("2027-01-01"), np.datetime64("2028-01-01")
    rising, setting = jpl_sun.crossings(60.0, 10.0, start, end, 15.0)
    found = find_sunlit(60.0, 10.0, start, end, make_skyline([0], [15]))
    assert len(found.start_utc) == len(rising) == len(setting)
    for ours, theirs in ((found.start_utc, rising), (found.end_utc, setting)):
        off = np.abs((ours - theirs).astype("timedelta64[us]").astype(int)) / 1e6
        rate = np.abs(
            sun_position(60.0, 10.0, ours + np.timedelta64(30, "s")).altitude_deg
            - sun_position(60.0, 10.0, ours - np.timedelta64(30, "s")).altitude_deg
        )
        # Two evenings in November and January the Sun just reaches it.
        assert off[rate > 0.05].max() < 0.1
    same = sun_crossings(60.0, 10.0, np.arange(start, end), 15.0)
    assert (~np.isnat(same.rising)).sum() == len(rising)
