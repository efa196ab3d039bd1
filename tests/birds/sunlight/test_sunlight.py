"""Direct sun by flock day: tiles of the time line, shade at the opening, days without any."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.birds.sunlight.dusk import make_dusk, seems_lower_deg, sky_view
from daylatch.birds.sunlight.sunlight import make_sunlight, turned_round
from daylatch.birds.sunlight.words import sun_entries
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.plan.due import exactly
from daylatch.sun.crossings import sun_position
from daylatch.sun.skyline import make_skyline
from sites import FALLBACKS, KIRITIMATI, LORD_HOWE, NY_ALESUND, TAMPERE, UTRECHT, plan

MINUTE = np.timedelta64(1, "m")
DAY = np.timedelta64(1, "D")
VALLEY = make_skyline([0, 60, 90, 120, 150, 180, 210, 240, 300], [5, 12, 20, 15, 8, 11, 6, 14, 4])
FALL = (
    FALLBACKS.replace("[close]", 'dark_fallback = "09:00"\n[close]') + 'dark_fallback = "15:00"\n'
)


def sunlight(spot, first, last, skyline=VALLEY, settings=FALL):
    return make_sunlight(exactly(plan(spot, first, last, settings)), skyline)


def lit_at(spot, skyline, instants):
    sun = sun_position(spot.latitude, spot.longitude, instants)
    return sun.altitude_deg >= skyline.elevation_at(sun.azimuth_deg)


@pytest.mark.parametrize("spot", [UTRECHT, TAMPERE, LORD_HOWE, KIRITIMATI, NY_ALESUND])
def test_stretches_lie_in_their_days_and_hold_all_the_sun_there_is(spot):
    found = sunlight(spot, "2027-01-01", "2027-12-31")
    first, last = found.plan.dates[[0, -1]]
    days = find_flock_days(spot.longitude, found.plan.zone, first, last, spare=0)
    lower = days.lower_utc
    assert (found.start_utc < found.end_utc).all()
    assert (found.end_utc[:-1] <= found.start_utc[1:]).all()
    assert (found.start_utc >= lower[found.rows]).all()
    assert (found.end_utc <= lower[found.rows + 1]).all()
    generator = np.random.default_rng(7)
    span = int((lower[-1] - lower[0]).astype("timedelta64[s]").astype(int))
    instants = lower[0] + generator.integers(0, span, 20_000).astype("timedelta64[s]")
    assert (found.is_lit(instants) == lit_at(spot, VALLEY, instants)).mean() > 0.9999
    assert (found.length.astype(int) >= 0).all()
    assert found.length.sum() == (found.end_utc - found.start_utc).sum()
    assert sum(month.sun.astype(int) for month in found.months) == found.length.sum().astype(int)
    assert sum(month.sunless for month in found.months) == found.sunless.sum()
    assert sum(run.count for run in found.sunless_runs) == found.sunless.sum()


def test_the_midnight_sun_is_parted_at_the_lowest_sun():
    found = sunlight(NY_ALESUND, "2027-06-10", "2027-06-20", make_skyline([0], [3]))
    assert (np.bincount(found.rows) == 1).all()
    assert (found.end_utc[:-1] == found.start_utc[1:]).all()
    assert abs(found.length - DAY).max() < MINUTE
    assert not found.sunless.any()


def test_a_year_in_pieces_is_the_year():
    whole = sunlight(TAMPERE, "2027-03-01", "2027-03-31")
    parts = [
        sunlight(TAMPERE, "2027-03-01", "2027-03-14"),
        sunlight(TAMPERE, "2027-03-15", "2027-03-31"),
    ]
    for name in ("start_utc", "end_utc", "length", "opens_in_shade", "first_utc", "last_utc"):
        together = np.concatenate([getattr(part, name) for part in parts])
        assert (getattr(whole, name) == together).all(), name


def test_a_door_opens_in_shade_where_the_sun_is_up_and_hidden():
    settings = FALL.replace("[open]", '[open]\nnot_before = "08:30"')
    found = sunlight(TAMPERE, "2027-01-01", "2027-12-31", settings=settings)
    opens = found.due.told_open_utc
    altitude = sun_position(61.5, 23.76, opens).altitude_deg
    expected = (altitude > 0) & ~lit_at(TAMPERE, VALLEY, opens)
    unsure = np.abs(altitude) < 0.01
    assert (found.opens_in_shade == expected)[~unsure].all()
    assert 30 < found.opens_in_shade.sum() < 300
    assert not (found.opens_in_shade & found.opens_before_sunrise).any()
    waits = found.sun_after_opening
    some = ~np.isnat(waits)
    at = opens[some] + waits[some]
    second = np.timedelta64(1, "s")
    assert lit_at(TAMPERE, VALLEY, at + second).all()
    later = waits[some] > np.timedelta64(0, "us")
    assert not lit_at(TAMPERE, VALLEY, at[later] - second).any()
    # Where there is sun at the opening there is none to wait for.
    assert (waits[found.is_lit(opens.astype("datetime64[us]"))] == np.timedelta64(0, "us")).all()


def test_days_without_sun_are_runs_around_midwinter():
    found = sunlight(TAMPERE, "2026-07-01", "2027-06-30")
    (run,) = found.sunless_runs
    assert run.count == (run.last - run.first).astype(int) + 1 > 40
    assert run.first < np.datetime64("2026-12-21") < run.last
    # The Sun at its highest stands below what it must pass.
    dates = found.plan.dates[found.sunless]
    noons = dates.astype("datetime64[m]") + np.timedelta64(10 * 60 + 25, "m")
    assert not lit_at(TAMPERE, VALLEY, noons).any()


def test_over_a_flat_horizon_nothing_is_later_nor_in_shade():
    settings = FALL.replace("[open]", '[open]\nlight = "sunrise"\noffset_min = 6')
    found = sunlight(UTRECHT, "2027-01-01", "2027-12-31", make_skyline([0], [0]), settings)
    for away in (found.comes_later, found.leaves_earlier, found.length - found.flat.length):
        assert np.abs(away.astype("timedelta64[us]").astype(int)).max() <= 30_000
    assert not found.opens_in_shade.any()
    assert not found.sunless.any()


def test_a_day_without_a_rising_sun_is_none_before_it():
    found = sunlight(NY_ALESUND, "2027-01-01", "2027-01-31", make_skyline([0], [0]))
    assert found.sunless.all()
    assert not found.opens_before_sunrise.any()
    assert not found.opens_in_shade.any()


def test_the_view_of_the_sky_is_exact_for_straight_pieces():
    random = np.random.default_rng(3)
    for _ in range(20):
        corners = np.sort(random.uniform(0, 360, 12))
        skyline = make_skyline(corners, random.uniform(-3, 60, 12))
        fine = np.arange(0.0, 360.0, 0.001)
        heights = np.radians(np.maximum(skyline.elevation_at(fine), 0))
        assert sky_view(skyline) == pytest.approx(np.mean(np.cos(heights) ** 2), abs=1e-5)
    assert sky_view(make_skyline([17], [-3])) == 1.0


@pytest.mark.parametrize(
    ("spot", "first", "height", "words"),
    [
        (UTRECHT, "2027-12-22", 20, "so that the Sun is hidden"),
        (UTRECHT, "2027-12-22", 5, "so that the Sun is to be seen"),
        (UTRECHT, "2027-12-22", 14.5, "so near to each other that a look then tells nothing"),
        (NY_ALESUND, "2027-12-22", 5, "stands over 3° at noon on none of these days"),
    ],
)
def test_a_noon_is_named_by_which_a_skyline_can_be_checked(spot, first, height, words):
    found = sunlight(spot, first, first, make_skyline([0], [height]))
    told = dict(sun_entries(found, None))["Look and see"]
    assert words in told
    if spot is UTRECHT:
        # 90 - 52.1 - 23.4, from the almanac's rules.
        assert "the Sun stands 14.5° high at azimuth 180" in told


def test_a_shut_day_opens_in_no_shade():
    span = "[[span]]\nfrom = 2027-05-01\nuntil = 2027-05-03\nshut = true\n"
    found = sunlight(TAMPERE, "2027-05-01", "2027-05-05", settings=FALL + span)
    assert not found.opens_in_shade[:3].any()
    assert np.isnat(found.sun_after_opening[:3]).all()
    assert not found.sunless.any()


def test_a_skyline_counted_from_south_is_doubted_and_one_that_is_right_is_not():
    hill = make_skyline([0, 120, 180, 240], [0, 8, 30, 8])
    right = make_skyline((hill.azimuth_deg + 180) % 360, hill.elevation_deg)
    assert turned_round(sunlight(UTRECHT, "2027-01-01", "2027-01-31", hill)) is None
    more = turned_round(sunlight(UTRECHT, "2027-01-01", "2027-12-31", hill))
    assert more is not None
    assert more > np.timedelta64(500, "h")
    assert turned_round(sunlight(UTRECHT, "2027-01-01", "2027-12-31", right)) is None
    assert (
        turned_round(sunlight(UTRECHT, "2027-01-01", "2027-12-31", make_skyline([0], [9]))) is None
    )


@pytest.mark.parametrize(
    ("height", "view", "lower"),
    [(10, 0.97, 0.03), (20, 0.88, 0.12), (30, 0.75, 0.27), (45, 0.50, 0.66)],
)
def test_a_skyline_takes_as_much_light_of_dusk_as_a_uniform_sky_has_there(height, view, lower):
    # From a trial before this program had it, in the light of going in; two figures are right.
    found = sky_view(make_skyline([0, 180], [height, height]))
    assert found == pytest.approx(view, abs=0.005)
    assert found == pytest.approx(np.cos(np.radians(height)) ** 2)
    assert seems_lower_deg(-4.7, found) == pytest.approx(lower, abs=0.011)


def test_hills_of_twenty_degrees_are_about_a_minute_and_five_at_sixty_north_in_june():
    hills = make_skyline([0], [20])
    here = make_dusk(plan(UTRECHT, "2027-01-01", "2027-12-31"), hills)
    assert 0.6 < here.median / MINUTE < 1.1
    assert here.most / MINUTE < 2.0
    oslo = type(UTRECHT)(60.0, 10.0, "Europe/Oslo")
    there = make_dusk(plan(oslo, "2027-06-01", "2027-06-30"), hills)
    assert 4.2 < there.most / MINUTE < 5.0


def test_dusk_is_not_reckoned_by_day_nor_where_it_never_comes():
    hills = make_skyline([0], [20])
    assert (
        make_dusk(plan(UTRECHT, "2027-01-01", "2027-01-05", "[close]\nlight = -3\n"), hills) is None
    )
    assert seems_lower_deg(-18.5, 0.9) is None
    assert seems_lower_deg(-0.8333, 0.01) is None
    white = plan(NY_ALESUND, "2027-06-01", "2027-06-10", FALL)
    assert make_dusk(white, hills) is None
    flat = make_dusk(plan(UTRECHT, "2027-01-01", "2027-01-05"), make_skyline([0], [-2]))
    assert (flat.view, flat.lower_deg, flat.most / MINUTE) == (1.0, 0.0, 0.0)
