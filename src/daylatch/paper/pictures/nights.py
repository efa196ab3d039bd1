"""The picture of the nights: how long each lock-in is, and how much of it is light."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.birds.nights.summary import summarize_nights
from daylatch.paper.pictures.columns import day_count, outline
from daylatch.paper.pictures.flags import (
    ROW,
    Flag,
    draw_flags,
    draw_lines,
    place_flags,
    rows_of,
    today_entry,
    today_flags,
)
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, date_text, draw_dates
from daylatch.paper.pictures.style import (
    BANDS,
    EDGE,
    INK,
    LEFT,
    PAPER,
    RIGHT,
    SHUT,
    WAKING,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
)
from daylatch.paper.pictures.words import date_words
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_place
from daylatch.site.table import LONG_NIGHT_H
from daylatch.wording import date_ranges, days_text, duration_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.birds.nights.nights import Nights
    from daylatch.birds.nights.summary import NightsSummary
    from daylatch.paper.pictures.columns import Columns

DARK_FILL: dict[str, Any] = {"facecolor": BANDS["night"], "edgecolor": INK, "linewidth": 0.5}
WAKING_FILL: dict[str, Any] = {"facecolor": WAKING, "edgecolor": INK, "linewidth": 0.5}
THRESHOLD: dict[str, Any] = {"color": INK, "linewidth": 1.0, "dashes": (5, 2.5)}
_LEAST_TOP_H = 12


def draw_nights(
    nights: Nights, today: dt.date | None = None, long_night_h: float = LONG_NIGHT_H
) -> Picture:
    """Return the picture of a plan's lock-ins, a matplotlib figure.

    Parameters
    ----------
    nights
        What is drawn.
    today
        The date to mark, if the plan holds it.
    long_night_h
        The keeper's threshold, drawn as a line [h].
    """
    with looks():
        return _draw(nights, today, long_night_h)


def _draw(nights: Nights, today: dt.date | None, long_night_h: float) -> Picture:
    plan = nights.plan
    days = day_count(plan)
    summary = summarize_nights(nights, np.timedelta64(round(long_night_h * 60), "m"))
    picture = Picture(
        f"{plan.site.name}: how long the birds are shut in, {plan.dates[0]} to {plan.dates[-1]}",
        " ".join(_sentences(summary)),
    )
    single = nights.single
    minutes = [_minutes(column[single]) for column in (nights.dark, nights.length)]
    top_h = _top_h(int(minutes[1].max(initial=0)), long_night_h)
    columns: list[Columns] = [[[] for _ in range(days)] for _ in range(2)]
    on_day = (nights.dates[single] - plan.dates[0]).astype(int)
    for day, dark, length in zip(on_day.tolist(), *map(np.ndarray.tolist, minutes), strict=True):
        columns[0][day] = [(0, dark)] if dark else []
        columns[1][day] = [(dark, length)] if dark < length else []
    longest = summary.longest_night
    marks = [] if longest is None else [_single_flag(summary, longest)]
    several = [_several_flag(summary, index) for index in np.flatnonzero(~single).tolist()]
    today_flag = today_flags(plan, today)
    placed = place_flags([*marks, *several, *today_flag], days)
    named = sum(any(place.flag is flag for place in placed) for flag in several)
    lines = [
        f"{describe_place(plan.site)} · {date_words(plan)} · lock-ins: hours from each closing to "
        "the next opening, on the date of the closing"
    ]
    if named < len(several):
        lines.append(
            "lock-ins of several days whose length is written here, for want of room: "
            f"{named} of {len(several)}"
        )
    head = picture.head(plan.site.name, "How long the birds are shut in", lines)
    top = head - rows_of(placed) * ROW - 4
    entries = list(_entries(summary, today if today_flag else None, long_night_h))
    bottom = picture.key(picture.foot() + 6, entries) + DEPTH
    panel = Panel(
        picture, Box(LEFT, bottom, RIGHT - LEFT, top - bottom), days, low=0, high=60 * top_h
    )
    panel.shape(outline(columns[0]), "dark", **DARK_FILL)
    panel.shape(outline(columns[1]), "waking", **WAKING_FILL)
    panel.shape(outline(_shut_in(nights, single, days, 60 * top_h)), "several-days", **SHUT)
    step = 2 if top_h <= 24 else 4
    hours = range(0, top_h + 1, step)
    panel.ruled([60 * hour for hour in hours], [f"{hour} h" for hour in hours])
    level = panel.y(60 * long_night_h)
    ends = [panel.box.left, panel.box.right]
    if long_night_h <= top_h:
        picture.line(ends, [level, level], color=PAPER, linewidth=1.8)
        picture.line(ends, [level, level], **THRESHOLD)
    draw_lines(panel, today_flag)
    for flag in marks:
        reached = panel.y(float(minutes[1].max()))
        picture.line([panel.x(flag.day)] * 2, [reached, panel.box.top], linewidth=0.5)
    panel.frame()
    draw_flags(panel, placed)
    calendar = DrawnDates(plan.dates[0].item(), days, plan.site.settings.writing.first_weekday)
    draw_dates(panel, date_scale(calendar, panel.box.width))
    return picture


def _minutes(durations: NDArray[np.timedelta64[Any]]) -> NDArray[np.int64]:
    return np.rint(durations / MINUTE).astype(np.int64)


def _top_h(longest_min: int, long_night_h: float) -> int:
    """Return an even number of hours over the longest night, and over the threshold if near."""
    wanted = longest_min / 60
    if wanted < long_night_h <= wanted + 6:
        wanted = long_night_h
    return max(2 * (math.floor(wanted / 2) + 1), _LEAST_TOP_H)


def _shut_in(nights: Nights, single: NDArray[np.bool_], days: int, top: int) -> Columns:
    """Return the dates without a night of their own to draw: shut, or closing for several days."""
    drawn = (nights.dates[single] - nights.plan.dates[0]).astype(int)
    here = (nights.plan.dates - nights.plan.dates[0]).astype(int)
    shut = np.isin(np.arange(days), here) & ~np.isin(np.arange(days), drawn)
    return [[(0, top)] if day else [] for day in shut.tolist()]


def _single_flag(summary: NightsSummary, index: int) -> Flag:
    """Return the note on the longest lock-in of one night."""
    words = "longest" if index == summary.longest else "longest single night"
    return Flag(_day(summary.nights, index) + 0.5, f"{words}: {_length(summary.nights, index)}")


def _several_flag(summary: NightsSummary, index: int) -> Flag:
    """Return the note on a lock-in of several days."""
    nights = summary.nights
    words = f"shut in from {_date(nights, index)}, end not known"
    if nights.known[index]:
        words = _length(nights, index)
        if index == summary.longest:
            words = f"longest: {words}"
    return Flag(_day(nights, index), words)


def _length(nights: Nights, index: int) -> str:
    return f"{duration_text(nights.length[index])} from {_date(nights, index)}"


def _day(nights: Nights, index: int) -> float:
    """Return a closing date as a day counted from the plan's first."""
    return float((nights.dates[index] - nights.plan.dates[0]).astype(int))


