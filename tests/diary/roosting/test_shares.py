"""Order statistics, against scipy, published sample sizes and what must hold of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, expon

from daylatch.diary.roosting.shares import (
    CONFIDENCE,
    SHARES,
    confidence_of,
    confidences,
    largest_share,
    make_claims,
    needed,
)


@pytest.mark.parametrize(("share", "evenings"), [(0.8, 14), (0.9, 29), (0.95, 59), (0.99, 299)])
def test_evenings_that_a_share_takes_are_the_published_ones(share, evenings):
    # Wilks, Annals of Mathematical Statistics 12 (1941) 91: 1 - share^n >= 0.95. 59 is the usual
    # number of runs in nuclear safety analysis for 95 % and 95 %.
    assert needed(share) == evenings
    assert 1 - share**evenings >= CONFIDENCE > 1 - share ** (evenings - 1)


@pytest.mark.parametrize("evenings", [93, 124, 153])
def test_more_evenings_allow_some_to_be_late(evenings):
    # The usual numbers of runs of the second, third and fourth order for 95 % and 95 % (from memory
    # of the same tables), and by scipy.
    order = {93: 1, 124: 2, 153: 3}[evenings]
    assert needed(0.95, order) == evenings
    assert binom.sf(order, evenings, 0.05) >= CONFIDENCE > binom.sf(order, evenings - 1, 0.05)


@given(st.integers(1, 3000), st.floats(0.01, 0.999))
def test_confidences_are_those_of_scipy(evenings, share):
    count = np.arange(evenings + 1)
    assert confidences(evenings, share) == pytest.approx(
        binom.sf(count, evenings, 1 - share), abs=1e-8
    )


@given(st.integers(1, 400), st.integers(0, 20))
def test_the_largest_share_is_carried_and_the_next_is_not(evenings, beyond):
    share = largest_share(evenings, beyond)
    if share:
        assert confidence_of(evenings, share, beyond) >= CONFIDENCE
    if beyond < evenings and share < 0.99:
        assert confidence_of(evenings, round(share + 0.01, 2), beyond) < CONFIDENCE


@given(
    st.lists(st.floats(-60, 60), min_size=1, max_size=320),
    st.integers(0, 4),
    st.booleans(),
)
def test_every_share_is_claimed_or_refused_and_claims_grow_with_it(minutes, unknown, has_shape):
    values = np.array([*minutes, *[np.inf] * unknown])
    claims, refused = make_claims(values, SHARES, has_shape=has_shape)
    assert sorted([one.share for one in claims] + [one.share for one in refused]) == list(SHARES)
    bounds = [one.value for one in claims]
    assert bounds == sorted(bounds)
    assert all(one.confidence >= CONFIDENCE for one in claims)
    assert all(np.isfinite(one.value) for one in claims)
    for one in refused:
        assert one.needs > len(values)


def test_a_claim_is_an_evening_of_the_log():
    values = np.random.default_rng(0).normal(0, 6, 60)
    (claim,), _ = make_claims(values, [0.8], has_shape=False)
    late = int((values > claim.value).sum())
    assert claim.value in values
    assert binom.sf(late, 60, 0.2) >= CONFIDENCE > binom.sf(late + 1, 60, 0.2)


def test_evenings_that_nobody_saw_the_end_of_count_as_late():
    values = np.array([*range(70), np.inf, np.inf], float)
    claims, (refused, _) = make_claims(values, [0.9, 0.95, 0.99], has_shape=False)
    assert [one.share for one in claims] == [0.9]
    assert (refused.share, refused.needs) == (0.95, needed(0.95, 2))


@pytest.mark.parametrize("evenings", [29, 30, 59, 60])
def test_the_bound_by_shape_keeps_its_promise_for_the_limiting_spread(evenings):
    # Exponential past the middle: the spread for which the assumption just holds.
    share = 0.9 if evenings < 59 else 0.95
    random = np.random.default_rng(5)
    kept = []
    for _ in range(3000):
        (claim,), _ = make_claims(random.exponential(10, evenings), [share], has_shape=True)
        assert claim.by_shape
        kept.append(claim.value >= expon.ppf(share, scale=10))
    rate = np.mean(kept)
    assert rate + 3 * (rate * (1 - rate) / len(kept)) ** 0.5 >= CONFIDENCE


def test_one_straggler_does_not_decide_alone():
    values = np.array([*np.random.default_rng(1).normal(0, 6, 29), 45.0])
    (by_shape,), _ = make_claims(values, [0.9], has_shape=True)
    (by_evenings,), _ = make_claims(values, [0.9], has_shape=False)
    assert by_evenings.value == 45.0
    assert by_shape.value < 25.0


@pytest.mark.parametrize(("evenings", "share"), [(14, 0.8), (299, 0.99), (90, 0.9)])
def test_the_shape_has_no_part_where_the_way_is_too_far_or_not_needed(evenings, share):
    values = np.random.default_rng(1).normal(0, 6, evenings)
    (claim,), _ = make_claims(values, [share], has_shape=True)
    assert not claim.by_shape
