"""``daylatch new``: a site file to begin with."""

from __future__ import annotations

import datetime as dt
import math
import sys
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import typer

from daylatch.clock import UnknownZoneError, WallTime, get_zone, zone_at
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.now import date_at, now_utc, warn
from daylatch.console import printable, say
from daylatch.errors import OutputError, PlanError, UsageError
from daylatch.files.put import put, read_own
from daylatch.plan.plan import make_plan
from daylatch.site.reading import read_site
from daylatch.site.starter.text import Start, starter_text
from daylatch.site.table import TEXT_LIMITS, check_text
from daylatch.sun.crossings import SkyState, sun_crossings
from daylatch.sun.lights import CIVIL_ALTITUDE_DEG
from daylatch.wording import place_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from daylatch.site.cities import City

_T = TypeVar("_T")

DEFAULT_FALLBACKS = (WallTime.parse("05:30"), WallTime.parse("22:30"))
_YEARS_AHEAD = 5


@dataclass(frozen=True)
class Answers:
    """What was given on the command line, as it was typed."""

    name: str | None
    latitude: str | None
    longitude: str | None
    city: str | None
    zone: str | None
    fallback_open: str | None
    fallback_close: str | None


@dataclass(frozen=True)
class _FoundPlace:
    latitude_deg: float
    longitude_deg: float
    city: str
    zone: str


def run(file: Path, wishes: Answers, *, everything: bool, force: bool) -> None:
    """Write a site file, asking in a terminal for what was not given.

    With ``everything`` it shows every table and key there is.
    """
    _refuse_existing(file, force=force)
    asks = sys.stdin.isatty()
    name = _answer(wishes.name, "--name", "What do you call the house?", asks=asks, read=_name)
    place = _place(wishes, asks=asks)
    bright, dark = _days_without_light(place)
    given = (wishes.fallback_open, wishes.fallback_close)
    fallbacks: tuple[WallTime, WallTime] | tuple[None, None] = (None, None)
    if bright or any(given):
        fallbacks = _fallbacks(given, bright, asks=asks)
    start = Start(
        str(uuid.uuid4()),
        name,
        place.latitude_deg,
        place.longitude_deg,
        place.city,
        place.zone,
        fallbacks[0],
        fallbacks[1],
        # Examples are of the coming year, so that none is over already.
        get_zone(place.zone).date_at(now_utc()).year + 1,
    )
    text = starter_text(start, everything=everything)
    # What is written must be good: a slip of the text above would show here and not later.
    site = read_site(text, str(file))
    first = date_at(site, now_utc())
    try:
        make_plan(site, first, first + dt.timedelta(days=DEFAULT_DAYS - 1))
    except PlanError as error:
        raise UsageError(f"{file} would give no plan, so it is not written: {error}") from error
    put(file, text.encode())
    where = place_text(site.latitude_deg, site.longitude_deg)
    found = f"{place.city} ({where})" if place.city else where
    print(f"wrote {printable(str(file))}: {name}, {found}, {site.zone}")
    for problem in site.warnings:
        warn(problem.sentence(str(file)))
    if bright and fallbacks[0] is not None:
        print(
            f"Note: {bright}; then the door opens at {fallbacks[0]} and closes at {fallbacks[1]} "
            "(fallback in the file: change it to suit)."
        )
    if dark:
        print(f"Note: {dark}; then the door stays shut, unless you set dark_fallback.")
    print(f"Next: daylatch check {file}")


def _refuse_existing(file: Path, *, force: bool) -> None:
    try:
        read_own(file, lambda _: False, force=force)
    except OutputError as error:
        if not force and file.is_file() and not file.is_symlink():
            raise OutputError(
                f"{file}: exists, so it is left as it is; choose another name, or add --force to "
                "replace it"
            ) from error
        raise


def _answer(
    given: str | None, option: str, question: str, *, asks: bool, read: Callable[[str], _T]
) -> _T:
    """Return what an option or the person at the terminal says; ask again after a slip."""
    if given is None and not asks:
        raise UsageError(f"{option} is needed where nobody can be asked")
    while True:
        # With an empty default, just Enter is an answer too; without one it is asked again.
        text = given if given is not None else typer.prompt(question, "", show_default=False)
        try:
            return read(text.strip())
        except ValueError as error:
            if given is not None:
                raise UsageError(f'{option} is "{given}": {error}') from None
            say(f"  {error}")


