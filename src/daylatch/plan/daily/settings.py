"""Settings of sites, resolved for each day: the base, changed key by key by dated spans."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import Record, repeated
from daylatch.clock import WallTime
from daylatch.site.tables import SETTING_TABLES, Lengthen, Widen
from daylatch.sun.lights import altitude_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Minutes, Times
    from daylatch.site.tables import SiteFile, Span


NO_TIME = np.timedelta64("NaT", "m")
WIDEN = list(Widen)
LENGTHEN = list(Lengthen)
"""Orders in which choices are numbered in columns."""


@dataclass(frozen=True, eq=False)
class SideSettings(Record):
    """One movement's settings, a value for each day (and site).

    Attributes
    ----------
    altitude_deg : float64
        Altitude of the Sun's centre at the light event.
    offset : timedelta64[m]
        From the event to the movement.
    not_before, not_after, fallback, dark_fallback, fixed : timedelta64[m]
        Wall-clock times since midnight; NaT where there is none.
    """

    altitude_deg: NDArray[np.float64]
    offset: Minutes
    not_before: Minutes
    not_after: Minutes
    fallback: Minutes
    dark_fallback: Minutes
    fixed: Minutes


@dataclass(frozen=True, eq=False)
class DailySettings(Record):
    """Every setting of a site, a value for each day (and site).

    Attributes
    ----------
    open, close : SideSettings
        The two movements.
    shut : bool
        Whether a span keeps the door shut all day.
    least_open, least_night, head_count : timedelta64[m]
        Durations.
    widen, lengthen : int8
        Index into `WIDEN` and `LENGTHEN`.
    guard_altitude_deg : float64
        Altitude of the Sun's centre past which no day is widened.
    second_pass : bool
        Whether the door closes once more at the head count.
    shut_in_by_hand : bool
        Whether the keeper shuts the birds in before the door closes.
    in_span : bool
        Whether any span touches the day that says something of the door.
    """

    open: SideSettings
    close: SideSettings
    shut: NDArray[np.bool_]
    least_open: Minutes
    least_night: Minutes
    head_count: Minutes
    widen: NDArray[np.int8]
    lengthen: NDArray[np.int8]
    guard_altitude_deg: NDArray[np.float64]
    second_pass: NDArray[np.bool_]
    shut_in_by_hand: NDArray[np.bool_]
    in_span: NDArray[np.bool_]


def resolve_settings(sites: Sequence[SiteFile], dates: Times) -> DailySettings:
    """Return the settings of sites for each date [datetime64[D]], days x sites.

    Spans are applied in the order of the file, so that the later one wins, key by key. What no span
    changes stands once and only repeats itself (`daylatch.arrays.once`).
    """
    # Houses of one keeper, or of a club, mostly share their tables of settings.
    different: dict[tuple[int, ...], int] = {}
    of_site = [
        different.setdefault(tuple(id(getattr(site, table)) for table in SETTING_TABLES), column)
        for column, site in enumerate(sites)
    ]
    shape = len(dates), len(sites)
    columns: dict[str, NDArray[Any]] = {
        name: repeated(value, shape)
        for name, value in (
            ("shut", np.False_),
            ("open.fixed", NO_TIME),
            ("close.fixed", NO_TIME),
            ("in_span", np.False_),
        )
    }
    row_of = {column: row for row, column in enumerate(different.values())}
    place = [row_of[column] for column in of_site]
    for table in SETTING_TABLES:
        tables = [getattr(sites[column], table) for column in row_of]
        for key in type(tables[0]).model_fields:
            values = np.array([_value(key, getattr(settings, key)) for settings in tables])
            # As numbers, since no time is not equal to no time.
            plain = values.view(np.int64) if values.dtype.kind == "m" else values
            columns[f"{table}.{key}"] = (
                np.broadcast_to(values[place], shape)
                if (plain != plain[0]).any()
                else repeated(values[0], shape)
            )
    for column, site in enumerate(sites):
        for span in site.spans:
            covered = span.covered(dates)
            changes = dict(span.changes())
            if not span.is_of_people_only:
                changes["in_span"] = True
            for name, value in changes.items():
                if not columns[name].flags.writeable:
                    columns[name] = columns[name].copy()
                columns[name][covered, column] = _value(name.split(".")[-1], value)
    return DailySettings(
        open=_side(columns, "open"),
        close=_side(columns, "close"),
        shut=columns["shut"],
        least_open=columns["day.least_open_h"],
        least_night=columns["night.least_h"],
        head_count=columns["head_count.after_close_min"],
        widen=columns["day.widen"],
        lengthen=columns["night.lengthen"],
        guard_altitude_deg=columns["day.guard"],
        second_pass=columns["head_count.second_pass"],
        shut_in_by_hand=columns["close.shut_in_by_hand"],
        in_span=columns["in_span"],
    )


def spans_on(site: SiteFile, date: dt.date) -> list[Span]:
    """Return the spans that touch a date, in the order of the file."""
    return [span for span in site.spans if span.covers(date)]


def _side(columns: dict[str, NDArray[Any]], side: str) -> SideSettings:
    return SideSettings(
        altitude_deg=columns[f"{side}.light"],
        offset=columns[f"{side}.offset_min"],
        not_before=columns[f"{side}.not_before"],
        not_after=columns[f"{side}.not_after"],
        fallback=columns[f"{side}.fallback"],
        dark_fallback=columns[f"{side}.dark_fallback"],
        fixed=columns[f"{side}.fixed"],
    )


@lru_cache(maxsize=4096)
def _value(key: str, value: Any) -> Any:
    """Return a setting as it stands in a column."""
    if key in {"light", "guard"}:
        return altitude_of(value)
    if key.endswith("_h"):
        return np.timedelta64(round(value * 60), "m")
    if key.endswith("_min"):
        return np.timedelta64(value, "m")
    match value:
        case None:
            return NO_TIME
        case WallTime():
            return np.timedelta64(value.minutes, "m")
        case Widen():
            return np.int8(WIDEN.index(value))
        case Lengthen():
            return np.int8(LENGTHEN.index(value))
    return value