def _date(nights: Nights, index: int) -> str:
    return date_text(nights.dates[index].item(), year=False)


def _entries(summary: NightsSummary, today: dt.date | None, long_night_h: float) -> Iterator[Entry]:
    nights = summary.nights
    lamp = nights.has_lamp
    light, dark = (" by day or lamp", ", and no lamp") if lamp else ("", "")
    yield Entry(f"shut in while it is light{light}", (WAKING_FILL,))
    yield Entry(f"shut in while it is dark (Sun 6° or more below the horizon{dark})", (DARK_FILL,))
    if not (nights.due.is_open.all() and nights.single.all()):
        yield Entry("shut in for more than a night", (SHUT, EDGE))
    verb = "is" if summary.long_count == 1 else "are"
    long = f"{summary.long_count} of {len(nights)} lock-ins {verb} longer than {long_night_h:g} h"
    yield Entry(long, line=THRESHOLD)
    if today:
        yield today_entry(today)


def _sentences(summary: NightsSummary) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    nights = summary.nights
    plan = nights.plan
    yield (
        "Dates run across; hours run up, from each closing of the door to its next opening, with "
        "the dark part below and the light part above it."
    )
    if nights.has_lamp:
        yield "The light part is that of day or lamp."
    yield from due_notes(nights.due)
    for words, index in (
        ("The longest lock-in", summary.longest),
        ("The longest single night", summary.longest_night),
    ):
        if index is not None:
            yield (
                f"{words} is {duration_text(nights.length[index])} from {nights.dates[index]}, of "
                f"which {duration_text(nights.waking[index])} are light."
            )
    yield (
        f"{summary.long_count} of {len(nights)} lock-ins are longer than "
        f"{duration_text(summary.long)}."
    )
    if not nights.due.is_open.all():
        shut = plan.dates[~nights.due.is_open]
        yield f"The door stays shut on {days_text(len(shut))}: {date_ranges(shut)}."
    if summary.open_ended:
        yield f"No end is known of the lock-in from {summary.open_ended.first}."
