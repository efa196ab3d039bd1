"""What is learned of evenings: the light, its error, what is far off, doubted, or not told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.diary.roosting.doubts import Doubt
from daylatch.diary.roosting.finding import NotTold, WhyNot
from daylatch.diary.roosting.half import Learned, learn
from daylatch.diary.roosting.instants import light_instants, progress_deg
from daylatch.diary.roosting.looks import Half, find_looks
from roosting_flocks import (
    HERE,
    NO_OPENINGS,
    TODAY,
    dates,
    entries,
    light_on,
    moments,
    of_evenings,
    spread,
)
from sites import LONGYEARBYEN, SINGAPORE, TAMPERE, Spot, site

MINUTE = np.timedelta64(60, "s")
HOUR = 60 * MINUTE
SOUTH = Spot(-45.0, 170.5, "Pacific/Auckland")
ROVANIEMI = Spot(66.5, 25.7, "Europe/Helsinki")


@pytest.mark.parametrize("spot", [SINGAPORE, TAMPERE, SOUTH], ids=lambda spot: spot.zone)
@pytest.mark.parametrize("light_deg", [-0.5, 2.5, 6.0])
def test_the_light_that_birds_keep_is_found_at_any_place(spot, light_deg):
    here = site(spot)
    said = entries("last_in", light_on("2026-08-20", 40, light_deg, here) + spread(40, 4.0))
    found = of_evenings(said, here)
    assert found.light_deg == pytest.approx(light_deg, abs=0.35)
    assert abs(found.light_deg - light_deg) <= found.error_deg + 0.01
    assert found.spread_min == pytest.approx(4.0, abs=1.2)
    assert found.days == 40
    assert not found.outliers.any()


def test_looks_alone_find_it_too():
    light = light_on("2026-08-20", 70)
    random = np.random.default_rng(1)
    at = light + random.uniform(-15 * 60, 15 * 60, 70).round().astype("timedelta64[s]")
    is_in = light + spread(70) <= at
    said = [*entries("all_in", at[is_in]), *entries("still_out", at[~is_in])]
    found = of_evenings(said)
    assert found.light_deg == pytest.approx(4.0, abs=0.4)
    assert found.spread_min == pytest.approx(6.0, abs=3.0)
    assert not found.lag.is_told_apart
    # Where nobody saw them in, little can be promised.
    assert found.largest < 0.8
    assert np.isinf(found.latest_min).sum() == (~is_in).sum()


def test_moments_and_looks_together_are_surer_than_either():
    light = light_on("2026-08-20", 80)
    said = entries("last_in", (light + spread(80))[::2])
    at = light[1::2] + spread(40, 10.0, seed=3)
    is_in = light[1::2] + spread(80)[1::2] <= at
    looks = [*entries("all_in", at[is_in]), *entries("still_out", at[~is_in])]
    both, one = of_evenings([*said, *looks]), of_evenings(said)
    assert both.error_deg < one.error_deg
    assert both.light_deg == pytest.approx(4.0, abs=0.4)


def test_moments_and_looks_that_differ_are_doubted():
    light = light_on("2026-08-20", 80)
    at = light[1::2] + spread(40, 10.0, seed=3) + HOUR // 2
    is_in = light[1::2] + HOUR // 2 + spread(40, 4.0, seed=4) <= at
    looks = [*entries("all_in", at[is_in]), *entries("still_out", at[~is_in])]
    found = of_evenings([*entries("last_in", (light + spread(80))[::2]), *looks])
    assert Doubt.KINDS_DIFFER in found.doubts


def test_an_hour_off_is_named_and_counts_in_the_shares():
    moved = light_on("2026-08-20", 60) + spread(60)
    moved[[7, 23, 31]] += HOUR
    moved[41] -= HOUR
    found = of_evenings(entries("last_in", moved))
    assert np.flatnonzero(found.outliers).tolist() == [7, 23, 31, 41]
    assert found.light_deg == pytest.approx(4.0, abs=0.3)
    assert found.claim_of(0.95).value > 30


def test_looks_far_from_dusk_are_named_if_they_contradict_it_and_move_nothing():
    said = entries("last_in", light_on("2026-08-20", 30) + spread(30))
    odd = [
        *entries("all_in", [np.datetime64("2026-09-25T12:00", "s")]),
        *entries("still_out", [np.datetime64("2026-09-26T21:00", "s")]),
        *entries("all_in", [np.datetime64("2026-09-27T21:00", "s")]),
    ]
    found, alone = of_evenings([*said, *odd]), of_evenings(said)
    assert found.light_deg == alone.light_deg
    named = found.looks.dates[found.outliers].astype(str).tolist()
    assert named == ["2026-09-25", "2026-09-26"]


@pytest.mark.parametrize("days", [1, 5])
def test_too_few_evenings_say_no_number(days):
    found = moments(days)
    assert isinstance(found, NotTold)
    assert (found.why, found.moments) == (WhyNot.TOO_FEW, days)


@pytest.mark.parametrize("days", [6, 13])
def test_few_evenings_say_a_light_and_promise_little(days):
    found = moments(days)
    assert [one.share for one in found.claims] == [found.largest]
    assert found.chosen == found.largest < 0.8
    assert found.proposal is None
    assert moments(days, share=found.largest).proposal.share == found.largest


def test_a_chosen_share_that_is_too_large_is_refused_and_nothing_proposed():
    found = moments(30, share=0.97)
    assert found.proposal is None
    assert 0.97 in [one.share for one in found.refused]


@pytest.mark.parametrize("first", ["2026-09-01", "2026-03-20"], ids=["autumn", "the clock changes"])
@pytest.mark.parametrize("other", [0, 1, 4])
def test_one_time_of_the_clock_is_no_birds_doing(first, other):
    days = dates(first, 30).astype("datetime64[s]") + 18 * HOUR
    days[:other] += MINUTE
    found = of_evenings(entries("last_in", days))
    assert Doubt.ONE_TIME in found.doubts
    assert found.proposal is None


def test_a_clock_that_was_not_changed_is_told_by_its_jump():
    moved = light_on("2026-09-15", 55) + spread(55)
    changed = np.datetime64("2026-10-25T01:00", "s")
    found = of_evenings(entries("last_in", np.where(moved >= changed, moved - HOUR, moved)))
    assert Doubt.JUMPS in found.doubts
    assert found.proposal is None
    assert Doubt.JUMPS not in of_evenings(entries("last_in", moved)).doubts


def test_times_by_chance_say_no_number():
    random = np.random.default_rng(1)
    day = dates("2026-09-01", 60).astype("datetime64[s]")
    said = entries(
        "last_in", day + random.integers(12 * 3600, 23 * 3600, 60).astype("timedelta64[s]")
    )
    found = of_evenings(said)
    assert isinstance(found, NotTold)
    assert found.why in {WhyNot.TOO_VAGUE, WhyNot.NOT_BELIEVED}


def test_words_that_were_swapped_say_no_number():
    light = light_on("2026-09-01", 20)
    said = [
        *entries("all_in", light[::2] - 17 * MINUTE),
        *entries("still_out", light[1::2] + 17 * MINUTE),
    ]
    found = of_evenings(said)
    assert isinstance(found, NotTold)
    assert found.why is WhyNot.BACKWARDS


def test_moments_of_white_nights_beside_looks_of_dark_ones_do_no_harm():
    here = site(TAMPERE)
    light = light_on("2026-04-05", 24, 8.0, here)
    said = [
        *entries("all_in", light[::2] + 9 * MINUTE),
        *entries("still_out", light[1::2] - 9 * MINUTE),
        *entries("last_in", [np.datetime64("2026-06-21T20:30", "s")]),
    ]
    found = of_evenings(said, here)
    assert isinstance(found, Learned)
    assert found.light_deg == pytest.approx(8.0, abs=1.0)
    assert found.days == 24


def test_mornings_on_which_birds_waited_count_as_earlier():
    zone = get_zone(HERE.zone)
    rising = light_instants(Half.MORNING, HERE, dates("2026-08-20", 60), -3.0)
    wants = rising.astype("datetime64[s]") + spread(60, 6.0)
    opens = rising.astype("datetime64[m]") - np.timedelta64(5, "m")
    out = np.maximum(wants, opens.astype("datetime64[s]") + MINUTE)
    looks = find_looks(Half.MORNING, entries("first_out", out), HERE, zone, opens)
    assert 15 < looks.waited.sum() < 35
    found = learn(looks, HERE, zone, None, TODAY)
    assert found.light_deg == pytest.approx(3.0, abs=0.3)
    alone = np.median(progress_deg(Half.MORNING, HERE, looks.exact_utc[looks.is_exact]))
    assert -alone < found.light_deg - 0.2


def test_evenings_that_are_all_alike_are_doubted():
    found = of_evenings(entries("last_in", light_on("2026-09-01", 30)))
    assert Doubt.ALIKE in found.doubts
    assert found.spread_min < 0.5


@pytest.mark.parametrize(
    ("minutes", "doubt"), [(-60, Doubt.BRIGHT), (45, Doubt.DARK)], ids=["early", "late"]
)
def test_a_light_that_hens_hardly_keep_is_doubted(minutes, doubt):
    moved = light_on("2026-09-01", 30) + spread(30) + minutes * MINUTE
    found = of_evenings(entries("last_in", moved))
    assert found.doubts == [doubt]
    assert found.proposal is None


@pytest.mark.parametrize("hours", [-6, 1, 3])
def test_a_log_of_another_zone_says_no_number(hours):
    found = of_evenings(entries("last_in", light_on("2026-09-01", 30) + spread(30) + hours * HOUR))
    assert isinstance(found, NotTold)
    assert found.why is WhyNot.NOT_BELIEVED
    assert math.isfinite(found.light_deg)


def test_nights_without_that_light_are_left_out_and_counted():
    here = site(ROVANIEMI)
    light = light_on("2026-04-01", 120, 4.0, here)
    dark = ~np.isnat(light)
    assert 20 < dark.sum() < 100
    moved = np.where(dark, light, dates("2026-04-01", 120).astype("datetime64[s]") + 20 * HOUR)
    found = of_evenings(entries("last_in", moved + spread(120)), here)
    assert found.light_deg == pytest.approx(4.0, abs=0.4)
    assert np.isnat(found.light_utc).sum() == pytest.approx((~dark).sum(), abs=6)
    assert found.days == (~np.isnat(found.light_utc)).sum()
    assert np.isfinite(found.minutes[~np.isnat(found.light_utc)]).all()


def test_white_nights_alone_say_no_number():
    here = site(LONGYEARBYEN)
    noon = dates("2026-06-01", 40).astype("datetime64[s]") + 20 * HOUR
    found = of_evenings(entries("last_in", noon + spread(40)), here)
    assert isinstance(found, NotTold)


def test_half_of_the_step_of_a_log_is_added_to_what_is_promised():
    exact = light_on("2026-08-20", 60) + spread(60)
    fives = exact.astype("datetime64[m]").astype(np.int64) // 5 * 5
    logged = fives.astype("datetime64[m]").astype("datetime64[s]")
    found = of_evenings(entries("last_in", logged))
    latest = np.sort(found.minutes)
    (claim,) = [one for one in found.claims if one.share == 0.8]
    assert np.isclose(latest + 2.5, claim.value).any()


def test_a_lag_that_is_told_apart_is_in_the_proposal():
    here = site(TAMPERE)
    light = light_on("2025-11-20", 365, 3.0, here)
    moved = light + 9 * MINUTE + spread(365, 3.0)
    found = of_evenings(entries("last_in", moved[~np.isnat(light)]), here)
    assert isinstance(found, Learned)
    assert found.lag.is_told_apart
    assert found.proposal.light_deg == pytest.approx(3.0, abs=0.25)
    assert found.proposal.light_deg < found.light_deg
    # All in by then on that share of these evenings.
    late = moved - light_on("2025-11-20", 365, found.proposal.light_deg, here)
    late = late[~np.isnat(light)] / MINUTE
    assert (late <= found.proposal.offset_min).mean() >= found.proposal.share


def test_mornings_are_learned_alike():
    zone = get_zone(HERE.zone)
    rising = light_instants(Half.MORNING, HERE, dates("2026-08-20", 40), -3.5)
    said = entries("first_out", rising.astype("datetime64[s]") + spread(40, 4.0))
    looks = find_looks(Half.MORNING, said, HERE, zone, NO_OPENINGS)
    found = learn(looks, HERE, zone, None, TODAY)
    assert found.light_deg == pytest.approx(3.5, abs=0.35)
    assert found.claim_of(0.9).value > 0
