"""A typical year of light hour by hour, as PVGIS gives it as CSV."""

from __future__ import annotations

import re
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
from daylatch.door.power.light.sun_year import DAYS, YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Times

    Floats = NDArray[np.float64]

TIME = "time(UTC)"
"""The column that begins a row."""
_HOURS = 24
_MOST_W_M2 = 2000.0
_W_PER_KW = 1000.0
_MOST_OFFSET_H = 1.0
_LIGHT, _WARMTH = ("G(h)", "Gb(n)", "Gd(h)"), "T2m"
_OFFSET = r"Irradiance Time Offset \(h\):"
_STAMP = re.compile(r"\d{4}(\d\d)(\d\d):(\d\d)(\d\d)")


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

    @property
    def level_by_month(self) -> Floats:
        """The light on the level by month [kWh/m² a day]."""
        months = self.instants_utc.astype("datetime64[M]").astype(np.int64) % 12
        kwh = np.bincount(months, self.level, minlength=12) / _W_PER_KW
        return kwh / np.bincount(months, minlength=12) * _HOURS


def read_typical_year(lines: Sequence[str], begin: int, names: Sequence[str]) -> TypicalYear:
    """Return what a file says.

    Parameters
    ----------
    lines
        The file.
    begin
        In which line the names of its columns stand, counted from 0.
    names
        Those names.

    Raises
    ------
    LightFileError
        If it holds no typical year.
    """
    lacking = [name for name in (*_LIGHT, _WARMTH) if name not in names]
    if lacking:
        raise LightFileError(f"line {begin + 1} has no column {lacking[0]}: get the file anew")
    at = names.index(TIME)
    head = "\n".join(lines[:begin])
    stamps, rows, numbers = [], [], []
    delimiter = "\t" if "\t" in lines[begin] else ","
    for number, line in enumerate(lines[begin + 1 :], begin + 2):
        cells = [cell.strip(' "') for cell in line.split(delimiter)]
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
    offset = in_head(head, _OFFSET)
    if offset is None and re.search(_OFFSET, head):
        raise LightFileError(
            "has an Irradiance Time Offset that is no number with a point: get the file anew"
        )
    if offset is not None and abs(offset) > _MOST_OFFSET_H:
        raise LightFileError(
            f"has an Irradiance Time Offset of {offset:g} h, and within an hour is possible: get "
            "the file anew"
        )
    later = np.timedelta64(round(3600 * offset) if offset is not None else 1800, "s")
    level, beam_normal, diffuse = (
        # Noise of the satellite's data may lie a little under nothing.
        np.maximum(_column(rows, names.index(name), name, numbers, -10.0, _MOST_W_M2), 0.0)
        for name in _LIGHT
    )
    place = names.index(_WARMTH)
    temperature_c = _column(rows, place, _WARMTH, numbers, COLDEST_C, WARMEST_C)
    instants: Times = hours + later
    return TypicalYear(instants, level, beam_normal, diffuse, temperature_c, place_of(head))


def _column(
    rows: Sequence[Sequence[str]],
    place: int,
    name: str,
    numbers: Sequence[int],
    least: float,
    most: float,
) -> Floats:
    """Return a column of numbers; of a bad one `number_in` says what is wrong."""
    try:
        values = np.array([float(cells[place]) for cells in rows])
        if ((values >= least) & (values <= most)).all():
            return values
    except (ValueError, IndexError):
        pass
    return np.array(
        [
            number_in(cells, place, name, number, least, most)
            for cells, number in zip(rows, numbers, strict=True)
        ]
    )
