"""A door's power from its site file and what lies beside, for its own command and elsewhere."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone
from daylatch.commands.beside import BesideError, read_beside
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.diary import diary_of
from daylatch.commands.due import due_of
from daylatch.commands.now import warn
from daylatch.commands.skyline import skyline_of
from daylatch.door.power.faults import (
    faces_away,
    missing,
    too_bright,
    too_bright_file,
    without_warmth,
)
from daylatch.door.power.light.light_file import read_light
from daylatch.door.power.light.light_rows import LightFileError
from daylatch.door.power.make import azimuth_of, make_power, stand_of
from daylatch.door.power.power import Seen
from daylatch.door.power.words import year_sentence
from daylatch.errors import PlanError, Problem, SiteError
from daylatch.plan.plan import make_plan
from daylatch.site.messages import key_name, show_value
from daylatch.site.reading.site_file import line_of_key
from daylatch.wording import place_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from daylatch.door.power.faults import Fault
    from daylatch.door.power.light.light_file import MonthlyLight
    from daylatch.door.power.light.typical_year import TypicalYear
    from daylatch.door.power.power import Power
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

_JUNE, _DECEMBER, _MONTHS = 6, 12, 12
_WINTER_ENDS = 9
"""So many months after early summer winter is over."""
_LIGHT = ("a file of light for the place", "light_file")
_FAR_DEG = 0.5
"""From how far on a file of light is for another place (this program's choice, no source)."""


def refuse_missing(site: Site) -> None:
    """Refuse a site whose tables say too little, or what does not go together.

    Raises
    ------
    SiteError
        Naming each key with its remedy.
    """
    _refuse(site, missing(site.settings))


def power_of(due: Due, seen: Seen | None = None) -> Power:
    """Return how a door's battery fares, after warnings about its panel.

    Raises
    ------
    SiteError
        If the file of light cannot be used, or light by month cannot be.
    """
    site = due.plan.site
    stand = stand_of(site)
    if stand is not None and site.settings.panel is not None:
        _refuse(site, too_bright(site.settings.panel, stand))
        for fault in faces_away(stand):
            warn(_problem(site, fault).sentence(site.file_name))
    file = _light_file(site)
    level = None if file is None else file.level_by_month
    if stand is not None and level is not None:
        _refuse(site, too_bright_file(stand, level))
    skyline = skyline_of(site)
    shaded = None if stand is None else stand.with_skyline(skyline)
    power = make_power(due, shaded, file, seen)
    if power.light is not None:
        _refuse(site, without_warmth(power.battery, power.light))
    return power


def year_of_power(site: Site, first: dt.date) -> str:
    """Return how a door's battery fares in the year from a date on; trouble is a warning."""
    try:
        refuse_missing(site)
        due = due_of(make_plan(site, *dark_year(site, first), with_second_opinion=False))
        return year_sentence(power_of(due))
    except (SiteError, PlanError) as error:
        warn(f"power is left out: {error}")
        return ""


def dark_year(site: Site, today: dt.date) -> tuple[dt.date, dt.date]:
    """Return a year that tells of the winter around a date, or of the next one.

    A battery that a panel charges is taken to be full in early summer: a year that began with a
    full one in midwinter would not tell what autumn leaves of it. In spring, or where the file says
    how full it is at first, or nothing charges it, the year begins with the date.
    """
    panel, battery = site.settings.panel, site.settings.battery
    begin = today
    charges = panel is not None and panel.watts is not None
    if charges and battery is not None and "starts" not in battery.model_fields_set:
        month = _JUNE if site.latitude_deg >= 0 else _DECEMBER
        if (today.month - month) % _MONTHS < _WINTER_ENDS:
            begin = dt.date(today.year - (today.month < month), month, 1)
    return begin, begin + dt.timedelta(days=DEFAULT_DAYS - 1)


def voltages(site: Site, first: dt.date, last: dt.date) -> Seen:
    """Return the voltages of a battery that a diary has of some dates.

    Raises
    ------
    DiaryError
        If it cannot be read.
    """
    ends = np.array([first - dt.timedelta(days=1), last + dt.timedelta(days=2)], "datetime64[s]")
    noted = [one.entry for one in diary_of(site).entries_if_any(*ends, whats=("battery_v",))]
    zone = get_zone(site.zone)
    noted = [one for one in noted if first <= zone.date_at(one.instant_utc) <= last]
    return Seen(
        np.array([one.instant_utc for one in noted], "datetime64[s]"),
        np.array([float(one.value) for one in noted], np.float64),
    )


def _light_file(site: Site) -> TypicalYear | MonthlyLight | None:
    """Return what the file of light says that a site names; None if it names none."""
    panel = site.settings.panel
    if panel is None or panel.light_file is None or panel.tilt is None:
        return None
    try:
        content = read_beside(site, panel.light_file, *_LIGHT)
        text = content.decode("utf-8-sig", "replace")
        found = read_light(text, panel.tilt, azimuth_of(panel, site.latitude_deg))
    except (BesideError, LightFileError) as error:
        raise SiteError(
            site.file_name, [_file_problem(site, panel.light_file, str(error))]
        ) from error
    if found.place is not None:
        north, east = np.subtract(found.place, (site.latitude_deg, site.longitude_deg))
        # A place may lie on the other side of the date line.
        if max(abs(north), abs((east + 180) % 360 - 180)) > _FAR_DEG:
            remedy = f"is for {place_text(*found.place)}, and this house is elsewhere: get its own"
            warn(_file_problem(site, panel.light_file, remedy).sentence(site.file_name))
    return found


def _file_problem(site: Site, name: str, remedy: str) -> Problem:
    line = line_of_key(site, ("panel", "light_file"))
    return Problem("panel.light_file", show_value(name), remedy, line)


def _refuse(site: Site, faults: Iterable[Fault]) -> None:
    problems = [_problem(site, fault) for fault in faults]
    if problems:
        raise SiteError(site.file_name, problems)


def _problem(site: Site, fault: Fault) -> Problem:
    return Problem(key_name(fault.path), fault.found, fault.remedy, line_of_key(site, fault.path))
