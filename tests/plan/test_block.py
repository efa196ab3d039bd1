"""Plans in blocks: a house among thousands has the times that it has alone."""

import datetime as dt
import random
from dataclasses import fields

import numpy as np
import pytest

from daylatch.arrays import Record
from daylatch.errors import PlanError, SiteError
from daylatch.plan.block import BLOCK_SITES, clock_group, make_plans, plan_block
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from random_sites import random_text
from sites import APIA, FALLBACKS, KIRITIMATI, TAMPERE, UTRECHT, Spot, site

YEAR = dt.date(2027, 1, 1), dt.date(2027, 12, 31)


def random_sites(seed, count):
    rng = random.Random(seed)
    found = []
    while len(found) < count:
        try:
            found.append(read_site(random_text(rng, len(found)), "random.toml"))
        except SiteError:
            continue
    return found


def arrays(record, name=""):
    """Yield every array of a record, with its name."""
    if isinstance(record, np.ndarray):
        yield name, record
    elif isinstance(record, Record):
        for field in fields(record):
            if field.name not in {"site", "second_opinion"}:
                yield from arrays(getattr(record, field.name), f"{name}.{field.name}")
    elif isinstance(record, dict):
        for key, value in record.items():
            yield from arrays(value, f"{name}.{key!r}")
    elif isinstance(record, tuple):
        for number, value in enumerate(record):
            yield from arrays(value, f"{name}.{number}")


def refuse_differences(block, dates):
    """Compare every array of every column with that of a plan of its own."""
    for column, one in enumerate(block.sites):
        alone = make_plan(one, *dates, with_second_opinion=False)
        mine = dict(arrays(block.of_site(column)))
        for name, values in arrays(alone):
            np.testing.assert_array_equal(mine[name], values, f"{one.name}{name}")
    for one, error in block.refused:
        with pytest.raises(PlanError) as alone:
            make_plan(one, *dates, with_second_opinion=False)
        assert error.lines == alone.value.lines


@pytest.mark.parametrize("seed", range(3))
def test_random_sites_have_the_plans_in_blocks_that_they_have_alone(seed):
    sites = random_sites(seed, 80)
    blocks = list(make_plans(sites, *YEAR))
    told = [one.id for block in blocks for one in block.sites]
    refused = [one.id for block in blocks for one, _ in block.refused]
    assert sorted(told + refused) == sorted(one.id for one in sites)
    assert told
    assert refused
    for block in blocks:
        refuse_differences(block, YEAR)


def test_without_the_guard_told_times_are_the_same():
    sites = random_sites(11, 60)
    asked = 0
    for one in sites:
        whole, bare = plan_block([one], *YEAR), plan_block([one], *YEAR, with_guard=False)
        assert len(whole.refused) == len(bare.refused)
        if whole.times is None:
            continue
        asked += one.settings.day.least_open_h > 0
        for name in ("open_utc", "close_utc", "next_open_utc"):
            np.testing.assert_array_equal(getattr(bare.times, name), getattr(whole.times, name))
        for side in ("open", "close"):
            mine, theirs = getattr(bare.times.decisions, side), getattr(whole.times.decisions, side)
            np.testing.assert_array_equal(mine.decided_by, theirs.decided_by)
    assert asked > 5


def test_a_block_of_one_zone_has_columns_of_single_plans():
    rng = random.Random(7)
    places = [
        Spot(rng.uniform(50, 72), rng.uniform(5, 30), "Europe/Helsinki")
        for _ in range(BLOCK_SITES + 5)
    ]
    blocks = list(make_plans([site(spot, FALLBACKS) for spot in places], *YEAR))
    assert [len(block.sites) for block in blocks] == [BLOCK_SITES, 5]
    assert blocks[0].times.open_utc.shape == (365, BLOCK_SITES)
    for block in blocks:
        latitudes = [one.latitude_deg for one in block.sites]
        assert latitudes == sorted(latitudes)
        refuse_differences(block, YEAR)


