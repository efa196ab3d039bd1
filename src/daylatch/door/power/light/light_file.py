"""Reading files of light as PVGIS gives them: an hourly typical year, or months of several years.

PVGIS is the photovoltaic geographical information system of the European Commission's Joint
Research Centre. The layout of the typical year is that of its files; that of the months is
from memory.
"""

from __future__ import annotations

import csv
import re
from calendar import month_abbr, monthrange
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.door.power.light.light_rows import (
    COLDEST_C,
    WARMEST_C,
    LightFileError,
    in_head,
    number_in,
    place_of,
)
from daylatch.door.power.light.typical_year import TIME, read_typical_year

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.door.power.light.typical_year import TypicalYear

    Floats = NDArray[np.float64]

_MOST_KWH_M2_MONTH = 500.0
_LEVEL, _SHARE, _WARMTH = "H(h)_m", "Kd", "T2m"
_ON_PLANE = "H(i)_m"
_FACES_SOUTH = 180.0
_MONTHS = {name.lower(): number for number, name in enumerate(month_abbr) if name}
_KNOWN = (
    'save a typical year as CSV (its rows begin with "time(UTC)"), or the monthly data as CSV '
    '(with a column "H(h)_m")'
)


class MonthlyLight(NamedTuple):
    """Means of the twelve months.

    Attributes
    ----------
    level : float64 or None
        Light on the level [kWh/m² a day]; None if the file has only that on a plane.
    diffuse_share : float64 or None
        Which share of it is diffuse.
    plane : float64 or None
        Light on a plane, if that is the panel's [kWh/m² a day].
    temperature_c : float64 or None
        Of the air.
    place : tuple of float or None
        Latitude and longitude for which it is [deg].
    """

    level: Floats | None
    diffuse_share: Floats | None
    plane: Floats | None
    temperature_c: Floats | None
    place: tuple[float, float] | None

    @property
    def level_by_month(self) -> Floats | None:
        """The light on the level by month [kWh/m² a day]."""
        return self.level


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
        if TIME in cells:
            return read_typical_year(lines, number, cells)
        if _LEVEL in cells or _ON_PLANE in cells:
            return _months(lines, number, cells, tilt_deg, azimuth_deg)
        if cells[:1] == ["time"]:
            raise LightFileError(f"is an hourly series and no typical year: {_KNOWN}")
    if text.lstrip().startswith(("{", "[")):
        raise LightFileError(f"is JSON: {_KNOWN}")
    raise LightFileError(f"is in no form that is known here: {_KNOWN}")


def _cells(line: str) -> list[str]:
    """Return the cells of a line, empty ones too.

    Raises
    ------
    LightFileError
        If it cannot be parted.
    """
    try:
        parts = line.split("\t") if "\t" in line else next(csv.reader([line]), [])
    except csv.Error as error:
        raise LightFileError(f"is no table ({error}): {_KNOWN}") from error
    return [part.strip() for part in parts]


def _months(
    lines: Sequence[str], begin: int, header: list[str], tilt_deg: float, azimuth_deg: float
) -> MonthlyLight:
    head = "\n".join(lines[:begin])
    # Columns are parted by two tabs: what has no name in the header is none.
    places = [place for place, name in enumerate(header) if name]
    names = [header[place] for place in places]
    wanted = [name for name in (_LEVEL, _ON_PLANE, _SHARE, _WARMTH) if name in names]
    found: dict[str, list[list[float]]] = {name: [[] for _ in range(12)] for name in wanted}
    for number, line in enumerate(lines[begin + 1 :], begin + 2):
        found_cells = _cells(line)
        if len(found_cells) == len(header):
            cells = [found_cells[place] for place in places]
        else:
            cells = [cell for cell in found_cells if cell]
        month = _MONTHS.get(cells[1][:3].lower()) if len(cells) > 1 else None
        if month is None or not re.fullmatch(r"\d{4}", cells[0]):
            if found[wanted[0]][0]:
                break
            continue
        if len(cells) != len(names):
            raise LightFileError(
                f"line {number} has {len(cells)} cells, and there are {len(names)} columns: get "
                "the file anew"
            )
        days = monthrange(max(int(cells[0]), 1), month)[1]
        for name in wanted:
            least, most = {_WARMTH: (COLDEST_C, WARMEST_C), _SHARE: (0.0, 1.0)}.get(
                name, (0.0, _MOST_KWH_M2_MONTH)
            )
            value = number_in(cells, names.index(name), name, number, least, most)
            found[name][month - 1].append(value if name in (_SHARE, _WARMTH) else value / days)
    empty = [month_abbr[n + 1] for n, values in enumerate(found[wanted[0]]) if not values]
    if empty:
        raise LightFileError(f"has no row for {empty[0]}: get the monthly data of whole years")
    means = {name: np.array([np.mean(one) for one in values]) for name, values in found.items()}
    plane = means.get(_ON_PLANE)
    own = in_head(head, r"(?:Selected angle|Slope|Inclination)[^:\n]*:")
    is_own = own is not None and abs(own - tilt_deg) <= 0.5 and _faces_equator(head, azimuth_deg)
    if _LEVEL not in means and not is_own:
        stands = "a plane that it does not name" if own is None else f"a plane tilted {own:g}°"
        raise LightFileError(
            f"has light on {stands}, and the panel stands otherwise: get it with horizontal "
            f"irradiation ({_LEVEL}) too"
        )
    return MonthlyLight(
        means.get(_LEVEL),
        means.get(_SHARE),
        plane if is_own else None,
        means.get(_WARMTH),
        place_of(head),
    )


def _faces_equator(head: str, azimuth_deg: float) -> bool:
    """Return whether a panel faces as the plane of a file does: towards the equator."""
    place = place_of(head)
    equator = 0.0 if place is not None and place[0] < 0 else _FACES_SOUTH
    return abs((azimuth_deg - equator + 180) % 360 - 180) <= 0.5
