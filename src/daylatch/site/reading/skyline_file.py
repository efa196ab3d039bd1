"""Reading a skyline from a CSV file: a keeper's own, or a horizon file of PVGIS as it comes.

A keeper's columns are called azimuth and elevation, in any order and beside any others; azimuths
are counted clockwise from true north. Files of PVGIS (the European Commission's service for solar
radiation) have ``A`` and ``H_hor`` instead, and count azimuths from south, west positive.
"""

from __future__ import annotations

import csv
import math
import re
from typing import TYPE_CHECKING, NamedTuple

from daylatch.site.messages import show_value
from daylatch.site.skyline import LOWEST_SEEN_DEG
from daylatch.sun.skyline import Skyline, check_azimuths, check_elevations, make_skyline

if TYPE_CHECKING:
    from collections.abc import Sequence


class _Columns(NamedTuple):
    """How a kind of file calls its two columns, and what is added to its azimuths [deg]."""

    azimuth: str
    elevation: str
    added_deg: float


_KINDS = (
    _Columns("azimuth", "elevation", 0.0),
    # As programs keep it that have read it from PVGIS, turned to north already.
    _Columns("horizon_azimuth", "horizon_elevation", 0.0),
    _Columns("a", "h_hor", 180.0),
)
_DELIMITERS = ("\t", ";", ",")
# How a text begins that a spreadsheet calls Unicode (byte order marks).
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
# What people write behind a column's name: a unit, in brackets or not.
_UNIT = re.compile(r"\s*[(\[].*|_deg$", re.DOTALL)
_NO_HEADER = (
    "no line has the columns azimuth and elevation (degrees clockwise from true north, and above "
    "the horizontal), nor A and H_hor of PVGIS"
)
# What PVGIS says below its table of where azimuths begin, such as ``0 = S``.
_BEGINS = re.compile(r"\b0(?:\.0)?\s*=\s*([NS])\b", re.ASCII)


def read_skyline_file(content: bytes) -> Skyline:
    """Return the skyline of a file.

    Raises
    ------
    ValueError
        Saying in which line what is wrong, and what would be right.
    """
    try:
        text = content.decode("utf-16" if content.startswith(_UTF_16) else "utf-8-sig")
    except UnicodeDecodeError as error:
        at = content[: error.start].count(b"\n") + 1
        raise ValueError(f"line {at} is no text: save it as CSV in UTF-8") from error
    lines = text.splitlines()
    for number, line in enumerate(lines):
        for delimiter in _DELIMITERS:
            header = [_UNIT.sub("", cell.casefold()) for cell in _cells(line, delimiter)]
            for kind in _KINDS:
                if kind.azimuth in header and kind.elevation in header:
                    twice = next((name for name in kind[:2] if header.count(name) > 1), None)
                    if twice is not None:
                        raise ValueError(f"line {number + 1} has two columns {twice}: drop one")
                    return _read(lines, number + 1, _Table(kind, header, delimiter))
    raise ValueError(_NO_HEADER)


class _Table(NamedTuple):
    kind: _Columns
    header: list[str]
    delimiter: str

    def pick(self, cells: Sequence[str]) -> tuple[str, str]:
        """Return the two cells of a row; empty where it is too short."""
        places = map(self.header.index, self.kind[:2])
        azimuth, elevation = (cells[at] if at < len(cells) else "" for at in places)
        return azimuth, elevation


def _cells(line: str, delimiter: str) -> list[str]:
    """Return the cells of a line; one in quotes may hold the delimiter."""
    try:
        found = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error as error:
        raise ValueError(f"is no table ({error}): {_NO_HEADER}") from error
    return [cell.strip() for cell in found]


def _read(lines: Sequence[str], begin: int, table: _Table) -> Skyline:
    """Return the skyline of the rows below a header."""
    added = _added(table.kind, lines[begin:])
    corners: dict[float, float] = {}
    for number, line in enumerate(lines[begin:], start=begin + 1):
        cells = _cells(line, table.delimiter)
        if not any(cells):
            # In a file of PVGIS the legend follows.
            if corners and table.kind.added_deg:
                break
            continue
        if cells[0].startswith("#"):
            continue
        if len(cells) > len(table.header) and any(cells[len(table.header) :]):
            raise ValueError(
                f"line {number} has more cells than columns: write degrees with a point, or part "
                "cells by semicolons"
            )
        azimuth, elevation = (
            _number(cell, number, name)
            for cell, name in zip(table.pick(cells), table.kind[:2], strict=True)
        )
        if added:
            if not -180.0 <= azimuth <= 180.0:
                raise ValueError(
                    f"line {number}: A = {azimuth:g}: PVGIS counts azimuths from south, -180 to "
                    "180; name the columns azimuth and elevation if yours are from north"
                )
            azimuth = (azimuth + added) % 360.0
        # North stands at both ends of some files.
        if corners.get(azimuth % 360.0) == elevation:
            continue
        if azimuth % 360.0 in corners:
            raise ValueError(
                f"line {number}: azimuth {azimuth:g} stands twice, with elevations "
                f"{corners[azimuth % 360.0]:g} and {elevation:g}: drop one"
            )
        try:
            check_azimuths([azimuth])
            check_elevations([elevation], LOWEST_SEEN_DEG)
        except ValueError as error:
            raise ValueError(f"line {number}: {error}") from error
        corners[azimuth % 360.0] = elevation
    if not corners:
        raise ValueError("has no row below its header: write one for each corner of the skyline")
    return make_skyline(list(corners), list(corners.values()))


def _added(kind: _Columns, below: Sequence[str]) -> float:
    """Return what is added to azimuths so that they count from north [deg]."""
    if not kind.added_deg:
        return 0.0
    said = _BEGINS.search(" ".join(below))
    return 0.0 if said is not None and said[1] == "N" else kind.added_deg


def _number(cell: str, line: int, column: str) -> float:
    """Return a cell as degrees; a comma may stand for the point, and a minus be a printed one."""
    text = cell.removesuffix("°").strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        if "_" in text:
            raise ValueError
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        found = show_value(cell) if cell else "nothing"
        raise ValueError(f"line {line}: {column} is {found}: write degrees, such as 12.5")
    return value