def _name(text: str) -> str:
    check_text(text)
    if not 1 <= len(text) <= TEXT_LIMITS["name"]:
        raise ValueError(f"write 1 to {TEXT_LIMITS['name']} characters")
    return text


def _degrees(limit: int) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not abs(value) <= limit:
            raise ValueError(f"write degrees between -{limit} and {limit}, like 52.09")
        return value

    return read


def _time(text: str) -> WallTime:
    try:
        return WallTime.parse(text)
    except ValueError:
        raise ValueError("write a 24-hour time, like 05:30") from None


def _zone(text: str) -> str:
    try:
        return get_zone(text).name
    except UnknownZoneError:
        raise ValueError("no such time zone; write one like Europe/Oslo") from None


def _place(wishes: Answers, *, asks: bool) -> _FoundPlace:
    """Return where the house is."""
    coordinates = (wishes.latitude, wishes.longitude)
    if wishes.city is not None and any(coordinates):
        raise UsageError("give either --city, or --latitude and --longitude")
    if wishes.city is None and not any(coordinates) and not asks:
        raise UsageError(
            "--latitude and --longitude, or --city, are needed where nobody can be asked"
        )
    city: City | None = None
    if not any(coordinates):
        city = _answer(
            wishes.city,
            "--city",
            "Nearest city (or just Enter, to give latitude and longitude)",
            asks=asks,
            read=_city,
        )
    if city is not None:
        latitude, longitude, label = city.latitude_deg, city.longitude_deg, city.label
    else:
        latitude, longitude = (
            _answer(given, option, question, asks=asks, read=_degrees(limit))
            for given, option, question, limit in (
                (wishes.latitude, "--latitude", "Latitude in degrees (south is negative)", 90),
                (wishes.longitude, "--longitude", "Longitude in degrees (west is negative)", 180),
            )
        )
        label = ""
    known = city.zone if city is not None else zone_at(latitude, longitude)
    zone = wishes.zone or known
    if zone is None or wishes.zone is not None:
        zone = _answer(zone, "--zone", "Time zone, like Europe/Oslo", asks=asks, read=_zone)
    return _FoundPlace(latitude, longitude, label, zone)


def _city(text: str) -> City | None:
    # The list of cities takes 0.3 s to read.
    from daylatch.site.cities import find_city  # noqa: PLC0415

    return find_city(text) if text else None


def _days_without_light(place: _FoundPlace) -> tuple[str, str]:
    """Say on which days of the coming years the default light is missing, if on any.

    The first text is about days that are too bright for it, the second about dark ones.
    """
    today = now_utc().astype("datetime64[D]")
    days = np.arange(today, today + 365 * _YEARS_AHEAD)
    sun = sun_crossings(place.latitude_deg, place.longitude_deg, days, CIVIL_ALTITUDE_DEG)
    texts = []
    for state, words in (
        (SkyState.ALWAYS_ABOVE, "the Sun stays above civil twilight all night"),
        (SkyState.ALWAYS_BELOW, "the Sun stays below civil twilight all day"),
    ):
        here = (sun.dawn_sky == state) | (sun.dusk_sky == state)
        a_year = round(int(here.sum()) / _YEARS_AHEAD)
        texts.append(
            f"on about {a_year} days a year (next on {days[here][0]}) {words}" if here.any() else ""
        )
    return texts[0], texts[1]


def _fallbacks(
    given: tuple[str | None, str | None], bright: str, *, asks: bool
) -> tuple[WallTime, WallTime]:
    """Return both fallbacks: given, asked for, or the defaults."""
    if bright and asks and not all(given):
        print(f"{bright}, so the door needs a clock time on such days.")
    times = []
    for text, option, question, default in (
        (given[0], "--fallback-open", "Open then at", DEFAULT_FALLBACKS[0]),
        (given[1], "--fallback-close", "Close then at", DEFAULT_FALLBACKS[1]),
    ):
        if text is None and not (asks and bright):
            times.append(default)
        else:
            times.append(
                _answer(text, option, f"{question} (like {default})", asks=asks, read=_time)
            )
    return times[0], times[1]
