"""Reasons by columns: the same words for many days and houses as for each by itself."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.arrays import number_combinations
from daylatch.plan.daily.rules import Moves, Side
from daylatch.plan.reasons import reason_codes, reasons_of
from sites import FALLBACKS, LONGYEARBYEN, SINGAPORE, UTRECHT, plan

HOUSES = [
    (UTRECHT, '[open]\noffset_min = 15\nnot_before = "06:30"\n[day]\nleast_open_h = 9\n'),
    (SINGAPORE, '[open]\nlight = "sunrise"\n[close]\nlight = 3.25\n[night]\nleast_h = 13\n'),
    (LONGYEARBYEN, FALLBACKS),
]


def stacked(moves: list[Moves]) -> Moves:
    """Return the movements of several houses as columns of (days, houses)."""
    return Moves(
        moved={
            rule: np.stack([one.moved[rule] for one in moves], axis=1) for rule in moves[0].moved
        },
        **{
            field.name: np.stack([getattr(one, field.name) for one in moves], axis=1)
            for field in fields(Moves)
            if field.name != "moved"
        },
    )


@pytest.mark.parametrize("side", Side)
def test_many_houses_are_given_the_words_of_each(side):
    plans = [plan(spot, "2027-01-01", "2027-12-31", text) for spot, text in HOUSES]
    name = side.name.lower()
    settings = [getattr(one.settings, name) for one in plans]
    found = reason_codes(
        side,
        stacked([getattr(one.decisions, name) for one in plans]),
        # A setting that holds on all days need not be repeated for each.
        np.array([one.altitude_deg[0] for one in settings]),
        np.array([one.offset[0] for one in settings]),
    )
    assert found.codes.shape == (365, 3)
    assert len(set(found.values)) == len(found.values)
    for house, one in enumerate(plans):
        alone = reasons_of(one)[side].column()
        assert [found.values[code] for code in found.codes[:, house]] == alone


def test_a_shut_day_names_all_its_spans():
    spans = "".join(
        f'[[span]]\nfrom = 2027-03-0{first}\nuntil = 2027-03-04\nshut = true\nreason = "{why}"\n'
        for first, why in ((2, "storm"), (3, "fox"))
    )
    why = reasons_of(plan(UTRECHT, "2027-03-01", "2027-03-04", spans))
    assert why[Side.CLOSE].column() == [
        "civil dusk +15 min",
        "shut: dated span; storm",
        "shut: dated span; storm; fox",
        "shut: dated span; storm; fox",
    ]


@given(st.data(), st.integers(0, 30))
def test_combinations_are_told_apart_exactly(data, size):
    columns = [
        np.array(data.draw(st.lists(value, min_size=size, max_size=size)), dtype)
        for value, dtype in (
            (st.integers(-128, 127), np.int8),
            (st.integers(-(2**40), 2**40), "timedelta64[m]"),
            (st.sampled_from([0.0, -0.0, 6.0, 1e-300, -18.0]), np.float64),
            (st.booleans(), np.bool_),
        )
    ]
    codes, places = number_combinations(columns, (size,))
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    keys = [repr(row) for row in rows]
    for i in range(size):
        for j in range(size):
            assert (codes[i] == codes[j]) == (keys[i] == keys[j])
    assert codes[places].tolist() == list(range(len(places)))
