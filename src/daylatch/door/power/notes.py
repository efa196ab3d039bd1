"""What must be known of a door's power before anything is concluded from it."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power.light.on_panel import clear_level, clear_light
from daylatch.door.power.light.sun_year import DAYS, month_means
from daylatch.site.choices.works import WORKS
from daylatch.wording import date_ranges, days_text, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.power.power import Power

_MOST_RANGES = 4
_FULL, _DARK = 0.99, 0.6
"""From where on a battery is taken as full, and under which share of the year's mean light a month
is dark (this program's choice, no source)."""
_NEAR_FROST_C = 3.0
"""Under which mean by month there are frosty days in it (this program's choice, no source)."""
_TILTS_DEG = (30.0, 45.0, 60.0, 75.0, 90.0)
_MORE_TILTED, _FLAT_DEG = 1.3, 20.0
"""From how many times as much light on another tilt is told, and under which one snow lies (this
program's choice, no source)."""
_HAND = "hand"


def notes(power: Power) -> Iterator[str]:
    """Yield each in one sentence."""
    if power.site.works == _HAND:
        yield (
            f"the door is worked by {WORKS[_HAND].words}, and a motor's movements are counted all "
            "the same"
        )
    if power.watts is None or power.light is None:
        return
    yield from _of_dates(power)
    yield from _mild_frost(power)
    yield from _tilt(power)
    gaps = power.light.gaps
    if gaps is not None and gaps[power.rows].any():
        dates = power.dates[gaps[power.rows]]
        yield (
            f"the file of light has none at all on {days_text(len(dates))} on which the Sun is up, "
            f"a gap in it that is taken as it stands: {date_ranges(dates, _MOST_RANGES)}"
        )


def _of_dates(power: Power) -> Iterator[str]:
    """Yield that the dates leave out what counts, or begin in the middle of it."""
    light = power.light
    assert light is not None
    asked = {int(month.astype(int)) % 12 for month, _ in power.months}
    by_month = month_means(light.low)
    darkest = int(np.argmin(by_month))
    if darkest not in asked:
        yield (
            f"the darkest month here is {month_name[darkest + 1]}, which is not among these "
            "dates: ask for a whole year"
        )
    elif power.lowest == len(power.dates) - 1 and len(power.dates) < DAYS and len(power.dates) > 1:
        yield "the charge still falls on the last of these dates: ask for a whole year"
    begins = by_month[int(power.dates[0].astype("datetime64[M]").astype(int)) % 12]
    if power.battery.starts > _FULL and begins < _DARK * light.low.mean():
        yield (
            f"the battery is taken to be full on {power.dates[0]}, in the dark season: begin in "
            "summer (--from) to see what autumn leaves of it, or say how full it is (starts)"
        )


def _mild_frost(power: Power) -> Iterator[str]:
    """Yield that months hide the frost of their nights, from a battery that must not be charged."""
    light = power.light
    assert light is not None
    if power.battery.facts.charges_in_frost:
        return
    if power.battery.temperature_c is None and light.warm_share is not None:
        return
    means = month_means(power.year_temperature_c).tolist()
    near = [month_name[n + 1] for n, mean in enumerate(means) if 0 <= mean < _NEAR_FROST_C]
    if near:
        yield (
            f"the mean of {listed(near)} is just above 0 °C: on frosty days of it this battery "
            "must not be charged either, which a mean by month does not show"
        )


def _tilt(power: Power) -> Iterator[str]:
    """Yield that another tilt gets plainly more light in the darkest month."""
    stand = power.stand
    assert stand is not None
    month = int(np.argmin(month_means(clear_level(stand.sun))))
    light = {
        tilt: float(month_means(clear_light(stand.tilted(tilt)))[month])
        for tilt in (stand.plane.tilt_deg, *_TILTS_DEG)
    }
    own = light[stand.plane.tilt_deg]
    best = max(light, key=lambda tilt: light[tilt])
    if own > 0 and light[best] > _MORE_TILTED * own:
        snow = ", and no snow stays on it" if stand.plane.tilt_deg < _FLAT_DEG else ""
        yield (
            f"tilted {best:g}° the panel would get {light[best] / own:.1f} times as much of a "
            f"clear {month_name[month + 1]} day as at {stand.plane.tilt_deg:g}°{snow}; the lower "
            "end of light by month, which is nearly all diffuse in winter, does not show this"
        )
