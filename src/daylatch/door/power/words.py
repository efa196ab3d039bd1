"""What is said of a door's power, in sentences."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.battery import MOST_SUNLESS_DAYS
from daylatch.door.power.sizing import rounded_up
from daylatch.door.power.sun_year import month_means
from daylatch.site.choices.battery_kinds import BATTERY_KINDS
from daylatch.wording import date_ranges, days_text, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.power.power import Power

_MOST_RANGES = 4
_FULL, _DARK = 0.99, 0.6
"""From where on a battery is taken as full, and under which share of the year's mean light a month
is dark (this program's choice, no source)."""


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
    if power.stops.any():
        return _stops(power)
    lowest, reserve = power.lowest, power.battery.reserve_days
    charge, lasts = power.course.charge_wh[lowest], power.days_without_sun
    how = f"lowest {percent_text(power, charge)} on {power.dates[lowest]}"
    if power.is_full_daily:
        how = "full again on every day"
    only = "only " if lasts < reserve else ""
    return (
        f"The battery holds through {dates}, {how}; from its worst day it lasts "
        f"{only}{lasts_text(lasts)} without any sun, and {reserve} are wanted"
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
    """Return the verdict on some dates as it stands beside other matters."""
    bound = ""
    if power.watts is not None and power.light is not None:
        bound = " (by a cloudless sky: an upper bound)" * power.light.is_bound
    return f"{verdict(power, f'{power.dates[0]} to {power.dates[-1]}')}{bound}"


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
    found, reserve = power.sizing, power.battery.reserve_days
    after = f"every day could be followed by {days_text(reserve)} without any sun"
    sizes = []
    if power.light is not None and power.store.kept > 0:
        if found.panel_w is None:
            yield f"no panel does with this battery: {_why_none(power)}"
        else:
            sizes.append(f"a panel of {size_text(found.panel_w, 'W')} with this battery")
    if power.watts is not None:
        if found.battery_wh is None:
            yield "no battery does with this panel: it brings less than the door draws"
        else:
            sizes.append(f"a battery of {size_text(found.battery_wh, 'Wh')} with this panel")
    if found.pair is not None:
        battery_wh, panel_w = found.pair
        pair = (
            f"a battery of {size_text(battery_wh, 'Wh')} with a panel of {size_text(panel_w, 'W')}"
        )
        sizes.append(pair)
    if sizes:
        yield f"{listed(sizes, 'or')}, at the least: then {after}"
    if found.alone_wh is not None:
        size = size_text(found.alone_wh, "Wh")
        yield f"without a panel a battery of {size} lasts through these dates"
    elif np.isfinite(found.from_full_wh):
        size = size_text(found.from_full_wh, "Wh")
        yield (
            f"however large the panel is, {days_text(reserve)} without any sun take a battery of "
            f"{size}"
        )


def _why_none(power: Power) -> str:
    if power.store.full_wh >= power.sizing.from_full_wh:
        return "for too long it takes no charge, or there is no light"
    days = days_text(power.battery.reserve_days)
    return f"it is too small for {days} without any sun"


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


def notes(power: Power) -> Iterator[str]:
    """Yield what must be known of the dates before anything is concluded."""
    light = power.light
    if power.watts is None or light is None:
        return
    asked = {int(month.astype(int)) % 12 for month, _ in power.months}
    darkest = int(np.argmin(month_means(light.low)))
    if darkest not in asked:
        yield (
            f"the darkest month here is {month_name[darkest + 1]}, which is not among these "
            "dates: ask for a whole year"
        )
    elif power.lowest == len(power.dates) - 1 and not power.season.is_year:
        yield "the charge still falls on the last of these dates: ask for a whole year"
    dark = month_means(light.low)[int(power.dates[0].astype("datetime64[M]").astype(int)) % 12]
    if power.battery.starts > _FULL and dark < _DARK * light.low.mean():
        yield (
            f"the battery is taken to be full on {power.dates[0]}, in the dark season: begin in "
            "summer (--from) to see what autumn leaves of it, or say how full it is (starts)"
        )
    if light.gaps is not None and light.gaps[power.rows].any():
        dates = power.dates[light.gaps[power.rows]]
        yield (
            f"the file of light has none at all on {days_text(len(dates))} on which the Sun is up, "
            f"a gap in it that is taken as it stands: {date_ranges(dates, _MOST_RANGES)}"
        )
