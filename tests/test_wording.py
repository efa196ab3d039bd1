"""How durations and totals are written."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from daylatch.wording import to_minutes, whole_parts

MINUTE = np.timedelta64(1, "m")
HOUR = np.timedelta64(1, "h")


def seconds(*values: int) -> np.ndarray:
    return np.array(values, "timedelta64[s]").astype("timedelta64[us]")


def test_the_missing_minutes_go_to_the_largest_remainders():
    assert (whole_parts(seconds(35, 50, 40)) // MINUTE).tolist() == [0, 1, 1]
    assert (whole_parts(seconds(-35, 50, 50)) // MINUTE).tolist() == [-1, 1, 1]
    assert (whole_parts(seconds(20, 20, 20)) // MINUTE).tolist() == [1, 0, 0]
    assert (whole_parts(seconds(5400), HOUR) // HOUR).tolist() == [2]
    assert (whole_parts(seconds(30, 30), total=MINUTE) // MINUTE).tolist() == [1, 0]
    assert whole_parts(seconds()).tolist() == []


@given(
    st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=40), st.sampled_from([MINUTE, HOUR])
)
def test_parts_add_up_and_none_is_off_by_a_unit(values, unit):
    parts = np.array(values, "timedelta64[ms]").astype("timedelta64[us]")
    whole = whole_parts(parts, unit)
    assert (abs(whole - parts) < unit).all()
    assert abs(whole.sum() - parts.sum()) <= unit / np.timedelta64(2, "us") * np.timedelta64(
        1, "us"
    )
    if unit == MINUTE:
        assert whole.sum() == to_minutes(parts.sum())
