"""The check on arrays: what it must find, and that it finds nothing in what is right."""

import ast
from pathlib import Path

import numpy as np
import pytest

import daylatch.sun.array_opinion as module
from daylatch.sun.array_faults import Fault
from daylatch.sun.array_opinion import EventColumns, check_events
from daylatch.sun.crossings import SkyState, sun_position, sun_transits
from planted_faults import (
    DAYS,
    GRAZING_DEG,
    KINDS,
    LIGHTS_DEG,
    Block,
    clearance_and_sky,
    find_block,
    plant,
    random_block,
)
from sun.test_noon_sun import DECLINATION_LIMIT_DEG, EQUATION_LIMIT_DEG, PLACE_LIMIT_DEG

PLANTS = 1_000
NAT = np.datetime64("NaT")
DAY = np.timedelta64(1, "D")
SECOND = np.timedelta64(1, "s")
YEAR = (np.datetime64("2027-01-01") + np.arange(365))[:, None]


def small_block(latitude_deg=52.0, longitude_deg=5.0, altitude_deg=-6.0, days=YEAR):
    return find_block(
        np.array([latitude_deg]), np.array([longitude_deg]), days, np.array([[altitude_deg]])
    )


def first_fault(block: Block):
    (fault,) = block.opinion().faults
    return fault


# --- No false alarm ----------------------------------------------------------------------------


def anywhere(generator, size):
    return generator.uniform(-90.0, 90.0, size)


def far_north_and_south(generator, size):
    return generator.uniform(80.0, 90.0, size) * generator.choice([-1.0, 1.0], size)


def around_the_poles(generator, size):
    return (90.0 - 10.0 ** generator.uniform(-6.0, 0.5, size)) * generator.choice([-1.0, 1.0], size)


def at_the_poles(generator, size):
    return generator.choice([-90.0, 90.0], size)


@pytest.mark.parametrize("grazing", [False, True])
@pytest.mark.parametrize(
    "latitudes", [anywhere, far_north_and_south, around_the_poles, at_the_poles]
)
def test_nothing_is_found_in_what_is_right(latitudes, grazing):
    generator = np.random.default_rng(7)
    size = 150
    for _ in range(4):
        latitude = latitudes(generator, size)
        longitude = generator.uniform(-180.0, 180.0, size)
        edge = generator.random(size) < 0.3
        longitude[edge] = generator.choice([-180.0, 180.0, -179.999, 179.999], edge.sum())
        first = np.datetime64("1902-01-01") + generator.integers(0, 197 * 365)
        days = first + np.arange(DAYS)
        altitude = generator.choice([*LIGHTS_DEG, 0.0, 5.0], size)
        if grazing:
            lower, upper = sun_transits(longitude, days[generator.integers(0, DAYS, size)])
            turn = np.where(generator.random(size) < 0.5, lower, upper)
            altitude = sun_position(latitude, longitude, turn).altitude_deg
            altitude += generator.normal(size=size) * 10.0 ** generator.uniform(-7.0, -2.0, size)
            altitude = np.clip(altitude, -88.0, 88.0)
        block = find_block(latitude, longitude, days[:, None], altitude[None])
        opinion = block.opinion()
        assert [fault.sentence() for fault in opinion.faults] == []
        assert opinion.checked == np.count_nonzero(~np.isnat(block.times))
        assert 0.0 < opinion.worst_deg < PLACE_LIMIT_DEG
        if grazing:
            assert opinion.unsure > 0


def test_the_tolerances_hold_the_measured_errors():
    # Half of each, so that what single precision adds has room.
    assert 2.0 * PLACE_LIMIT_DEG <= module.TOLERANCE_DEG
    assert 2.0 * DECLINATION_LIMIT_DEG <= module.MARGIN_DEG
    assert 2.0 * EQUATION_LIMIT_DEG <= module.SIDE_TOLERANCE_DEG


