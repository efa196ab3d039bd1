"""A lamp that keeps the length of day: when it goes on and off.

The lamp's *target* is the length of day that it keeps on a flock day, lamp and natural day
together. It is the wanted length, but for the weeks after a first date that the keeper sets, in
which it steps up from the natural length, and those before a last date, in which it steps down to
it. In any week the lamp lets the day grow or shrink by no more than the keeper's step; what the
natural day does by itself is not limited. The target depends on the keeper's dates and the Sun
alone, never on the range that is asked for.

When it burns to keep that is in `daylatch.birds.daylength.burns`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.birds.daylength.burns import Burns, find_burns
from daylatch.birds.daylength.daylength import DayLengths, find_daylight, wanted_length
from daylatch.birds.nights.nights import NO_LAMP, LampLight
from daylatch.errors import PlanError
from daylatch.plan.daily.rules import ceil_minute
from daylatch.sun.ephemeris import FIRST_DAY, LAST_DAY

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.due import Due
    from daylatch.site.laying import Laying
    from daylatch.site.tables import Site


_WEEK_DAYS = 7
_ZERO = np.timedelta64(0, "us")
_YEAR_DAYS = 366
# What may be asked of the Sun, with room for the weeks beside a date.
_EARLIEST, _LATEST = FIRST_DAY + 30, LAST_DAY - 30


@dataclass(frozen=True)
class Ramp:
    """The weeks in which the target steps from the natural length to the wanted one, or back.

    Attributes
    ----------
    edge : datetime64[D]
        The lamp's first date, or its last.
    levels : tuple of timedelta64[us]
        The target week by week from the edge inwards; the last one is the wanted length.
    """

    edge: np.datetime64
    levels: tuple[np.timedelta64, ...]

    def targets(self, dates: Times) -> Minutes:
        """Return the target on dates on the lamp's side of the edge [timedelta64[us]]."""
        weeks = np.abs((dates - self.edge).astype(np.int64)) // _WEEK_DAYS
        return np.asarray(np.array(self.levels)[np.minimum(weeks, len(self.levels) - 1)])

    def days_under(self, length: np.timedelta64) -> int:
        """Return on how many days, from the edge inwards, the target is less than a length."""
        return _WEEK_DAYS * sum(bool(level < length) for level in self.levels)


@dataclass(frozen=True, eq=False)
class Lamp:
    """When a lamp burns; all columns have an element a flock day of the plan.

    Attributes
    ----------
    lengths : DayLengths
        The natural day.
    due : Due
        When the door moves.
    target : timedelta64[us]
        The length of day that the lamp keeps; zero before its first and after its last date.
    on_utc, off_utc : datetime64[m]
        Shape (2, days): the first and the second time it burns that day; NaT where it does not.
    lengthened : timedelta64[m]
        How much longer it burns that day for the sake of the least burn.
    length : timedelta64[us]
        From the beginning of light to its end, lamp and natural day together.
    up, down : Ramp or None
        The steps after a first date and before a last one, where the keeper set them.
    since : datetime64[D] or None
        Without a first date: when the day had fallen under the wanted length as the plan begins.
        None if it is long enough then, or was not so within a year.
    until : datetime64[D] or None
        When the natural day is long enough again after a last date on which it is not.
    most : timedelta64[us]
        The largest target between the keeper's dates.
    """

    lengths: DayLengths
    due: Due
    target: Minutes
    on_utc: Times
    off_utc: Times
    lengthened: Minutes
    length: Minutes
    up: Ramp | None
    down: Ramp | None
    since: np.datetime64 | None
    until: np.datetime64 | None
    most: np.timedelta64

    @property
    def laying(self) -> Laying:
        """What the keeper wants."""
        return self.lengths.laying

    @property
    def never_enough(self) -> bool:
        """Whether, with no first date, all days of the plan and the year before are too short."""
        return self.up is None and self.since is None and bool(self.lengths.under.all())

    @property
    def lit(self) -> Flags:
        """Whether it burns at all that day."""
        return np.asarray(~np.isnat(self.on_utc[0]))

    @property
    def burning(self) -> Minutes:
        """How long it burns that day [timedelta64[m]]."""
        times = self.off_utc - self.on_utc
        burning: Minutes = np.where(np.isnat(times), np.timedelta64(0, "m"), times).sum(axis=0)
        return burning

    @property
    def short(self) -> Flags:
        """Whether a burn stays shorter than the least burn, for the sake of the dark."""
        least = np.timedelta64(self.laying.least_burn_min, "m")
        return np.asarray((self.off_utc - self.on_utc < least).any(axis=0))

    @property
    def centred(self) -> Flags:
        """Whether it stands around the transit of a day on which the Sun stays down."""
        return self.lit & self.lengths.counted.always_down

    @property
    def evening(self) -> Flags:
        """Whether it goes off in the dark, after civil dusk."""
        dusk = ceil_minute(self.lengths.by["civil"].light.end)
        return np.asarray(np.fmax(*self.off_utc) > dusk)

    @property
    def before_opening(self) -> Minutes:
        """How long birds are awake inside from lamp-on to the due opening [timedelta64[m]]."""
        return _at_least_none(self.due.told_open_utc - np.fmin(*self.on_utc))

    @property
    def after_closing(self) -> Minutes:
        """How long birds are awake inside from the due closing to lamp-off [timedelta64[m]]."""
        return _at_least_none(np.fmax(*self.off_utc) - self.due.told_close_utc)

    @property
    def wakes(self) -> Flags:
        """Whether it burns behind a shut door that day, so that birds are awake inside."""
        zero = np.timedelta64(0, "m")
        waits = (self.before_opening > zero) | (self.after_closing > zero)
        return self.lit & (waits | ~self.due.is_open)


