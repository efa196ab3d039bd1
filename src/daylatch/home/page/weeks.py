"""The page's two weeks: what is due on the days to come, and what was seen on those behind."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.plan.daily.rules import Rule
from daylatch.site.watch import DOOR, HEAD_COUNT
from daylatch.wording import duration_text, listed

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Container, Iterator

    from daylatch.diary.shown.days import DayShown, Shown
    from daylatch.home.page.present import Present
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan

DAYS = 7
MOST_SEEN = 12
"""How many entries of a day are told; `daylatch diary show` tells them all."""


class DayAhead(NamedTuple):
    """A day to come: its date, and when the door opens and shuts and heads are counted.

    Attributes
    ----------
    date : str
        As short as people say it.
    opens, shuts, counted : str
        Times of day; empty on a day that the door stays shut.
    notes : list of str
        What is special.
    """

    date: str
    opens: str
    shuts: str
    counted: str
    notes: list[str]


class DayBehind(NamedTuple):
    """A day that is over: its date, what was due, what was seen, and what nobody reported."""

    date: str
    due: str
    seen: list[str]
    unseen: str


def days_ahead(due: Due, present: Present) -> Iterator[DayAhead]:
    """Yield the week that begins today."""
    plan = due.plan
    today = np.datetime64(present.today)
    for index in np.flatnonzero((plan.dates >= today) & (plan.dates < today + DAYS)).tolist():
        opens, shuts, counted = (
            "" if np.isnat(times[index]) else present.time(times[index])
            for times in (due.told_open_utc, due.told_close_utc, due.head_count_utc)
        )
        date = present.day(plan.dates[index].item())
        yield DayAhead(date, opens, shuts, counted, list(_notes(due, index, present)))


def _notes(due: Due, index: int, present: Present) -> Iterator[str]:
    plan, date = due.plan, due.plan.dates[index].item()
    for span in plan.site.settings.spans:
        if span.covers(date) and span.reason:
            yield span.reason
    if due.closes_in_daylight[index]:
        yield "it closes in daylight: shut the birds in before"
    if not due.known[index]:
        yield "planned; when it really moves is not known"
    elif due.differs[index] and plan.is_open[index]:
        planned = (present.time(at[index]) for at in (plan.open_utc, plan.close_utc))
        yield f"planned {' and '.join(planned)}"
    if due.is_open[index] and _has_no_light_event(plan, index):
        yield "without dusk or dawn the door goes by the clock"
    for change in plan.clock_changes:
        if plan.zone.date_at(change.instant_utc) == date:
            way = "forward" if change.minutes > 0 else "back"
            yield f"the clocks go {way} {duration_text(abs(change.minutes))}"


def _has_no_light_event(plan: Plan, index: int) -> bool:
    decided = (plan.decisions.open, plan.decisions.close)
    return any(one.started_by[index] in (Rule.FALLBACK, Rule.DARK_FALLBACK) for one in decided)


def days_behind(
    shown: Shown, present: Present, expects: Container[str], since: dt.date | None
) -> Iterator[DayBehind]:
    """Yield the days of a diary, the latest first.

    Parameters
    ----------
    shown
        The days.
    present
        Now.
    expects
        Who is expected to say something, as the watch has it: others miss nothing.
    since
        The first date that anybody watched; None if that is not known.
    """
    due = shown.due
    for day in reversed(shown.days):
        date = due.plan.dates[day.index].item()
        if since is not None and date < since and not day.lines:
            continue
        times = (due.told_open_utc[day.index], due.told_close_utc[day.index])
        is_shut = np.isnat(times[0])
        yield DayBehind(
            present.day(date),
            "stays shut" if is_shut else " to ".join(map(present.time, times)),
            list(_seen(day, present)),
            listed(
                [
                    f"{one.what} at {present.time(one.due_utc)}"
                    for one in day.unseen
                    if _says(one.what) in expects and (since is None or date >= since)
                ]
            ),
        )


def _seen(day: DayShown, present: Present) -> Iterator[str]:
    """Yield what was seen on a day; what says the same again and again, once."""
    before, lines = "", []
    for line in day.lines:
        said = present.said(line.noted)
        if said != before:
            lines.append(f"{present.time(line.noted.entry.instant_utc)} {said}")
        before = said
    yield from lines[:MOST_SEEN]
    if len(lines) > MOST_SEEN:
        yield f"and {len(lines) - MOST_SEEN} more"


def _says(what: str) -> str:
    """Return who is expected to tell of something that was due."""
    return HEAD_COUNT if what == "head count" else DOOR
