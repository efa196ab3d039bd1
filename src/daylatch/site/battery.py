"""The tables of the site file that say what the door's battery is, and what draws from it.

The watch needs its low voltage, `daylatch power` the rest.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field, model_validator

from daylatch.site.choices.battery_kinds import (
    BATTERY_KINDS,
    CELL_SIZES,
    CELL_WH,
    BatteryKind,
    list_battery_kinds,
)
from daylatch.site.table import Table, one_of
from daylatch.site.values.shares import CelsiusByMonth, Share, ends_of, given_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

RESERVE_DAYS = 10
"""How many days without any sun a battery should last (this program's choice, no source)."""
_CAPACITIES = ("capacity_wh", "capacity_ah", "cells")

_TOLD = {
    "kind": lambda name: BATTERY_KINDS[name].words,
    "capacity_wh": "it holds {:g} Wh".format,
    "capacity_ah": "it holds {:g} Ah".format,
    "voltage_v": "{:g} V".format,
    "cells": "{} cells".format,
    "cell": "cells of size {}".format,
    "charge_efficiency": "it keeps {:.4g} of what is brought to it".format,
    "self_discharge_month": "it loses {:.4g} of its charge a month by itself".format,
    "cut_off": "the door stops under {:.4g} of full".format,
    "starts": "it is {:.4g} full on the first date".format,
    "temperature_c": lambda year: f"it is at {ends_of(year)} °C by month",
    "reserve_days": "it should last {} days without any sun".format,
    "low_v": "low below {:g} V".format,
}

_Milliamperes = Annotated[float, Field(ge=0, le=100_000)]

_TOLD_LOAD = {
    "voltage_v": "the door runs at {:g} V".format,
    "current_a": "its motor draws {:g} A".format,
    "movement_s": "a movement takes {:g} s".format,
    "standby_ma": "it draws {:g} mA all the time".format,
    "radio_ma": "a radio draws {:g} mA".format,
    "radio_min_day": "a radio is on for {:g} min a day".format,
}


def _no_voltage(value: Any) -> Any:
    """Refuse what is no share, and may be meant in volts."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if is_number and value > 1:
        raise ValueError(
            "is a share of full, so it is under 1: write 0.2 for 20 %; a voltage, for the watch, "
            "is low_v"
        )
    return value


class Battery(Table):
    """What the door's battery is."""

    ABOUT: ClassVar[str] = (
        "The door's battery: low_v is for the watch, the rest for `daylatch power`. Give what it "
        "holds once: capacity_wh, or capacity_ah with voltage_v, or cells with cell. A battery "
        "can burn, burst or leak: follow its data sheet, local electrical codes and a licensed "
        "practitioner."
    )

    low_v: Annotated[float, Field(gt=0, le=100)] | None = Field(
        None, description="Below which voltage the watch speaks up [V]."
    )
    kind: Annotated[str, *one_of(BATTERY_KINDS)] = Field(
        "lead", description=f"What it is: {list_battery_kinds()}."
    )
    capacity_wh: Annotated[float, Field(gt=0, le=1_000_000)] | None = Field(
        None, description="What it holds when it is full, at a slow discharge and 25 °C [Wh]."
    )
    capacity_ah: Annotated[float, Field(gt=0, le=100_000)] | None = Field(
        None, description="Instead: the same in ampere-hours, with voltage_v [Ah]."
    )
    voltage_v: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Its nominal voltage [V]."
    )
    cells: Annotated[int, Field(ge=1, le=1000)] | None = Field(
        None, description="Instead: how many round cells it is made of, with cell."
    )
    cell: Annotated[str, *one_of(CELL_SIZES)] | None = Field(
        None,
        description="Their size; what such cells hold is taken as typical (from memory, no source: "
        "an alkaline AA 3 Wh).",
    )
    charge_efficiency: Annotated[Share, Field(gt=0)] | None = Field(
        None,
        description="Which share of what is brought to it it keeps; by its kind if left out "
        "(lead 0.85, lithium 0.95, nickel metal hydride 0.7; common practice, no source).",
    )
    self_discharge_month: Annotated[Share, Field(lt=1)] | None = Field(
        None,
        description="Which share of its charge it loses in a month by itself; by its kind if left "
        "out (lead 0.04, lithium 0.03, nickel metal hydride 0.2, alkaline 0.003; common practice, "
        "no source).",
    )
    cut_off: Annotated[Share, BeforeValidator(_no_voltage), Field(lt=1)] | None = Field(
        None,
        description="Under which share of full the door stops; by its kind if left out (lead 0.5, "
        "nickel metal hydride 0.1, others 0.2; common practice, no source).",
    )
    starts: Share = Field(1.0, description="How full it is on the first date, as a share of full.")
    temperature_c: CelsiusByMonth | None = Field(
        None,
        description="How warm it is where the battery is, the mean of each month, January to "
        "December [°C]; if left out, that of the file of light, else 0; for lithium one of both "
        "must be known.",
    )
    reserve_days: Annotated[int, Field(ge=0, le=366)] = Field(
        RESERVE_DAYS,
        description="How many days without any sun it should last (this program's choice, no "
        "source).",
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        cold, warm = around.climate.coldest_c, around.climate.warmest_c
        year = [0.0, 0.05, 0.25, 0.45, 0.7, 0.9, 1.0, 0.95, 0.75, 0.5, 0.25, 0.1]
        if around.latitude_deg < 0:
            year = year[6:] + year[:6]
        # Means lie well within the extremes.
        low, high = cold + 0.3 * (warm - cold), warm - 0.3 * (warm - cold)
        return {
            "low_v": 11.8,
            "capacity_wh": 84,
            "capacity_ah": 7,
            "voltage_v": 12,
            "cells": 8,
            "cell": "AA",
            "charge_efficiency": 0.85,
            "self_discharge_month": 0.04,
            "cut_off": 0.5,
            "temperature_c": [round(low + share * (high - low)) for share in year],
        }

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from given_words(self, _TOLD)
        if self.full_wh is not None and self.capacity_wh is None:
            yield f"{self.full_wh:g} Wh in all"

    @property
    def facts(self) -> BatteryKind:
        """What is known of its kind, with what the file says instead."""
        own = {
            key: value
            for key in ("charge_efficiency", "self_discharge_month", "cut_off")
            if (value := getattr(self, key)) is not None
        }
        return BATTERY_KINDS[self.kind]._replace(**own)

    @property
    def full_wh(self) -> float | None:
        """What it holds when it is full [Wh]; None if that is not said."""
        if self.capacity_wh is not None:
            return self.capacity_wh
        if self.capacity_ah is not None and self.voltage_v is not None:
            return self.capacity_ah * self.voltage_v
        if self.cells is not None and self.cell is not None and self.kind in CELL_WH:
            return round(self.cells * CELL_WH[self.kind][self.cell], 6)
        return None

    @model_validator(mode="after")
    def _holds_once(self) -> Battery:
        given = [key for key in _CAPACITIES if getattr(self, key) is not None]
        if len(given) > 1:
            raise ValueError(f"{' and '.join(given)} say what it holds twice: keep one of them")
        return self

    @model_validator(mode="after")
    def _can_be_charged(self) -> Battery:
        if self.charge_efficiency is not None and not BATTERY_KINDS[self.kind].is_rechargeable:
            raise ValueError(
                f'charge_efficiency = {self.charge_efficiency:g} and kind = "{self.kind}": such '
                "cells must never be charged, they leak or burst: take charge_efficiency out"
            )
        return self


class Load(Table):
    """What the door draws from its battery."""

    ABOUT: ClassVar[str] = (
        "What the door draws from its battery, for `daylatch power`: read it off the data sheet, "
        "or measure it. The standby current counts all day and mostly decides."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "voltage_v": 12,
        "current_a": 0.6,
        "movement_s": 20,
        "standby_ma": 3,
        "radio_ma": 120,
        "radio_min_day": 5,
    }

    voltage_v: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="At which voltage it draws its currents [V]; the battery's if left out."
    )
    current_a: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="What the motor draws while the door moves [A]."
    )
    movement_s: Annotated[float, Field(gt=0, le=3600)] | None = Field(
        None, description="How long one movement takes [s]."
    )
    standby_ma: _Milliamperes | None = Field(
        None, description="What the electronics draw all day and night [mA]; it mostly decides."
    )
    radio_ma: _Milliamperes | None = Field(
        None, description="What a radio draws more while it is on [mA]."
    )
    radio_min_day: Annotated[float, Field(ge=0, le=1440)] | None = Field(
        None, description="How long a radio is on each day [min]."
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from given_words(self, _TOLD_LOAD)
