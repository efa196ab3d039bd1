"""Likely slips in a site's place: things that are possible but seldom meant."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.clock import zone_landmark
from daylatch.site.choices.calendar_styles import STYLES
from daylatch.site.tables import ZoneSource

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.clock import WallTime, Zone
    from daylatch.site.tables import SiteFile

# A place this far from the place its zone is named after is looked at twice, and a remedy must
# bring it this near. The largest zones reach some 25 degrees to a side.
_FAR_DEG = 25.0
_NEAR_DEG = 15.0
# Four hours between a zone and its longitude: no inhabited place has more than about 3 1/2.
_MOST_HOURS_FROM_LONGITUDE = 4.0
_MOST_OVERLAPS = 8
AT_SEA = (
    "this place lies at sea or in no country: check the signs (west and south are negative) and "
    "the order, or add the zone"
)
"""What is said of coordinates that lie in no country's zone."""
# A date of a recent year, for the zone's standard time.
_SAMPLE_DATES = np.array(["2026-01-01"], "datetime64[D]")


def is_at_sea(zone: str | None) -> bool:
    """Return whether a zone that was found from coordinates is that of no country."""
    return zone is not None and zone.startswith("Etc/")


def nominal_minutes(longitude_deg: float, zone: Zone) -> int:
    """Return about when the Sun stands highest, in minutes of the zone's standard time."""
    standard = int(zone.standard_offset(_SAMPLE_DATES)[0].astype(int))
    return round(720 + standard - 4.0 * longitude_deg)


def minutes_near(time: WallTime, middle: int) -> int:
    """Return the time's occurrence nearest to a minute of the day, as minutes."""
    return int(time.minutes - DAY_MIN * math.floor((time.minutes - middle) / DAY_MIN + 0.5))


def likely_slips(
    settings: SiteFile, latitude_deg: float, longitude_deg: float, zone: str, source: ZoneSource
) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Yield the key, the value found and the remedy of each likely slip."""
    from daylatch.clock import get_zone  # noqa: PLC0415

    given = f"{latitude_deg:g}, {longitude_deg:g}"
    if source is ZoneSource.COORDINATES and is_at_sea(zone):
        yield (
            ("place", "latitude"),
            given,
            AT_SEA,
        )
    elif source is ZoneSource.FILE:
        remedy = _misplaced(latitude_deg, longitude_deg, zone)
        hours = (nominal_minutes(longitude_deg, get_zone(zone)) - 720) / 60
        if remedy:
            yield ("place", "latitude"), given, f"is far from {zone}: {remedy}"
        elif abs((hours + 12) % 24 - 12) > _MOST_HOURS_FROM_LONGITUDE:
            yield (
                ("place", "zone"),
                f'"{zone}"',
                f"is {abs(hours):.0f} h from the time of longitude {longitude_deg:g}: check the "
                "longitude's sign (west is negative), or leave the zone out to have it found",
            )
    yield from _overlaps(settings)
    yield from _unheard_reminder(settings)


def _misplaced(latitude_deg: float, longitude_deg: float, zone: str) -> str:
    """Return the remedy that brings a place far from its zone near to it, or nothing."""
    landmark = zone_landmark(zone)
    if landmark is None or _distance_deg((latitude_deg, longitude_deg), landmark) < _FAR_DEG:
        return ""
    remedies = {
        "swap latitude and longitude": (longitude_deg, latitude_deg),
        "the longitude seems to have lost its sign": (latitude_deg, -longitude_deg),
        "the latitude seems to have lost its sign": (-latitude_deg, longitude_deg),
        "both signs seem to be lost": (-latitude_deg, -longitude_deg),
    }
    # Near the 180th meridian several would do: the one that brings it nearest is meant.
    distance, remedy = min(
        (_distance_deg(place, landmark), remedy)
        for remedy, place in remedies.items()
        if abs(place[0]) <= 90
    )
    return remedy if distance < _NEAR_DEG else ""


def _distance_deg(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the angle between two places."""
    lat_a, lon_a, lat_b, lon_b = map(math.radians, (*a, *b))
    cosine = math.sin(lat_a) * math.sin(lat_b)
    cosine += math.cos(lat_a) * math.cos(lat_b) * math.cos(lon_a - lon_b)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _overlaps(settings: SiteFile) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Yield spans that share dates and set the same thing, where the later one wins."""
    spans = list(enumerate(settings.spans))
    told = 0
    for later, span in spans:
        for earlier, other in spans[:later]:
            if not span.touches(other.first, other.last):
                continue
            keys = {key for key, _ in span.changes()} & {key for key, _ in other.changes()}
            first, last = max(span.first, other.first), min(span.last, other.last)
            told += bool(keys) or span.shut or other.shut
            if told > _MOST_OVERLAPS:
                yield ("span", later, "from"), str(span.first), "and more spans share dates"
                return
            dates = f"{first}" if first == last else f"{first} to {last}"
            found = ("span", later, "from"), str(span.first)
            if keys:
                decides = ", ".join(sorted(keys))
                yield (
                    *found,
                    f"shares {dates} with span {earlier + 1}; there this later span decides "
                    f"{decides}",
                )
            elif span.shut or other.shut:
                yield (
                    *found,
                    f"shares {dates} with span {earlier + 1}; there the door stays shut",
                )


def _unheard_reminder(settings: SiteFile) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Yield a reminder that the calendar's style has no place for."""
    calendar = settings.calendar
    if not STYLES[calendar.style].is_timed and calendar.reminder_min is not None:
        yield (
            ("calendar", "reminder_min"),
            str(calendar.reminder_min),
            f'has no effect with style = "{calendar.style}", whose entries last all day: drop one '
            "of them",
        )
