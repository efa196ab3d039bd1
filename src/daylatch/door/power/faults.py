"""What is missing or cannot be in the tables of power, each with its remedy."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.door.power.light.on_panel import clear_level, clear_light
from daylatch.door.power.light.sun_year import month_means
from daylatch.site.choices.battery_kinds import CELL_V, CELL_WH
from daylatch.site.messages import show_value
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.door.power.light.on_panel import Light, Stand
    from daylatch.site.battery import Battery, Load
    from daylatch.site.panel import Panel
    from daylatch.site.tables import SiteFile

    Floats = NDArray[np.float64]

_MJ_PER_KWH = 3.6
_MONTH_DAYS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MORE_THAN_CLEAR, _SPARE_KWH = 1.25, 0.2
"""What no month's mean exceeds: so many times a cloudless sky's light and so much more (this
program's choice, no source; Haurwitz's sky is meant for low places and a high Sun)."""
_MORE_BEHIND = 1.1
"""From which ratio on a panel that faced the other way would plainly get more (this program's
choice, no source)."""


class Fault(NamedTuple):
    """Something that is missing or cannot be.

    Attributes
    ----------
    path : tuple of str
        The key.
    found : str
        The value; empty if something is missing.
    remedy : str
        What would be right.
    """

    path: tuple[str, ...]
    found: str
    remedy: str


def missing(settings: SiteFile) -> Iterator[Fault]:
    """Yield what is missing before anything can be reckoned, or does not go together."""
    yield from _of_load(settings.load, settings.battery)
    yield from _of_battery(settings.battery)
    if settings.panel is not None:
        yield from _of_panel(settings.panel, settings.battery)


def _of_load(load: Load | None, battery: Battery | None) -> Iterator[Fault]:
    if load is None:
        yield Fault(
            ("load",),
            "",
            "is missing: add [load] with what the door draws, such as voltage_v = 12, "
            "current_a = 0.6, movement_s = 20 and standby_ma = 1",
        )
        return
    for key, example, more in (
        ("current_a", "0.6", ""),
        ("movement_s", "20", ""),
        ("standby_ma", "3", "; it mostly decides: measure it, and write 0 only if nothing draws"),
    ):
        if getattr(load, key) is None:
            yield Fault(
                ("load", key), "", f"is missing: write {key} = {example}, say, under [load]{more}"
            )
    if load.voltage_v is None and (battery is None or battery.voltage_v is None):
        example = "12, say,"
        if battery is not None and battery.cells is not None and battery.kind in CELL_V:
            volts = battery.cells * CELL_V[battery.kind]
            example = f"{volts:g} (if the {battery.cells} cells are in one row)"
        yield Fault(
            ("load", "voltage_v"), "", f"is missing: write voltage_v = {example} under [load]"
        )
    radio = {"radio_ma": load.radio_ma, "radio_min_day": load.radio_min_day}
    if None in radio.values() and any(value is not None for value in radio.values()):
        lacking = next(key for key, value in radio.items() if value is None)
        given = next(key for key, value in radio.items() if value is not None)
        yield Fault(
            ("load", given), f"{radio[given]:g}", f"needs {lacking} beside it, or take it out"
        )


def _of_battery(battery: Battery | None) -> Iterator[Fault]:
    if battery is None:
        yield Fault(
            ("battery",),
            "",
            'is missing: add [battery] with its kind and what it holds, such as kind = "lead" and '
            "capacity_wh = 84",
        )
    elif battery.full_wh is None:
        yield from _of_capacity(battery)


def _of_capacity(battery: Battery) -> Iterator[Fault]:
    if battery.capacity_ah is not None:
        yield Fault(
            ("battery", "capacity_ah"),
            f"{battery.capacity_ah:g}",
            "needs voltage_v beside it, such as voltage_v = 12",
        )
    elif battery.cells is not None and battery.cell is not None:
        yield Fault(
            ("battery", "kind"),
            show_value(battery.kind),
            f"what {battery.cell} cells hold is known of {listed([*CELL_WH], 'or')} only: write "
            "one of these as kind, or give capacity_wh instead of cells",
        )
    elif battery.cells is not None or battery.cell is not None:
        given, lacking = ("cells", 'cell = "AA"') if battery.cell is None else ("cell", "cells = 4")
        yield Fault(
            ("battery", given),
            show_value(getattr(battery, given)),
            f"needs the other beside it, such as {lacking}",
        )
    else:
        yield Fault(
            ("battery", "capacity_wh"),
            "",
            "is missing: say what the battery holds, such as capacity_wh = 84, or capacity_ah = 7 "
            'with voltage_v = 12, or cells = 4 with cell = "AA"',
        )


def _of_panel(panel: Panel, battery: Battery | None) -> Iterator[Fault]:
    if panel.tilt is None:
        yield Fault(
            ("panel", "tilt"),
            "",
            "is missing: write how steep it stands, from 0 (flat) to 90 (upright)",
        )
    if panel.watts is not None and battery is not None and not battery.facts.is_rechargeable:
        yield Fault(
            ("battery", "kind"),
            show_value(battery.kind),
            "must never be charged: such cells leak or burst. Take them away from the panel, or "
            "use cells that can be charged",
        )


def too_bright(panel: Panel, stand: Stand) -> Iterator[Fault]:
    """Yield months that are brighter than a cloudless sky could make them, with other readings."""
    tables = (
        ("plane_kwh_m2_day", panel.plane_kwh_m2_day, clear_light, "on this plane"),
        ("horizontal_kwh_m2_day", panel.horizontal_kwh_m2_day, _level, "on the level"),
    )
    for key, months, clear_of, where in tables:
        if months is None:
            continue
        clear = month_means(clear_of(stand.with_skyline(None)))
        most = _MORE_THAN_CLEAR * clear + _SPARE_KWH
        wrong = np.flatnonzero(np.array(months) > most)
        if wrong.size:
            worst = int(wrong[np.argmax(np.array(months)[wrong] / most[wrong])])
            value, name = months[worst], month_name[worst + 1]
            yield Fault(
                ("panel", key),
                f"{value:g} in {name}",
                f"a cloudless sky gives {clear[worst]:.2g} kWh/m² a day {where} then. If the table "
                f"is in MJ/m² a day, that is {value / _MJ_PER_KWH:.2f}; if in kWh/m² a month, "
                f"{value / _MONTH_DAYS[worst]:.2f}: write kWh/m² a day",
            )


def _level(stand: Stand) -> Floats:
    return clear_level(stand.sun)


def without_warmth(battery: Battery, light: Light | None) -> Iterator[Fault]:
    """Yield that nothing is known of frost, for a battery that must not be charged in it."""
    is_known = light is not None and light.temperature_c is not None
    if not battery.facts.charges_in_frost and battery.temperature_c is None and not is_known:
        yield Fault(
            ("battery", "temperature_c"),
            "",
            f"is missing: {battery.facts.words} must not be charged below 0 °C, so write how warm "
            "it is where it stands, the mean of each month, January to December, or give a file of "
            "light with the air's temperature",
        )


def too_bright_file(stand: Stand, level: Floats) -> Iterator[Fault]:
    """Yield that a file's months are brighter on the level than a cloudless sky could make them.

    Parameters
    ----------
    stand
        Where the panel stands.
    level
        Its light on the level by month [kWh/m² a day].
    """
    clear = month_means(_level(stand))
    wrong = np.flatnonzero(level > _MORE_THAN_CLEAR * clear + _SPARE_KWH)
    if wrong.size:
        worst = int(wrong[np.argmax(level[wrong] / (clear[wrong] + _SPARE_KWH))])
        yield Fault(
            ("panel", "light_file"),
            "",
            f"has {level[worst]:.2f} kWh/m² a day on the level in {month_name[worst + 1]}, and a "
            f"cloudless sky gives {clear[worst]:.2g} there then: get the file anew, for this "
            "place, in kWh/m²",
        )


def faces_away(stand: Stand) -> Iterator[Fault]:
    """Yield that a panel would get plainly more light if it faced the other way."""
    facing = stand.plane.azimuth_deg
    other = (facing + 180) % 360
    bare = stand.with_skyline(None)
    got, would = (float(clear_light(one).sum()) for one in (bare, bare.facing(other)))
    if would > _MORE_BEHIND * got:
        yield Fault(
            ("panel", "azimuth"),
            f"{facing:g}",
            f"faces away from the Sun: a cloudless year brings it {got:.0f} kWh/m², and "
            f"{would:.0f} if it faced {other:g}. Azimuths count clockwise from true "
            "north here (90 east, 180 south, 270 west); counted from south, add 180",
        )
