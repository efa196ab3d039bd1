"""What is usual at a place: seasons by the half of the Earth, temperatures by latitude."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.site.tables import TABLES, table_model
from daylatch.site.values.surroundings import Surroundings, climate_at, seasons_at

LATITUDES = st.floats(-90, 90)
YEARS = st.integers(1902, 2100)


@pytest.mark.parametrize(
    ("latitude", "months"),
    [
        (52.0, {"housing_order": 2, "young_birds": 5, "summer": 7, "lamp": 11}),
        (0.0, {"housing_order": 2, "young_birds": 5, "summer": 7, "lamp": 11}),
        (-0.1, {"housing_order": 8, "young_birds": 11, "summer": 1, "lamp": 5}),
        (-45.0, {"housing_order": 8, "young_birds": 11, "summer": 1, "lamp": 5}),
    ],
)
def test_seasons_are_half_a_year_apart_south_of_the_equator(latitude, months):
    seasons = seasons_at(latitude, 2027)
    assert {name: period.first.month for name, period in seasons._asdict().items()} == months


@given(LATITUDES, YEARS)
def test_every_period_begins_in_the_year_and_is_in_order(latitude, year):
    seasons = seasons_at(latitude, year)
    for period in seasons:
        assert period.first.year == year
        assert period.first < period.last <= dt.date(year + 1, 2, 28)
    # Only a northern winter reaches over the end of a year.
    assert (seasons.lamp.last.year == year) == (latitude < 0)
    assert {period.last.year for period in seasons[:3]} == {year}


@given(LATITUDES)
def test_the_warmest_lies_above_the_coldest_and_both_are_possible(latitude):
    climate = climate_at(latitude)
    assert -60 <= climate.coldest_c < climate.warmest_c <= 50
    assert climate == climate_at(-latitude)


def test_the_nearer_the_pole_the_colder():
    bands = [climate_at(latitude) for latitude in (0, 30, 50, 60, 80)]
    colds = [band.coldest_c for band in bands]
    warms = [band.warmest_c for band in bands]
    assert colds == sorted(colds, reverse=True)
    assert len(set(colds)) == len(colds)
    assert warms == sorted(warms, reverse=True)


@pytest.mark.parametrize(
    ("latitude", "words"),
    [(1.3, "hot"), (-23.5, "hot"), (23.6, "mild"), (-54, "mild"), (60, "cold")],
)
def test_water_freezes_only_where_it_does(latitude, words):
    climate = climate_at(latitude)
    assert climate.temperature == words
    assert (climate.coldest_c > 0) == (words == "hot")
    examples = table_model("flock").examples(Surroundings(latitude, 2027, "x"))
    assert examples["temperature"] == words


@pytest.mark.parametrize("name", TABLES)
def test_a_table_has_examples_of_the_keys_without_a_default_and_of_no_other(name):
    model = table_model(name)
    without = {
        field.alias or key
        for key, field in model.model_fields.items()
        if field.is_required() or field.get_default(call_default_factory=True) is None
    }
    if name == "place":
        without -= {"latitude", "longitude", "zone"}  # given in each file
    found = set(model.examples(Surroundings(52.0, 2027, "x")))
    # Those of a table within it have dotted names.
    assert {key.partition(".")[0] for key in found} == without
