"""What a diary says of some days, beside what was due on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.audit.verdicts import Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.diary.audit.verdicts import Movement
    from daylatch.diary.store.rows import Noted
    from daylatch.plan.due import Due

COUNTS = frozenset({"all_in", "still_out", "last_in"})
"""Kinds of entries that tell of the birds in the evening."""
_COUNTED_WITHIN = np.timedelta64(6, "h")
"""A count further from any closing belongs to the day of its date."""


class Line(NamedTuple):
    """An entry, and what it says of a movement that was due.

    Attributes
    ----------
    noted : Noted
        The entry.
    movement : Movement or None
        Which movement of the door it is.
    """

    noted: Noted
    movement: Movement | None


class Unseen(NamedTuple):
    """Something that was due and is not in the diary.

    Attributes
    ----------
    what : str
        In words.
    due_utc : datetime64[m]
        When.
    is_missed : bool
        Whether something else shows that it did not happen.
    """

    what: str
    due_utc: np.datetime64
    is_missed: bool = False


@dataclass(frozen=True, eq=False)
class DayShown:
    """A flock day.

    Attributes
    ----------
    index : int
        Which day of the due times it is.
    lines : list of Line
        What was seen, in the order of time.
    unseen : list of Unseen
        What was due and not reported.
    """

    index: int
    lines: list[Line]
    unseen: list[Unseen]


@dataclass(frozen=True, eq=False)
class Shown:
    """Some days of a diary.

    Attributes
    ----------
    due : Due
        When the door was due, by what was in it.
    days : list of DayShown
        The days, in order.
    birds : str
        How many birds there are, in words; empty if that is not known.
    """

    due: Due
    days: list[DayShown]
    birds: str


def show_days(
    due: Due,
    noted: Sequence[Noted],
    audit: DoorAudit | None,
    wanted: tuple[np.datetime64, np.datetime64],
    now_utc: np.datetime64,
    birds: str,
) -> Shown:
    """Return what a diary says of some days.

    Parameters
    ----------
    due
        When the door was due, by what was in it, on all of the days.
    noted
        The entries, in the order of time.
    audit
        What became of each movement; None without any entry.
    wanted
        The first and last date [datetime64[D]].
    now_utc
        Until when anything can have been seen [datetime64[s]].
    birds
        How many there are, in words.
    """
    movements = audit.found.movements if audit is not None else ()
    by_seen = {(one.seen_utc, one.opening): one for one in movements if not np.isnat(one.seen_utc)}
    place_of = [_place(due, one, _movement(one, by_seen)) for one in noted]
    days = []
    for index in np.flatnonzero((due.plan.dates >= wanted[0]) & (due.plan.dates <= wanted[1])):
        here = [one for one, place in zip(noted, place_of, strict=True) if place == index]
        lines = [Line(one, _movement(one, by_seen)) for one in here]
        unseen = [*_unreported(due, int(index), lines, movements, now_utc)]
        days.append(DayShown(int(index), lines, sorted(unseen, key=lambda one: one.due_utc)))
    return Shown(due, days, birds)


def _place(due: Due, noted: Noted, movement: Movement | None) -> int:
    """Return to which day an entry belongs; -1 for one before all.

    A count of heads belongs to the closing that it is about, and a movement to the day on which it
    was due, also where the next flock day has begun by then.
    """
    instant = noted.entry.instant_utc
    if movement is not None:
        return int(np.searchsorted(due.plan.dates, movement.date))
    if noted.entry.what in COUNTS:
        away = np.abs(due.told_close_utc - instant)
        away[np.isnat(away)] = np.timedelta64(999, "D")
        nearest = int(np.argmin(away))
        if away[nearest] <= _COUNTED_WITHIN:
            return nearest
    return int(np.searchsorted(due.plan.day_start_utc, instant, side="right")) - 1


def _movement(noted: Noted, by_seen: dict[tuple[np.datetime64, bool], Movement]) -> Movement | None:
    door = noted.entry.kind.door
    if door is None or not noted.is_live:
        return None
    return by_seen.get((noted.entry.instant_utc, door.is_open))


def _unreported(
    due: Due,
    index: int,
    lines: list[Line],
    movements: Sequence[Movement],
    now_utc: np.datetime64,
) -> list[Unseen]:
    """Return what was due on a day and is not there."""
    date = due.plan.dates[index]
    verdicts = {
        one.opening: one.verdict
        for one in movements
        if one.date == date and one.verdict is not Verdict.UNPLANNED
    }
    out = []
    for opening, times in ((True, due.told_open_utc), (False, due.told_close_utc)):
        # What lies before the first entry and after the last one has no verdict.
        verdict = verdicts.get(opening, Verdict.NOT_REPORTED)
        unseen = verdict in {Verdict.NOT_REPORTED, Verdict.MISSED}
        if unseen and not np.isnat(times[index]) and times[index] <= now_utc:
            word = "opening" if opening else "closing"
            out.append(Unseen(word, times[index], verdict is Verdict.MISSED))
    counted = any(line.noted.entry.what in COUNTS and line.noted.is_live for line in lines)
    count = due.head_count_utc[index]
    if not counted and not np.isnat(count) and count <= now_utc:
        out.append(Unseen("head count", count))
    return out
