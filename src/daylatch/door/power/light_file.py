"""Reading files of light as PVGIS gives them: an hourly typical year, or months of several years.

PVGIS is the photovoltaic geographical information system of the European Commission's Joint
Research Centre. The layout of the typical year is that of its files; that of the months is
from memory.
"""

from __future__ import annotations

import csv
import math
import re
from calendar import month_abbr, monthrange
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.door.power.sun_year import DAYS, YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Times

    Floats = NDArray[np.float64]

_HOURS = 24
_MOST_W_M2 = 2000.0
_MOST_KWH_M2_MONTH = 500.0
_COLDEST_C, _WARMEST_C = -90.0, 70.0
_NUMBER = r"\s*([-+]?\d+(?:\.\d+)?)"
_TIME = "time(UTC)"
_STAMP = re.compile(r"\d{4}(\d\d)(\d\d):(\d\d)(\d\d)")
_TYPICAL = ("G(h)", "Gb(n)", "Gd(h)", "T2m")
_LEVEL, _SHARE, _WARMTH = "H(h)_m", "Kd", "T2m"
_ON_PLANE = "H(i)_m"
_FACES_SOUTH = 180.0
_MONTHS = {name.lower(): number for number, name in enumerate(month_abbr) if name}
_KNOWN = (
    'save a typical year as CSV (its rows begin with "time(UTC)"), or the monthly data as CSV '
    '(with a column "H(h)_m")'
)


class LightFileError(ValueError):
    """A file of light that cannot be used; its text says why, and what would help."""


class TypicalYear(NamedTuple):
    """Hour by hour, a typical year without its leap day.

    Attributes
    ----------
    instants_utc : datetime64[s]
        To which instants the values belong, all of one year.
    level, beam_normal, diffuse : float64
        Light on the level, across the Sun's rays, and diffuse on the level [W/m²].
    temperature_c : float64
        Of the air.
    place : tuple of float or None
        Latitude and longitude for which it is [deg].
    """

    instants_utc: Times
    level: Floats
    beam_normal: Floats
    diffuse: Floats
    temperature_c: Floats
    place: tuple[float, float] | None


class MonthlyLight(NamedTuple):
    """Means of the twelve months.

    Attributes
    ----------
    level : float64
        Light on the level [kWh/m² a day].
    diffuse_share : float64 or None
        Which share of it is diffuse.
    plane : float64 or None
        Light on a plane, if that is the panel's [kWh/m² a day].
    temperature_c : float64 or None
        Of the air.
    years : tuple of int
        The first and the last year.
    place : tuple of float or None
        Latitude and longitude for which it is [deg].
    """

    level: Floats
    diffuse_share: Floats | None
    plane: Floats | None
    temperature_c: Floats | None
    years: tuple[int, int]
    place: tuple[float, float] | None