def test_sites_on_both_sides_of_the_date_line_share_a_block():
    here = [site(Spot(-17.0, longitude, "Pacific/Fiji")) for longitude in (177.5, 179.9, -179.9)]
    block = plan_block(here, *YEAR)
    assert len(block.sites) == 3
    refuse_differences(block, YEAR)


def test_zones_whose_clocks_go_alike_share_a_block():
    spots = (UTRECHT, Spot(48.86, 2.35, "Europe/Paris"), Spot(41.9, 12.5, "Europe/Rome"))
    (block,) = make_plans([site(spot) for spot in spots], *YEAR)
    assert {one.zone for one in block.sites} == {spot.zone for spot in spots}
    refuse_differences(block, YEAR)
    assert clock_group("Europe/Paris", *YEAR) != clock_group("Europe/London", *YEAR)


def test_a_zone_that_will_leave_the_others_does_not_share_their_block():
    # Tongatapu and Enderbury keep the same time; only one still could change its clocks by 2037.
    alike = {clock_group(zone, *YEAR) for zone in ("Asia/Tokyo", "Asia/Seoul")}
    assert len(alike) == 1
    before = dt.date(1987, 6, 1), dt.date(1987, 6, 30)
    assert len({clock_group(zone, *before) for zone in ("Asia/Tokyo", "Asia/Seoul")}) == 2


def test_the_opening_after_a_polar_night_is_found_for_each_site():
    spots = [Spot(latitude, 15.0, "Arctic/Longyearbyen") for latitude in (78.0, 78.5, 79.0)]
    last_open = []
    for spot in spots:
        alone = make_plan(site(spot, FALLBACKS), *YEAR, with_second_opinion=False)
        last_open.append(alone.dates[alone.is_open][-1].item())
    # On the last date of the northernmost house with light, so that all of them close on it.
    dates = min(last_open) - dt.timedelta(days=9), min(last_open)
    (block,) = make_plans([site(spot, FALLBACKS) for spot in spots], *dates)
    refuse_differences(block, dates)
    waits = block.times.lock_in[-1] // np.timedelta64(1, "D")
    assert waits[-1] > 60
    assert waits[0] == 0


def test_one_house_that_lacks_a_fallback_takes_nothing_from_the_others():
    block = plan_block([site(TAMPERE, FALLBACKS), site(TAMPERE)], *YEAR)
    assert [one.settings.open.fallback is None for one in block.sites] == [False]
    ((lacking, error),) = block.refused
    assert lacking.settings.open.fallback is None
    assert "no open.fallback" in str(error)
    refuse_differences(block, YEAR)


def test_what_a_calendar_skipped_is_refused_by_each_sites_own_zone():
    skipped = dt.date(2011, 12, 30), dt.date(2011, 12, 30)
    for spot in (APIA, Spot(-9.2, -171.8, "Pacific/Fakaofo")):
        ((_, error),) = plan_block([site(spot)], *skipped).refused
        assert spot.zone in str(error)


def test_the_end_of_the_zone_rules_is_told_by_each_sites_own_zone():
    late = dt.date(2038, 1, 1), dt.date(2038, 1, 2)
    block = plan_block([site(UTRECHT), site(Spot(48.86, 2.35, "Europe/Paris"))], *late)
    assert block.times is None
    for one, error in block.refused:
        assert one.zone in str(error)


def test_a_range_that_nobody_can_plan_is_refused_at_once():
    with pytest.raises(PlanError, match="swap the dates"):
        next(make_plans([site(UTRECHT)], *reversed(YEAR)))
    assert list(make_plans([], *YEAR)) == []


def test_sites_are_taken_as_they_are_needed():
    taken = []

    def endless():
        while True:
            taken.append(None)
            yield site(KIRITIMATI)

    next(make_plans(endless(), *YEAR))
    assert len(taken) < 10_000
