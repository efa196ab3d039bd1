"""The picture of two sets of rules: both open spans, and what is gained or lost a day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY_MIN, HOUR, MINUTE
from daylatch.paper.pictures.columns import (
    Columns,
    day_count,
    minus,
    open_columns,
    outline,
    sky_columns,
    whole_days_begin,
)
from daylatch.paper.pictures.flags import (
    CLOCK_CHANGE_ENTRY,
    ROW,
    clock_flags,
    draw_flags,
    draw_lines,
    place_flags,
    rows_of,
    today_entry,
    today_flags,
)
from daylatch.paper.pictures.hours import beyond_midnight, draw_hours
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, draw_dates, total_cells
from daylatch.paper.pictures.style import (
    EDGE,
    GAINED,
    INK,
    LEFT,
    LOST,
    MARGIN,
    PAPER,
    RIGHT,
    SMALL,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
    shortened,
    text_width,
)
from daylatch.paper.pictures.words import date_words, hours_words
from daylatch.plan.due import exactly
from daylatch.plan.summary import describe_place
from daylatch.wording import days_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.birds.compare.comparison import Comparison

DARK = "#d9dce6"
FIRST: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.7}
SECOND: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": INK,
    "linewidth": 0.7,
    "linestyle": (0, (3.0, 1.6)),
}
ONLY_SECOND: dict[str, Any] = {"facecolor": GAINED, "edgecolor": GAINED, "linewidth": 0.3}
ONLY_FIRST: dict[str, Any] = {
    "facecolor": LOST,
    "edgecolor": INK,
    "hatch": "//////",
    "linewidth": 0.3,
}
_GAP = 26.0
_UPPER = 0.62
"""Share of the height that the upper panel takes."""
_STEPS_MIN = (5, 10, 15, 30, 60, 120, 240, 480, 1440)
_NAME = 150.0


def draw_comparison(comparison: Comparison, today: dt.date | None = None) -> Picture:
    """Return the picture of two plans of the same dates, a matplotlib figure.

    Parameters
    ----------
    comparison
        What is drawn.
    today
        The date to mark, if the plans hold it.
    """
    with looks():
        return _draw(comparison, today)


def _draw(comparison: Comparison, today: dt.date | None) -> Picture:
    plan = comparison.first
    days = day_count(plan)
    begin = whole_days_begin(exactly(comparison.first), exactly(comparison.second))
    picture = Picture(
        f"{_name(comparison)}: two sets of rules, {plan.dates[0]} to {plan.dates[-1]}",
        " ".join(_sentences(comparison)),
    )
    flags = [*clock_flags(plan), *today_flags(plan, today)]
    placed = place_flags(flags, days)
    lines = _lines(comparison)
    if begin:
        lines.append(beyond_midnight(begin, plan.site.face))
    head = picture.head(_name(comparison), "Two sets of rules side by side", lines)
    top = head - rows_of(placed) * ROW - 4
    entries = list(_entries(comparison, today if today_flags(plan, today) else None))
    bottom = picture.key(picture.foot() + 6, entries) + DEPTH
    room = top - bottom - _GAP
    lower = Box(LEFT, bottom, RIGHT - LEFT, (1 - _UPPER) * room)
    upper = Panel(
        picture,
        Box(LEFT, lower.top + _GAP, RIGHT - LEFT, _UPPER * room),
        days,
        low=begin,
        high=begin + DAY_MIN,
    )
    _draw_spans(upper, comparison)
    draw_hours(upper, plan.site.face, step_h=6)
    draw_lines(upper, flags)
    upper.frame()
    draw_flags(upper, placed)
    calendar = DrawnDates(plan.dates[0].item(), days, plan.site.settings.writing.first_weekday)
    panel = _draw_gains(picture, lower, comparison)
    draw_lines(panel, flags)
    panel.frame()
    _write_totals(panel, comparison, calendar)
    draw_dates(panel, date_scale(calendar, panel.box.width))
    return picture


def _draw_spans(panel: Panel, comparison: Comparison) -> None:
    """Draw when the door is open by each set of rules, over when it is dark."""
    begin = int(panel.low)
    all_time, _, _, light, _ = sky_columns(comparison.first, begin)
    panel.shape(outline(all_time), "dark", facecolor=DARK)
    panel.shape(outline(light), "light", facecolor=PAPER)
    plans = (comparison.first, comparison.second)
    first, second = (open_columns(exactly(plan), begin_min=begin) for plan in plans)
    panel.shape(outline(minus(second, first)), "only-second", **ONLY_SECOND)
    panel.shape(outline(minus(first, second)), "only-first", **ONLY_FIRST)
    panel.shape(outline(first), "open-first", **FIRST)
    panel.shape(outline(second), "open-second", **SECOND)


def _draw_gains(picture: Picture, box: Box, comparison: Comparison) -> Panel:
    """Draw how much longer or shorter the second is open on each day."""
    days = day_count(comparison.first)
    gained = (comparison.gained // MINUTE).astype(int)
    on_day = (comparison.dates - comparison.dates[0]).astype(int)
    # What is negative hangs from zero.
    columns: dict[int, Columns] = {sign: [[] for _ in range(days)] for sign in (1, -1)}
    for day, minutes in zip(on_day.tolist(), gained.tolist(), strict=True):
        if minutes:
            columns[1 if minutes > 0 else -1][day] = [(min(minutes, 0), max(minutes, 0))]
    least, most = min(int(gained.min()), 0), max(int(gained.max()), 0)
    step = next((s for s in _STEPS_MIN if most - least <= 4 * s), _STEPS_MIN[-1])
    # Some room above and below what is drawn.
    low = -(-least // step + 1) if least else 0
    high = most // step + 1 if most or not least else 0
    panel = Panel(picture, box, days, low=step * low, high=step * high)
    panel.shape(outline(columns[1]), "gained", **ONLY_SECOND)
    panel.shape(outline(columns[-1]), "lost", **ONLY_FIRST)
    ticks = [step * n for n in range(low, high + 1)]
    panel.ruled(ticks, [_tick(minutes) for minutes in ticks])
    zero = panel.y(0)
    picture.line([box.left, box.right], [zero, zero], linewidth=0.9)
    return panel


def _write_totals(panel: Panel, comparison: Comparison, calendar: DrawnDates) -> None:
    """Write over the lower panel what its days come to by month."""
    gained_h = comparison.gained / HOUR
    on_day = (comparison.dates - comparison.dates[0]).astype(int)
    y = panel.box.top + 5
    widest = text_width("\N{MINUS SIGN}000 h", SMALL)
    for cell in total_cells(calendar, panel.box.width, widest):
        total = float(gained_h[(on_day >= cell.start) & (on_day < cell.end)].sum())
        x = (panel.x(cell.start) + panel.x(cell.end)) / 2
        panel.picture.write(x, y, _hours(total), size=SMALL, across="center")
    panel.picture.write(MARGIN, y, "total", size=SMALL)


def _tick(minutes: int) -> str:
    """Return what stands at a level of the lower panel."""
    if minutes == 0:
        return "0"
    text = f"{minutes // 60:+d} h" if minutes % 60 == 0 else f"{minutes:+d} min"
    return text.replace("-", "\N{MINUS SIGN}")


def _hours(hours: float) -> str:
    """Return a sum of hours with its sign, and tenths where they are few."""
    text = f"{hours:+.{1 if abs(hours) < 9.95 else 0}f}"
    return f"{text if float(text) else '0'} h".replace("-", "\N{MINUS SIGN}")


def _name(comparison: Comparison) -> str:
    first, second = comparison.first.site.name, comparison.second.site.name
    return first if first == second else f"{first} and {second}"


def _lines(comparison: Comparison) -> list[str]:
    plan = comparison.first
    total = float(comparison.gained.sum() / HOUR)
    return [
        f"{describe_place(plan.site)} · {date_words(plan)} · {hours_words(plan)}",
        f"{comparison.first_name} (first) and {comparison.second_name} (second): "
        f"{days_text(int(comparison.changed.sum()))} changed, open time {_hours(total)}",
    ]


def _entries(comparison: Comparison, today: dt.date | None) -> Iterator[Entry]:
    names = [
        shortened(name, _NAME, SMALL) for name in (comparison.first_name, comparison.second_name)
    ]
    yield Entry(f"open: {names[0]}", ({"facecolor": PAPER}, FIRST))
    yield Entry(f"open: {names[1]}", ({"facecolor": PAPER}, SECOND))
    yield Entry("gained: open with the second only", (ONLY_SECOND,))
    yield Entry("lost: open with the first only", (ONLY_FIRST,))
    yield Entry("Sun 6° or more below the horizon", ({"facecolor": DARK}, EDGE))
    if comparison.first.clock_changes:
        yield CLOCK_CHANGE_ENTRY
    if today:
        yield today_entry(today)


def _sentences(comparison: Comparison) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    total = float(comparison.gained.sum() / HOUR)
    yield (
        f"Above, when the door is open by {comparison.first_name} and by "
        f"{comparison.second_name}; below, by how many hours the second is open longer on each "
        f"day. {days_text(int(comparison.changed.sum()))} changed; over all days the second is "
        f"open {_hours(total)}."
    )
    months = comparison.dates.astype("datetime64[M]")
    for month in np.arange(months[0], months[-1] + 1):
        gained = comparison.gained[months == month].sum() / HOUR
        yield f"{month}: {_hours(float(gained))}."
