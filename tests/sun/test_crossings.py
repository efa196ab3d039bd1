"""The Sun's crossings and positions: shapes, states, bad input, and what must hold of them."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from daylatch.sun import crossings as sun
from daylatch.sun import solver as sun_solver
from daylatch.sun.crossings import SkyState, SunCrossings, sun_crossings, sun_position, sun_transits
from daylatch.sun.ephemeris import FIRST_DAY, LAST_DAY, solar_days

SUNRISE_DEG, CIVIL_DEG = -0.8333, -6.0
SECOND = np.timedelta64(1, "s")
DAY = np.timedelta64(1, "D")
SAMPLES = 145  # every five minutes of a side
# Where the Sun's turning point comes this near to the altitude, either answer is right.
TOUCHING_DEG = 0.001

# Some examples have to compute a year's samples first, which must not count as slowness.
untimed = settings(deadline=None)

latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)
days = st.integers(0, int((LAST_DAY - FIRST_DAY).astype(int))).map(lambda n: FIRST_DAY + n)
altitudes = st.sampled_from([SUNRISE_DEG, CIVIL_DEG, -12.0, -18.0, 0.0, 10.0])


def same(first, second):
    """Return whether all results are equal, no crossing counting as equal to no crossing."""
    return all(
        np.array_equal(a, b, equal_nan=a.dtype.kind == "M")
        for a, b in zip(vars(first).values(), vars(second).values(), strict=True)
    )


def at(found, index):
    return SunCrossings(*(np.asarray(values[index]) for values in vars(found).values()))


# --- Shapes ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude_shape", "longitude_shape", "days_shape", "altitude_shape"),
    [
        ((), (), (), ()),
        ((), (), (5,), ()),
        ((4,), (4,), (), ()),
        ((4, 1), (4, 1), (5,), ()),
        ((4, 1), (), (5,), (4, 1)),
        ((3, 1, 1), (3, 1, 1), (5,), (2, 1)),
        ((1,), (3, 1, 1), (1, 5), (2, 1)),
        ((2, 3, 4), (4,), (3, 1), ()),
        ((0, 1), (0, 1), (5,), ()),
        ((2, 1), (2, 1), (0,), ()),
    ],
)
def test_arguments_broadcast(latitude_shape, longitude_shape, days_shape, altitude_shape):
    generator = np.random.default_rng(1)
    latitude = generator.uniform(-75.0, 75.0, latitude_shape)
    longitude = generator.uniform(-180.0, 180.0, longitude_shape)
    dates = np.datetime64("2026-01-01") + generator.integers(0, 365, days_shape)
    altitude = generator.uniform(-18.0, 0.0, altitude_shape)
    found = sun_crossings(latitude, longitude, dates, altitude)
    shape = np.broadcast_shapes(latitude_shape, longitude_shape, days_shape, altitude_shape)
    for name in ("rising", "transit", "setting"):
        assert getattr(found, name).shape == shape
        assert getattr(found, name).dtype == np.dtype("datetime64[us]")
    for name in ("dawn_sky", "dusk_sky"):
        assert getattr(found, name).shape == shape
        assert getattr(found, name).dtype == np.int8
    all_four = np.broadcast_arrays(latitude, longitude, dates, altitude)
    for index in np.ndindex(shape):
        alone = sun_crossings(*(values[index] for values in all_four))
        assert same(alone, at(found, index))


def test_plain_numbers_and_text_dates():
    found = sun_crossings(52, 5, "2026-03-20", -6)
    array = sun_crossings([52.0], [5.0], np.array(["2026-03-20"], "datetime64[D]"), [-6.0])
    assert found.rising.shape == ()
    assert same(found, at(array, 0))
    assert found.dawn_sky == SkyState.CROSSES


def test_results_can_be_changed_by_their_owner():
    found = sun_crossings([[10.0], [20.0]], [[5.0], [6.0]], ["2026-03-20", "2026-03-21"], -6.0)
    for values in vars(found).values():
        values[0, 0] = values[1, 1]
    again = sun_crossings([[10.0], [20.0]], [[5.0], [6.0]], ["2026-03-20", "2026-03-21"], -6.0)
    assert again.rising[0, 0] != found.rising[0, 0]


def test_arguments_are_not_changed():
    latitude, longitude = np.array([[89.9], [10.0]]), np.array([[5.0], [6.0]])
    dates = np.arange("2026-03-10", "2026-03-25", dtype="datetime64[D]")
    before = [values.copy() for values in (latitude, longitude, dates)]
    sun_crossings(latitude, longitude, dates, CIVIL_DEG)
    for values, kept in zip((latitude, longitude, dates), before, strict=True):
        assert np.array_equal(values, kept)


@pytest.mark.parametrize("chunk", [1, 7, 64])
@pytest.mark.parametrize("shape", [(50, 1), (1, 50), (10, 40), (3, 5, 20)])
def test_chunks_change_nothing(monkeypatch, chunk, shape):
    generator = np.random.default_rng(2)
    latitude = generator.uniform(-90.0, 90.0, (*shape[:-1], 1))
    longitude = generator.uniform(-180.0, 180.0, (*shape[:-1], 1))
    dates = np.datetime64("2026-01-01") + generator.integers(0, 365, shape[-1])
    whole = sun_crossings(latitude, longitude, dates, CIVIL_DEG)
    monkeypatch.setattr(sun, "_CHUNK", chunk)
    assert same(sun_crossings(latitude, longitude, dates, CIVIL_DEG), whole)


def test_more_than_one_chunk_of_real_size():
    latitude = np.linspace(-90.0, 90.0, 160)[:, None]
    longitude = np.linspace(-180.0, 180.0, 160)[:, None]
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    assert latitude.size * dates.size > 2 * sun._CHUNK
    found = sun_crossings(latitude, longitude, dates, SUNRISE_DEG)
    for row in (0, 7, 30, 59, 67, 68, 119, 159):
        alone = sun_crossings(latitude[row, 0], longitude[row, 0], dates, SUNRISE_DEG)
        assert same(alone, at(found, row))


def test_transit_and_position_broadcast():
    longitude = np.array([[-120.0], [0.0], [120.0]])
    dates = np.array(["2026-01-01", "2026-06-30"], "datetime64[D]")
    lower, upper = sun_transits(longitude, dates)
    assert lower.shape == upper.shape == (3, 2)
    one_lower, one_upper = sun_transits(120.0, "2026-06-30")
    assert (one_lower, one_upper) == (lower[2, 1], upper[2, 1])
    seen = sun_position(52.0, longitude, upper)
    assert seen.altitude_deg.shape == seen.azimuth_deg.shape == (3, 2)
    one = sun_position(52.0, 120.0, upper[2, 1])
    assert one.altitude_deg == seen.altitude_deg[2, 1]
    assert one.azimuth_deg == seen.azimuth_deg[2, 1]
    three = sun_position(np.zeros((2, 1, 1)), longitude, upper)
    assert three.altitude_deg.shape == three.azimuth_deg.shape == (2, 3, 2)


# --- Bad input -----------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [90.001, -90.001, np.nan, np.inf, [10.0, 91.0]])
def test_latitude_out_of_range(bad):
    with pytest.raises(ValueError, match=r"latitude: .* -90 and 90 degrees"):
        sun_crossings(bad, 0.0, "2026-01-01", SUNRISE_DEG)
    with pytest.raises(ValueError, match="latitude"):
        sun_position(bad, 0.0, "2026-01-01T12:00")


@pytest.mark.parametrize("bad", [180.001, -180.001, np.nan, -np.inf, [[10.0], [200.0]]])
def test_longitude_out_of_range(bad):
    with pytest.raises(ValueError, match=r"longitude: .* -180 and 180 degrees"):
        sun_crossings(0.0, bad, "2026-01-01", SUNRISE_DEG)
    with pytest.raises(ValueError, match="longitude"):
        sun_position(0.0, bad, "2026-01-01T12:00")
    with pytest.raises(ValueError, match="longitude"):
        sun_transits(bad, "2026-01-01")


@pytest.mark.parametrize("bad", [90.5, -91.0, np.nan])
def test_altitude_out_of_range(bad):
    with pytest.raises(ValueError, match=r"altitude: .* -90 and 90 degrees"):
        sun_crossings(0.0, 0.0, "2026-01-01", bad)


@pytest.mark.parametrize("bad", ["1899-12-31", "2101-01-01", "NaT", ["2026-01-01", "1850-01-01"]])
def test_date_out_of_range(bad):
    bad = np.array(bad, "datetime64[D]")
    message = "dates: .* 1900-01-01 to 2100-12-31"
    with pytest.raises(ValueError, match=message):
        sun_crossings(0.0, 0.0, bad, SUNRISE_DEG)
    with pytest.raises(ValueError, match=message):
        sun_transits(0.0, bad)
    with pytest.raises(ValueError, match=message):
        sun_position(0.0, 0.0, bad)


def test_the_ends_of_the_range_are_inside_it():
    ends = np.array(["1900-01-01", "2100-12-31"], "datetime64[D]")
    found = sun_crossings([[-90.0], [0.0], [90.0]], [[-180.0], [0.0], [180.0]], ends, SUNRISE_DEG)
    assert not np.isnat(found.transit).any()
    assert not np.isnat(found.rising[1]).any()
    seen = sun_position(0.0, 0.0, np.array(["1900-01-01T00:00", "2100-12-31T23:59:59"]))
    assert np.all(seen.altitude_deg < -60.0)


# --- States --------------------------------------------------------------------------------------


def test_states_and_missing_times_go_together():
    latitude = np.linspace(-90.0, 90.0, 37)[:, None]
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    found = sun_crossings(latitude, 15.0, dates, CIVIL_DEG)
    for instants, sky in ((found.rising, found.dawn_sky), (found.setting, found.dusk_sky)):
        assert np.array_equal(np.isnat(instants), sky != SkyState.CROSSES)
        assert {int(state) for state in np.unique(sky)} == set(SkyState)
    noon = sun_position(latitude, 15.0, found.transit).altitude_deg
    for sky in (found.dawn_sky, found.dusk_sky):
        assert np.all(noon[sky == SkyState.ALWAYS_ABOVE] > CIVIL_DEG)
        assert np.all(noon[sky == SkyState.ALWAYS_BELOW] < CIVIL_DEG)


def test_a_white_night_and_a_polar_night():
    summer = sun_crossings(69.65, 18.96, "2026-06-21", SUNRISE_DEG)
    assert summer.dawn_sky == summer.dusk_sky == SkyState.ALWAYS_ABOVE
    winter = sun_crossings(69.65, 18.96, "2026-12-21", SUNRISE_DEG)
    assert winter.dawn_sky == winter.dusk_sky == SkyState.ALWAYS_BELOW
    assert np.isnat([summer.rising, summer.setting, winter.rising, winter.setting]).all()


def test_each_side_has_its_own_state():
    # As the white nights begin, a day still has a dawn, and its Sun no longer sets.
    dates = np.arange("2026-05-01", "2026-06-01", dtype="datetime64[D]")
    found = sun_crossings(69.65, 18.96, dates, SUNRISE_DEG)
    mixed = (found.dawn_sky == SkyState.CROSSES) & (found.dusk_sky == SkyState.ALWAYS_ABOVE)
    assert mixed.sum() == 1


@pytest.mark.parametrize("latitude_deg", [90.0, -90.0])
@pytest.mark.parametrize("longitude_deg", [-180.0, -90.0, 0.0, 37.5, 180.0])
def test_the_poles(latitude_deg, longitude_deg):
    dates = np.arange("2025-12-01", "2027-02-01", dtype="datetime64[D]")
    found = sun_crossings(latitude_deg, longitude_deg, dates, SUNRISE_DEG)
    assert not np.isnat(found.transit).any()
    # Once a year at most: where the passage falls on the other side of its day it has no event.
    assert (~np.isnat(found.rising)).sum() <= 1
    assert (~np.isnat(found.setting)).sum() <= 1
    northern_summer = (dates >= np.datetime64("2026-03-25")) & (dates < np.datetime64("2026-09-18"))
    northern_winter = (dates >= np.datetime64("2026-10-01")) | (dates < np.datetime64("2026-03-15"))
    up, down = SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW
    if latitude_deg < 0:
        up, down = down, up
    for sky in (found.dawn_sky, found.dusk_sky):
        assert np.all(sky[northern_summer] == up)
        assert np.all(sky[northern_winter] == down)


def test_one_longitude_or_the_other_sees_the_pole_rise():
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    found = sun_crossings(90.0, [[-90.0], [90.0]], dates, SUNRISE_DEG)
    rising = found.rising[~np.isnat(found.rising)]
    setting = found.setting[~np.isnat(found.setting)]
    assert rising.size == 1
    assert setting.size == 1
    for instant in (rising[0], setting[0]):
        assert sun_position(90.0, 0.0, instant).altitude_deg == pytest.approx(SUNRISE_DEG, abs=1e-5)


def test_altitude_at_the_pole_is_the_declination():
    noon = np.datetime64("2026-06-21T12:00")
    curves = solar_days(np.array(["2026-06-21"], "datetime64[D]"))
    declination = np.degrees(np.arcsin(curves.sin_declination[0, 0]))
    lowered = np.degrees(curves.parallax_rad[0]) * np.cos(np.radians(declination))
    for longitude in (-120.0, 0.0, 77.0):
        seen = sun_position(90.0, longitude, noon)
        assert seen.altitude_deg == pytest.approx(declination - lowered, abs=1e-9)


# --- What must hold of every result -------------------------------------------------------------


@untimed
@given(latitudes, longitudes, days, altitudes)
def test_crossings_are_in_order_and_at_the_asked_altitude(latitude, longitude, day, altitude):
    found = sun_crossings(latitude, longitude, day, altitude)
    lower, upper = sun_transits(longitude, day)
    after = sun_transits(longitude, min(day + 1, LAST_DAY))[0] if day < LAST_DAY else upper + DAY
    assert found.transit == upper
    assert abs((upper - (day + np.timedelta64(12, "h"))) / SECOND + longitude * 240.0) < 17 * 60
    for instant, low, high in (
        (found.rising, lower, found.transit),
        (found.setting, found.transit, after),
    ):
        if not np.isnat(instant):
            # Two neighbouring days' curves meet at a lower transit to a millisecond or two.
            slack = np.timedelta64(5, "ms")
            assert low - slack <= instant <= high
            inside = np.datetime64("1900-01-01") <= instant < np.datetime64("2101-01-01")
            if inside:
                reached = sun_position(latitude, longitude, instant).altitude_deg
                assert reached == pytest.approx(altitude, abs=1e-5)


@untimed
@given(latitudes, longitudes, days)
def test_the_sun_is_on_the_meridian_at_transits(latitude, longitude, day):
    lower, upper = sun_transits(longitude, day)
    assert timedelta_h(lower, upper) == pytest.approx(12.0, abs=0.01)
    before = np.datetime64("1900-01-01T00:00")
    assume(lower >= before and upper < np.datetime64("2101-01-01"))
    seen = sun_position(latitude, longitude, np.array([lower, upper]))
    # A microsecond is 15 arc seconds / 1e6; overhead that is no direction at all.
    east = np.sin(np.radians(seen.azimuth_deg)) * np.cos(np.radians(seen.altitude_deg))
    assert np.abs(east).max() < 1e-6
    if abs(latitude) < 89.0:
        assert seen.altitude_deg[1] > seen.altitude_deg[0]


def timedelta_h(start, end):
    return (end - start) / np.timedelta64(1, "h")


@untimed
@given(st.floats(-55.0, 55.0), longitudes, st.integers(0, 365 * 199).map(lambda n: FIRST_DAY + n))
def test_mirrored_places_have_equal_days_at_opposite_declination(latitude, longitude, day):
    following = np.arange(day, day + 366)
    # At the place's own noon; the cubic's first two terms are good to 0.002 deg.
    constant, linear, *_ = solar_days(following).sin_declination
    declinations = np.arcsin(constant - linear * longitude / 360.0)
    opposite = following[np.argmin(np.abs(declinations + declinations[0]))]
    here = sun_crossings(latitude, longitude, day, SUNRISE_DEG)
    there = sun_crossings(-latitude, longitude, opposite, SUNRISE_DEG)
    length = timedelta_h(here.rising, here.setting)
    # Whole days leave up to 0.2 deg of declination, which is 2.3 minutes at 55 deg.
    assert abs(length - timedelta_h(there.rising, there.setting)) * 60.0 < 3.0


def anywhere(size):
    """Return random places, days and altitudes, of which the quick way settles most."""
    generator = np.random.default_rng(3)
    latitude = generator.uniform(-90.0, 90.0, size)
    longitude = generator.uniform(-180.0, 180.0, size)
    dates = FIRST_DAY + generator.integers(0, (LAST_DAY - FIRST_DAY).astype(int), size)
    return latitude, longitude, dates, generator.uniform(-18.0, 5.0, size)


def apart_us(first, second):
    """Return the differences of all instants, once both have the same events."""
    assert np.array_equal(first.dawn_sky, second.dawn_sky)
    assert np.array_equal(first.dusk_sky, second.dusk_sky)
    apart = []
    for name in ("rising", "setting"):
        difference = getattr(first, name) - getattr(second, name)
        apart.append(np.abs(difference[~np.isnat(difference)]).astype(np.int64))
    return np.concatenate(apart)


def go_carefully(monkeypatch):
    monkeypatch.setattr(sun_solver, "_QUICK_REST_DAYS", 0.0)
    monkeypatch.setattr(sun_solver, "_POLISHED_STEP_DAYS", 0.0)


def test_the_quick_way_equals_the_careful_way(monkeypatch):
    places = anywhere(20_000)
    quick = sun_crossings(*places)
    go_carefully(monkeypatch)
    apart = apart_us(quick, sun_crossings(*places))
    assert apart.max() <= 10_000
    # Both ways must have been gone: those that the quick way declined are equal to the microsecond.
    assert (apart > 0).sum() > len(apart) / 2


@pytest.mark.parametrize("least_deg", [0.0, 66.0, 85.0, 89.0])
def test_the_polished_way_equals_the_careful_way(monkeypatch, least_deg):
    latitude, longitude, dates, altitude = anywhere(20_000)
    latitude = np.sign(latitude) * (least_deg + np.abs(latitude) * (1.0 - least_deg / 90.0))
    monkeypatch.setattr(sun_solver, "_QUICK_REST_DAYS", 0.0)
    polished_share = []
    true = sun_solver.polish

    def watched(*arguments):
        reach, right = true(*arguments)
        polished_share.append(right.mean())
        return reach, right

    monkeypatch.setattr(sun, "polish", watched)
    polished = sun_crossings(latitude, longitude, dates, altitude)
    assert min(polished_share) > 0.5
    go_carefully(monkeypatch)
    careful = sun_crossings(latitude, longitude, dates, altitude)
    assert apart_us(polished, careful).max() <= 1


@pytest.mark.parametrize("altitudes", [SUNRISE_DEG, [[[SUNRISE_DEG]], [[CIVIL_DEG]], [[-12.0]]]])
def test_a_block_gives_what_single_calls_give(altitudes):
    generator = np.random.default_rng(4)
    latitude, longitude = generator.uniform(-90.0, 90.0, 64), generator.uniform(-180.0, 180.0, 64)
    latitude[:3] = 90.0, -90.0, 66.6
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    block = sun_crossings(latitude, longitude, dates[:, None], altitudes)
    by_site = sun_crossings(latitude[:, None], longitude[:, None], dates, altitudes)
    for name, values in vars(block).items():
        turned = np.swapaxes(values, -1, -2)
        assert np.array_equal(turned, getattr(by_site, name), equal_nan=values.dtype.kind == "M")
    for site in range(64):
        for index, altitude in np.ndenumerate(altitudes):
            alone = sun_crossings(latitude[site], longitude[site], dates, altitude)
            assert same(alone, at(block, (*index[:1], slice(None), site)))


def dense_side(latitude, longitude, start, end):
    """Return the side's instants and altitudes by dense sampling, with its extremes [deg].

    A parabola through the three samples about a turning point gives its height to 1e-6 deg.
    """
    instants = start + np.linspace(0.0, 1.0, SAMPLES) * (end - start)
    altitude = sun_position(latitude, longitude, instants).altitude_deg
    below, here, above = altitude[:-2], altitude[1:-1], altitude[2:]
    turns = (here - below) * (above - here) < 0.0
    bend = below[turns] - 2.0 * here[turns] + above[turns]
    extremes = here[turns] - ((above - below)[turns] / 2.0) ** 2 / (2.0 * bend)
    return instants, altitude, np.concatenate([extremes, altitude[[0, -1]]])


@untimed
@given(
    st.tuples(st.floats(40.0, 80.0) | st.floats(-80.0, -40.0), longitudes),
    st.integers(1905, 2095),
    st.sampled_from([SUNRISE_DEG, CIVIL_DEG, -12.0, -18.0]),
    st.booleans(),
    st.floats(-0.05, 0.05),
)
def test_grazing_days_cross_exactly_when_the_peak_passes(place, year, altitude, at_noon, beside):
    latitude, longitude = place
    dates = np.arange(np.datetime64(f"{year}-01-01"), np.datetime64(f"{year + 1}-01-01"))
    lower, upper = sun_transits(longitude, dates)
    turning = upper if at_noon else lower
    inside = slice(2, -2)
    extreme = sun_position(latitude, longitude, turning[inside]).altitude_deg
    # The day whose turning point comes nearest, and an altitude that lies just beside that point.
    nearest = int(np.argmin(np.abs(extreme - altitude))) + 2
    altitude = float(np.clip(extreme[nearest - 2] + beside, -80.0, 80.0))
    found = sun_crossings(latitude, longitude, dates[nearest], altitude)
    sides = (
        (found.rising, found.dawn_sky, lower[nearest], upper[nearest], True),
        (found.setting, found.dusk_sky, upper[nearest], lower[nearest + 1], False),
    )
    for instant, sky, start, end, rises in sides:
        _, sampled, extremes = dense_side(latitude, longitude, start, end)
        if np.abs(extremes - altitude).min() < TOUCHING_DEG:
            continue
        lowest, highest = extremes.min(), extremes.max()
        if lowest < altitude < highest:
            assert sky == SkyState.CROSSES
            assert start - np.timedelta64(5, "ms") <= instant <= end + np.timedelta64(5, "ms")
            reached = sun_position(latitude, longitude, instant).altitude_deg
            assert reached == pytest.approx(altitude, abs=1e-5)
            step = np.array([-20, 20]) * SECOND
            before, after = sun_position(latitude, longitude, instant + step).altitude_deg
            assert (after > before) == rises or abs(after - before) < TOUCHING_DEG
        else:
            up = sampled[-1] if rises else sampled[0]
            assert np.isnat(instant)
            assert sky == (SkyState.ALWAYS_ABOVE if up > altitude else SkyState.ALWAYS_BELOW)


@pytest.mark.parametrize("latitude_deg", [-89.9, -89.7, 89.6, 89.8])
def test_near_the_poles_the_altitude_turns_beside_the_transits(latitude_deg):
    # There the season moves the Sun's highest and lowest moments away from its transits, so that
    # an altitude between a turning point and the transit beside it is passed all the same.
    dates = np.arange("2026-01-01", "2027-01-01", 5, dtype="datetime64[D]")
    lower, upper = sun_transits(25.0, dates)
    after = sun_transits(25.0, dates + 1)[0]
    tried = 0
    for index, day in enumerate(dates):
        for start, end, rises in (
            (lower[index], upper[index], True),
            (upper[index], after[index], False),
        ):
            instants, sampled, extremes = dense_side(latitude_deg, 25.0, start, end)
            for turning in extremes[:-2]:
                first, last = sampled[0], sampled[-1]
                beside = first if abs(first - turning) < abs(last - turning) else last
                if abs(turning - beside) < 2.0 * TOUCHING_DEG:
                    continue
                altitude = (turning + beside) / 2.0
                found = sun_crossings(latitude_deg, 25.0, day, altitude)
                above = sampled >= altitude
                passes = np.flatnonzero(
                    ~above[:-1] & above[1:] if rises else above[:-1] & ~above[1:]
                )
                assert passes.size == 1
                instant = found.rising if rises else found.setting
                assert (found.dawn_sky if rises else found.dusk_sky) == SkyState.CROSSES
                assert instants[passes[0]] <= instant <= instants[passes[0] + 1]
                tried += 1
    assert tried > 20


@untimed
@given(latitudes, longitudes, days)
def test_a_lower_altitude_is_passed_earlier_in_the_morning(latitude, longitude, day):
    found = sun_crossings(latitude, longitude, day, [-18.0, -12.0, CIVIL_DEG, SUNRISE_DEG])
    rising = found.rising[~np.isnat(found.rising)]
    setting = found.setting[~np.isnat(found.setting)]
    assert np.all(np.diff(rising) > np.timedelta64(0, "us"))
    assert np.all(np.diff(setting) < np.timedelta64(0, "us"))


@untimed
@given(st.floats(-65.0, 65.0), st.floats(-180.0, 165.0), days)
def test_an_hour_further_east_the_sun_is_an_hour_earlier(latitude, longitude, day):
    west = sun_crossings(latitude, longitude, day, SUNRISE_DEG)
    east = sun_crossings(latitude, longitude + 15.0, day, SUNRISE_DEG)
    for name in ("rising", "transit", "setting"):
        difference = (getattr(west, name) - getattr(east, name)) / np.timedelta64(1, "m")
        # The Sun's own change: at 65 deg, where no night is white yet, 4 minutes a day.
        assert difference == pytest.approx(60.0, abs=0.3)