def make_lamp(lengths: DayLengths, due: Due) -> Lamp | None:
    """Return when the lamp burns on the days of a plan; None if the keeper wants none.

    Parameters
    ----------
    lengths
        The natural day.
    due
        When the door moves on the same days.

    Raises
    ------
    PlanError
        If one of the lamp's dates lies where the Sun is not computed.
    """
    if lengths.laying.lamp == "none":
        return None
    aim = _aim(lengths)
    burns = find_burns(lengths, aim.target)
    natural = lengths.counted.light
    on, off = burns.in_turn
    return Lamp(
        lengths=lengths,
        due=due,
        target=aim.target,
        on_utc=on,
        off_utc=off,
        lengthened=burns.lengthened,
        # NaT gives way to the natural day.
        length=np.fmax(np.fmax(*off), natural.end) - np.fmin(np.fmin(*on), natural.start),
        up=aim.up,
        down=aim.down,
        since=_fell_under(lengths) if aim.up is None else None,
        until=None
        if aim.down is None
        else _long_enough_after(lengths.plan.site, lengths.laying, aim.down.edge),
        most=aim.most,
    )


def lamp_light(lengths: DayLengths) -> LampLight:
    """Return when a lamp burns, and when it is not light by nature then; never without a lamp.

    Raises
    ------
    PlanError
        As `make_lamp`.
    """
    if lengths.laying.lamp == "none":
        return NO_LAMP
    burns = lamp_burns(lengths)
    return LampLight(burns.stretches, burns.without(lengths.by["civil"].light))


def lamp_burns(lengths: DayLengths) -> Burns:
    """Return when a lamp that the keeper wants burns, before and after the natural day.

    Raises
    ------
    PlanError
        As `make_lamp`.
    """
    return find_burns(lengths, _aim(lengths).target)


class _Aim(NamedTuple):
    """What the lamp keeps: the target on each day, the steps to it, and the most of it."""

    target: Minutes
    up: Ramp | None
    down: Ramp | None
    most: np.timedelta64


def _aim(lengths: DayLengths) -> _Aim:
    laying, site = lengths.laying, lengths.plan.site
    first, last = _edge("lamp_from", laying.lamp_from), _edge("lamp_until", laying.lamp_until)
    up = None if first is None else _ramp(site, laying, first, -1)
    down = None if last is None else _ramp(site, laying, last, +1)
    most = _most(laying, up, down)
    target = np.minimum(_targets(laying, up, down, lengths.plan.dates), most)
    return _Aim(target, up, down, most)


