"""Day length and lamp as CSV (RFC 4180), a row a flock day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.daylength.daylength import NATURAL_DAYS
from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, minutes_text, to_minutes, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.daylength.daylength import DayLengths, Daylight
    from daylatch.birds.daylength.lamp import Lamp
    from daylatch.files.occasion import Occasion


_LAMP_TIMES = tuple(
    f"lamp{turn}_{side}_{clock}"
    for turn in ("", "_2")
    for side in ("on", "off")
    for clock in ("local", "utc")
)
HEADER = (
    "date",
    *(
        column
        for day in NATURAL_DAYS.values()
        for column in (f"{day.begins}_utc", f"{day.ends}_utc", f"{day.name}_min", day.state)
    ),
    "lacking_min",
    "target_min",
    *_LAMP_TIMES,
    "with_lamp_min",
    "before_opening_min",
    "after_closing_min",
    "zone",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)


def render(lengths: DayLengths, lamp: Lamp | None, occasion: Occasion) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601 with their distance from UTC.

    Without a lamp, the columns about it are empty. The cautions stand in the first row alone.
    """
    plan = lengths.plan
    caution = CAUTION if lamp is None else f"{CAUTION} {LAMP_CAUTION}"
    columns = zip(
        map(str, plan.dates),
        *(column for daylight in lengths.by.values() for column in _natural(daylight)),
        lacking_text(lengths),
        *_lamp(lengths, lamp),
        strict=True,
    )
    fixed = (plan.site.zone, zone_rules_version())
    return lay_out(HEADER, ((*row, *fixed) for row in columns), caution)


def state_text(daylight: Daylight) -> list[str]:
    """Return for each day whether the Sun stays above (``up``) or below (``down``); else empty."""
    return [
        "up" if up else "down" if down else ""
        for up, down in zip(daylight.always_up, daylight.always_down, strict=True)
    ]


def lacking_text(lengths: DayLengths) -> list[str]:
    """Return what each day lacks of the wanted length, in whole minutes rounded up."""
    return minutes_text(-((-lengths.lacking).astype("timedelta64[m]")))


def _natural(daylight: Daylight) -> Iterator[list[str]]:
    yield utc_text(daylight.rising)
    yield utc_text(daylight.setting)
    yield minutes_text(to_minutes(daylight.length))
    yield state_text(daylight)


def _lamp(lengths: DayLengths, lamp: Lamp | None) -> Iterator[list[str]]:
    plan = lengths.plan
    if lamp is None:
        yield from ([""] * len(plan) for _ in range(len(_LAMP_TIMES) + 4))
        return
    yield minutes_text(to_minutes(lamp.target))
    for turn in (0, 1):
        for column in (lamp.on_utc[turn], lamp.off_utc[turn]):
            yield local_text(plan.on_wall(column))
            yield utc_text(column)
    yield minutes_text(to_minutes(lamp.length))
    yield minutes_text(lamp.before_opening)
    yield minutes_text(lamp.after_closing)
