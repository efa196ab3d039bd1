"""A fixed lag beside the light, and what it leaves open."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.diary.roosting.instants import (
    light_instants,
    minutes_a_degree,
    minutes_past,
    usual_minutes_a_degree,
)
from daylatch.diary.roosting.lag import MOST_LAG_MIN, Lag, any_lag, find_lag, look_ahead
from daylatch.diary.roosting.light import Light
from daylatch.diary.roosting.looks import Half
from roosting_flocks import HERE, dates, light_on, spread
from sites import KIRITIMATI, LONGYEARBYEN, TAMPERE, site


def a_year(here, lag_min, scatter_min, seed=0):
    """Return evenings of a year of a flock that settles for so long behind its light."""
    light = light_on("2025-11-20", 365, 3.0, here)
    moments = light + np.timedelta64(lag_min * 60, "s") + spread(365, scatter_min, seed)
    return moments[~np.isnat(moments)]


@pytest.mark.parametrize("seed", range(4))
def test_a_year_far_north_tells_a_lag_from_a_light(seed):
    here = site(TAMPERE)
    lag = find_lag(Half.EVENING, here, a_year(here, 9, 3.0, seed))
    assert lag.is_told_apart
    assert lag.low_min <= 9 <= lag.high_min
    assert lag.sun_deg == pytest.approx(3.0, abs=0.25)


@pytest.mark.parametrize("seed", range(4))
def test_a_season_does_not(seed):
    moments = light_on("2026-09-01", 60, 3.0) + np.timedelta64(9 * 60, "s") + spread(60, 6.0, seed)
    assert not find_lag(Half.EVENING, HERE, moments).is_told_apart


@pytest.mark.parametrize("seed", range(4))
def test_none_is_found_where_there_is_none(seed):
    here = site(TAMPERE)
    lag = find_lag(Half.EVENING, here, a_year(here, 0, 3.0, seed))
    assert not lag.is_told_apart
    assert lag.low_min == 0


def test_the_same_evenings_say_the_same():
    moments = light_on("2026-09-01", 60) + spread(60)
    assert find_lag(Half.EVENING, HERE, moments) == find_lag(Half.EVENING, HERE, moments)


def ahead(here, light, lag, first):
    return look_ahead(Half.EVENING, here, get_zone(here.zone), light, lag, first)


def test_what_is_left_open_is_the_worst_of_the_half_year():
    lag = Lag(0, 4.0, 0, 12, 4.0, 2.3)
    found = ahead(HERE, Light(4.0, 0.2), lag, dt.date(2026, 11, 27))
    days = dates("2026-11-27", 183)
    alone, other = (light_instants(Half.EVENING, HERE, days, deg) for deg in (4.0, 2.3))
    off = minutes_past(other, alone) + 12
    errors = 0.2 * minutes_a_degree(Half.EVENING, HERE, days, 4.0)
    worst = int(np.argmax(np.abs(off) + errors))
    error = errors[worst]
    assert found.earlier_min == pytest.approx(max(0, -off[worst]) + error)
    assert found.later_min == pytest.approx(max(0, off[worst]) + error)
    assert found.date == days[worst].item()
    assert found.without == 0


def test_white_nights_are_counted_and_told_apart_from_a_light_that_never_comes():
    here, lag = site(LONGYEARBYEN), Lag(0, 4.0, 0, 0, 4.0, 4.0)
    spring = ahead(here, Light(4.0, 0.2), lag, dt.date(2026, 3, 1))
    assert 100 < spring.without < 183
    assert ahead(here, Light(-40.0, 0.2), lag, dt.date(2026, 3, 1)) is None


def test_the_worst_day_is_told_by_its_own_date_beyond_the_date_line():
    here, lag = site(KIRITIMATI), Lag(0, 4.0, 0, 12, 4.0, 2.3)
    found = ahead(here, Light(4.0, 0.0), lag, dt.date(2026, 11, 27))
    solar = np.array([np.datetime64(found.date) - np.timedelta64(1, "D")])
    both = [light_instants(Half.EVENING, here, solar, deg) for deg in (4.0, 2.3)]
    off = minutes_past(both[1], both[0])[0] + 12
    assert max(found.earlier_min, found.later_min) == pytest.approx(abs(off), abs=1e-9)


def test_looks_leave_any_lag_open():
    rate = usual_minutes_a_degree(Half.EVENING, HERE, dates("2026-10-01", 9), 4.0)
    lag = any_lag(4.0, rate)
    assert (lag.low_min, lag.high_min) == (0, MOST_LAG_MIN)
    assert not lag.is_told_apart
    brighter = light_instants(Half.EVENING, HERE, dates("2026-10-05", 1), lag.high_deg)
    alone = light_instants(Half.EVENING, HERE, dates("2026-10-05", 1), 4.0)
    assert minutes_past(alone, brighter)[0] == pytest.approx(MOST_LAG_MIN, abs=0.2)
