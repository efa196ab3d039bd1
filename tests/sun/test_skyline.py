"""Direct sun over a skyline: every crossing found, where it is, and nothing lost at the edges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.sun.crossings import sun_crossings, sun_position
from daylatch.sun.skyline import MOST_CORNERS, find_sunlit, make_skyline

SECOND = np.timedelta64(1, "s")
YEAR = np.datetime64("2027-01-01"), np.datetime64("2028-01-01")


def sampled(latitude, longitude, day, skyline):
    """Return the first sunlit second of each stretch of a day, and the first after it."""
    times = day.astype("datetime64[s]") + np.arange(86_401) * SECOND
    sun = sun_position(latitude, longitude, times)
    lit = sun.altitude_deg >= skyline.elevation_at(sun.azimuth_deg)
    changes = np.flatnonzero(lit[1:] != lit[:-1]) + 1
    return lit, times[changes]


def edges(sunlit):
    return np.stack([sunlit.start_utc, sunlit.end_utc], axis=1).ravel()


def rough(random):
    """Return a skyline of up to 720 corners at any azimuths, some a hair apart."""
    count = int(random.integers(1, 720))
    azimuths = np.unique(random.uniform(0, 360, count).round(random.integers(0, 4)) % 360)
    height = random.uniform(0, 30)
    elevations = random.normal(height, random.uniform(0, 8), len(azimuths))
    return make_skyline(azimuths, np.clip(elevations, -5, 85))


@pytest.mark.parametrize("seed", range(10))
def test_every_crossing_that_a_look_a_second_finds_is_found(seed):
    random = np.random.default_rng(seed)
    for _ in range(100):
        latitude, longitude = float(random.uniform(-90, 90)), float(random.uniform(-180, 180))
        day = np.datetime64("2020-01-01") + int(random.integers(0, 4000))
        skyline = rough(random)
        lit, changes = sampled(latitude, longitude, day, skyline)
        found = find_sunlit(latitude, longitude, day, day + 1, skyline)
        instants = edges(found)
        inside = instants[(instants > day) & (instants < day + 1)]
        # Those that a look a second misses are in pairs within one second.
        for change in changes:
            near = (inside > change - SECOND) & (inside <= change)
            assert near.sum() % 2 == 1, (seed, latitude, longitude, day, change)
        seconds = (inside - day).astype("timedelta64[us]").astype(np.int64) // 1_000_000
        assert len(inside) - len(changes) == sum(
            count - count % 2 for count in np.bincount(seconds, minlength=1)
        )
        assert (found.start_utc[:1] == day).any() == bool(lit[0]) or not len(found.start_utc)


def test_the_search_of_a_whole_year_finds_what_that_of_single_days_does():
    skyline = rough(np.random.default_rng(5))
    whole = find_sunlit(60.0, 10.0, *YEAR, skyline)
    days = np.arange(*YEAR)
    starts = np.concatenate(
        [find_sunlit(60.0, 10.0, day, day + 1, skyline).start_utc for day in days]
    )
    midnights = starts == starts.astype("datetime64[D]")
    assert len(starts) > 365
    assert set(starts[~midnights].tolist()) == set(whole.start_utc.tolist())


@pytest.mark.parametrize("latitude", [-78.0, -35.0, 0.0, 20.0, 52.0, 60.0, 69.6])
@pytest.mark.parametrize("elevation", [-3.0, 0.0, 7.5, 20.0, 45.0])
def test_a_skyline_of_one_height_is_passed_when_the_sun_crosses_it(latitude, elevation):
    days = np.arange(YEAR[0] - 1, YEAR[1] + 1)
    sun = sun_crossings(latitude, 10.0, days, elevation)
    expected = np.sort(np.concatenate([sun.rising, sun.setting]))
    expected = expected[~np.isnat(expected)]
    expected = expected[(expected >= YEAR[0]) & (expected < YEAR[1])]
    found = edges(find_sunlit(latitude, 10.0, *YEAR, make_skyline([0, 90], [elevation] * 2)))
    found = found[(found > YEAR[0]) & (found < YEAR[1])]
    assert len(found) == len(expected)
    if len(found):
        off = np.abs((found - expected).astype("timedelta64[us]").astype(int))
        assert off.max() <= 10_000  # [us]


@pytest.mark.parametrize(("latitude", "slope"), [(52.0, 12.0), (60.0, 25.0), (40.0, 5.0)])
def test_a_slope_towards_the_pole_is_a_flat_horizon_nearer_to_it(latitude, slope):
    # A plane that falls to the north by a slope stands as the flat ground at latitude + slope
    # does; one that falls to the south as that at latitude - slope.
    for sign in (1.0, -1.0):
        azimuths = np.arange(0.0, 360.0, 0.05)
        rises = np.tan(np.radians(slope)) * np.cos(np.radians(azimuths)) * -sign
        skyline = make_skyline(azimuths, np.degrees(np.arctan(rises)))
        there = latitude + sign * slope
        days = np.arange(*YEAR)
        sun = sun_crossings(there, 10.0, days, 0.0)
        expected = np.sort(np.concatenate([sun.rising, sun.setting]))
        expected = expected[~np.isnat(expected)]
        found = edges(find_sunlit(latitude, 10.0, *YEAR, skyline))
        found = found[(found > YEAR[0]) & (found < YEAR[1])]
        assert len(found) == len(expected) == (2 * 365 if there < 66 else len(expected))
        off = np.abs((found - expected).astype("timedelta64[us]").astype(int)) / 1e6
        # Parallax is of the one vertical and not of the other; straight lines stand for a curve.
        assert off.max() < 3.0


def test_a_gap_of_three_seconds_between_two_trunks_is_found():
    # Where the Sun stands at a moment a gap is left that it takes some seconds to pass.
    at = np.datetime64("2027-03-20T09:00:00")
    sun = sun_position(52.0, 10.0, np.array([at - 2 * SECOND, at + 2 * SECOND]))
    left, right = sun.azimuth_deg
    hair = 1e-4
    skyline = make_skyline(
        [0.0, left, left + hair, right - hair, right], [80.0, 80.0, 0.0, 0.0, 80.0]
    )
    found = find_sunlit(
        52.0, 10.0, np.datetime64("2027-03-20"), np.datetime64("2027-03-21"), skyline
    )
    assert len(found.start_utc) == 1
    assert abs(found.start_utc[0] - (at - 2 * SECOND)) < np.timedelta64(100, "ms")
    assert abs(found.end_utc[0] - (at + 2 * SECOND)) < np.timedelta64(100, "ms")


@settings(max_examples=50)
@given(
    st.floats(-90, 90),
    st.lists(st.tuples(st.integers(0, 359), st.floats(-10, 60)), min_size=1, max_size=20),
    st.floats(0, 20),
)
def test_a_higher_skyline_never_gives_more_sun(latitude, corners, higher):
    corners = dict(corners)
    days = np.datetime64("2027-03-01"), np.datetime64("2027-03-04")

    def seconds(added):
        skyline = make_skyline(list(corners), [min(v + added, 89) for v in corners.values()])
        found = find_sunlit(latitude, 0.0, *days, skyline)
        return (found.end_utc - found.start_utc).astype("timedelta64[us]").astype(int).sum() / 1e6

    assert seconds(higher) <= seconds(0.0) + 1.0


def test_stretches_end_where_the_time_that_is_asked_for_does():
    noon = np.datetime64("2027-06-21T12:00:00")
    hours = np.timedelta64(2, "h")
    found = find_sunlit(52.0, 0.0, noon - hours, noon + hours, make_skyline([0], [10]))
    assert found.start_utc.tolist() == [(noon - hours).astype("datetime64[us]").item()]
    assert found.end_utc.tolist() == [(noon + hours).astype("datetime64[us]").item()]
    assert not len(find_sunlit(52.0, 0.0, noon, noon, make_skyline([0], [10])).start_utc)
    night = np.datetime64("2027-06-21T23:00:00")
    assert not len(find_sunlit(52.0, 0.0, night, night + hours, make_skyline([0], [10])).start_utc)


def test_the_elevation_runs_straight_between_corners_and_round_north():
    skyline = make_skyline([350.0, 10.0, 180.0], [10.0, 20.0, 0.0])
    assert skyline.azimuth_deg.tolist() == [10.0, 180.0, 350.0]
    assert skyline.elevation_at([0.0, 360.0, -10.0, 95.0, 10.0]).tolist() == [15, 15, 10, 10, 20]
    assert make_skyline([360.0], [5.0]).elevation_at(123.0) == 5.0


@pytest.mark.parametrize(
    ("azimuths", "elevations", "words"),
    [
        ([], [], "0 azimuths"),
        ([1, 2], [3], "2 azimuths and 1 elev"),
        ([0, 400], [1, 1], "is no azimuth: count clockwise from true north, 0 to 360"),
        ([0, float("nan")], [1, 1], "is no azimuth: count clockwise from true north, 0 to 360"),
        ([0, 360], [1, 2], "azimuth 0 stands twice"),
        ([0, 90], [1, 90], "-30 to 89"),
        ([0, 90], [1, float("inf")], "-30 to 89"),
        (np.linspace(0, 359, MOST_CORNERS + 1), np.zeros(MOST_CORNERS + 1), "at most 7200"),
    ],
)
def test_what_is_no_skyline_is_refused(azimuths, elevations, words):
    with pytest.raises(ValueError, match=words):
        make_skyline(azimuths, elevations)
