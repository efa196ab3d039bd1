"""Examples of dated spans fit together, wherever and whenever a file is written."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from daylatch.site.starter.examples import span_examples
from daylatch.site.values.surroundings import Surroundings


@given(st.floats(-90, 90), st.integers(1902, 2100))
def test_dated_spans_share_no_dates(latitude, year):
    spans = span_examples(Surroundings(latitude, year, "x"))
    assert len(spans) == 3
    for earlier, later in pairwise(sorted(spans, key=lambda span: span["from"])):
        assert earlier["until"] < later["from"]
