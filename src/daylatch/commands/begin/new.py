"""``daylatch new``: a site file to begin with."""

from __future__ import annotations

import datetime as dt
import sys
import uuid
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import typer

from daylatch.clock import UnknownZoneError, WallTime, country_of, get_zone, zone_at
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.now import now_utc, warn, warn_about
from daylatch.console import printable, say
from daylatch.errors import OutputError, PlanError, UsageError
from daylatch.files.put import put, read_own
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.plan.short_nights import (
    LEAST_NIGHT_H,
    Remedy,
    ShortNights,
    find_short_nights,
)
from daylatch.site.reading.site_file import read_site
from daylatch.site.reading.slips import AT_SEA, is_at_sea
from daylatch.site.starter.text import Start, starter_text
from daylatch.site.table import check_name
from daylatch.site.values.customs import customs_of
from daylatch.site.values.degrees import read_degrees
from daylatch.wording import capital, days_text, duration_text, place_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from daylatch.arrays import Times
    from daylatch.site.choices.cities import City
    from daylatch.site.tables import Site

_T = TypeVar("_T")


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
    country: str | None


def run(
    named: Sequence[Path], wishes: Answers, *, like: Path | None, everything: bool, force: bool
) -> None:
    """Write a site file.

    Parameters
    ----------
    named
        The file to write; it can be named in two ways.
    wishes
        What the file is to say.
    like
        A site file to copy.
    everything
        Whether it shows every table and key there is.
    force
        Whether a file that is there may be lost.
    """
    if not named:
        raise UsageError("name the file to write, such as daylatch new site.toml")
    if len(named) > 1:
        raise UsageError(f"{named[0]} and {named[1]}: name one file to write")
    (file,) = named
    if like is not None:
        _refuse_beside_like(wishes, everything=everything)
    _refuse_existing(file, force=force)
    if like is None:
        _write(file, wishes, everything=everything)
    else:
        from daylatch.commands.begin.like import write_like  # noqa: PLC0415

        write_like(file, like, wishes.name)


def _refuse_beside_like(wishes: Answers, *, everything: bool) -> None:
    """Refuse what a copy takes from the other file."""
    given = [key for key, value in vars(wishes).items() if value is not None and key != "name"]
    if given or everything:
        option = "--all" if everything else f"--{given[0].replace('_', '-')}"
        raise UsageError(
            f"{option} does not go with --like, which takes all but --name from the other file: "
            "leave it out, and change the copy afterwards"
        )


def _write(file: Path, wishes: Answers, *, everything: bool) -> None:
    """Write a site file, asking in a terminal for what was not given."""
    asks = sys.stdin.isatty()
    name = _answer(wishes.name, "--name", "What do you call the house?", asks=asks, read=check_name)
    place = _place(wishes, asks=asks)
    today = get_zone(place.zone).date_at(now_utc())
    start = Start(
        str(uuid.uuid4()),
        name,
        place.latitude_deg,
        place.longitude_deg,
        place.city,
        place.zone,
        None,
        None,
        # Examples are of the coming year, so that none is over already.
        today.year + 1,
        customs=customs_of(place.country),
    )
    try:
        (nights,) = find_short_nights([read_site(starter_text(start), str(file))], today)
        start = _with_nights(start, nights, (wishes.fallback_open, wishes.fallback_close), asks)
        text = starter_text(start, everything=everything)
        # What is written must be good: a slip of the text would show here and not later.
        site = read_site(text, str(file))
        last = today + dt.timedelta(days=DEFAULT_DAYS - 1)
        plan = make_plan(site, today, last, with_second_opinion=False)
    except PlanError as error:
        raise UsageError(f"{file} would give no plan, so it is not written: {error}") from error
    put(file, text.encode())
    _tell(file, site, start, nights)
    bad = exactly(plan).closes_in_daylight
    if bad.any():
        warn(
            f"with these clock times the door closes in daylight on {days_text(int(bad.sum()))} a "
            f"year, next on {plan.dates[bad][0]}: birds outside then stay out; `daylatch check` "
            "says what would do"
        )


def _with_nights(
    start: Start, nights: ShortNights, given: tuple[str | None, str | None], asks: bool
) -> Start:
    """Return what the file says, with what makes sense of short nights."""
    least_h = LEAST_NIGHT_H if nights.remedy is Remedy.LEAST_NIGHT else 0
    start = replace(start, least_night_h=least_h)
    with_limits = nights.remedy is Remedy.LIMITS
    if not with_limits and not any(given):
        return start
    opening, closing = _fallbacks(given, nights, asks=asks and with_limits)
    return replace(start, fallback_open=opening, fallback_close=closing, with_limits=with_limits)


