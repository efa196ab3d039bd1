"""Which movements were due on some days, by what was in the door on each of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.moves import Expected
from daylatch.plan.block import next_opens
from daylatch.plan.daily.rules import NEVER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.arrays import Flags, Times
    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.due import Due


class Since(NamedTuple):
    """A table or list that was put into the door.

    Attributes
    ----------
    at_utc : datetime64[s]
        When.
    name : str
        What the keeper calls it.
    file : InUseFile or None
        What it says; None if that is not kept, so that the site file has to do.
    """

    at_utc: np.datetime64
    name: str
    file: InUseFile | None


class Source(NamedTuple):
    """By what some days are judged.

    Attributes
    ----------
    first, last : datetime64[D]
        The days.
    name : str
        The table or list; empty where the site file says it.
    is_kept : bool
        Whether the diary keeps that file, or it is the one that the site file names.
    """

    first: np.datetime64
    last: np.datetime64
    name: str
    is_kept: bool


@dataclass(frozen=True, eq=False)
class Judged:
    """What some days are judged by.

    Attributes
    ----------
    due : Due
        When the door was due, by what was in it.
    sources : tuple of Source
        Where that comes from, in the order of the days.
    uncovered : datetime64[D]
        Days that the file which was in the door does not cover; they are judged as planned.
    """

    due: Due
    sources: tuple[Source, ...]
    uncovered: Times


def judge_by(due: Due, put_in: Sequence[Since]) -> Judged:
    """Return what is due by what was in the door on each day.

    Parameters
    ----------
    due
        What is due by the site file, or by the file that it names.
    put_in
        What the diary says was put into the door, in the order of time; each holds until the next.

    Raises
    ------
    InUseError
        If a file that was put in is another house's.
    """
    plan = due.plan
    opens, closes, known = due.open_utc.copy(), due.close_utc.copy(), due.known.copy()
    uncovered = np.zeros(len(plan), np.bool_)
    named = np.full(len(plan), -1)
    middle = plan.sun.transit
    for number, since in enumerate(put_in):
        from_here = middle >= since.at_utc
        named[from_here] = number
        if since.file is None:
            continue
        times = since.file.times(plan)
        for mine, theirs, planned in (
            (opens, times.open_utc, plan.open_utc),
            (closes, times.close_utc, plan.close_utc),
        ):
            reached = np.where(np.isnat(planned), middle, planned) >= since.at_utc
            mine[reached] = np.where(times.known, theirs, planned)[reached]
        known[from_here] = True
        uncovered[from_here] = ~times.known[from_here]
    mixed = replace(
        due,
        open_utc=opens,
        close_utc=closes,
        known=known,
        next_open_utc=_next_opens(due, opens, closes, known),
        in_use=due.in_use if not put_in else None,
    )
    return Judged(mixed, tuple(_sources(due, put_in, named)), plan.dates[uncovered])


def _next_opens(due: Due, opens: Times, closes: Times, known: Flags) -> Times:
    opens = np.where(known, opens, due.plan.open_utc)
    closes = np.where(known, closes, due.plan.close_utc)
    last = due.next_open_utc[~np.isnat(due.next_open_utc)][-1:]
    return next_opens(opens, last[0] if last.size else NEVER, np.isnat(closes))


def _sources(due: Due, put_in: Sequence[Since], named: np.ndarray) -> list[Source]:
    dates = due.plan.dates
    out = []
    edges = np.flatnonzero(np.diff(named)) + 1
    for part in np.split(np.arange(len(dates)), edges):
        number = int(named[part[0]])
        name, is_kept = "", True
        if number >= 0:
            name, is_kept = put_in[number].name, put_in[number].file is not None
        elif due.in_use is not None:
            name = due.in_use.name
        out.append(Source(dates[part[0]], dates[part[-1]], name, is_kept))
    return out


def expected_of(due: Due, since_utc: np.datetime64, until_utc: np.datetime64) -> Expected:
    """Return the movements that were due between two instants [datetime64[s]], in their order."""
    plan = due.plan
    late = 0 if due.up_to_min is None else due.up_to_min
    sides = (
        (True, due.told_open_utc, plan.open_utc),
        (False, due.told_close_utc, plan.close_utc),
    )
    opening = np.repeat([side for side, *_ in sides], len(plan))
    times = np.concatenate([times for _, times, _ in sides])
    planned = np.concatenate([planned for *_, planned in sides])
    dates, known = np.tile(plan.dates, 2), np.tile(due.known, 2)
    within = ~np.isnat(times) & (times >= since_utc) & (times <= until_utc)
    order = np.flatnonzero(within)[np.argsort(times[within], kind="stable")]
    return Expected(
        dates=dates[order],
        opening=opening[order],
        planned_utc=planned[order],
        due_utc=times[order],
        up_to_min=np.where(known[order], 0, late).astype(np.int64),
    )
