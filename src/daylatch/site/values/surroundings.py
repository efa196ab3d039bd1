"""What is usual where a new file's house stands, for the examples of keys that have no default.

Seasons go by the half of the Earth, temperatures by bands of latitude. Both are this program's
choice, no source: an example shows what a value looks like, and the keeper knows better.
"""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple


class Climate(NamedTuple):
    """What is usual at a latitude.

    Attributes
    ----------
    up_to_deg : float
        Where the band ends, counted from the equator.
    temperature : str
        As ``flock.temperature`` has it.
    coldest_c, warmest_c : int
        Where a door's clock hangs.
    """

    up_to_deg: float
    temperature: str
    coldest_c: int
    warmest_c: int


_CLIMATES = (
    Climate(23.5, "hot", 15, 40),
    Climate(40, "mild", 0, 40),
    Climate(55, "mild", -10, 35),
    Climate(66.5, "cold", -25, 30),
    Climate(90, "cold", -35, 25),
)


class Period(NamedTuple):
    """First and last date of an example."""

    first: dt.date
    last: dt.date


class Seasons(NamedTuple):
    """When things happen at a place, in one year.

    Attributes
    ----------
    housing_order : Period
        In late winter, when wild birds move.
    young_birds : Period
        In late spring.
    summer : Period
        In midsummer.
    lamp : Period
        The dark months; they may end in the next year.
    """

    housing_order: Period
    young_birds: Period
    summer: Period
    lamp: Period


def climate_at(latitude_deg: float) -> Climate:
    """Return what is usual at a latitude."""
    return next(band for band in _CLIMATES if abs(latitude_deg) <= band.up_to_deg)


def seasons_at(latitude_deg: float, year: int) -> Seasons:
    """Return when things happen in a year; south of the equator half a year later or earlier."""

    def period(first: tuple[int, int], last: tuple[int, int]) -> Period:
        # No day is after the 28th, so that each month has it.
        dates = [
            dt.date(year, (month + 5) % 12 + 1 if latitude_deg < 0 else month, day)
            for month, day in (first, last)
        ]
        if dates[1] < dates[0]:
            dates[1] = dates[1].replace(year=year + 1)
        return Period(*dates)

    return Seasons(
        housing_order=period((2, 8), (2, 21)),
        young_birds=period((5, 1), (5, 28)),
        summer=period((7, 5), (7, 18)),
        lamp=period((11, 1), (2, 28)),
    )


class Surroundings(NamedTuple):
    """Where and when a new file is written.

    Attributes
    ----------
    latitude_deg : float
        North positive.
    year : int
        That dates of examples lie in.
    city : str
        A city's name that is read.
    """

    latitude_deg: float
    year: int
    city: str

    @property
    def climate(self) -> Climate:
        """What is usual at its latitude."""
        return climate_at(self.latitude_deg)

    @property
    def seasons(self) -> Seasons:
        """When things happen in its year."""
        return seasons_at(self.latitude_deg, self.year)
