"""A battery day by day: known cases, and what must hold of every one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.door.power.battery import Store, run, sunless_days, usable_share

AMOUNTS = st.lists(st.floats(0, 30), min_size=1, max_size=40)
STORES = st.builds(
    Store, st.floats(1, 200), st.floats(0.3, 1), st.floats(0, 0.5), st.floats(0, 0.9)
)


def test_a_known_battery_lasts_143_days_without_sun():
    """84 Wh, 0.42 Wh a day, 3 % a month by itself, stops under 20 %: 143 days (own trial)."""
    store = Store(84, 0.9, 0.03, 0.2)
    floor = store.floor_wh(np.full(400, 25.0))
    found = sunless_days(store, np.array([84.0]), np.full(400, 0.42), floor)
    assert found.tolist() == [143]
    # By the sum of a geometric row, in closed form.
    left = store.left_a_day
    lasts = np.log((0.42 / (1 - left) + 16.8) / (0.42 / (1 - left) + 84)) / np.log(left)
    assert int(lasts) in (142, 143, 144)


def test_without_self_discharge_it_is_a_division():
    store = Store(84, 1, 0.0, 0.5)
    floor = store.floor_wh(np.full(100, 25.0))
    assert sunless_days(
        store, np.array([84.0, 63.0]), np.full(102, 2.0), np.append(floor, [42, 42])
    ).tolist() == [21, 10]


def test_cold_takes_16_percent_at_freezing():
    # Data sheets of small batteries, at a slow discharge.
    assert usable_share(np.array([25.0, 0.0, 40.0, -10.0])) == pytest.approx([1, 0.84, 1, 0.776])
    store = Store(100, 1, 0, 0.2)
    assert store.floor_wh(np.array([25.0, 0.0])) == pytest.approx([20, 32.8])


def test_a_full_battery_takes_no_more_and_an_empty_one_gives_nothing():
    store = Store(10, 0.5, 0, 0.2)
    course = run(store, 9, np.array([8.0, 0, 0, 0]), np.full(4, 5.0), np.full(4, 2.0))
    assert course.stored_wh.tolist() == [1, 0, 0, 0]
    assert course.charge_wh.tolist() == [5, 2, 2, 2]
    assert course.drawn_wh.tolist() == [5, 3, 0, 0]
    assert course.works.tolist() == [True, False, False, False]


def test_it_works_again_once_there_is_light():
    store = Store(10, 1, 0, 0.2)
    course = run(store, 2, np.array([0.0, 4, 4]), np.full(3, 1.0), np.full(3, 2.0))
    assert course.works.tolist() == [False, True, True]
    assert course.charge_wh.tolist() == [2, 5, 8]


@given(STORES, st.floats(0, 1), AMOUNTS, st.data())
def test_charge_stays_within_the_battery_and_its_balance_closes(store, starts, brought, data):
    count = len(brought)
    wanted = np.array(data.draw(st.lists(st.floats(0, 30), min_size=count, max_size=count)))
    floor = np.full(count, store.full_wh * store.cut_off)
    course = run(store, starts * store.full_wh, np.array(brought), wanted, floor)
    assert course.charge_wh.min() >= 0
    assert course.charge_wh.max() <= store.full_wh + 1e-9
    change = course.stored_wh - course.drawn_wh - course.lost_wh
    assert course.charge_wh - course.before_wh == pytest.approx(change, abs=1e-9)
    assert course.before_wh[1:].tolist() == course.charge_wh[:-1].tolist()
    assert (course.stored_wh <= np.array(brought) * store.kept + 1e-9).all()
    assert (course.drawn_wh <= wanted).all()


@given(STORES, AMOUNTS, st.floats(1, 5))
def test_more_light_never_leaves_less_charge(store, brought, times):
    light, count = np.array(brought), len(brought)
    wanted, floor = np.full(count, 2.0), np.full(count, store.full_wh * store.cut_off)
    start = store.full_wh / 2
    less, more = (run(store, start, light * by, wanted, floor) for by in (1.0, times))
    assert (more.charge_wh >= less.charge_wh - 1e-9).all()
    assert more.works.sum() >= less.works.sum()


@given(STORES, st.floats(0, 1), st.floats(0, 1), st.floats(0.1, 20))
def test_a_fuller_battery_lasts_no_shorter(store, one, other, wanted):
    low, high = sorted([one, other])
    floor = np.full(61, store.full_wh * store.cut_off)
    charges = np.array([low, high]) * store.full_wh
    lasts = sunless_days(store, charges, np.full(62, wanted), np.append(floor, floor[:1]), 60)
    assert lasts[0] <= lasts[1] <= 60
