"""What is said of a door's power, in sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.battery import MOST_SUNLESS_DAYS
from daylatch.door.power.sizing import rounded_down, rounded_up
from daylatch.site.choices.battery_kinds import BATTERY_KINDS
from daylatch.wording import date_ranges, days_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.power.power import Power

_MOST_RANGES = 4


def wh_text(value: float) -> str:
    """Return an amount in watt-hours."""
    return f"{value:.3g} Wh" if value < 1000 else f"{value:.0f} Wh"


def size_text(value: float, unit: str) -> str:
    """Return a size that would do, rounded up."""
    return f"{rounded_up(value):g} {unit}"


def lasts_text(count: int) -> str:
    """Return for how many days a battery lasts; they are counted up to a bound."""
    return f"over {MOST_SUNLESS_DAYS} days" if count >= MOST_SUNLESS_DAYS else days_text(count)


def percent_text(power: Power, charge_wh: float) -> str:
    """Return a charge as a share of full."""
    return f"{100 * charge_wh / power.store.full_wh:.0f} %"


def battery_name(power: Power) -> str:
    """Return what the battery is called in a sentence."""
    battery = power.battery
    if battery.cells is not None:
        return f"{battery.cells} {battery.cell} cell{'' if battery.cells == 1 else 's'}"
    return "the battery"


def battery_text(power: Power, wh: float) -> str:
    """Return a battery's size as it is sold: in watt-hours, and in ampere-hours or cells."""
    size, battery = size_text(wh, "Wh"), power.battery
    if battery.cells is not None and power.watts is None:
        cells = math.ceil(wh / (power.store.full_wh / battery.cells) - 1e-6)
        return f"{size} ({cells} {battery.cell} cell{'' if cells == 1 else 's'})"
    if battery.voltage_v is not None:
        return f"{size} ({rounded_up(wh) / battery.voltage_v:.3g} Ah at {battery.voltage_v:g} V)"
    return size


def verdict(power: Power, dates: str = "these dates") -> str:
    """Return whether the battery carries the door through the dates, in one sentence.

    Parameters
    ----------
    power
        How it fares.
    dates
        What the dates are called.
    """
    if power.watts is None:
        return _alone(power)
    bound = ""
    if power.light is not None and power.light.is_bound:
        bound = " (by a cloudless sky, an upper bound)"
    if power.stops.any():
        return f"{_stops(power)}{bound}"
    lowest, reserve = power.lowest, power.battery.reserve_days
    charge, lasts = power.course.charge_wh[lowest], power.days_without_sun
    how = (
        f"lowest {percent_text(power, charge)} on {power.dates[lowest]} (the door stops under "
        f"{percent_text(power, power.floor[lowest])})"
    )
    if power.is_full_daily:
        how = "full again on every day"
    if power.runs_down:
        end = percent_text(power, power.course.charge_wh[-1])
        how += f", but runs down: it ends at {end}, and a year later lower"
    only = "only " if lasts < reserve else ""
    return (
        f"The battery holds through {dates}, {how}; from its worst day it lasts "
        f"{only}{lasts_text(lasts)} without any sun, and {reserve} are wanted{bound}"
    )


def _alone(power: Power) -> str:
    name = battery_name(power)
    verb = "work" if power.battery.cells not in (None, 1) else "works"
    head = f"Nothing charges the battery: {name} {verb} the door"
    until = power.until
    if until is None:
        days = len(power.ahead_wanted)
        return f"{head} for over {days} days, past {power.dates[-1]}"
    if until < power.dates[0]:
        return f"Nothing charges the battery: {name} cannot work the door for a single day"
    days = int((until - power.dates[0]).astype(int)) + 1
    return f"{head} until {until} ({days_text(days)})"


def _stops(power: Power) -> str:
    count = int(power.stops.sum())
    dates = date_ranges(power.dates[power.stops], _MOST_RANGES)
    first = power.dates[np.argmax(power.stops)]
    if count == 1:
        return f"The door stops on {first}: the battery is too low for it on that day"
    return (
        f"The door stops on {first}: the battery is too low for it on {days_text(count)}: {dates}"
    )


