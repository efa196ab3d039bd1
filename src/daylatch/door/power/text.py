"""A door's power as text: whether it lasts, what would do, the months, and how it was reckoned."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION, POWER_CAUTION
from daylatch.door.power.notes import notes
from daylatch.door.power.reckoned import reckoned
from daylatch.door.power.words import (
    frost_sentence,
    high_sentence,
    lasts_text,
    percent_text,
    verdict,
    would_do,
)
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.wording import capital, date_ranges, days_text, labelled, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Numbers
    from daylatch.door.power.light.on_panel import Light
    from daylatch.door.power.power import Power

FIRST_LINE = "daylatch power"
wrote = first_line_is(FIRST_LINE)
_LABEL = 14


def render(power: Power) -> bytes:
    """Return the answer, what would do, a line a month, how it was reckoned and the cautions."""
    site, dates = power.site, power.dates
    head = [FIRST_LINE, site.name, f"{describe_place(site)}, {dates[0]} to {dates[-1]}"]
    lines = [*wrapped(head), "", *wrapped([f"{verdict(power)}."]), ""]
    lines += [*labelled(_entries(power), _LABEL), "", *_months(power), ""]
    lines += ["How it was reckoned", *labelled(reckoned(power), _LABEL), ""]
    return text_file.lay_out([*lines, *wrapped([CAUTION, "", POWER_CAUTION])])


def _entries(power: Power) -> Iterator[tuple[str, str]]:
    frost = frost_sentence(power)
    if frost:
        yield "Frost", capital(frost)
    high = high_sentence(power)
    if high and not power.is_full_daily and not power.is_full_daily_at_best:
        yield "Range", capital(high)
    yield from (("But", note) for note in notes(power))
    reserve = power.battery.reserve_days
    short = power.lasts_days < reserve
    if power.watts is not None and short.any():
        dates = date_ranges(power.dates[short], 4)
        yield (
            "Reserve",
            f"less than {reserve} days without any sun are left in the evenings of {dates}",
        )
    for row, text in enumerate(would_do(power)):
        yield "Would do" if not row else "", text
    if len(power.seen.volts):
        volts, plan = power.seen.volts, power.due.plan
        count = "1 voltage" if len(volts) == 1 else f"{len(volts)} voltages"
        when = plan.site.face.instant(plan.zone, power.seen.instant_utc[-1])
        yield (
            "Seen",
            f"the diary has {count}, the lowest {volts.min():g} V, the last {volts[-1]:g} V "
            f"({when})",
        )


def _months(power: Power) -> Iterator[str]:
    """Yield a line for each month; of a battery alone without what there is no panel for."""
    light = power.light if power.watts is not None else None
    room = 0 if light is None else 17 if light.has_range else 14
    heads = ("light on panel", "kWh/m² a day") if light is not None else ("", "")
    brings = ("brings", "Wh/day") if light is not None else ("", "")
    width = 9 if light is not None else 0
    ends = ("  lowest charge  stops  no sun", "  and its date   under  for")
    for number, needs in enumerate(("needs", "Wh/day")):
        line = f"{heads[number]:>{room}}{brings[number]:>{width}}{needs:>9}{ends[number]}"
        yield f"{'':7}{line}"
    for month, rows in power.months:
        found = np.flatnonzero(rows)
        lowest = found[np.argmin(power.course.charge_wh[found])]
        charge, floor = (
            percent_text(power, values[lowest]) for values in (power.course.charge_wh, power.floor)
        )
        line = f"{month}"
        if light is not None:
            line += f"{_light(light, power.rows[found]):>{room}}{power.brought[found].mean():9.2f}"
        line += f"{power.wanted[found].mean():9.2f}  {charge:>5} on {str(power.dates[lowest])[5:]}"
        lost = int(power.stops[found].sum())
        lasts = lasts_text(int(power.lasts_days[found].min()))
        yield f"{line}  {floor:>5}  {f'stops {days_text(lost)}' if lost else lasts}"


def _light(light: Light, rows: Numbers) -> str:
    low, high = light.low[rows].mean(), light.high[rows].mean()
    return f"{low:.2f} to {high:.2f}" if light.has_range else f"{low:.2f}"
