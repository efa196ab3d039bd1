"""What was seen of the birds: on each evening, when the last was in, or between which moments.

The same for mornings, on which the first bird wants out. A half of a flock day runs from one
transit of the Sun to the next: a last bird after midnight in June belongs to the evening before.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.plan.daily.flock_days import find_flock_days

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from daylatch.arrays import Flags, Times
    from daylatch.clock import Zone
    from daylatch.diary.entries import Entry
    from daylatch.site.tables import Site

MOST_UNSURE_MIN = 30.0
"""An entry whose moment is less sure than this tells nothing of a light (our choice, no source)."""
AT_OPENING = np.timedelta64(3, "m")
"""A first bird out so soon after the door opened was waiting for it (our choice, no source)."""
CLOSE_LOOKS = np.timedelta64(10, "m")
"""Two looks no further apart say the moment between them (our choice, no source)."""
NEVER = np.datetime64("NaT", "s")


class Half(Enum):
    """Of a flock day, by what is learned in it."""

    EVENING = "evening"
    MORNING = "morning"


class _Found(NamedTuple):
    """The instants of one half of a day, in order: the moment itself, before it and after it."""

    exact: list[np.datetime64]
    not_yet: list[np.datetime64]
    by_then: list[np.datetime64]


class _Resolved(NamedTuple):
    """What they come to: the moment itself, or its bounds."""

    exact_utc: np.datetime64
    after_utc: np.datetime64 = NEVER
    until_utc: np.datetime64 = NEVER
    waited: bool = False


class _Kinds(NamedTuple):
    """Which entries tell of a half of a day: the moment itself, before it, and after it."""

    exact: str
    not_yet: str
    by_then: str


_KINDS = {
    Half.EVENING: _Kinds("last_in", "still_out", "all_in"),
    Half.MORNING: _Kinds("first_out", "none_waiting", "waiting"),
}
KINDS = tuple(kind for kinds in _KINDS.values() for kind in kinds)
"""The entries that tell of a light."""
_OPENINGS = ("opened", "opened_by_hand")
TOLD = (*KINDS, *_OPENINGS)
"""The entries that are looked at."""


@dataclass(frozen=True, eq=False)
class Looks:
    """What was seen in one half of flock days, in the order of their dates.

    All arrays have an element a date; at least one of the three instants is given on each.

    Attributes
    ----------
    half : Half
        Which.
    dates : datetime64[D]
        The flock days.
    solar_days : datetime64[D]
        The days of local mean solar time that they are.
    exact_utc : datetime64[s]
        When the last bird was in, or the first wanted out: noted so, or the middle of two looks
        that lie close together; NaT where that is not known.
    after_utc, until_utc : datetime64[s]
        By looks it was after the one, and at the latest at the other; NaT for no bound.
    waited : bool
        Where the first bird came out as the door opened: it had wanted out before, and the moment
        was the door's choice.
    aside : tuple of Entry
        Entries that fit no such half of a day, such as a last bird in at breakfast.
    unsure : int
        How many entries tell too little of when they were.
    on_shut_days : int
        How many days are left out because the door stayed shut.
    """

    half: Half
    dates: Times
    solar_days: Times
    exact_utc: Times
    after_utc: Times
    until_utc: Times
    waited: Flags
    aside: tuple[Entry, ...] = ()
    unsure: int = 0
    on_shut_days: int = 0

    def __len__(self) -> int:
        return len(self.dates)

    @property
    def is_exact(self) -> Flags:
        """On which days the moment itself is known."""
        return ~np.isnat(self.exact_utc)

    @property
    def latest_utc(self) -> Times:
        """By when it was at the latest [datetime64[s]]; NaT where only a time before is known."""
        return np.where(np.isnat(self.until_utc), self.exact_utc, self.until_utc)


def find_looks(
    half: Half,
    entries: Sequence[Entry],
    site: Site,
    zone: Zone,
    openings_utc: Times,
) -> Looks:
    """Return what entries tell of one half of the flock days.

    Parameters
    ----------
    half
        Which.
    entries
        In any order; only those of `TOLD` count.
    site, zone
        Where it was.
    openings_utc
        When the door was due to open, for mornings without an entry of that.

    Raises
    ------
    PlanError
        If flock days cannot be told at the place.
    """
    kinds = _KINDS[half]
    sure = [one for one in entries if one.what in kinds and one.within_min <= MOST_UNSURE_MIN]
    unsure = sum(one.what in kinds for one in entries) - len(sure)
    if not sure:
        none = np.array([], "datetime64[D]")
        times = _column(())
        return Looks(half, none, none, times, times, times, np.array([], np.bool_), (), unsure)
    instants = np.array([one.instant_utc for one in sure])
    first, last = (end.astype("datetime64[D]") for end in (instants.min(), instants.max()))
    days = find_flock_days(site.longitude_deg, zone, first - DAY, last + DAY, 1)
    index = np.searchsorted(days.lower_utc, instants, side="right") - 1
    is_evening = instants >= days.transit_utc[index]
    fits = is_evening == (half is Half.EVENING)
    noted = _column(one.instant_utc for one in entries if one.what in _OPENINGS)
    due = openings_utc[~np.isnat(openings_utc)].astype("datetime64[s]")
    # What was noted of an opening is known better than when it should have been.
    of_noted, of_due = (np.searchsorted(days.lower_utc, one, side="right") for one in (noted, due))
    opened = np.sort(np.concatenate([noted, due[~np.isin(of_due, of_noted)]]))
    of_day: dict[int, list[Entry]] = {}
    for place in np.flatnonzero(fits).tolist():
        of_day.setdefault(int(index[place]), []).append(sure[place])
    rows = []
    for day in sorted(of_day):
        found = _Found(
            *(sorted(one.instant_utc for one in of_day[day] if one.what == kind) for kind in kinds)
        )
        rows.append(_RESOLVE[half](found, opened))
    places = sorted(of_day)
    return Looks(
        half,
        dates=days.dates[places],
        solar_days=days.solar_days[places],
        exact_utc=_column(row.exact_utc for row in rows),
        after_utc=_column(row.after_utc for row in rows),
        until_utc=_column(row.until_utc for row in rows),
        waited=np.array([row.waited for row in rows], np.bool_),
        aside=tuple(one for one, fit in zip(sure, fits.tolist(), strict=True) if not fit),
        unsure=unsure,
    )


def _evening(found: _Found, _opened: Times) -> _Resolved:
    """Who counts later knows better: a bird still out after the "last" one makes that none."""
    after = found.not_yet[-1] if found.not_yet else NEVER
    if found.exact and not found.exact[-1] < after:
        return _Resolved(found.exact[-1])
    until = next((one for one in found.by_then if not one <= after), NEVER)
    return _between(after, until)


def _between(after: np.datetime64, until: np.datetime64) -> _Resolved:
    """Return what two looks come to: close together they say the moment."""
    is_close = until - after <= CLOSE_LOOKS
    return _Resolved(after + (until - after) // 2 if is_close else NEVER, after, until)


def _morning(found: _Found, opened: Times) -> _Resolved:
    """Who comes out as the door opens has waited; from then on nobody waits any more."""
    out = found.exact[0] if found.exact else NEVER
    looked = [one for one in found.by_then if not one >= out]
    if not looked and _waited(out, opened):
        after = next((one for one in reversed(found.not_yet) if one < out), NEVER)
        return _Resolved(NEVER, after, out, waited=True)
    if looked:
        until = looked[0]
    elif found.exact:
        return _Resolved(out)
    else:
        until = NEVER
    after = next((one for one in reversed(found.not_yet) if not one >= until), NEVER)
    return _between(after, until)


_RESOLVE = {Half.EVENING: _evening, Half.MORNING: _morning}


def _waited(instant: np.datetime64, opened: Times) -> bool:
    """Return whether the door had opened just before a first bird came out."""
    before = opened[opened <= instant]
    return bool(len(before) and instant - before[-1] <= AT_OPENING)


def _column(instants: Iterable[np.datetime64]) -> Times:
    return np.array(list(instants), "datetime64[s]")
