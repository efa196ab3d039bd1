"""A door's power as CSV (RFC 4180), a row a date."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION, POWER_CAUTION
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.door.power.power import Power

    Floats = NDArray[np.float64]

HEADER = (
    "date",
    "plane_kwh_m2",
    "plane_high_kwh_m2",
    "in_wh",
    "stored_wh",
    "wanted_wh",
    "out_wh",
    "lost_wh",
    "charge_wh",
    "floor_wh",
    "charge_high_wh",
    "temperature_c",
    "works",
    "days_without_sun",
    "caution",
)
wrote = header_is(HEADER)


def render(power: Power) -> bytes:
    """Return the file: UTF-8, CRLF; columns that say nothing of a battery alone are empty."""
    course, high, light = power.course, power.high_course, power.light
    empty = [""] * len(power.dates)
    columns = (
        map(str, power.dates),
        empty if light is None else _texts(light.low[power.rows], 3),
        empty if light is None else _texts(light.high[power.rows], 3),
        _texts(power.brought, 4),
        _texts(course.stored_wh, 4),
        _texts(power.wanted, 4),
        _texts(course.drawn_wh, 4),
        _texts(course.lost_wh, 4),
        _texts(course.charge_wh, 3),
        _texts(power.floor, 3),
        empty if high is None else _texts(high.charge_wh, 3),
        _texts(power.temperature_c, 1),
        np.where(course.works, "yes", "no").tolist(),
        power.lasts_days.tolist(),
    )
    return lay_out(HEADER, zip(*columns, strict=True), f"{CAUTION} {POWER_CAUTION}")


def _texts(values: Floats, places: int) -> list[str]:
    return [f"{value:.{places}f}" for value in values.tolist()]
