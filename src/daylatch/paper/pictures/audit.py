"""The picture of an audit: how late the door moved on each day, and what its clock explains."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.diary.audit.text import danger_summary
from daylatch.diary.audit.verdicts import Verdict
from daylatch.diary.audit.words import clock_sentences, counts_text
from daylatch.paper.pictures.flags import (
    CLOCK_CHANGE_ENTRY,
    ROW,
    Flag,
    clock_flags,
    draw_flags,
    draw_lines,
    place_flags,
    rows_of,
)
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, date_text, draw_dates
from daylatch.paper.pictures.style import (
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
)
from daylatch.plan.summary import describe_place
from daylatch.wording import date_ranges, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.diary.audit.verdicts import Movement

MARK: dict[str, Any] = {"linestyle": "none", "markersize": 3.2, "markeredgewidth": 0.5}
OPENING: dict[str, Any] = {"marker": "^", "markerfacecolor": PAPER, "markeredgecolor": INK}
CLOSING: dict[str, Any] = {"marker": "v", "markerfacecolor": GAINED, "markeredgecolor": INK}
BY_HAND: dict[str, Any] = {"marker": "s", "markerfacecolor": LOST, "markeredgecolor": INK}
MISSED: dict[str, Any] = {"marker": "x", "markeredgecolor": INK, "markeredgewidth": 1.3}
LINE: dict[str, Any] = {"color": INK, "linewidth": 1.1}
STEP: dict[str, Any] = {"color": INK, "linewidth": 0.9, "dashes": (4.0, 2.0)}
_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240)
_MOST_LINES = 8
_MOST_NIGHTS = 4
_ROOM = 0.15
"""What is left free above and below the points, as a share of their range."""


def draw_audit(audit: DoorAudit) -> Picture:
    """Return the picture of an audit, a matplotlib figure."""
    with looks():
        return _draw(audit)


def _draw(audit: DoorAudit) -> Picture:
    plan = audit.due.plan
    days = len(plan)
    picture = Picture(
        f"{audit.site.name}: the door against what was due, {audit.first} to {audit.last}",
        " ".join(_sentences(audit)),
    )
    flags = [*clock_flags(plan), *_step_flags(audit)]
    placed = place_flags(flags, days)
    dates = f"{date_text(audit.first)} to {date_text(audit.last)}"
    clock = f"The door's clock. {' '.join(clock_sentences(audit))}"
    lines = [f"{describe_place(audit.site)} · {dates}", _dangers(audit), clock]
    head = picture.head(audit.site.name, "The door against what was due", lines)
    top = head - rows_of(placed) * ROW - 4
    bottom = picture.key(picture.foot() + 6, list(_entries(audit))) + DEPTH
    low, high, step = _range_of(audit)
    panel = Panel(picture, Box(LEFT, bottom, RIGHT - LEFT, top - bottom), days, low, high)
    levels = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    panel.ruled(levels.tolist(), [_level(level) for level in levels.tolist()])
    draw_lines(panel, flags)
    _draw_points(panel, audit)
    _draw_line(panel, audit)
    zero = panel.y(0)
    picture.line([panel.box.left, panel.box.right], [zero, zero], linewidth=0.8)
    panel.frame()
    picture.write(MARGIN, panel.box.top + 5, "min late (below 0 early)", size=SMALL)
    draw_flags(panel, placed)
    calendar = DrawnDates(plan.dates[0].item(), days, plan.site.settings.writing.first_weekday)
    draw_dates(panel, date_scale(calendar, panel.box.width))
    return picture


def _dangers(audit: DoorAudit) -> str:
    """Return what was dangerous, with its dates."""
    parts = []
    for heading, nights, told in danger_summary(audit):
        dates = date_ranges(np.array([one.date for one in told]), most=_MOST_NIGHTS) if told else ""
        parts.append(f"{heading}: {nights}{f' ({dates})' if dates else ''}.")
    return " ".join(parts)


def _draw_points(panel: Panel, audit: DoorAudit) -> None:
    """Draw each movement where its day and its lateness are; what was missed, at its due time."""
    looks_of = {True: OPENING, False: CLOSING}
    for one in audit.found.movements:
        late = one.late_min
        if one.verdict is Verdict.MISSED:
            _mark(panel, _day(audit, one.due_utc), 0, MISSED)
        elif late is not None:
            by_hand = one.verdict is Verdict.BY_HAND
            look = BY_HAND if by_hand else looks_of[one.opening]
            _mark(panel, _day(audit, one.due_utc), late, look)


def _mark(panel: Panel, day: float, minutes: float, look: dict[str, Any]) -> None:
    panel.picture.line(
        [panel.x(day)],
        [panel.y(minutes)],
        **(MARK | look),
    )


def _draw_line(panel: Panel, audit: DoorAudit) -> None:
    """Draw how late the clock makes the door, with its jumps."""
    clock = audit.found.clock
    if clock is None:
        return
    ends = [audit.entries[0].instant_utc, *(step.until for step in clock.steps), audit.until_utc]
    for start, end in itertools.pairwise(ends):
        both = np.array([start, max(start, end - np.timedelta64(1, "s"))])
        late = -clock.error_at(both)
        panel.picture.line(
            [panel.x(_day(audit, instant)) for instant in both],
            [panel.y(minutes) for minutes in late.tolist()],
            **LINE,
        )


def _step_flags(audit: DoorAudit) -> list[Flag]:
    clock = audit.found.clock
    return [
        Flag(
            _day(audit, step.until),
            f"clock {round(step.minutes):+d} min".replace("-", "\N{MINUS SIGN}"),
            STEP,
        )
        for step in (clock.steps if clock else ())
    ]


def _day(audit: DoorAudit, instant_utc: np.datetime64) -> float:
    """Return where an instant stands on the scale of dates, by the site's wall clock."""
    plan = audit.due.plan
    wall = instant_utc + plan.zone.offset_at(np.array([instant_utc]))[0]
    return float((wall - plan.dates[0].astype("datetime64[s]")) / np.timedelta64(1, "D"))


