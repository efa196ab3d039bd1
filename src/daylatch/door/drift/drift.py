"""How wrong a door's clock may be, and when it must be set again.

A stated accuracy holds either way: the clock may lose as much as it may gain. A tuning-fork crystal
also runs slow away from 25 °C, by a parabola: so it may lose more than it may gain. Both ends are
bounds, reckoned as if the worst temperature held all the time. Cold is never counted as help: no
clock is sure to lose what the cold might make it lose, so the fast end stays as the data sheet has
it. ``docs/decisions/0012-clock-margin.md`` says why.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from daylatch.errors import PlanError, UsageError
from daylatch.site.choices.oscillators import usual_accuracies

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.tables import Site
    from daylatch.site.timekeeping import Timekeeping

TURNOVER_C = 25.0
"""Where a tuning-fork crystal runs fastest (typical data sheets of 32.768 kHz tuning-fork crystals,
from memory)."""
SLOWER_PPM_PER_C2 = 0.035
"""By how much it runs slow away from there [ppm/°C²] (the same; some name 0.030 to 0.034)."""
NO_CLOCK_PPM = 1000
"""From here on an oscillator is no clock: over a minute a day (our choice, no source)."""
MOST_DAYS = 3660
"""How many days can be asked for: ten years."""
_S_A_DAY = 86_400
_PARTS = 1_000_000
S_A_DAY_AT_1_PPM = _S_A_DAY / _PARTS
"""By how much a clock is wrong after a day for each part per million [s]."""
_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Drift:
    """What a clock may have become by each date, if nobody sets it meanwhile.

    Attributes
    ----------
    site : Site
        Whose door it is.
    facts : Timekeeping
        What is known of the clock; its accuracy is.
    set_on : date
        When it was set last.
    first, last : date
        The dates asked for, none before it was set.
    """

    site: Site
    facts: Timekeeping
    set_on: dt.date
    first: dt.date
    last: dt.date

    @property
    def fast_ppm(self) -> float:
        """By how much it may gain [ppm]."""
        assert self.facts.accuracy_ppm is not None
        return self.facts.accuracy_ppm

    @property
    def temperature_ppm(self) -> float:
        """By how much cold or heat may slow it down [ppm]."""
        if not self.facts.kind.is_slowed:
            return 0.0
        given = (self.facts.coldest, self.facts.warmest)
        return max(
            (SLOWER_PPM_PER_C2 * (one - TURNOVER_C) ** 2 for one in given if one is not None),
            default=0.0,
        )

    @property
    def slow_ppm(self) -> float:
        """By how much it may lose [ppm]."""
        return self.fast_ppm + self.temperature_ppm

    @property
    def is_no_clock(self) -> bool:
        """Whether it is too inexact to be called a clock."""
        return not self.facts.kind.is_clock or self.fast_ppm >= NO_CLOCK_PPM

    def slow_s(self, date: dt.date) -> float:
        """Return by how much it may be slow until the end of a date [s]."""
        return self._off_s(self.slow_ppm, self._days(date))

    def fast_s(self, date: dt.date) -> float:
        """Return by how much it may be fast until the end of a date [s]."""
        return self._off_s(self.fast_ppm, self._days(date))

    def needed_margin_min(self, date: dt.date) -> int:
        """Return the least whole margin that lasts to the end of a date [min]."""
        return math.ceil(max(self.slow_s(date), self.fast_s(date)) / 60)

    @property
    def good_until(self) -> dt.date | None:
        """The last date on which it is surely within the margin; None if not on the first."""
        return self._last_good(self.slow_ppm)

    @property
    def fast_good_until(self) -> dt.date | None:
        """The last date on which it is surely not faster than the margin; None as above."""
        return self._last_good(self.fast_ppm)

    @property
    def dates(self) -> Iterator[dt.date]:
        """The dates asked for."""
        return (self.first + _DAY * ahead for ahead in range((self.last - self.first).days + 1))

    def _days(self, date: dt.date) -> int:
        # The day of setting is counted whole: nobody says at which hour it was done.
        return (date - self.set_on).days + 1

    def _off_s(self, rate_ppm: float, days: int) -> float:
        return self.facts.set_error_s + rate_ppm * _S_A_DAY * days / _PARTS

    def _last_good(self, rate_ppm: float) -> dt.date | None:
        left_s = 60 * self.facts.margin_min - self.facts.set_error_s
        days = max(0, math.floor(left_s * _PARTS / (rate_ppm * _S_A_DAY)))
        # A sum of fractions may come out a hair too large.
        while days and self._off_s(rate_ppm, days) > 60 * self.facts.margin_min:
            days -= 1
        if not days:
            return None
        return self.set_on + _DAY * min(days - 1, (dt.date.max - self.set_on).days)


def rounded_up(number: float) -> int:
    """Return the next whole number, but not for a hair that a sum of fractions leaves."""
    return math.ceil(round(number, 6))


def no_clock_words(drift: Drift) -> str:
    """Return what is said of an oscillator that is no clock."""
    a_day_min = drift.slow_ppm * _S_A_DAY / _PARTS / 60
    return (
        f"this is no clock: at {drift.slow_ppm:g} ppm it may be {a_day_min:.1f} min wrong after a "
        "day; use a clock with a crystal, or one that is set by radio or network"
    )


def make_drift(site: Site, facts: Timekeeping, first: dt.date, last: dt.date) -> Drift:
    """Return how wrong a clock may be on some dates.

    Parameters
    ----------
    site
        Whose door it is.
    facts
        What is known of the clock.
    first, last
        The dates asked for. A clock that was set later is looked at from then on; without a date
        of setting, it is taken to be set on the first.

    Raises
    ------
    UsageError
        If the accuracy is not known, or it was set after the last date.
    PlanError
        If there are too many dates.
    """
    if facts.accuracy_ppm is None:
        raise UsageError(
            "the accuracy of the door's clock is not known: look for ppm in its data sheet, and "
            f"add accuracy_ppm under [clock] or --ppm; {usual_accuracies()}"
        )
    set_on = facts.set_on or first
    if set_on > last:
        raise UsageError(
            f"the clock is set on {set_on}, and the dates end on {last}: ask for later dates, or "
            "give when it was set last"
        )
    days = (last - max(first, set_on)).days + 1
    if days > MOST_DAYS:
        raise PlanError(
            f"{first} to {last} has {days} days, and {MOST_DAYS} (ten years) are the most that a "
            "clock is looked at: choose fewer"
        )
    return Drift(site, facts, set_on, max(first, set_on), last)
