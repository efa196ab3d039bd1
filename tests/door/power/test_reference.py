"""The physics beside published numbers and another program, pvlib."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.door.power.light.clear_sky import airless, haurwitz
from daylatch.door.power.light.plane import Plane, receiver
from daylatch.door.power.light.split import day_shape, erbs_hourly, erbs_monthly
from daylatch.door.power.light.sun_year import HOUR_ANGLE_RAD, STEP_H, sun_year

# Haurwitz 1945 and 1946; numbers of pvlib 0.16.1, tests/test_clearsky.py, test_haurwitz.
HAURWITZ = {
    -20: 0,
    -0.05: 0,
    -0.001: 0,
    5: 48.6298687941956,
    10: 135.741748091813,
    20: 316.035806,
    30: 487.894132885425,
    45: 714.250279,
    50: 778.766689344363,
    60: 888.271335,
    90: 1035.09203253450,
}
RIGHT = st.floats(0, 90)


@pytest.mark.parametrize(("altitude", "light"), HAURWITZ.items())
def test_a_cloudless_sky_as_published(altitude, light):
    found = haurwitz(np.sin(np.radians(np.array([float(altitude)]))))
    assert found[0] == pytest.approx(light, rel=1e-6, abs=1e-12)


def test_a_cloudless_sky_as_pvlib_has_it():
    altitudes = np.linspace(-10, 90, 401)
    theirs = pvlib.clearsky.haurwitz(pd.Series(90 - altitudes))["ghi"].to_numpy()
    assert haurwitz(np.sin(np.radians(altitudes))) == pytest.approx(theirs, rel=1e-9, abs=1e-9)


def test_light_before_the_atmosphere():
    # pvlib 0.16.1, tests/test_irradiance.py: 2016-10-26, day 300, by Spencer 1971.
    assert airless(np.array([300.0]))[0] == pytest.approx(1383.636203, abs=0.05)
    days = np.arange(1.0, 366)
    theirs = pvlib.irradiance.get_extra_radiation(days, method="spencer")
    assert airless(days) == pytest.approx(theirs, rel=1e-6)


def test_light_of_the_sky_as_published():
    # pvlib 0.16.1, tests/test_irradiance.py: tilt 40, 100 W/m² diffuse; others by (1 + cos) / 2.
    for tilt, light in {40: 88.30222215594891, 0: 100, 30: 93.30127, 60: 75, 90: 50}.items():
        assert 100 * Plane(tilt, 180, 0.2).sky_share() == pytest.approx(light, abs=1e-5)


def test_light_of_the_ground_as_published():
    # The same file: tilt 40, 900 W/m² on the level, albedo .25.
    assert 900 * Plane(40, 180, 0.25).ground_share == pytest.approx(26.32000014911496, rel=1e-9)


def test_all_light_on_a_plane_as_published():
    # The same: tilt 30 S, Sun at zenith 60 in the south, beam 600, level 400, diffuse 100.
    seen = receiver(Plane(30, 180, 0.2), np.radians([30.0]), np.radians([180.0]))
    beam, total, diffuse = (np.array([value]) for value in (600.0, 400.0, 100.0))
    assert seen.light_of_beam(beam, total, diffuse)[0] == pytest.approx(618.2755, abs=1e-4)
    # Here the level has just the beam that the angle gives.
    assert seen.light(total, diffuse)[0] == pytest.approx(618.2755, abs=1e-4)


@given(RIGHT, st.floats(0, 360), st.floats(1, 90), st.floats(0, 360), st.floats(0, 1))
def test_all_light_on_a_plane_as_pvlib_has_it(tilt, facing, altitude, azimuth, share):
    beam, diffuse = 700.0 * share, 150.0
    total = diffuse + beam * np.sin(np.radians(altitude))
    seen = receiver(Plane(tilt, facing, 0.2), np.radians([altitude]), np.radians([azimuth]))
    ours = seen.light_of_beam(np.array([beam]), np.array([total]), np.array([diffuse]))[0]
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt, facing, 90 - altitude, azimuth, beam, total, diffuse, albedo=0.2, model="isotropic"
    )["poa_global"]
    assert ours == pytest.approx(float(theirs), rel=1e-9, abs=1e-9)


def test_the_hourly_split_as_pvlib_has_it():
    clearness = np.linspace(0, 1, 101)
    zenith, day = 60.0, 300
    level = clearness * pvlib.irradiance.get_extra_radiation(day) * np.cos(np.radians(zenith))
    theirs = pvlib.irradiance.erbs(level, zenith, pd.Index([day] * 101))
    share = theirs["dhi"][1:] / level[1:]
    assert erbs_hourly(clearness[1:]) == pytest.approx(np.asarray(share), rel=1e-6)


def test_the_monthly_split_as_it_was_worked_elsewhere():
    # Copenhagen, January and February 2020 (CAMS): .63 and .55, where .835 and .706 were measured.
    found = erbs_monthly(np.array([0.3070, 0.3633]), np.array([60.0, 72.0]))
    assert found == pytest.approx([0.631, 0.548], abs=1e-3)
    # Both curves stay shares, and fall as the sky gets clearer.
    for sunset in (70.0, 95.0):
        shares = erbs_monthly(np.linspace(0, 1, 101), np.full(101, sunset))
        assert shares.min() >= 0
        assert shares.max() <= 1
        inside = erbs_monthly(np.linspace(0.3, 0.8, 51), np.full(51, sunset))
        assert (np.diff(inside) < 0).all()


@pytest.mark.parametrize("day", [14, 80, 171, 265, 354])
@pytest.mark.parametrize("latitude", [-35, 10, 45, 60])
def test_the_shape_of_a_day_by_hour_angles_alone(latitude, day):
    """The classical formula of Collares-Pereira and Rabl, in angles of sunset and of the hour."""
    sun = sun_year(latitude, 0.0).some(np.array([day]))
    declination = np.radians(23.45) * np.sin(2 * np.pi * (284 + day + 1) / 365)
    sunset = np.arccos(-np.tan(np.radians(latitude)) * np.tan(declination))
    rise = 0.409 + 0.5016 * np.sin(sunset - np.pi / 3)
    slope = 0.6609 - 0.4767 * np.sin(sunset - np.pi / 3)
    part = np.cos(HOUR_ANGLE_RAD) - np.cos(sunset)
    hour = np.pi / 24 * (rise + slope * np.cos(HOUR_ANGLE_RAD)) * part
    hour /= np.sin(sunset) - sunset * np.cos(sunset)
    classical = np.where(np.abs(HOUR_ANGLE_RAD) < sunset, hour, 0) * STEP_H
    found = day_shape(sun.up, HOUR_ANGLE_RAD)[0]
    assert found.sum() == pytest.approx(1)
    # The Sun's noon wanders a quarter of an hour about the mean one; middays are compared.
    middle = slice(36, 60)
    assert found[middle].sum() == pytest.approx(classical[middle].sum(), rel=0.03)


@pytest.mark.parametrize(("elevation", "share"), [(10, 0.97), (20, 0.88), (30, 0.75), (45, 0.5)])
def test_a_skyline_all_round_hides_so_much_of_the_sky(elevation, share):
    # The uniform sky's view factor, mean of cos² of the skyline: .97, .88, .75, .50.
    found = Plane(0, 180, 0.2).sky_share(Ring(elevation))
    assert found == pytest.approx(np.cos(np.radians(elevation)) ** 2, abs=0.01)
    assert found == pytest.approx(share, abs=0.012)


@pytest.mark.parametrize("tilt", [0, 30, 60, 90])
def test_a_skyline_at_the_horizon_hides_nothing(tilt):
    plane = Plane(tilt, 180, 0.2)
    assert plane.sky_share(Ring(0)) == pytest.approx(plane.sky_share(), abs=1e-4)


class Ring:
    """A skyline of one height all round."""

    def __init__(self, elevation):
        self.elevation = elevation

    def elevation_at(self, azimuth_deg):
        return np.full(np.shape(azimuth_deg), float(self.elevation))
