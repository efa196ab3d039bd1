"""Amounts in a keeper's own units, and what a reader that is not ours makes of them."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.site.values.measures import BOTH, FIGURES, METRIC, UNITS, US, Measures

IN_METRIC, IN_US = Measures(METRIC), Measures(US)
# Read by itself: how many of the base unit one is, by NIST Handbook 44, appendix C.
READ = {
    "m2": 1,
    "sq ft": 0.09290304,
    "cm2": 1,
    "sq in": 6.4516,
    "m": 100,
    "ft": 30.48,
    "cm": 1,
    "in": 2.54,
    "g": 1,
    "oz": 28.349523125,
    "kg": 1000,
    "lb": 453.59237,
    "ml": 1,
    "US fl oz": 29.5735295625,
    "l": 1000,
    "US gal": 3785.411784,
}
AMOUNT = re.compile(r"(?P<figures>[\d.]+(?: (?:to|x) [\d.]+)*) (?P<unit>[a-zA-Z][\w ]*\w|[a-z])")


def read(text: str) -> list[list[float]]:
    """Return the amounts that a text holds, each in its base unit."""
    return [
        [float(figure) * READ[match["unit"]] for figure in re.findall(r"[\d.]+", match["figures"])]
        for match in AMOUNT.finditer(text)
    ]


@pytest.mark.parametrize(
    ("measures", "text"),
    [
        (BOTH, "2 to 4 sq ft (0.186 to 0.372 m2)"),
        (IN_METRIC, "0.186 to 0.372 m2"),
        (IN_US, "2 to 4 sq ft"),
    ],
)
def test_an_amount_is_written_in_the_units_asked_for(measures, text):
    values = (2 * 0.09290304, 4 * 0.09290304)
    assert measures.amount(values, "ft2") == text
    # What a source says is always there.
    published = text if measures is not IN_METRIC else "0.186 to 0.372 m2 (2 to 4 sq ft)"
    assert measures.published(values, "ft2") == published


def test_what_both_systems_have_is_written_once():
    for measures in (BOTH, IN_METRIC, IN_US):
        assert measures.amount((14.0, 16.0), "h") == "14 to 16 h"
        assert measures.published((1.0,), "birds") == "1 bird"


def test_a_size_that_is_given_stays_as_it_is_or_is_turned():
    assert BOTH.given(6, "ft") == "6 ft"
    assert IN_METRIC.given(6, "ft") == "1.829 m"
    assert IN_US.given(1.8, "m") == "5.906 ft"
    assert IN_US.given(6, "ft") == "6 ft"
    assert IN_METRIC.sides((30.48, 30.48, 45.72), "in") == "30.5 x 30.5 x 45.7 cm"
    assert IN_METRIC.published_sides((30.48,) * 3, "in") == (
        "30.5 x 30.5 x 30.5 cm (12 x 12 x 12 in)"
    )
    assert IN_US.published_sides((30.48,) * 3, "in") == "12 x 12 x 12 in"


@pytest.mark.parametrize(
    ("measures", "values_c", "text"),
    [
        (BOTH, (-10, 35), "-10 to 35 °C"),
        (IN_METRIC, (25,), "25 °C"),
        # Water freezes and boils; the two scales meet at -40.
        (IN_US, (0, 100), "32 to 212 °F"),
        (IN_US, (-40,), "-40 °F"),
        (IN_US, (25,), "77 °F"),
    ],
)
def test_temperatures(measures, values_c, text):
    assert measures.temperature(*values_c) == text


def test_totals_take_the_larger_unit_of_the_readers_system():
    assert IN_US.total((400.0, 480.0), "g") == "0.88 to 1.1 lb"
    assert IN_US.total((300.0, 400.0), "g") == "11 to 14 oz"
    assert IN_METRIC.total((400.0, 1100.0), "g") == "0.4 to 1.1 kg"
    assert IN_US.total((3785.411784,), "ml") == "1 US gal"
    assert IN_US.total((1500.0,), "ml") == "51 US fl oz"


LENGTH_UNITS = [name for name, unit in UNITS.items() if unit.base != name or unit.other]


@given(
    st.floats(0.01, 10_000),
    st.sampled_from(LENGTH_UNITS),
    st.sampled_from([BOTH, IN_METRIC, IN_US]),
    st.integers(2, 5),
)
def test_an_amount_read_back_is_the_same_to_the_figures_that_are_written(
    value, unit, measures, figures
):
    base = value * UNITS[unit].factor
    found = read(measures.amount((base,), unit, figures))
    assert len(found) == (1 if measures.system else 2)
    for (amount,) in found:
        assert math.isclose(amount, base, rel_tol=0.5001 * 10 ** (1 - figures))


@given(st.floats(1, 9999), st.sampled_from([IN_METRIC, IN_US]), st.sampled_from(["m", "ft"]))
def test_a_length_that_is_given_is_read_back_to_the_millimetre_or_four_figures(
    length, measures, unit
):
    base_cm = length * UNITS[unit].factor
    ((read_cm,),) = read(measures.given(length, unit))
    shown = UNITS["m" if measures is IN_METRIC else "ft"].factor
    step_cm = shown * 10 ** (math.floor(math.log10(base_cm / shown)) - 3)
    assert abs(read_cm - base_cm) <= 0.5001 * step_cm + 1e-9
    if base_cm < 1000 and measures is IN_METRIC:
        assert abs(read_cm - base_cm) <= 0.1


@given(st.tuples(*[st.floats(5, 200)] * 3), st.sampled_from([IN_METRIC, IN_US, BOTH]))
def test_sides_read_back_are_the_same(sides, measures):
    for found in read(measures.sides(sides, "in")):
        assert found == pytest.approx(sides, rel=0.5001 * 10 ** (1 - FIGURES))