def _tell(file: Path, site: Site, start: Start, nights: ShortNights) -> None:
    """Say what was written, and why."""
    where = place_text(site.latitude_deg, site.longitude_deg)
    found = f"{start.city} ({where})" if start.city else where
    print(f"wrote {printable(str(file))}: {start.name}, {found}, {site.zone}")
    warn_about(site)
    if start.customs.writing:
        words = "; ".join(site.settings.writing.told(site.settings.writing.ways))
        norms, where = start.customs.whose, "[writing]"
        if norms:
            words, where = f"{words}; norms: {norms}", "[writing] and [norms]"
        print(f"Note: as in your country, {words} ({where} in the file; change them to suit).")
    if start.with_limits and start.fallback_open and start.fallback_close:
        opens, closes = (
            site.face.time(time.minutes) for time in (start.fallback_open, start.fallback_close)
        )
        print(
            f"Note: {_short(nights)}; so the door shuts by {closes} and opens from {opens} then "
            "(not_after, not_before and fallback in the file; change them to suit)."
        )
    elif start.least_night_h:
        print(
            f"Note: {_short(nights)}; so the door closes earlier and opens later then, for nights "
            f"of {start.least_night_h} h (least_h of [night] in the file; change it to suit)."
        )
    if nights.dark.size:
        print(
            f"Note: {_days(nights, nights.dark)} it never gets as light as civil dawn; then "
            "the door stays shut, unless you give a dark_fallback."
        )
    print(f"Next: daylatch check {printable(str(file))}")


def _short(nights: ShortNights) -> str:
    """Return how short the nights are by the light alone."""
    texts = []
    if not np.isnat(nights.shortest):
        texts.append(f"nights here get as short as {duration_text(nights.shortest)}")
    if nights.bright.size:
        texts.append(f"{_days(nights, nights.bright)} it never gets as dark as civil dusk")
    return ", and ".join(texts)


def _days(nights: ShortNights, dates: Times) -> str:
    return f"on about {nights.a_year(dates)} days a year (next on {dates[0]})"


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
    given: str | None,
    option: str,
    question: str,
    *,
    asks: bool,
    read: Callable[[str], _T],
    enter: str = "",
) -> _T:
    """Return what an option or the person at the terminal says; ask again after a slip.

    Just Enter means ``enter``, which is shown.
    """
    if given is None and not asks:
        raise UsageError(f"{option} is needed where nobody can be asked")
    while True:
        # With an empty default, just Enter is an answer too; without one it is asked again.
        text = given
        if text is None:
            suffix = " " if question.endswith("?") else ": "
            text = typer.prompt(question, enter, show_default=bool(enter), prompt_suffix=suffix)
        try:
            return read(text.strip())
        except ValueError as error:
            if given is not None:
                raise UsageError(f'{option} is "{given}": {error}') from None
            say(f"  {error}")


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
            _answer(given, option, question, asks=asks, read=partial(read_degrees, limit=limit))
            for given, option, question, limit in (
                (wishes.latitude, "--latitude", "Latitude in degrees (south is negative)", 90),
                (wishes.longitude, "--longitude", "Longitude in degrees (west is negative)", 180),
            )
        )
        label = ""
    known = city.zone if city is not None else zone_at(latitude, longitude)
    if wishes.zone is None and is_at_sea(known):
        warn(AT_SEA)
    zone = wishes.zone or known
    if zone is None or wishes.zone is not None:
        zone = _answer(zone, "--zone", "Time zone, like Europe/Oslo", asks=asks, read=_zone)
    country = city.country if city is not None else country_of(known or zone) or country_of(zone)
    return _FoundPlace(latitude, longitude, label, zone, country)


def _city(text: str) -> City | None:
    # The list of cities takes 0.3 s to read.
    from daylatch.site.choices.cities import find_city  # noqa: PLC0415

    return find_city(text) if text else None


def _fallbacks(
    given: tuple[str | None, str | None], nights: ShortNights, *, asks: bool
) -> tuple[WallTime, WallTime]:
    """Return both fallbacks: given, asked for, or counted."""
    if asks and not all(given):
        short = _short(nights)
        print(f"{capital(short)}, so the door needs clock times then.")
    times = []
    for text, option, question, counted in (
        (given[0], "--fallback-open", "Open then at", nights.open),
        (given[1], "--fallback-close", "Close then at", nights.close),
    ):
        if text is None and not asks:
            times.append(counted)
        else:
            times.append(_answer(text, option, question, asks=asks, read=_time, enter=str(counted)))
    return times[0], times[1]
