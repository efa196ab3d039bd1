"""The page's two weeks: what is due on the days to come, and what was seen on those behind."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.shown.days import Shown
    from daylatch.home.page.present import Present
    from daylatch.plan.due import Due

DAYS = 7


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
    if not due.is_open[index]:
        yield "the door stays shut"
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
    if any(plan.zone.date_at(change.instant_utc) == date for change in plan.clock_changes):
        yield "the clocks change"


def days_behind(shown: Shown, present: Present) -> Iterator[DayBehind]:
    """Yield the days of a diary, the latest first."""
    due = shown.due
    for day in reversed(shown.days):
        times = (due.told_open_utc[day.index], due.told_close_utc[day.index])
        is_shut = np.isnat(times[0])
        yield DayBehind(
            present.day(due.plan.dates[day.index].item()),
            "stays shut" if is_shut else " to ".join(map(present.time, times)),
            [
                f"{present.time(line.noted.entry.instant_utc)} {present.said(line.noted)}"
                for line in day.lines
            ],
            listed([f"{one.what} at {present.time(one.due_utc)}" for one in day.unseen]),
        )
