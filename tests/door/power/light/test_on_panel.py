"""Light on a panel: by month against hours, on the plane or the level, shaded, far north."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daylatch.door.power.light.light_file import MonthlyLight
from daylatch.door.power.light.on_panel import (
    Light,
    Source,
    clear_level,
    clear_light,
    clearness_of,
    from_clear_sky,
    from_hours,
    from_level,
    from_months,
    from_plane,
)
from daylatch.door.power.light.on_panel import _on_plane as on_plane
from daylatch.door.power.light.split import split_known
from daylatch.door.power.light.sun_year import MONTH_OF_DAY, month_means, rows_of
from daylatch.sun.skyline import make_skyline
from door.power.measured import (
    COPENHAGEN,
    copenhagen,
    pvlib_months,
    stand,
    typical_year,
)
from door.power.test_reference import Ring

LEVEL = np.array([1.5, 2.4, 3.8, 4.0, 4.8, 7.2, 6.6, 5.8, 4.5, 2.9, 2.0, 1.5])


def months_of(light: Light):
    return month_means(light.low), month_means(light.high)


@pytest.mark.parametrize("tilt", [0, 30, 60, 90])
def test_a_typical_year_comes_to_what_another_program_finds(tilt):
    found, _ = months_of(from_hours(stand(tilt), typical_year()))
    # Their days are those of UTC, and ours those of the place.
    assert found == pytest.approx(pvlib_months(tilt), rel=0.006)


@pytest.mark.parametrize("tilt", [60, 90])
def test_the_upper_end_of_light_by_month_lies_within_a_tenth_of_hourly_data(tilt):
    _, high = months_of(from_level(stand(tilt), pvlib_months(0)))
    ratio = high / pvlib_months(tilt)
    assert ratio.min() > 0.9
    assert ratio.max() < 1.1


@pytest.mark.parametrize("tilt", [30, 60, 90])
def test_the_lower_end_is_under_hourly_data_in_the_dark_months(tilt):
    low, high = months_of(from_level(stand(tilt), pvlib_months(0)))
    dark = [0, 1, 8, 9, 10, 11]
    assert (low[dark] < pvlib_months(tilt)[dark]).all()
    assert (low <= high).all()
    # How far under, as the docs say.
    assert low[0] / pvlib_months(tilt)[0] == pytest.approx(
        {30: 0.76, 60: 0.67, 90: 0.63}[tilt], abs=0.01
    )


@pytest.mark.parametrize("tilt", [30, 60, 90])
def test_a_dull_winter_lies_between_the_ends(tilt):
    """Copenhagen in January and February 2020, whose diffuse share was measured."""
    level, share = copenhagen()
    rest = np.full(8, 3.0)
    place = stand(tilt, 180, *COPENHAGEN)
    low, high = months_of(from_level(place, np.append(level, rest)))
    clearness = clearness_of(place.sun, np.append(level, rest))
    known = split_known(np.append(share, np.full(8, 0.5)))
    true = month_means(on_plane(place.sun, place.receiver(), clearness, known, of_level=True))
    assert (low[:2] < true[:2]).all()
    assert (true[:2] < high[:2]).all()
    # In January, the duller one, the lower end errs by less than half as much as the upper one.
    assert 2 * (true[0] - low[0]) < high[0] - true[0]


def test_a_months_mean_on_the_level_is_kept():
    flat = from_level(stand(0), LEVEL)
    for end in (flat.low, flat.high):
        assert month_means(end) == pytest.approx(LEVEL, rel=2e-3)


@pytest.mark.parametrize("tilt", [0, 45, 90])
def test_a_months_mean_on_the_plane_is_kept(tilt):
    light = from_plane(stand(tilt), LEVEL)
    assert month_means(light.low) == pytest.approx(LEVEL, rel=1e-9)
    assert not light.has_range


def test_light_on_the_plane_that_came_from_the_level_leads_back_to_it():
    """With a skyline both ways must agree: the level behind the plane's table is found."""
    skyline = Ring(12)
    shaded = from_level(stand(60, skyline=skyline), LEVEL)
    open_low, open_high = months_of(from_level(stand(60), LEVEL))
    dark = [0, 1, 9, 10, 11]
    for table, end in ((open_low, shaded.low), (open_high, shaded.high)):
        low, high = months_of(from_plane(stand(60, skyline=skyline), table))
        found = month_means(end)[dark]
        assert (low[dark] <= 1.02 * found).all()
        assert (found <= 1.02 * high[dark]).all()


@pytest.mark.parametrize("make", [from_level, from_plane])
def test_a_skyline_takes_light_and_never_brings_any(make):
    bare, hills = make(stand(60), LEVEL), make(stand(60, skyline=Ring(20)), LEVEL)
    assert (hills.low <= bare.low + 1e-12).all()
    assert (hills.high <= bare.high + 1e-12).all()


