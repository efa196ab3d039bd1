"""The times that a networked door asks for: what should be now, and the movements to come.

The same bytes between two movements, so that a board which asks again and again is mostly told that
nothing has changed: nothing in them hangs on the moment of the question. They begin with the flock
day of the last movement. Where none comes for longer, they go on with each flock day.

What each member means is in ``docs/reference/networked-door.md``.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import get_zone, zone_rules_version
from daylatch.door.table.format import check_of
from daylatch.errors import PlanError
from daylatch.home.times.days import ONE_DAY, as_far_as_planned
from daylatch.wording import local_text, utc_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.arrays import Flags, Times
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

FORMAT = 1
DAYS_AHEAD = 28
"""How many flock days are told behind the one that the answer begins with."""
CHECK_LENGTH = 16
"""Bytes of the last member with what stands around it, which the check does not cover."""
_BEFORE_DAYS = 2
_ALMOST_A_SECOND = np.timedelta64(999_999, "us")


@dataclass(frozen=True)
class Answer:
    """What a door is told, and when that is what it is told.

    Attributes
    ----------
    content : bytes
        The whole of it.
    since_utc, until_utc : datetime64[s]
        From when on, and before when, this is the answer.
    """

    content: bytes
    since_utc: np.datetime64
    until_utc: np.datetime64

    def is_for(self, now_utc: np.datetime64) -> bool:
        """Return whether it is the answer at an instant."""
        return bool(self.since_utc <= now_utc < self.until_utc)


class _Movements(NamedTuple):
    """Movements in their order: when, to where, on which row of the plan, and whether due then."""

    at_utc: Times
    to_open: Flags
    row: Any
    known: Flags

    def part(self, where: Flags) -> _Movements:
        return _Movements(
            self.at_utc[where], self.to_open[where], self.row[where], self.known[where]
        )


def answer_at(site: Site, now_utc: np.datetime64, due_of: Callable[[Plan], Due]) -> Answer:
    """Return what a door is told at an instant [datetime64[s], UTC].

    Parameters
    ----------
    site
        Whose door it is.
    now_utc
        The instant.
    due_of
        Returns when the door will really move on the days of a plan.

    Raises
    ------
    PlanError, SecondOpinionError
        If there is no plan of the days around, or it ends there.
    """
    today = get_zone(site.zone).date_at(now_utc)
    due = as_far_as_planned(
        site,
        due_of,
        today - _BEFORE_DAYS * ONE_DAY,
        today + _BEFORE_DAYS * ONE_DAY,
        today + (DAYS_AHEAD + _BEFORE_DAYS + 1) * ONE_DAY,
    )
    starts = _seconds_up(due.plan.day_start_utc)
    moves = _movements(due)
    past = moves.part(moves.at_utc <= now_utc)
    row = int(np.searchsorted(starts, now_utc, side="right")) - 1
    # A night goes on past the lowest Sun, and its answer with it. The answer begins with this row.
    anchor = max(row - 1, int(past.row[-1]) if past.row.size else 0)
    last = min(anchor + DAYS_AHEAD + 1, len(starts) - 1)
    until = starts[last]
    if now_utc >= until:
        raise PlanError(f"there is no plan from {due.plan.dates[last]} on")
    in_reach = past.row.size > 0 and past.row[-1] >= anchor
    since = past.at_utc[-1] if in_reach else starts[anchor + 1]
    told = moves.part((moves.at_utc >= since) & (moves.at_utc < until))
    content = _content(due.plan, bool(past.to_open[-1:].any()), since, until, told)
    changes = min([*told.at_utc[told.at_utc > now_utc][:1], *starts[anchor + 2 :][:1], until])
    return Answer(content, since, changes)


def _movements(due: Due) -> _Movements:
    """Return the movements that people are told, in their order, each the other way than before.

    The door should be open from the opening to the closing of each flock day. A file in the door
    may say what no plan would: where one day's opening comes before the closing of another, the
    door is open throughout, as `daylatch today` has it.
    """
    opens, closes = (
        times.astype("datetime64[s]") for times in (due.told_open_utc, due.told_close_utc)
    )
    rows = np.flatnonzero(opens < closes)
    rows = rows[np.argsort(opens[rows], kind="stable")]
    spans: list[list[Any]] = []
    for row in rows.tolist():
        if spans and opens[row] <= spans[-1][1]:
            if closes[row] > spans[-1][1]:
                spans[-1][1:] = closes[row], spans[-1][2], row
            continue
        spans.append([opens[row], closes[row], row, row])
    at = np.array([end for span in spans for end in span[:2]], "datetime64[s]")
    row_of = np.array([row for span in spans for row in span[2:]], np.intp)
    to_open = np.tile([True, False], len(spans))
    return _Movements(at, to_open, row_of, due.known[row_of])


def _content(
    plan: Plan, is_open: bool, since: np.datetime64, until: np.datetime64, told: _Movements
) -> bytes:
    walls = local_text(plan.on_wall(told.at_utc))
    movements = [
        {"utc": utc, "unix": unix, "wall": wall, "to": _state(to_open), "known": known}
        for utc, unix, wall, to_open, known in zip(
            utc_text(told.at_utc),
            told.at_utc.astype(np.int64).tolist(),
            walls,
            told.to_open.tolist(),
            told.known.tolist(),
            strict=True,
        )
    ]
    return sealed(
        {
            "daylatch_times": FORMAT,
            "house": plan.site.id,
            "zone": plan.site.zone,
            "zone_rules": zone_rules_version(),
            "state": _state(is_open),
            "holds_from_utc": _utc(since),
            "holds_from_unix": _unix(since),
            "holds_until_utc": _utc(until),
            "holds_until_unix": _unix(until),
            "movements": movements,
            "caution": CAUTION,
        }
    )


def sealed(members: dict[str, Any]) -> bytes:
    """Return an object as compact JSON in ASCII, with the check of its bytes as last member."""
    before = json.dumps(members, separators=(",", ":")).encode("ascii")[:-1]
    return before + b',"check":"%04x"}' % check_of(before)


def _state(is_open: bool) -> str:
    return "open" if is_open else "shut"


def _utc(instant: np.datetime64) -> str:
    return utc_text(np.array([instant]))[0]


def _unix(instant: np.datetime64) -> int:
    return int(instant.astype("datetime64[s]").astype(np.int64))


def _seconds_up(instants: Times) -> Times:
    return (instants + _ALMOST_A_SECOND).astype("datetime64[s]")
