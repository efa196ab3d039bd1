"""Putting a door's power together, from what its site file says and what lies beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.battery import MOST_SUNLESS_DAYS, Store
from daylatch.door.power.demand import demand_of
from daylatch.door.power.light.on_panel import (
    Stand,
    from_clear_sky,
    from_hours,
    from_level,
    from_months,
    from_plane,
)
from daylatch.door.power.light.plane import Plane
from daylatch.door.power.light.sun_year import MONTH_OF_DAY
from daylatch.door.power.light.typical_year import TypicalYear
from daylatch.door.power.power import Power, Seen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.door.power.light.light_file import MonthlyLight
    from daylatch.door.power.light.on_panel import Light
    from daylatch.plan.due import Due
    from daylatch.site.battery import Battery
    from daylatch.site.panel import Panel
    from daylatch.site.tables import Site, SiteFile

    Floats = NDArray[np.float64]

ASSUMED_C = 0.0
"""How cold a battery is taken to be if nobody says (this program's choice, a cautious one)."""
_SOUTH_DEG, _NORTH_DEG = 180.0, 0.0


def make_power(
    due: Due,
    stand: Stand | None,
    light_file: TypicalYear | MonthlyLight | None = None,
    seen: Seen | None = None,
) -> Power:
    """Return how a door's battery fares on the dates of a plan.

    Parameters
    ----------
    due
        When the door moves; its site has all that `faults.missing` asks for.
    stand
        How its panel stands; None if it has none.
    light_file
        What the file says that the site names, if it names one.
    seen
        Voltages from the diary.
    """
    settings = due.plan.site.settings
    battery, load = settings.battery, settings.load
    assert battery is not None
    assert load is not None
    full, volts, facts = battery.full_wh, voltage_of(settings), battery.facts
    assert full is not None
    assert volts is not None
    light = None if stand is None else _light(stand, settings.panel, light_file)
    demand = demand_of(load, volts, due)
    return Power(
        due,
        battery,
        Store(full, facts.charge_efficiency, facts.self_discharge_month, facts.cut_off),
        demand,
        light,
        stand,
        None if settings.panel is None else settings.panel.watts,
        np.append(demand.wanted_wh, np.full(MOST_SUNLESS_DAYS, demand.most_wh)),
        _temperatures(battery, light),
        seen or Seen(np.array([], "datetime64[s]"), np.array([])),
    )


def voltage_of(settings: SiteFile) -> float | None:
    """Return at which voltage a door draws its currents [V]: its own, or the battery's."""
    load, battery = settings.load, settings.battery
    if load is not None and load.voltage_v is not None:
        return load.voltage_v
    return None if battery is None else battery.voltage_v


def stand_of(site: Site) -> Stand | None:
    """Return how a site's panel stands, with no skyline yet; None if it has none."""
    panel = site.settings.panel
    if panel is None or panel.tilt is None:
        return None
    plane = Plane(panel.tilt, azimuth_of(panel, site.latitude_deg), panel.albedo)
    return Stand.at(site.latitude_deg, site.longitude_deg, plane, None)


def azimuth_of(panel: Panel, latitude_deg: float) -> float:
    """Return where a panel faces; towards the midday Sun if that is not said."""
    if panel.azimuth is not None:
        return panel.azimuth
    return _SOUTH_DEG if latitude_deg >= 0 else _NORTH_DEG


def _light(stand: Stand, panel: Panel | None, file: TypicalYear | MonthlyLight | None) -> Light:
    """Return the light of a panel, by what the keeper gave."""
    if isinstance(file, TypicalYear):
        return from_hours(stand, file)
    if file is not None:
        return from_months(stand, file)
    if panel is not None and panel.plane_kwh_m2_day is not None:
        return from_plane(stand, _months(panel.plane_kwh_m2_day))
    if panel is not None and panel.horizontal_kwh_m2_day is not None:
        return from_level(stand, _months(panel.horizontal_kwh_m2_day))
    return from_clear_sky(stand)


def _months(values: Sequence[float]) -> Floats:
    return np.array(values, np.float64)


def _temperatures(battery: Battery, light: Light | None) -> Floats:
    """Return how warm the battery is on each day of a year: by the keeper, by the file, or cold."""
    if battery.temperature_c is not None:
        return _months(battery.temperature_c)[MONTH_OF_DAY]
    if light is not None and light.temperature_c is not None:
        return light.temperature_c
    return np.full(len(MONTH_OF_DAY), ASSUMED_C)
