"""Medians and logistic places, against numpy, statsmodels and their own promises."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import gamma

from daylatch.diary.roosting.light import (
    FEWEST_EVENINGS,
    Light,
    combined,
    light_of_checks,
    light_of_moments,
)

AT, SCALE = 4.2, 0.5


def checks(count, seed=0):
    random = np.random.default_rng(seed)
    places = random.normal(AT, 1.2, count)
    return places, random.random(count) < 1 / (1 + np.exp(-(places - AT) / SCALE))


@given(st.lists(st.floats(-10, 20), min_size=FEWEST_EVENINGS, max_size=200))
def test_the_light_of_moments_is_their_median(places):
    found = light_of_moments(np.array(places))
    assert found.sun_deg == np.median(places)
    assert found.error_deg >= 0


def test_so_it_is_by_median_regression():
    places = np.random.default_rng(3).gamma(4, 1.5, 61)
    by_peer = sm.QuantReg(places, np.ones(61)).fit(q=0.5).params[0]
    assert light_of_moments(places).sun_deg == pytest.approx(by_peer, abs=1e-6)


@pytest.mark.parametrize("count", [6, 14, 30, 60, 200])
def test_the_interval_of_a_median_holds_it_as_often_as_it_says(count):
    random, truth = np.random.default_rng(2), gamma.ppf(0.5, 4, scale=1.5)
    runs = [light_of_moments(random.gamma(4, 1.5, count)) for _ in range(2000)]
    rate = np.mean([abs(one.sun_deg - truth) <= one.error_deg for one in runs])
    # Made even on both sides, it loses a hundredth of what order statistics promise.
    assert rate >= 0.94


@pytest.mark.parametrize("opens", [-0.8, 0.0, 0.3], ids=["before", "at", "behind"])
def test_moments_that_a_door_hid_leave_the_median_where_it_is(opens):
    random, held, places = np.random.default_rng(4), [], []
    for _ in range(800):
        wants = random.normal(0, 1, 60)
        # It opens at another place on half of the days, and who waited is known to be before it.
        door = np.where(random.random(60) < 0.5, -1.5, opens)
        found = light_of_moments(wants[wants > door], door[wants <= door])
        places.append(found.sun_deg)
        held.append(abs(found.sun_deg) <= found.error_deg)
    assert abs(np.mean(places)) < 0.06
    assert np.mean(held) >= 0.92


def test_with_none_hidden_it_is_the_median_by_either_way():
    places = np.random.default_rng(3).gamma(4, 1.5, 61)
    by_limit = light_of_moments(places, np.array([places.max() + 9]))
    assert by_limit.sun_deg == pytest.approx(np.median(places), abs=0.3)
    assert light_of_moments(places, np.full(70, places.min() - 1)) is None


def test_fewer_moments_have_no_interval():
    assert light_of_moments(np.arange(5.0)) is None


@pytest.mark.parametrize("seed", range(5))
def test_the_light_of_checks_is_that_of_statsmodels(seed):
    places, answers = checks(80, seed)
    peer = sm.Logit(answers.astype(float), sm.add_constant(places)).fit(disp=0)
    level, slope = peer.params
    gradient = np.array([-1 / slope, level / slope**2])
    error = 1.959964 * np.sqrt(gradient @ peer.cov_params() @ gradient)
    found = light_of_checks(places, answers)
    assert found.sun_deg == pytest.approx(-level / slope, abs=1e-7)
    assert found.error_deg == pytest.approx(error, rel=1e-5)


def test_the_interval_of_checks_holds_the_truth_as_often_as_it_says():
    runs = [light_of_checks(*checks(60, seed)) for seed in range(1000)]
    rate = np.mean([abs(one.sun_deg - AT) <= one.error_deg for one in runs])
    assert 0.92 <= rate <= 0.98


@pytest.mark.parametrize("gap", [0.0, 0.4, 3.0])
def test_checks_that_part_cleanly_say_a_place_between_and_a_fair_error(gap):
    places = np.concatenate([3.7 - gap / 2 - np.arange(6) / 4, 3.7 + gap / 2 + np.arange(6) / 4])
    found = light_of_checks(places, np.arange(12) >= 6)
    assert found.sun_deg == pytest.approx(3.7, abs=1e-6)
    assert found.error_deg > max(0.2, gap / 3)


@pytest.mark.parametrize("sd_deg", [0.15, 0.3, 0.6])
@pytest.mark.parametrize("count", [12, 30])
def test_the_interval_holds_the_truth_also_of_flocks_that_hardly_differ(sd_deg, count):
    held = []
    for seed in range(400):
        random = np.random.default_rng(seed)
        places = random.uniform(AT - 1.5, AT + 1.5, count)
        found = light_of_checks(places, random.normal(AT, sd_deg, count) <= places)
        if found is not None:
            held.append(abs(found.sun_deg - AT) <= found.error_deg)
    assert np.mean(held) >= 0.9


@pytest.mark.parametrize("seed", range(40))
def test_checks_that_part_the_wrong_way_round_say_nothing(seed):
    random = np.random.default_rng(seed)
    places = random.uniform(2, 6, 20)
    assert light_of_checks(places, places < 4) is None
    assert light_of_checks(np.full(20, 4.0), places < 4) is None


@pytest.mark.parametrize(
    "answers",
    [
        [True] * 12,
        [False] * 12,
        [True] * 10 + [False] * 2,
        [False, True] * 4,
    ],
    ids=["all", "none", "two", "eight"],
)
def test_too_few_checks_of_either_answer_say_nothing(answers):
    assert light_of_checks(np.linspace(2, 6, len(answers)), np.array(answers)) is None


def test_checks_that_run_backwards_say_nothing():
    places, answers = checks(60)
    assert light_of_checks(places, ~answers) is None


def test_a_surer_light_counts_for_more():
    sure, unsure = Light(4.0, 0.1), Light(5.0, 0.3, 0.7)
    both = combined([sure, unsure])
    assert both.sun_deg == pytest.approx((4.0 / 0.01 + 5.0 / 0.09) / (1 / 0.01 + 1 / 0.09))
    assert both.error_deg < sure.error_deg
    assert combined([unsure]) is unsure
