"""The picture of the year: the sky's bands over dates and clock time, and the door's open span."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.paper.pictures.columns import (
    Columns,
    day_count,
    longest_stretch,
    minus,
    on_dates,
    open_columns,
    outline,
    sky_columns,
    whole_days_begin,
)
from daylatch.paper.pictures.flags import (
    CLOCK_CHANGE_ENTRY,
    LONGEST,
    ROW,
    Flag,
    clock_flags,
    draw_flags,
    draw_lines,
    place_flags,
    rows_of,
    today_entry,
    today_flags,
)
from daylatch.paper.pictures.hours import beyond_midnight, draw_hours
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, draw_dates
from daylatch.paper.pictures.style import (
    BANDS,
    DOOR,
    DOOR_CASING,
    EDGE,
    FAINT,
    INK,
    LEFT,
    RIGHT,
    SHUT,
    SMALL,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
    shortened,
)
from daylatch.paper.pictures.words import date_words, hours_words
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_clock_changes, describe_place
from daylatch.site.choices.works import WORKS
from daylatch.wording import capital, date_ranges, days_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.birds.sunlight.sunlight import Sunlight
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Span

# A stretch no longer than this lies under the outline of the open time, and is not seen.
_HIDDEN_MIN = 5
_IN_BAND = {"night": "at night", "day": "by day"}
SHADE: dict[str, Any] = {"facecolor": "#ded5bb", "edgecolor": FAINT, "hatch": "...."}
_SHADE_WORDS = "by day, the Sun behind the skyline"
IN_SPAN: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "hatch": "////"}


def draw_year(due: Due, today: dt.date | None = None, sunlight: Sunlight | None = None) -> Picture:
    """Return the picture of when the door is open by its due times, a matplotlib figure.

    Parameters
    ----------
    due
        What is drawn.
    today
        The date to mark, if the plan holds it.
    sunlight
        Direct sun on the plan's days, if a skyline is known: the shade by day is shown then.
    """
    with looks():
        return _draw(due, today, sunlight)


def _draw(due: Due, today: dt.date | None, sunlight: Sunlight | None) -> Picture:
    plan = due.plan
    days = day_count(plan)
    begin = whole_days_begin(due)
    picture = Picture(
        f"{plan.site.name}: when the door is open, {plan.dates[0]} to {plan.dates[-1]}",
        " ".join(_sentences(due, begin, sunlight)),
    )
    sky, open_time = sky_columns(plan, begin), open_columns(due, begin_min=begin)
    shut_days = set((plan.dates[plan.settings.shut] - plan.dates[0]).astype(int).tolist())
    shut: Columns = [[(begin, begin + DAY_MIN)] if day in shut_days else [] for day in range(days)]
    spans = _spans(plan)
    today_flag, changes = today_flags(plan, today), clock_flags(plan)
    names = [_span_flag(plan, span) for span in spans]
    placed = place_flags([*today_flag, *changes, *names], days)
    lines = [f"{describe_place(plan.site)} · {date_words(plan)} · {hours_words(plan)}"]
    if due.differs.any():
        lines.append(f"due times: the door is worked by {WORKS[plan.site.works].words}")
    if begin:
        lines.append(beyond_midnight(begin, plan.site.face))
    named = sum(any(place.flag is flag for place in placed) for flag in names)
    if named < len(names):
        lines.append(f"dated spans named here, for want of room: {named} of {len(names)}")
    top = picture.head(plan.site.name, "When the door is open", lines) - rows_of(placed) * ROW - 4
    shade = _shade(plan, sky[-1], sunlight, begin)
    entries = [*_door_entries(sky, open_time, shut)]
    if longest_stretch(shade):
        entries.append(Entry(_SHADE_WORDS, ({"facecolor": BANDS["day"]}, SHADE)))
    entries += _entries(due, today if today_flag else None)
    bottom = picture.key(picture.foot() + 6, entries) + DEPTH
    box = Box(LEFT, bottom, RIGHT - LEFT, top - bottom)
    panel = Panel(picture, box, days, low=begin, high=begin + DAY_MIN)
    for (name, colour), columns in zip(BANDS.items(), sky, strict=True):
        panel.shape(outline(columns), name.replace(" ", "-"), facecolor=colour)
    panel.shape(outline(shade), "shade", **SHADE)
    draw_lines(panel, changes)
    door = outline(open_time)
    panel.shape(door, "casing", **DOOR_CASING)
    panel.shape(door, "open", **DOOR)
    in_span = open_columns(due, plan.settings.in_span, begin)
    panel.shape(outline(in_span), "open-in-span", **IN_SPAN)
    panel.shape(outline(shut), "shut", **SHUT)
    draw_hours(panel, plan.site.face, step_h=3)
    draw_lines(panel, today_flag)
    panel.frame()
    draw_flags(panel, placed)
    for span in spans:
        begin, end = _days_of(plan, span)
        panel.bar(begin, end)
    calendar = DrawnDates(plan.dates[0].item(), days, plan.site.settings.writing.first_weekday)
    draw_dates(panel, date_scale(calendar, panel.box.width))
    return picture


def _shade(plan: Plan, day: Columns, sunlight: Sunlight | None, begin: int) -> Columns:
    """Return when it is day by a flat horizon, and the skyline hides the Sun."""
    if sunlight is None:
        return []
    sun = on_dates(plan.zone, plan.dates[0], len(day), sunlight.start_utc, sunlight.end_utc, begin)
    return minus(day, sun)


def _spans(plan: Plan) -> list[Span]:
    """Return the spans that touch the plan."""
    return [
        span
        for span in plan.site.settings.spans
        if span.touches(plan.dates[0].item(), plan.dates[-1].item())
    ]


def _days_of(plan: Plan, span: Span) -> tuple[int, int]:
    """Return the first day of a span within the plan, and the day after its last."""
    first = plan.dates[0].item()
    return max((span.first - first).days, 0), min((span.last - first).days + 1, day_count(plan))


def _span_flag(plan: Plan, span: Span) -> Flag:
    words = span.reason or ("shut all day" if span.shut else "other settings")
    return Flag(float(_days_of(plan, span)[0]), shortened(words, LONGEST, SMALL))


def _entries(due: Due, today: dt.date | None) -> Iterator[Entry]:
    plan = due.plan
    if (due.is_open & plan.settings.in_span).any():
        open_by_day = ({"facecolor": BANDS["day"]}, DOOR, IN_SPAN)
        yield Entry("open, other settings by a dated span", open_by_day)
    if plan.settings.shut.any():
        yield Entry("shut all day by a dated span", (SHUT, EDGE))
    if plan.clock_changes:
        yield CLOCK_CHANGE_ENTRY
    if today:
        yield today_entry(today)


def _door_entries(sky: list[Columns], open_time: Columns, shut: Columns) -> Iterator[Entry]:
    """Yield what open and shut look like in each light that they are seen in, from day to night."""
    seen = {}
    for (name, colour), band, lighter in zip(
        reversed(BANDS.items()), reversed(sky), [None, *reversed(sky[1:])], strict=True
    ):
        alone = band if lighter is None else minus(band, lighter)
        closed = minus(alone, open_time)
        words = _IN_BAND.get(name, f"in {name}")
        fill = {"facecolor": colour}
        seen["open", words] = (minus(alone, closed), (fill, DOOR))
        # A day shut by a span has an entry of its own.
        seen["shut", words] = (minus(closed, shut), (fill, EDGE))
    for state in ("open", "shut"):
        label = f"door {state}"
        for (of_state, words), (columns, fills) in seen.items():
            if of_state == state and longest_stretch(columns) > _HIDDEN_MIN:
                yield Entry(f"{label} {words}", fills)
                label = state


def _sentences(due: Due, begin_min: int, sunlight: Sunlight | None) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    plan, up = due.plan, due.is_open
    from_hour = f", from {plan.site.face.time(begin_min)} on" if begin_min else ""
    yield (
        f"Dates run across and clock time runs up{from_hour}; {hours_words(plan)}. Bands show "
        "night, the three twilights and day, and over them lies the time during which the door is "
        "open."
    )
    if up.any():
        for word, column in (("opens", due.told_open_utc), ("closes", due.told_close_utc)):
            wall = plan.on_wall(column[up]).wall
            of_day = wall - plan.dates[up].astype("datetime64[m]")
            ends = wall[[np.argmin(of_day), np.argmax(of_day)]]
            (early, late), (first, last) = plan.site.face.times(ends), ends.astype("datetime64[D]")
            yield f"The door {word} between {early} (on {first}) and {late} (on {last})."
    if not up.all():
        shut = int((~up).sum())
        yield f"It stays shut on {days_text(shut)}: {date_ranges(plan.dates[~up])}."
    if sunlight is not None:
        from daylatch.birds.sunlight.words import one_sentence  # noqa: PLC0415 - for few sites

        yield f"{capital(one_sentence(sunlight))}."
    yield from due_notes(due)
    changes = list(describe_clock_changes(plan, plan.site.face))
    if changes:
        yield f"Clock changes: {'; '.join(changes)}."
    for span in _spans(plan):
        words = span.reason or "no reason given"
        yield f"{'Shut' if span.shut else 'Other settings'} {span.first} to {span.last}: {words}."