def test_while_hills_hide_the_sun_only_the_sky_above_them_and_the_ground_are_left():
    hills, year = Ring(30), typical_year()
    place = stand(60, skyline=hills)
    december = MONTH_OF_DAY == 11
    # At noon the Sun of midwinter stands at 21.6° there.
    shaded = from_hours(place, year).low[december].sum()
    hours_of = slice(-31 * 24, None)
    sky = year.diffuse[hours_of].sum() * place.plane.sky_share(hills)
    # The ground lies under the same hills: of 30° all round, three quarters of the sky are left.
    ground = 0.75 * year.diffuse[hours_of].sum() * place.plane.ground_share
    assert shaded == pytest.approx((sky + ground) / 1000, rel=1e-3)


def test_hills_in_the_north_hide_no_sun_of_a_panel_that_faces_south():
    hills = make_skyline([0.0, 89.0, 90.0, 270.0, 271.0], [30.0, 30.0, 0.0, 0.0, 30.0])
    year = typical_year()
    places = (stand(90, skyline=one) for one in (None, hills))
    # They do shade the ground before it, which is left out here.
    bare, shaded = (
        from_hours(replace(one, plane=one.plane._replace(albedo=0.0)), year).low for one in places
    )
    december = MONTH_OF_DAY == 11
    # An upright panel that faces south sees none of that sky either.
    assert shaded[december] == pytest.approx(bare[december], rel=2e-3)


def test_a_typical_year_has_frost_and_temperatures():
    light = from_hours(stand(60), typical_year())
    january, july = MONTH_OF_DAY == 0, MONTH_OF_DAY == 6
    assert light.warm_share[july] == pytest.approx(1)
    assert light.warm_share[january].min() < 1
    assert light.warm_share.min() >= 0
    assert light.temperature_c[january].mean() == pytest.approx(4.5, abs=3)
    assert light.temperature_c[july].mean() > 20


def test_the_south_has_its_winter_in_june_and_its_sun_in_the_north():
    north = clear_light(stand(60, 0.0, -45.0, 8.0))
    south = clear_light(stand(60, 180.0, -45.0, 8.0))
    assert np.argmin(month_means(clear_level(stand(0, 0, -45.0, 8.0).sun))) == 5
    assert north.sum() > 1.4 * south.sum()


def test_there_is_no_light_in_the_polar_night():
    light = from_level(stand(90, 180, 78.2, 15.6), np.array([0, 0, 1, 3, 5, 5, 4, 2, 1, 0, 0, 0.0]))
    assert month_means(light.high)[[0, 11]] == pytest.approx([0, 0], abs=1e-9)
    assert (np.isfinite(light.low) & (light.low >= 0)).all()


def test_a_file_of_months_gives_its_own_split():
    level, share = LEVEL, np.full(12, 0.5)
    light = from_months(stand(60), MonthlyLight(level, share, None, None, None))
    low, high = months_of(from_level(stand(60), level))
    assert light.source is Source.MONTHS
    assert not light.has_range
    assert (month_means(light.low) > 0.9 * low).all()
    none = MonthlyLight(level, None, None, np.arange(12.0), None)
    ranged = from_months(stand(60), none)
    assert months_of(ranged)[1] == pytest.approx(high)
    assert ranged.temperature_c[0] == 0
    assert ranged.temperature_c[-1] == 11
    plane = MonthlyLight(level, share, LEVEL + 1, None, None)
    assert month_means(from_months(stand(60), plane).low) == pytest.approx(LEVEL + 1)


@pytest.mark.parametrize("latitude", [0.0, 45.0, 61.2, 69.6, -38.0])
def test_no_table_brings_a_beam_over_that_of_a_cloudless_sky_however_it_is_rounded(latitude):
    place = stand(70, 180 if latitude >= 0 else 0, latitude)
    clear, level = clear_light(place), month_means(clear_level(place.sun))
    for months in (0.5 * level, 0.9 * level, np.ceil(10 * level) / 10, level + 0.2):
        light = from_level(place, months)
        assert (light.low <= light.high + 1e-12).all()
        # What is over it is diffuse, of which no plane gets much more than what there is.
        assert (month_means(light.high - clear) <= 1.3 * months + 1e-9).all()


@pytest.mark.parametrize(
    ("azimuth", "hills"), [(180, Ring(0)), (0, Ring(0)), (180, Ring(15)), (90, Ring(10))]
)
def test_a_cloudless_sky_is_a_bound_behind_hills_and_facing_away_too(azimuth, hills):
    place = stand(60, azimuth, skyline=hills)
    hours = month_means(from_hours(place, typical_year()).low)
    clear = month_means(from_clear_sky(place).low)
    assert (clear > hours).all()
    low, high = months_of(from_level(place, months_of(from_hours(stand(0), typical_year()))[0]))
    # The lower end is a little over it where there is hardly any beam.
    assert (low <= 1.12 * hours).all()
    assert (high >= 0.94 * hours).all()


def test_a_cloudless_sky_is_more_than_any_typical_month():
    assert (month_means(from_clear_sky(stand(60)).low) > pvlib_months(60)).all()


def test_the_last_of_february_repeats_the_day_before():
    dates = np.array(
        ["2028-02-28", "2028-02-29", "2028-03-01", "2027-03-01", "2028-12-31", "2027-12-31"],
        "datetime64[D]",
    )
    assert rows_of(dates).tolist() == [58, 58, 59, 59, 364, 364]