def _range_of(audit: DoorAudit) -> tuple[float, float, int]:
    """Return the least and most minutes late that are drawn, and the step of the lines across."""
    late = [0.0, *_lateness(audit)]
    clock = audit.found.clock
    if clock is not None:
        ends = np.array([audit.entries[0].instant_utc, audit.until_utc])
        late += (-clock.error_at(ends)).tolist()
    low, high = min(-5.0, *late), max(5.0, *late)
    room = _ROOM * (high - low)
    low, high = low - room, high + room
    step = next((s for s in _STEPS_MIN if high - low <= _MOST_LINES * s), _STEPS_MIN[-1])
    return low, high, step


def _lateness(audit: DoorAudit) -> list[float]:
    """Return how late each movement was that is drawn there; one that was missed is not."""
    moves = (one for one in audit.found.movements if one.verdict is not Verdict.MISSED)
    return [one.late_min for one in moves if one.late_min is not None]


def _level(minutes: float) -> str:
    return f"{minutes:+.0f}".replace("-", "\N{MINUS SIGN}") if minutes else "0"


def _entries(audit: DoorAudit) -> Iterator[Entry]:
    moves = audit.found.movements
    yield Entry("opening", mark=MARK | OPENING)
    yield Entry("closing", mark=MARK | CLOSING)
    if _has(moves, Verdict.BY_HAND):
        yield Entry("by hand", mark=MARK | BY_HAND)
    if _has(moves, Verdict.MISSED):
        yield Entry("missed", mark=MARK | MISSED)
    clock = audit.found.clock
    if clock is not None:
        yield Entry("what the clock explains", line=LINE)
        if clock.steps:
            yield Entry("the clock jumped", line=STEP)
    if audit.due.plan.clock_changes:
        yield CLOCK_CHANGE_ENTRY


def _has(moves: Sequence[Movement], verdict: Verdict) -> bool:
    return any(one.verdict is verdict for one in moves)


def _sentences(audit: DoorAudit) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    yield _dangers(audit)
    yield f"How many minutes late or early the door moved: {counts_text(audit)}."
    yield from clock_sentences(audit)
    late = _lateness(audit)
    if late:
        low, high = (duration_text(abs(round(end(late)))) for end in (min, max))
        sides = ("early" if min(late) < 0 else "late", "late" if max(late) >= 0 else "early")
        yield f"From {low} {sides[0]} to {high} {sides[1]}."