def read_light(text: str, tilt_deg: float, azimuth_deg: float) -> TypicalYear | MonthlyLight:
    """Return what a file of light says.

    Parameters
    ----------
    text
        The file.
    tilt_deg, azimuth_deg
        How the panel stands: a file's own plane counts if it is the same.

    Raises
    ------
    LightFileError
        If it is no such file.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    for number, line in enumerate(lines):
        cells = _cells(line)
        if _TIME in cells:
            return _typical_year(lines, number, cells)
        if _LEVEL in cells or _ON_PLANE in cells:
            return _months(lines, number, cells, tilt_deg, azimuth_deg)
        if cells[:1] == ["time"]:
            raise LightFileError(f"is an hourly series and no typical year: {_KNOWN}")
    if text.lstrip().startswith(("{", "[")):
        raise LightFileError(f"is JSON: {_KNOWN}")
    raise LightFileError(f"is in no form that is known here: {_KNOWN}")


def _cells(line: str) -> list[str]:
    parts = line.split("\t") if "\t" in line else next(csv.reader([line]), [])
    return [part.strip() for part in parts if part.strip()]


def _typical_year(lines: Sequence[str], begin: int, names: list[str]) -> TypicalYear:
    lacking = [name for name in _TYPICAL if name not in names]
    if lacking:
        raise LightFileError(f"line {begin + 1} has no column {lacking[0]}: {_KNOWN}")
    at = names.index(_TIME)
    head = "\n".join(lines[:begin])
    stamps, rows, numbers = [], [], []
    for number, line in enumerate(lines[begin + 1 :], begin + 2):
        cells = line.split(",")
        match = _STAMP.fullmatch(cells[at].strip()) if at < len(cells) else None
        if match is None:
            break
        month, day, hour, minute = match.groups()
        if (month, day) != ("02", "29"):
            stamps.append(f"{YEAR}-{month}-{day}T{hour}:{minute}")
            rows.append(cells)
            numbers.append(number)
    try:
        hours: Times = np.array(stamps, "datetime64[s]")
    except ValueError as error:
        raise LightFileError(f"holds a time that is none ({error}): get the file anew") from None
    if len(rows) != DAYS * _HOURS or (np.diff(hours) != np.timedelta64(1, "h")).any():
        raise LightFileError(
            f"holds {len(rows)} hours, and a typical year has {DAYS * _HOURS}, one after another "
            "from 1 January: get the file anew"
        )
    offset = _in_head(head, r"Irradiance Time Offset \(h\):")
    later = np.timedelta64(round(3600 * offset) if offset is not None else 1800, "s")
    level, beam_normal, diffuse = (
        # Noise of the satellite's data may lie a little under nothing.
        np.maximum(_column(rows, names.index(name), name, numbers, -10.0, _MOST_W_M2), 0.0)
        for name in _TYPICAL[:3]
    )
    place = names.index(_WARMTH)
    temperature_c = _column(rows, place, _WARMTH, numbers, _COLDEST_C, _WARMEST_C)
    instants: Times = hours + later
    return TypicalYear(instants, level, beam_normal, diffuse, temperature_c, _place(head))


def _column(
    rows: Sequence[Sequence[str]],
    place: int,
    name: str,
    numbers: Sequence[int],
    least: float,
    most: float,
) -> Floats:
    """Return a column of numbers; of a bad one `_number` says what is wrong."""
    try:
        values = np.array([float(cells[place]) for cells in rows])
        if ((values >= least) & (values <= most)).all():
            return values
    except (ValueError, IndexError):
        pass
    return np.array(
        [
            _number(cells, place, name, number, least, most)
            for cells, number in zip(rows, numbers, strict=True)
        ]
    )


def _months(
    lines: Sequence[str], begin: int, names: list[str], tilt_deg: float, azimuth_deg: float
) -> MonthlyLight:
    head = "\n".join(lines[:begin])
    wanted = [name for name in (_LEVEL, _ON_PLANE, _SHARE, _WARMTH) if name in names]
    found: dict[str, list[list[float]]] = {name: [[] for _ in range(12)] for name in wanted}
    years: set[int] = set()
    for number, line in enumerate(lines[begin + 1 :], begin + 2):
        cells = _cells(line)
        month = _MONTHS.get(cells[1][:3].lower()) if len(cells) > 1 else None
        if month is None or not re.fullmatch(r"\d{4}", cells[0]):
            if found[wanted[0]][0]:
                break
            continue
        year = int(cells[0])
        years.add(year)
        days = monthrange(max(year, 1), month)[1]
        for name in wanted:
            least, most = {_WARMTH: (_COLDEST_C, _WARMEST_C), _SHARE: (0.0, 1.0)}.get(
                name, (0.0, _MOST_KWH_M2_MONTH)
            )
            value = _number(cells, names.index(name), name, number, least, most)
            found[name][month - 1].append(value if name in (_SHARE, _WARMTH) else value / days)
    empty = [month_abbr[n + 1] for n, values in enumerate(found[wanted[0]]) if not values]
    if empty:
        raise LightFileError(f"has no row for {empty[0]}: get the monthly data of whole years")
    means = {name: np.array([np.mean(one) for one in values]) for name, values in found.items()}
    plane = means.get(_ON_PLANE)
    own = _in_head(head, r"(?:Selected angle|Slope|Inclination)[^:\n]*:")
    is_own = own is not None and abs(own - tilt_deg) <= 0.5 and _faces_equator(head, azimuth_deg)
    if _LEVEL not in means and not is_own:
        stands = "a plane that it does not name" if own is None else f"a plane tilted {own:g}°"
        raise LightFileError(
            f"has light on {stands}, and the panel stands otherwise: get it with horizontal "
            f"irradiation ({_LEVEL}) too"
        )
    level = means.get(_LEVEL, np.zeros(12))
    return MonthlyLight(
        level,
        means.get(_SHARE),
        plane if is_own else None,
        means.get(_WARMTH),
        (min(years), max(years)),
        _place(head),
    )


def _faces_equator(head: str, azimuth_deg: float) -> bool:
    """Return whether a panel faces as the plane of a file does: towards the equator."""
    place = _place(head)
    equator = 0.0 if place is not None and place[0] < 0 else _FACES_SOUTH
    return abs((azimuth_deg - equator + 180) % 360 - 180) <= 0.5


def _number(
    cells: Sequence[str], place: int, name: str, number: int, least: float, most: float
) -> float:
    """Return a number of a row.

    Raises
    ------
    LightFileError
        If there is none, or one that cannot be.
    """
    cell = cells[place] if place < len(cells) else ""
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise LightFileError(
            f'line {number}: {name} is "{cell[:20]}", and must be a number from {least:g} to '
            f"{most:g}: get the file anew"
        )
    return value


def _in_head(head: str, label: str) -> float | None:
    match = re.search(label + _NUMBER, head)
    return float(match[1]) if match else None


def _place(head: str) -> tuple[float, float] | None:
    both = [_in_head(head, rf"{name} \(decimal degrees\):") for name in ("Latitude", "Longitude")]
    return None if None in both else (both[0] or 0.0, both[1] or 0.0)
