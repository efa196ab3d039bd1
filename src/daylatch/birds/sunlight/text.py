"""Direct sun as text: what it amounts to, the months, and the stretches of some days or of all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.sunlight.words import HOW, skyline_text, stretch_texts, sun_entries
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_place
from daylatch.wording import broken, hours_text, labelled, to_minutes, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.sunlight.dusk import Dusk
    from daylatch.birds.sunlight.sunlight import MonthOfSun, Sunlight

FIRST_LINE = "daylatch sunlight"
wrote = first_line_is(FIRST_LINE)
_LABEL = 16
_MOST_DAYS = 31
"""So many days are all shown; of more, three of each month."""
_SHOWN_DAYS = (1, 11, 21)
_NOTHING = "-"


def render(sunlight: Sunlight, dusk: Dusk | None) -> bytes:
    """Return what direct sun amounts to, its months, days and the cautions."""
    plan = sunlight.plan
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}",
        f"When direct sun reaches the run over the skyline: {skyline_text(sunlight.skyline)}. "
        f"Times are the wall clock of {plan.site.zone} (time-zone rules {zone_rules_version()}).",
        *due_notes(sunlight.due),
    ]
    lines = [*wrapped(head), "", *labelled(sun_entries(sunlight, dusk), _LABEL), ""]
    if len(plan) > _MOST_DAYS:
        lines += [*_months(sunlight), ""]
    lines += [*_days(sunlight), ""]
    lines += [*wrapped([HOW, CAUTION])]
    return text_file.lay_out(lines)


def _months(sunlight: Sunlight) -> Iterator[str]:
    yield "By month [hours:minutes]"
    yield "         direct sun             over a      days"
    yield "             in all  a day  flat horizon  without"
    yield from map(_month, sunlight.months)


def _month(month: MonthOfSun) -> str:
    return (
        f"{month.month} {hours_text(month.sun):>11} {hours_text(month.sun // month.days):>6}"
        f" {hours_text(month.flat):>12} {month.sunless:>9}"
    )


def _days(sunlight: Sunlight) -> Iterator[str]:
    """Yield the stretches of each day that is shown."""
    plan = sunlight.plan
    shown = list(range(len(plan)))
    if len(plan) > _MOST_DAYS:
        shown = [row for row in shown if plan.dates[row].item().day in _SHOWN_DAYS]
        yield "Three days of each month; CSV and JSON have all"
    else:
        yield "Day by day"
    yield "             in all  from and until"
    of_day = stretch_texts(sunlight)
    for row in shown:
        length = hours_text(to_minutes(sunlight.length[row]))
        stretches = ", ".join(of_day.get(row, [])) or _NOTHING
        yield from broken(f"{plan.dates[row]}  {length:>6}  {stretches}", further=" " * 20)
