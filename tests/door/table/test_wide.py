"""Wide tables: never larger than narrow ones, and no more work however wide they are."""

from __future__ import annotations

import datetime as dt
import sys
import tracemalloc

import numpy as np
import pytest

from daylatch.door.table import search, tokens
from daylatch.door.table.encode import encode
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan
from door.table.test_table import LATE, TROMSO, WIDE_RULES, assert_says
from sites import SINGAPORE, UTRECHT, Spot, site

SYDNEY = Spot(-33.87, 151.21, "Australia/Sydney")
WIDTHS = (0, 3, 5, 6, 8, 15, 16, 33, 64, 128, 255)


@pytest.mark.parametrize(
    ("spot", "rules"),
    [
        pytest.param(SINGAPORE, "", id="equator"),
        pytest.param(SYDNEY, "", id="south"),
        pytest.param(UTRECHT, WIDE_RULES, id="limits"),
        pytest.param(TROMSO, LATE, id="white nights"),
    ],
)
def test_a_wider_table_is_never_larger_and_keeps_its_width(spot, rules):
    plan = make_plan(site(spot, rules), dt.date(2027, 3, 1), dt.date(2027, 4, 20))
    sizes = []
    for width in WIDTHS:
        try:
            content = encode(plan, within_min=width)
        except UsageError as refused:
            # The nights become shorter than that.
            assert "could come after the next one" in str(refused)  # noqa: PT017
            break
        assert_says(content, plan, width)
        sizes.append(len(content))
    assert len(sizes) > 5
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] < sizes[0]


def test_a_width_of_half_a_day_is_more_than_a_table_can_promise():
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2027, 1, 20))
    with pytest.raises(UsageError, match="--within is 720: at most 255 minutes"):
        encode(plan, within_min=720)


def solar_curve(width, days=366):
    """Return a year like that of 52 degrees; no outside truth is needed for its steps."""
    low = np.round(330 + 130 * np.cos(np.arange(days) * 2 * np.pi / 366)).astype(np.int64)
    return search.Curve(np.zeros(days, np.int8), low, low + width)


@pytest.mark.parametrize("width", [15, 120])
def test_a_wide_band_takes_no_more_values_and_memory(width, monkeypatch):
    values = []

    class Counted(search.Search):
        def __init__(self, *arguments):
            super().__init__(*arguments)
            values.append(sum(rest.size for rest in self.rest))

    monkeypatch.setattr(tokens, "Search", Counted)
    tracemalloc.start()
    try:
        stream = tokens.shortest_stream(solar_curve(width))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(stream) <= 3 + 366 // 20
    assert len(values) == 6
    # Days, slopes, values: 36 MB at two bytes each.
    assert max(values) <= 366 * 256 * 192
    assert peak < 60e6


@pytest.mark.parametrize("bits", [0, 1])
def test_the_steps_of_a_search_do_not_grow_with_the_band(bits):
    def steps(width):
        count = 0

        def counted(frame, event, argument):
            nonlocal count
            count += event in ("call", "c_call")

        curve = solar_curve(width, days=80)
        sys.setprofile(counted)
        try:
            search.Search(curve, bits, 1000)
        finally:
            sys.setprofile(None)
        return count

    assert steps(120) < 1.5 * steps(15)