# --- Power -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_every_planted_fault_is_found(kind):
    generator = np.random.default_rng(11)
    judged = 0
    while judged < PLANTS:
        block = random_block(generator, 125)
        assert not block.opinion().faulty.any()
        planted = plant(generator, block, kind)
        opinion = planted.block.opinion()
        sure = planted.clearance_deg >= GRAZING_DEG
        judged += np.count_nonzero(sure)
        assert opinion.faulty[planted.sites[sure]].all()
        # Found where it was planted; an exchange with the next day shows on either of the two.
        rows = {fault.site: fault.solar_day for fault in opinion.faults}
        for site, row in zip(planted.sites[sure], planted.row[sure], strict=True):
            assert 0 <= int((rows[site] - block.days[row, 0]) / DAY) <= 1


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("end", ["transit", "lower transit"])
def test_a_missing_event_is_found_however_little_it_passes_an_end(side, end):
    generator = np.random.default_rng(13)
    size = 1_000
    latitude = generator.uniform(-89.9, 89.9, size)
    longitude = generator.uniform(-180.0, 180.0, size)
    days = np.datetime64("1902-01-01") + np.sort(generator.choice(198 * 365, 40, replace=False))
    row = generator.integers(0, days.size, size)
    lower, _ = sun_transits(longitude, days[row] + side * DAY)
    _, transit = sun_transits(longitude, days[row])
    instants, sign = (transit, -1.0) if end == "transit" else (lower, 1.0)
    by_deg = generator.uniform(GRAZING_DEG, 0.02, size)
    altitude = sun_position(latitude, longitude, instants).altitude_deg + sign * by_deg
    block = find_block(latitude, longitude, days[:, None], np.clip(altitude, -88.0, 88.0)[None])
    sites = np.arange(size)
    there = ~np.isnat(block.times[side, row, sites]) & (np.abs(altitude) < 88.0)
    clearance_deg, sky = clearance_and_sky(block, np.full(size, side), row, sites)
    there &= clearance_deg >= GRAZING_DEG
    assert np.count_nonzero(there) > 900
    block.times[side, row[there], sites[there]] = NAT
    block.skies[side, row[there], sites[there]] = sky[there]
    assert np.array_equal(block.opinion().faulty, there)


def test_a_missing_event_that_grazes_is_among_the_unsure():
    generator = np.random.default_rng(12)
    grazing = 0
    while grazing < 5:
        block = random_block(generator, 125)
        planted = plant(generator, block, "missing")
        opinion = planted.block.opinion()
        for site in planted.sites[planted.clearance_deg < GRAZING_DEG]:
            grazing += 1
            assert opinion.faulty[site] or opinion.unsure > 0


# --- What is said of each kind -----------------------------------------------------------------


def test_an_event_at_the_wrong_altitude():
    block = small_block()
    block.times[0, 100, 0] += np.timedelta64(4, "m")
    fault = first_fault(block)
    assert fault.fault is Fault.OFF
    there_deg = sun_position(52.0, 5.0, block.times[0, 100, 0]).altitude_deg
    assert fault.amount == pytest.approx(there_deg + 6.0, abs=PLACE_LIMIT_DEG)
    assert fault.sentence() == (
        "the check of the Sun disagrees, so there is no plan: daylatch has the civil dawn of "
        f"2027-04-11 where the Sun stands {fault.amount:.2f} degrees away; please report this"
    )


def test_an_event_of_the_day_before():
    block = small_block()
    block.times[1, 100, 0] = block.times[1, 99, 0]
    fault = first_fault(block)
    assert fault.fault is Fault.ELSEWHERE
    assert "civil dusk of 2027-04-11" in fault.sentence()
    assert "hours outside its half of that day" in fault.sentence()


def test_a_missing_event_is_found_whatever_the_sky_says():
    for state in SkyState:
        block = small_block()
        block.times[1, 100, 0] = NAT
        block.skies[1, 100, 0] = state
        fault = first_fault(block)
        assert fault.fault is Fault.MISSING
        assert fault.solar_day == np.datetime64("2027-04-11")
        assert fault.amount > 1.0
        assert "has no civil dusk on 2027-04-11" in fault.sentence()


def test_an_event_in_a_white_night():
    block = small_block(latitude_deg=80.0, altitude_deg=-0.8333)
    row = 171
    assert np.isnat(block.times[0, row, 0])
    lower, _ = sun_transits(5.0, block.days[row])
    block.times[0, row] = lower
    block.skies[0, row] = SkyState.CROSSES
    fault = first_fault(block)
    assert (fault.fault, fault.solar_day) == (Fault.OFF, block.days[row, 0])
    assert fault.amount > 10.0


