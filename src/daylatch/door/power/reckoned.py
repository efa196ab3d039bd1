"""How a door's power was reckoned: what was drawn, brought and assumed, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.door.power.battery import usable_share
from daylatch.door.power.light.on_panel import Source
from daylatch.door.power.make import ASSUMED_C, voltage_of
from daylatch.door.power.sizing import handbook_wh
from daylatch.door.power.words import wh_text
from daylatch.site.choices.battery_kinds import BATTERY_KINDS, CELL_WH
from daylatch.wording import days_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.power.power import Power

_LEAD = "lead"
DULL_DAYS = (
    "light by month says nothing of dull days in a row: the worst 3, 5, 7 and 10 days of a typical "
    "year at 45 N brought .11, .14, .23 and .30 of their month's mean, so mind the days without sun"
)
"""What is said of light by month: `bench/bench_power.py`, a plane tilted 60° at 45 N 8 E."""


def reckoned(power: Power) -> Iterator[tuple[str, str]]:
    """Yield how it was reckoned, line by line with labels."""
    yield "Door", _door(power)
    yield "Battery", _battery(power)
    yield "Cold", _cold(power)
    if power.light is not None:
        if power.watts is not None:
            yield "Panel", _panel(power)
        yield "Light", _light(power)
        if power.light.source is not Source.TYPICAL_YEAR:
            yield "Dull days", DULL_DAYS
    if power.battery.kind == _LEAD:
        yield "Handbook", _handbook(power)
    yield "Left out", _left_out(power)


def _door(power: Power) -> str:
    demand, load = power.demand, power.site.settings.load
    assert load is not None
    volts = voltage_of(power.site.settings)
    text = (
        f"{wh_text(demand.movement_wh)} a movement ({volts:g} V x {load.current_a:g} A x "
        f"{load.movement_s:g} s), {int(demand.movements.sum())} movements by its due times"
    )
    shut = int((demand.movements == 0).sum())
    if shut:
        text += f" (none on {days_text(shut)} on which it stays shut)"
    text += f"; standby {wh_text(demand.standby_wh)} a day"
    if demand.radio_wh:
        text += f"; radio {wh_text(demand.radio_wh)} a day"
    return text


def _battery(power: Power) -> str:
    battery, store = power.battery, power.store
    kind = BATTERY_KINDS[battery.kind]
    text = f"{kind.words}, {wh_text(store.full_wh)}"
    if battery.cells is not None and battery.cell is not None:
        each = CELL_WH[battery.kind][battery.cell]
        text += f" ({each:g} Wh a cell, typical, from memory)"
    if kind.is_rechargeable:
        text += f"; it keeps {100 * store.kept:g} % of what is brought to it"
    text += (
        f"; it loses {100 * store.lost_a_month:g} % a month by itself; the door stops under "
        f"{100 * store.cut_off:g} % of full; {100 * battery.starts:g} % full at first"
    )
    usual = ("charge_efficiency", "self_discharge_month", "cut_off")
    assumed = [key for key in usual if getattr(battery, key) is None]
    if not kind.is_rechargeable and "charge_efficiency" in assumed:
        assumed.remove("charge_efficiency")
    if assumed:
        text += f" ({', '.join(assumed)}: usual for its kind, common practice, no source)"
    return text


def _cold(power: Power) -> str:
    light, battery = power.light, power.battery
    coldest = float(power.temperature_c.min())
    lost = 100 * (1 - float(usable_share(power.temperature_c.min())))
    text = (
        "of its capacity at 25 °C, 16 % cannot be had at 0 °C, in a straight line (data sheets of "
        "small lead-acid batteries at a slow discharge, taken for every kind); at "
        f"{coldest:.0f} °C, the coldest day here, {lost:.0f} %"
    )
    if battery.temperature_c is None:
        if light is not None and light.temperature_c is not None:
            text += "; temperatures of the air by the file of light"
        else:
            text += f"; {ASSUMED_C:g} °C was assumed all along: give temperature_c by month"
    if not battery.facts.charges_in_frost:
        text += "; it is never charged below 0 °C"
        if light is not None and light.warm_share is not None and battery.temperature_c is None:
            text += ", hour by hour"
        else:
            text += ", by the mean of the month: frost of single hours is not known"
    return text


def _panel(power: Power) -> str:
    panel, stand = power.site.settings.panel, power.stand
    assert panel is not None
    assert stand is not None
    text = f"{power.watts:g} W, " + (
        "lying flat" if not stand.plane.tilt_deg else f"tilted {stand.plane.tilt_deg:g}° from flat"
    )
    if stand.plane.tilt_deg:
        text += f", facing {stand.plane.azimuth_deg:g}° from north"
    if stand.plane.tilt_deg and panel.azimuth is None:
        text += " (the side of the midday Sun, since no azimuth is given)"
    shaded = ", shaded by the skyline" if stand.skyline is not None else ""
    return f"{text}; {100 * panel.performance:g} % of its watts reach the battery{shaded}"


def _light(power: Power) -> str:
    light = power.light
    assert light is not None
    match light.source:
        case Source.CLEAR_SKY:
            return (
                "of a cloudless sky all along (Haurwitz), since none is given: an UPPER BOUND that "
                "no winter reaches. Give plane_kwh_m2_day, horizontal_kwh_m2_day or light_file "
                "under [panel] before you trust any of this"
            )
        case Source.TYPICAL_YEAR:
            return "hour by hour of a typical year, by the file: its dull days are in it"
        case Source.PLANE:
            text = "the table by month, on the panel's own plane"
        case Source.HORIZONTAL:
            text = "the table by month on the level, turned onto the panel's plane"
        case Source.MONTHS:
            text = "months of several years, by the file"
    if light.has_range:
        text += (
            "; how much of it is diffuse is not known, so there is a range: trust the lower end, "
            "which everything here is reckoned by. The upper end is right in sunny months and far "
            "too bright in a dull winter"
        )
    return text


def _handbook(power: Power) -> str:
    daily, days = float(power.wanted.max()), power.battery.reserve_days
    coldest = float(power.temperature_c.min())
    wanted = handbook_wh(daily, days, 1 - power.store.cut_off, coldest)
    return (
        f"{days_text(days)} of {wh_text(daily)} by the rule of a handbook for lead-acid "
        f"batteries, with its larger loss in the cold: {wh_text(wanted)}"
    )


def _left_out(power: Power) -> str:
    if power.watts is None:
        return "age, and what a converter between battery and door loses"
    return (
        "the Moon, whose light is less than a hundred-thousandth of the Sun's; and the weather of "
        "these very dates, which nobody knows: the light is that of usual or typical months"
    )
