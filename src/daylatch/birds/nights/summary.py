"""What a plan's lock-ins amount to: extremes, months, runs, and what keeps the birds in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.birds.date_runs import DateRun, date_runs
from daylatch.birds.nights.waking_causes import Cause, waking_by_cause
from daylatch.wording import to_minutes, whole_parts

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Minutes
    from daylatch.birds.nights.nights import Nights


@dataclass(frozen=True)
class Month:
    """One month of lock-ins; those that are open-ended are counted, but have no length.

    Attributes
    ----------
    month : datetime64[M]
        The month of the closing dates and flock days.
    lock_ins, long, shut_days : int
        How many begin, how many of them are longer than the threshold, and on how many flock days
        the door stays shut.
    shortest, median, longest : timedelta64[us] or None
        Of the lock-ins that begin.
    shut, waking : timedelta64[us]
        How long the door is shut on the month's flock days, and how much of that it is light.
    """

    month: np.datetime64
    lock_ins: int
    long: int
    shut_days: int
    shortest: np.timedelta64 | None
    median: np.timedelta64 | None
    longest: np.timedelta64 | None
    shut: np.timedelta64
    waking: np.timedelta64


class MonthTotal(NamedTuple):
    """What a month is shown to have: whole minutes that add up over the months.

    Attributes
    ----------
    shut, waking : timedelta64[m]
        How long the door is shut, and how much of that it is light.
    """

    shut: np.timedelta64
    waking: np.timedelta64


@dataclass(frozen=True, eq=False)
class NightsSummary:
    """What lock-ins amount to.

    Attributes
    ----------
    nights : Nights
        The lock-ins.
    long : timedelta64[us]
        The threshold beyond which a lock-in is long.
    longest, longest_night, longest_waking : int or None
        Which lock-in is the longest, which of those without a day shut all day, and which has the
        longest waking part.
    months : list of Month
        In their order.
    long_runs : list of DateRun
        Lock-ins over the threshold that follow each other.
    shut_runs : list of DateRun
        Days shut all day that follow each other.
    shut, waking : timedelta64[us]
        Totals over the flock days.
    by_cause : dict
        How much of the waking total each cause answers for [timedelta64[us]].
    open_ended : DateRun or None
        Lock-ins of which no end is known.
    running : DateRun or None
        The days shut all day with which the dates begin: a lock-in that began before them.
    """

    nights: Nights
    long: np.timedelta64
    longest: int | None
    longest_night: int | None
    longest_waking: int | None
    months: list[Month]
    long_runs: list[DateRun]
    shut_runs: list[DateRun]
    shut: np.timedelta64
    waking: np.timedelta64
    by_cause: dict[Cause, np.timedelta64]
    open_ended: DateRun | None
    running: DateRun | None

    @property
    def long_count(self) -> int:
        """How many lock-ins are longer than the threshold."""
        return sum(run.count for run in self.long_runs)

    @cached_property
    def month_totals(self) -> list[MonthTotal]:
        """The months' shut and waking time as it is shown, which adds up to the totals shown.

        Waking and dark time are rounded, and the door is shut for both of them: so a month without
        darkness has no minute more of light than of a shut door.
        """
        waking = np.array([month.waking for month in self.months])
        dark = np.array([month.shut for month in self.months]) - waking
        lit = whole_parts(waking)
        rest = whole_parts(dark, total=to_minutes(self.shut) - to_minutes(self.waking))
        return [MonthTotal(*total) for total in zip(lit + rest, lit, strict=True)]

    def cause_parts(self, unit: np.timedelta64) -> dict[Cause, np.timedelta64]:
        """Return each cause's part in whole units that add up to the waking total shown."""
        parts = whole_parts(np.array(list(self.by_cause.values())), unit)
        return dict(zip(self.by_cause, parts, strict=True))


def summarize_nights(nights: Nights, long: np.timedelta64) -> NightsSummary:
    """Return what lock-ins amount to.

    Parameters
    ----------
    nights
        From `make_nights`.
    long
        Lock-ins longer than this are long. An open-ended one is.
    """
    plan = nights.plan
    is_long = ~nights.known | (nights.length > long)
    ended = nights.known
    unended = nights.dates[~ended]
    shut_runs = date_runs(plan.dates, ~nights.due.is_open)
    return NightsSummary(
        nights=nights,
        long=long,
        longest=_largest(nights.length, ended),
        longest_night=_largest(nights.length, nights.single),
        longest_waking=_largest(nights.waking, ended),
        months=[
            _month(nights, np.datetime64(month, "M"), is_long)
            for month in sorted(set(plan.dates.astype("datetime64[M]").tolist()))
        ],
        long_runs=date_runs(nights.dates, is_long),
        shut_runs=shut_runs,
        shut=nights.day_shut.sum(),
        waking=nights.day_waking.sum(),
        by_cause={cause: part.sum() for cause, part in waking_by_cause(nights).items()},
        open_ended=DateRun(unended[0], unended[-1], len(unended)) if unended.size else None,
        running=None if nights.due.is_open[0] else shut_runs[0],
    )


def _largest(values: Minutes, among: Flags) -> int | None:
    rows = np.flatnonzero(among)
    return int(rows[np.argmax(values[rows])]) if rows.size else None


def _month(nights: Nights, month: np.datetime64, is_long: Flags) -> Month:
    begun = nights.dates.astype("datetime64[M]") == month
    days = nights.plan.dates.astype("datetime64[M]") == month
    lengths = np.sort(nights.length[begun & nights.known])
    half = len(lengths) // 2
    return Month(
        month=month,
        lock_ins=int(begun.sum()),
        long=int((begun & is_long).sum()),
        shut_days=int((days & ~nights.due.is_open).sum()),
        shortest=lengths[0] if len(lengths) else None,
        # The mean of the two in the middle, or the middle one with itself.
        median=lengths[half] - (lengths[half] - lengths[-half - 1]) // 2 if len(lengths) else None,
        longest=lengths[-1] if len(lengths) else None,
        shut=nights.day_shut[days].sum(),
        waking=nights.day_waking[days].sum(),
    )