def test_an_event_that_the_sun_misses_by_less_than_the_tolerance_of_its_altitude():
    days = YEAR[100:101]
    _, transit = sun_transits(5.0, days[:, 0])
    highest = sun_position(52.0, 5.0, transit).altitude_deg[0]
    block = small_block(altitude_deg=highest + 0.008, days=days)
    assert np.isnat(block.times).all()
    block.times[0, 0] = transit
    block.skies[0, 0] = SkyState.CROSSES
    fault = first_fault(block)
    assert fault.fault is Fault.IMPOSSIBLE
    assert fault.amount == pytest.approx(0.008, abs=DECLINATION_LIMIT_DEG)


@pytest.mark.parametrize(
    ("state", "row"),
    [
        (SkyState.ALWAYS_BELOW, 171),
        (SkyState.ALWAYS_ABOVE, 354),
        (SkyState.CROSSES, 171),
        (SkyState.CROSSES, 354),
    ],
)
def test_a_sky_that_is_wrong(state, row):
    block = small_block(latitude_deg=80.0, altitude_deg=-0.8333)
    block.skies[1, row, 0] = state
    fault = first_fault(block)
    assert fault.fault is Fault.SKY
    _, transit = sun_transits(5.0, block.days[row])
    highest = sun_position(80.0, 5.0, transit).altitude_deg[0]
    assert fault.amount == pytest.approx(abs(highest + 0.8333), abs=DECLINATION_LIMIT_DEG)
    assert "the wrong state of the sky for the sunset of" in fault.sentence()


def test_an_event_under_a_sky_that_does_not_cross():
    block = small_block()
    block.skies[0, 100, 0] = SkyState.ALWAYS_ABOVE
    assert first_fault(block).fault is Fault.SKY


def test_events_in_the_wrong_order_within_what_the_sides_tolerate():
    """Dawn and dusk seconds apart, exchanged, at a solstice: the Sun turns at the transit."""
    days = YEAR[171:172]
    _, transit = sun_transits(5.0, days[:, 0])
    altitude = sun_position(52.0, 5.0, transit).altitude_deg[0] - 1e-6
    block = small_block(altitude_deg=altitude, days=days)
    assert not block.opinion().faulty.any()
    assert block.times[0, 0, 0] < block.times[1, 0, 0]
    block.times[:] = block.times[::-1].copy()
    assert first_fault(block).fault is Fault.ORDER


def test_a_dusk_after_the_next_dawn_within_what_the_sides_tolerate():
    """The same at the lower transit of a solstice, where the two are of different days."""
    days = YEAR[171:173]
    lower, _ = sun_transits(5.0, days[1])
    altitude = sun_position(66.0, 5.0, lower).altitude_deg[0] + 2e-7
    block = small_block(latitude_deg=66.0, altitude_deg=altitude, days=days)
    assert not block.opinion().faulty.any()
    dusk, dawn = block.times[1, 0, 0], block.times[0, 1, 0]
    assert SECOND < dawn - dusk < 8 * SECOND
    # A second is left to the two days, whose own curves meet there.
    block.times[1, 0, 0] = dawn + SECOND
    assert not block.opinion().faulty.any()
    block.times[1, 0, 0], block.times[0, 1, 0] = dawn, dusk
    fault = first_fault(block)
    assert (fault.fault, fault.solar_day) == (Fault.ORDER, days[1, 0])
    assert fault.amount == pytest.approx((dawn - dusk) / SECOND)


def test_the_first_fault_of_each_site_is_told():
    block = random_block(np.random.default_rng(5), 40)
    latitude = np.linspace(-40.0, 40.0, 40)
    block = find_block(latitude, block.longitude_deg, YEAR, np.full((1, 40), -6.0))
    for site, row in ((3, 200), (3, 90), (17, 300), (39, 0)):
        block.times[0, row, site] += np.timedelta64(1, "h")
    opinion = block.opinion()
    assert np.flatnonzero(opinion.faulty).tolist() == [3, 17, 39]
    assert [(fault.site, fault.solar_day) for fault in opinion.faults] == [
        (3, YEAR[90, 0]),
        (17, YEAR[300, 0]),
        (39, YEAR[0, 0]),
    ]


# --- Shapes ------------------------------------------------------------------------------------


