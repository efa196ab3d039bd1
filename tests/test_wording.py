"""How durations and totals are written."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.wording import FACE_12_HOURS, to_minutes, whole_parts, wrapped

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


# --- The face of twelve hours ------------------------------------------------------------------

READ = re.compile(r"(?P<hour>1?\d):(?P<minute>\d\d)(?::(?P<second>\d\d))? (?P<half>[AP]M)")


def read_time(text: str) -> int:
    """Return a time of day in seconds, as a reader who knows no more than the text."""
    if text in {"noon", "midnight"}:
        return 12 * 3600 * (text == "noon")
    found = READ.fullmatch(text)
    hour = int(found["hour"]) % 12 + 12 * (found["half"] == "PM")
    return 3600 * hour + 60 * int(found["minute"]) + int(found["second"] or 0)


@given(st.integers(-(10**4), 10**4), st.none() | st.integers(0, 59))
def test_a_time_of_twelve_hours_read_back_is_the_same(minutes, seconds):
    text = FACE_12_HOURS.time(minutes, seconds)
    assert read_time(text) == minutes % 1440 * 60 + (seconds or 0)
    if seconds is None:
        assert len(text) <= FACE_12_HOURS.width == len(FACE_12_HOURS.aligned(text))


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "midnight"),
        (1, "12:01 AM"),
        (59, "12:59 AM"),
        (60, "1:00 AM"),
        (719, "11:59 AM"),
        (720, "noon"),
        (721, "12:01 PM"),
        (780, "1:00 PM"),
        (1439, "11:59 PM"),
        (1440, "midnight"),
    ],
)
def test_both_twelve_o_clocks_have_a_name(minutes, text):
    """As the National Institute of Standards and Technology asks ("Times of day FAQs")."""
    assert FACE_12_HOURS.time(minutes) == text


def test_an_axis_counts_its_hours_from_midnight_to_midnight():
    assert [FACE_12_HOURS.hour(hour) for hour in (0, 3, 12, 21, 24)] == [
        "midnight",
        "3 AM",
        "noon",
        "9 PM",
        "midnight",
    ]


@given(st.lists(st.sampled_from(["door", "opens", "at", "6:30 PM", "11:05 AM,", "noon"])))
def test_no_line_breaks_within_a_time(words):
    text = " ".join(words)
    lines = wrapped([text])
    assert " ".join(lines) == text
    assert all(not re.match("[AP]M", line) for line in lines)
    assert max(map(len, lines), default=0) <= 80