def _edge(key: str, date: dt.date | None) -> np.datetime64 | None:
    if date is None:
        return None
    edge = np.datetime64(date, "D")
    if not _EARLIEST <= edge <= _LATEST:
        raise PlanError(
            f"laying.{key} = {date}: the Sun is computed from {_EARLIEST} to {_LATEST}; give a "
            "date between, or leave it out"
        )
    return edge


def _ramp(site: Site, laying: Laying, edge: np.datetime64, outward: int) -> Ramp:
    """Return the steps between the natural length and the wanted one.

    They are the same in both directions of time. The first is a step more than the shortest
    natural day of the week outside; each further one is a step more than the one before, or the
    natural length of the day before it, if that is longer.

    Parameters
    ----------
    site, laying
        Where, and what is wanted.
    edge
        The date at which the lamp begins or ends.
    outward
        -1 if outside is before the edge, +1 if it is after.
    """
    wanted = wanted_length(laying)
    step = np.timedelta64(laying.weekly_step_min, "m")
    most_weeks = int(np.ceil(wanted / step))
    inner = edge - outward * _WEEK_DAYS * most_weeks
    bounds = sorted([np.clip(inner, _EARLIEST, _LATEST), edge + outward * _WEEK_DAYS])
    days, found = find_daylight(site, *bounds)
    inward = (days.dates - edge).astype(np.int64) * -outward
    length = found[laying.counts].length
    levels = [min(length[inward < 0].min() + step, wanted)]
    while levels[-1] < wanted:
        # The last day of this week, seen inwards; skipped dates leave holes.
        before = np.flatnonzero(inward < _WEEK_DAYS * len(levels))
        nearest = before[np.argmax(inward[before])]
        levels.append(min(max(levels[-1] + step, length[nearest]), wanted))
    return Ramp(edge, tuple(levels))


def _targets(laying: Laying, up: Ramp | None, down: Ramp | None, dates: Times) -> Minutes:
    target = np.full(dates.shape, wanted_length(laying))
    for ramp, outside in (
        (up, dates < (dates[0] if up is None else up.edge)),
        (down, dates > (dates[-1] if down is None else down.edge)),
    ):
        if ramp is not None:
            target = np.minimum(target, np.where(outside, _ZERO, ramp.targets(dates)))
    return target


def _most(laying: Laying, up: Ramp | None, down: Ramp | None) -> np.timedelta64:
    """Return the largest target between two dates that holds for a week.

    Where the steps up and down meet before the wanted length, the last step up could be taken back
    the day after.
    """
    if up is None or down is None:
        return wanted_length(laying)
    targets = np.sort(_targets(laying, up, down, np.arange(up.edge, down.edge + DAY)))
    largest: np.timedelta64 = targets[-min(_WEEK_DAYS, len(targets))]
    return largest


def _at_least_none(durations: Minutes) -> Minutes:
    known = np.where(np.isnat(durations), np.timedelta64(0, "m"), durations)
    return np.maximum(known, np.timedelta64(0, "m"))


def _fell_under(lengths: DayLengths) -> np.datetime64 | None:
    """Return the date on which the day fell under the wanted length before the plan begins."""
    if not lengths.under[0]:
        return None
    start = lengths.plan.dates[0]
    first = max(start - _YEAR_DAYS, _EARLIEST)
    days, found = find_daylight(lengths.plan.site, first, start)
    long = np.flatnonzero(found[lengths.laying.counts].length >= lengths.wanted)
    return days.dates[long[-1] + 1] if long.size else None


def _long_enough_after(site: Site, laying: Laying, last: np.datetime64) -> np.datetime64 | None:
    """Return when the natural day is next long enough, if it is not on the day after a date."""
    days, found = find_daylight(site, last + DAY, min(last + _YEAR_DAYS, LAST_DAY - 5))
    long = np.flatnonzero(found[laying.counts].length >= wanted_length(laying))
    return days.dates[long[0]] if long.size and long[0] > 0 else None