def test_days_that_differ_between_sites():
    """As where a calendar skipped a date: Samoa's of 2011-12-30."""
    usual = np.datetime64("2011-12-01") + np.arange(60)
    skipped = np.delete(np.append(usual, usual[-1] + DAY), 29)
    days = np.stack([usual, skipped, usual], axis=1)
    latitude, longitude = np.array([52.0, -13.8, 60.0]), np.array([5.0, -171.8, 25.0])
    block = find_block(latitude, longitude, days, np.full((1, 3), -6.0))
    assert not block.opinion().faulty.any()
    block.times[0, 29, 1] -= DAY
    fault = first_fault(block)
    assert (fault.site, fault.solar_day) == (1, np.datetime64("2011-12-31"))


def test_altitudes_by_block_site_or_day_give_the_same():
    latitude, longitude = np.array([52.0, 70.0, -88.0]), np.array([5.0, 25.0, -100.0])
    block = find_block(latitude, longitude, YEAR, np.full((1, 3), -6.0))
    opinions = []
    for altitude in (-6.0, np.full((1, 3), -6.0), np.full((365, 3), -6.0), np.full((365, 1), -6.0)):
        sides = [
            EventColumns(times, altitude, sky)
            for times, sky in zip(block.times, block.skies, strict=True)
        ]
        opinions.append(check_events(latitude, longitude, YEAR, *sides))
    first = opinions[0]
    assert all(
        (one.checked, one.worst_deg, one.unsure) == (first.checked, first.worst_deg, first.unsure)
        for one in opinions
    )


def test_an_altitude_that_changes_with_the_days():
    altitude = np.where(np.arange(365)[:, None] < 100, -6.0, -12.0)
    block = find_block(np.array([52.0]), np.array([5.0]), YEAR, altitude)
    assert not block.opinion().faulty.any()
    fault = first_fault(block._replace(altitude_deg=np.full((1, 1), -6.0)))
    assert (fault.fault, fault.solar_day) == (Fault.OFF, YEAR[100, 0])


def test_a_site_alone_is_judged_as_among_others():
    block = random_block(np.random.default_rng(9), 30)
    together = block.opinion()
    alone = [
        block._replace(
            latitude_deg=block.latitude_deg[[site]],
            longitude_deg=block.longitude_deg[[site]],
            altitude_deg=block.altitude_deg[:, [site]],
            times=block.times[..., [site]],
            skies=block.skies[..., [site]],
        ).opinion()
        for site in range(30)
    ]
    assert sum(one.checked for one in alone) == together.checked
    assert max(one.worst_deg for one in alone) == together.worst_deg


@pytest.mark.parametrize(
    "change",
    [
        {"latitude_deg": np.array([90.1])},
        {"longitude_deg": np.array([np.nan])},
        {"altitude_deg": np.array([[89.5]])},
        {"days": YEAR[::-1]},
        {"days": YEAR - 200 * 365},
        {"days": YEAR[1:]},
        {"days": YEAR[:, 0]},
        {"days": np.repeat(YEAR, 2, axis=1)},
        {"times": np.full((2, 365, 2), NAT, "datetime64[us]")},
        {"skies": np.full((2, 365, 1), -1, np.int8)},
    ],
)
def test_what_cannot_be_checked_is_refused(change):
    with pytest.raises(ValueError, match=r"must|between|at most|each"):
        small_block()._replace(**change).opinion()


def test_nothing_to_check():
    empty = find_block(np.zeros(0), np.zeros(0), YEAR, np.zeros((1, 0)))
    assert (empty.opinion().checked, empty.opinion().faults) == (0, ())


def test_it_shares_nothing_with_what_it_checks_but_the_names_of_the_states():
    folder = Path(module.__file__).parent
    for name in ("noon_sun", "array_faults", "array_opinion"):
        for node in ast.walk(ast.parse((folder / f"{name}.py").read_text())):
            if isinstance(node, ast.ImportFrom) and node.module == "daylatch.sun.crossings":
                assert [alias.name for alias in node.names] == ["SkyState"]
            elif isinstance(node, ast.ImportFrom):
                assert node.module not in {"daylatch.sun.ephemeris", "daylatch.sun.solver"}
            elif isinstance(node, ast.Import):
                assert "erfa" not in {alias.name for alias in node.names}