def year_sentence(power: Power) -> str:
    """Return the verdict on a year as it stands beside other matters."""
    if power.watts is None:
        return verdict(power)
    frost = int(power.frozen.sum())
    cold = f"; nothing is charged on {days_text(frost)} below 0 °C" if frost else ""
    start = f"{100 * power.battery.starts:g} % full on {power.dates[0]}"
    return f"{verdict(power, 'a year')}{cold}; reckoned from {start} on"


def high_sentence(power: Power) -> str:
    """Return how it would fare at the upper end of the light; empty if there is no range."""
    course = power.high_course
    if course is None:
        return ""
    row = int(np.argmin(course.charge_wh))
    lost = int((~course.works).sum())
    text = (
        f"at the upper end of the light: lowest {percent_text(power, course.charge_wh[row])} on "
        f"{power.dates[row]}, "
    )
    return text + (f"{days_text(lost)} without work" if lost else "no day without work")


def would_do(power: Power) -> Iterator[str]:
    """Yield which panel and which battery would do, each beside what is there."""
    found, reserve, light = power.sizing, power.battery.reserve_days, power.light
    if light is not None and light.is_bound:
        yield (
            "no size is told by a cloudless sky, since any would be too small: give the light by "
            "month, or a file of it (docs/how-to/power.md says where from)"
        )
    elif light is not None and power.store.kept > 0:
        yield from _sizes(power)
    if found.alone_wh is not None:
        size = battery_text(power, found.alone_wh)
        yield f"without a panel a battery of {size} lasts through these dates"
    elif power.watts is not None and reserve and np.isfinite(found.from_full_wh):
        size = battery_text(power, found.from_full_wh)
        yield (
            f"no battery under {size} can do, however large the panel is: so much "
            f"{days_text(reserve)} without any sun take from full"
        )


def _sizes(power: Power) -> Iterator[str]:
    """Yield sizes that do, and why others do not."""
    found, sizes = power.sizing, []
    if found.panel_w is None:
        yield f"no panel does with this battery: {_why_no_panel(power)}"
    else:
        sizes.append(f"a panel of {size_text(found.panel_w, 'W')} with this battery")
    if power.watts is not None and found.battery_wh is None:
        yield f"no battery of this kind does with this panel: {_why_no_battery(power)}"
    elif found.battery_wh is not None:
        size = battery_text(power, found.battery_wh)
        if found.battery_most_wh is not None:
            most = rounded_down(found.battery_most_wh)
            size += f" (and not over {most:g} Wh, which loses too much by itself)"
        sizes.append(f"a battery of {size} with this panel")
    if found.pair is not None:
        battery_wh, panel_w = found.pair
        size = battery_text(power, battery_wh)
        sizes.append(f"a battery of {size} with a panel of {size_text(panel_w, 'W')}")
    for number, size in enumerate(sizes):
        yield f"{'at the least ' if not number else 'or '}{size}"
    if sizes and power.battery.reserve_days:
        reserve = days_text(power.battery.reserve_days)
        yield (
            "then, once it has been full in summer, every day could be followed by "
            f"{reserve} without any sun, with the door shut on none"
        )


def _why_no_panel(power: Power) -> str:
    if power.store.full_wh >= power.sizing.from_full_wh:
        return "for too long it takes no charge, or there is no light"
    return f"it is too small for {days_text(power.battery.reserve_days)} without any sun"


def _why_no_battery(power: Power) -> str:
    if power.brings_too_little:
        return "it brings less than the door needs"
    if not np.isfinite(power.sizing.from_full_wh):
        return (
            f"it loses too much by itself for {days_text(power.battery.reserve_days)} without sun"
        )
    return (
        "for too long there is no light or it takes no charge, and what it loses by itself adds up"
    )


def frost_sentence(power: Power) -> str:
    """Return on which dates a battery must not be charged; empty if there are none."""
    if power.watts is None or not power.frozen.any():
        return ""
    dates = date_ranges(power.dates[power.frozen], _MOST_RANGES)
    return (
        f"{BATTERY_KINDS[power.battery.kind].words} must not be charged below 0 °C, so nothing is "
        f"charged on {days_text(int(power.frozen.sum()))}: {dates}. Put it where it stays warmer, "
        "or take another kind"
    )
