"""A simulated door as text: how long it differed from the plan, by month, and when the longest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.door.drift.drift import S_A_DAY_AT_1_PPM
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.wording import duration_text, listed, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.door.simulate.simulated_door import DoorDifference, Simulation
    from daylatch.files.occasion import Occasion

FIRST_LINE = "daylatch simulated door"
wrote = first_line_is(FIRST_LINE)
_MOST_SHOWN = 10


def render(found: Simulation, occasion: Occasion) -> bytes:
    """Return the text."""
    return ("\n".join(wrapped(_lines(found))) + "\n").encode()


def _lines(found: Simulation) -> Iterator[str]:
    plan = found.plan
    yield FIRST_LINE
    yield plan.site.name
    yield f"{describe_place(plan.site)}, {plan.dates[1]} to {plan.dates[-1]}"
    yield f"Times are wall-clock times of {plan.zone.name}; time-zone rules {zone_rules_version()}."
    yield f"The controller's clock: {', '.join(_troubles(found))}."
    yield ""
    differences = found.differences()
    if not differences:
        yield "Door and plan agree at every minute."
    else:
        yield from _totals(found)
        yield ""
        yield from _longest(found, differences)
    if not found.knows.all():
        yield ""
        yield from _left_alone(found)
    yield ""
    yield CAUTION


def _troubles(found: Simulation) -> Iterator[str]:
    troubles = found.troubles
    if troubles.drift_ppm:
        side = "fast" if troubles.drift_ppm > 0 else "slow"
        a_day = abs(troubles.drift_ppm) * S_A_DAY_AT_1_PPM
        yield f"{abs(troubles.drift_ppm):g} ppm {side} ({a_day:.1f} s a day)"
    else:
        yield "no drift"
    yield "correct at the start"
    for setting in troubles.settings:
        when = found.plan.site.face.instant(found.plan.zone, setting.instant_utc)
        how = f"{setting.wrong_min:+d} min wrong" if setting.wrong_min else "correctly"
        yield f"set {how} at {when}"
    if troubles.misses_changes:
        yield "not changed in spring and autumn"
    if troubles.loses_time:
        yield "stopped by a power cut until it is set"


def _left_alone(found: Simulation) -> Iterator[str]:
    """Yield for how long the door was left as it was, and why."""
    held = ~found.knows
    causes = {
        "without power": ~found.has_power,
        "with a clock that was not set again after a cut": found.has_power & ~found.has_time,
        "at times that its table does not cover": held & found.has_power & found.has_time,
    }
    words = [
        f"{duration_text(int(np.count_nonzero(minutes)))} {cause}"
        for cause, minutes in causes.items()
        if minutes.any()
    ]
    yield f"The controller left the door as it was for {listed(words)}."


def _totals(found: Simulation) -> Iterator[str]:
    """Yield a row a month: minutes on each side."""
    exposed = found.door_is_open & ~found.planned_open
    shut_out = ~found.door_is_open & found.planned_open
    months = found.plan.on_wall(found.minutes_utc).wall.astype("datetime64[M]")
    yield "Minutes in which door and plan differ"
    yield "month     open, should be shut   shut, should be open"
    for month in np.arange(months[0], months[-1] + np.timedelta64(1, "M")):
        inside = months == month
        counts = [int(np.count_nonzero(inside & side)) for side in (exposed, shut_out)]
        if any(counts):
            yield f"{month}   {counts[0]:20d}   {counts[1]:20d}"
    counts = [int(np.count_nonzero(side)) for side in (exposed, shut_out)]
    yield f"in all    {counts[0]:20d}   {counts[1]:20d}"


def _longest(found: Simulation, differences: list[DoorDifference]) -> Iterator[str]:
    """Yield the stretches that matter most."""
    longest = sorted(differences, key=lambda d: d.minutes, reverse=True)[:_MOST_SHOWN]
    count = len(differences)
    yield "The longest" + (
        f" {len(longest)} of {count} (--to csv has them all)" if count > _MOST_SHOWN else ""
    )
    longest.sort(key=lambda d: d.begin_utc)
    plan = found.plan
    begins = [plan.site.face.instant(plan.zone, difference.begin_utc) for difference in longest]
    room = max(map(len, begins))
    yield f"{'from':{room}}   minutes  door  planned  clock"
    for begin, difference in zip(begins, longest, strict=True):
        states = ("open", "shut") if difference.door_is_open else ("shut", "open")
        yield (
            f"{begin:{room}}   {difference.minutes:7d}  {states[0]}  {states[1]}     "
            f"{_off_by(difference)}"
        )


def _off_by(difference: DoorDifference) -> str:
    if not difference.powered:
        return "no power"
    if difference.clock_off_s is None:
        return "not known"
    if difference.clock_off_s == 0:
        return "right"
    side = "fast" if difference.clock_off_s > 0 else "slow"
    minutes, seconds = divmod(abs(difference.clock_off_s), 60)
    return f"{minutes} min {seconds:02d} s {side}"
