"""Examples for keys that have no default: dates and temperatures that fit the place.

Seasons go by the half of the Earth, temperatures by bands of latitude. Both are this program's
choice, no source: an example shows what a value looks like, and the keeper knows better.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, NamedTuple

from daylatch.site.timer import TOLERANCE_MIN


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


def key_examples(latitude_deg: float, year: int, city: str) -> dict[str, dict[str, Any]]:
    """Return a value for each key that has no default, table by table.

    Parameters
    ----------
    latitude_deg
        Of the place, north positive.
    year
        That dates lie in.
    city
        A city's name that is read.
    """
    climate, seasons = climate_at(latitude_deg), seasons_at(latitude_deg, year)
    return {
        "place": {"city": city},
        "open": {
            "not_before": "06:30",
            "not_after": "09:00",
            "fallback": "05:30",
            "dark_fallback": "10:00",
        },
        "close": {
            "not_before": "17:00",
            "not_after": "22:00",
            "fallback": "22:30",
            "dark_fallback": "14:00",
        },
        "timer": {
            "tolerance_min": TOLERANCE_MIN,
            "changes": 24,
            "follows_clock": True,
            "programs": 8,
        },
        "clock": {
            "accuracy_ppm": 20,
            "coldest_c": climate.coldest_c,
            "warmest_c": climate.warmest_c,
            "set_on": dt.date(year, 1, 1),
        },
        "calendar": {"reminder_min": 10, "color": "seagreen"},
        "sync": {"url": "https://cal.example.org/hens/", "calendar": "Hen house"},
        "flock": {"birds": 6, "size": "medium", "temperature": climate.temperature},
        "house": {
            "floor_m2": 1.5,
            "floor_ft2": 16,
            "wall_m": 4.8,
            "roost_m": 1.8,
            "nest_boxes": 2,
            "nest_box_cm": [34, 34, 34],
            "vents_cm2": 400,
            "feed_inside": False,
            "water_inside": False,
            "litter": True,
        },
        "run": {"floor_m2": 8, "floor_ft2": 86, "joined": False, "covered": False},
        "laying": {"lamp_from": seasons.lamp.first, "lamp_until": seasons.lamp.last},
    }


def span_examples(latitude_deg: float, year: int) -> list[dict[str, Any]]:
    """Return two dated spans, and one with every other key that a span may have."""
    seasons = seasons_at(latitude_deg, year)
    return [
        {**_dates(seasons.housing_order), "reason": "housing order", "shut": True},
        {
            **_dates(seasons.young_birds),
            "reason": "young birds come in late",
            "close.offset_min": 30,
        },
        {
            **_dates(seasons.summer),
            "reason": "what else a span may change: keep the lines that you need",
            "open.light": "sunrise",
            "open.offset_min": 0,
            "open.not_before": "07:00",
            "open.not_after": "09:30",
            "open.fallback": "06:00",
            "open.dark_fallback": "10:30",
            "open.fixed": "08:00",
            "close.light": "sunset",
            "close.not_before": "16:30",
            "close.not_after": "21:30",
            "close.fallback": "22:00",
            "close.dark_fallback": "13:30",
            "close.fixed": "17:45",
            "day.least_open_h": 8,
            "day.widen": "close later",
            "day.guard": "civil",
            "night.least_h": 9,
            "night.lengthen": "open later",
            "head_count.after_close_min": 30,
            "head_count.second_pass": True,
        },
    ]


def _dates(period: Period) -> dict[str, dt.date]:
    return {"from": period.first, "until": period.last}
