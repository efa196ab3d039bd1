"""A door's power as JSON; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.cautions import CAUTION, POWER_CAUTION
from daylatch.door.power.battery import MOST_SUNLESS_DAYS
from daylatch.door.power.words import verdict
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.power.battery import Course
    from daylatch.door.power.power import Power

GENERATOR = "daylatch power"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(power: Power) -> bytes:
    """Return the file: the answer, what would do, months, dates, and voltages from the diary."""
    head = head_of(power.site, GENERATOR, FORMAT)
    head["caution"] = f"{CAUTION} {POWER_CAUTION}"
    head["from"], head["until"] = str(power.dates[0]), str(power.dates[-1])
    head["words"] = verdict(power)
    head["light"] = None if power.light is None else power.light.source.value
    head["lowest"] = _lowest(power, power.course)
    head["lowest_high"] = None if power.high_course is None else _lowest(power, power.high_course)
    head["days_without_work"] = int(power.stops.sum())
    head["days_without_sun"] = power.days_without_sun
    head["days_without_sun_counted_to"] = MOST_SUNLESS_DAYS
    head["works_until"] = _until(power)
    sizing = power.sizing
    head["would_do"] = {
        "reserve_days": power.battery.reserve_days,
        "panel_w": _number(sizing.panel_w),
        "battery_wh": _number(sizing.battery_wh),
        "battery_most_wh": _number(sizing.battery_most_wh),
        "battery_at_least_wh": _number(sizing.from_full_wh),
        "battery_alone_wh": _number(sizing.alone_wh),
        "pair": sizing.pair
        and dict(zip(("battery_wh", "panel_w"), map(_number, sizing.pair), strict=True)),
    }
    demand = power.demand
    head["demand"] = {
        "movement_wh": _number(demand.movement_wh),
        "standby_wh_day": _number(demand.standby_wh),
        "radio_wh_day": _number(demand.radio_wh),
    }
    head["battery"] = {
        "kind": power.battery.kind,
        "full_wh": power.store.full_wh,
        "charge_efficiency": power.store.kept,
        "self_discharge_month": power.store.lost_a_month,
        "cut_off": power.store.cut_off,
    }
    seen = power.seen
    voltages = (
        {"instant": instant, "volts": volts}
        for instant, volts in zip(utc_text(seen.instant_utc), seen.volts.tolist(), strict=True)
    )
    return lay_out(head, {"months": _months(power), "days": _days(power), "seen": voltages})


def _lowest(power: Power, course: Course) -> dict[str, Any]:
    row = int(np.argmin(course.charge_wh))
    return {"date": str(power.dates[row]), "charge_wh": _number(course.charge_wh[row])}


def _until(power: Power) -> str | None:
    """Return the last date to which a battery lasts alone; None with a panel, and beyond count."""
    if power.watts is not None or power.until is None:
        return None
    return str(power.until)


def _months(power: Power) -> Iterator[dict[str, Any]]:
    light = power.light
    for month, rows in power.months:
        of_year = power.rows[rows]
        yield {
            "month": str(month),
            "plane_kwh_m2_day": None if light is None else _number(light.low[of_year].mean()),
            "plane_high_kwh_m2_day": None if light is None else _number(light.high[of_year].mean()),
            "in_wh_day": _number(power.brought[rows].mean()),
            "out_wh_day": _number(power.course.drawn_wh[rows].mean()),
            "lowest_charge_wh": _number(power.course.charge_wh[rows].min()),
            "days_without_work": int(power.stops[rows].sum()),
            "days_without_sun": int(power.lasts_days[rows].min()),
        }


def _days(power: Power) -> Iterator[dict[str, Any]]:
    course = power.course
    columns = zip(
        power.dates,
        power.brought,
        course.stored_wh,
        course.drawn_wh,
        course.lost_wh,
        course.charge_wh,
        course.works.tolist(),
        power.lasts_days.tolist(),
        strict=True,
    )
    for date, brought, stored, drawn, lost, charge, works, lasts in columns:
        yield {
            "date": str(date),
            "in_wh": _number(brought),
            "stored_wh": _number(stored),
            "out_wh": _number(drawn),
            "lost_wh": _number(lost),
            "charge_wh": _number(charge),
            "works": works,
            "days_without_sun": lasts,
        }


def _number(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), 4)
