"""The rows of the card by the door: the days that share a time, and what they share.

A row gives the latest opening and the latest closing among its days, so that the door never moves
before its planned minute. No row reaches over a change of a clock, the edge of a dated span, from
light to a fallback, or from one calendar year into the next: there one time would be wrong or
needlessly late.
"""

from __future__ import annotations

from enum import Enum
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import MINUTE, week_of
from daylatch.clock import DoorClock

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site, Span


class RowsOf(Enum):
    """What a row of the card stands for."""

    WEEKS = "weeks"
    MONTHS = "months"
    DAYS = "days"


class RowColumns(NamedTuple):
    """What each day would have as a row of its own.

    Attributes
    ----------
    shown : tuple of timedelta64[m]
        What a clock shows, since midnight of the day's own date: opening, closing and head count on
        the wall, then opening and closing on the door's clock, where that is another.
    distances : list of list of int
        Each day's distances of those clocks from UTC [min].
    """

    shown: tuple[Minutes, ...]
    distances: list[list[int]]


def columns_of(plan: Plan, opens: Times, closes: Times) -> RowColumns:
    """Return what the days of a plan would have as rows, for some openings and closings.

    Parameters
    ----------
    plan
        Whose days they are.
    opens, closes
        datetime64[m]; NaT on days the door stays shut.
    """
    midnights = plan.dates.astype("datetime64[m]")
    clocks = [plan.on_wall(times) for times in (opens, closes, closes + plan.settings.head_count)]
    if plan.door_clock is not DoorClock.WALL:
        clocks += [plan.on_door(times) for times in (opens, closes)]
    distances = np.stack([clock.offset.astype(np.int64) for clock in clocks], axis=1)
    return RowColumns(tuple(clock.wall - midnights for clock in clocks), distances.tolist())


def told_spans(site: Site) -> list[Span]:
    """Return the spans of which a card tells: all but those that say only that somebody is away.

    Whoever comes to the door need not see from the rows when that is.
    """
    told = "reasons" in site.settings.card.show
    return [
        span for span in site.settings.spans if not span.is_of_people_only or (told and span.reason)
    ]


def find_rows(
    plan: Plan,
    columns: RowColumns,
    shut: Sequence[str],
    rows_of: RowsOf,
    late_by_min: int | None,
) -> Iterator[NDArray[np.int64]]:
    """Yield the days of each row, in order.

    Parameters
    ----------
    plan
        Of whole calendar years, so that its first and last rows are whole too.
    columns
        From `columns_of`.
    shut
        For each day why the door stays shut; empty where it opens.
    rows_of
        What a row stands for.
    late_by_min
        How late a row may be at most on any of its days [min]; None for any.
    """
    parting = told_spans(plan.site)
    periods = _periods(plan, rows_of)
    years = plan.dates.astype("datetime64[Y]").astype(np.int64).tolist()

    def key(index: int) -> Any:
        spans = [span.covers(plan.dates[index].item()) for span in parting]
        if not shut[index]:
            return years[index], periods[index], columns.distances[index], spans
        # Nothing is to be done by the week while the door stays shut.
        return index if rows_of is RowsOf.DAYS else (shut[index], spans)

    for _, group in groupby(range(len(plan)), key):
        days = np.array(list(group))
        if shut[days[0]]:
            yield days
            continue
        for part in _where_rules_change(plan, columns.shown, days):
            yield from _where_too_late(columns.shown, part, late_by_min)


def find_steady_rows(
    plan: Plan, columns: RowColumns, shut: Sequence[str], known: Flags
) -> Iterator[NDArray[np.int64]]:
    """Yield the days of each row, so that a row says what every one of its days has.

    Parameters
    ----------
    plan, columns, shut
        As `find_rows`.
    known
        Whether the times of a day are known.
    """
    years = plan.dates.astype("datetime64[Y]").astype(np.int64).tolist()
    spans = told_spans(plan.site)

    def key(index: int) -> Any:
        covered = [span.covers(plan.dates[index].item()) for span in spans]
        if shut[index]:
            return shut[index], covered
        shown = [str(column[index]) for column in columns.shown]
        return years[index], shown, columns.distances[index], covered, bool(known[index])

    for _, group in groupby(range(len(plan)), key):
        yield np.array(list(group))


def row_late(shown: Sequence[Minutes], days: NDArray[np.int64]) -> np.timedelta64:
    """Return by how much the latest of some days lies after the earliest, at most."""
    late: np.timedelta64 = max(np.ptp(column[days]) for column in shown)
    return late


def _where_rules_change(
    plan: Plan, shown: Sequence[Minutes], days: NDArray[np.int64]
) -> Iterator[NDArray[np.int64]]:
    """Yield days in parts, parted where another rule begins and a row would be later without.

    Near white nights and dark days the times leap from light to a fallback.
    """
    begun = np.stack(
        [moves.started_by[days] for moves in (plan.decisions.open, plan.decisions.close)]
    )
    leaps = np.flatnonzero((begun[:, 1:] != begun[:, :-1]).any(axis=0)) + 1
    part, *others = np.split(days, leaps)
    for other in others:
        both = np.concatenate([part, other])
        apart = max(row_late(shown, part), row_late(shown, other))
        if row_late(shown, both) > apart:
            yield part
            part = other
        else:
            part = both
    yield part


def _where_too_late(
    shown: Sequence[Minutes], days: NDArray[np.int64], late_by_min: int | None
) -> Iterator[NDArray[np.int64]]:
    """Yield days in parts, each as long as it is not too late."""
    if late_by_min is None:
        yield days
        return
    first = 0
    for end in range(1, len(days)):
        if row_late(shown, days[first : end + 1]) > late_by_min * MINUTE:
            yield days[first:end]
            first = end
    yield days[first:]


def _periods(plan: Plan, rows_of: RowsOf) -> list[int]:
    """Return which week, month or day each day lies in."""
    match rows_of:
        case RowsOf.WEEKS:
            numbers = week_of(plan.dates, plan.site.settings.writing.first_weekday)
        case RowsOf.MONTHS:
            numbers = plan.dates.astype("datetime64[M]").astype(np.int64)
        case RowsOf.DAYS:
            numbers = np.arange(len(plan))
    return list(numbers.tolist())
