"""What the door should be at an instant, by its due times."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.clock import get_zone
from daylatch.plan.block import next_opening_after
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


@dataclass(frozen=True)
class Moment:
    """An instant in the life of a door.

    Attributes
    ----------
    due : Due
        When it moves on the days around.
    instant_utc : datetime64[s]
        The instant.
    index : int
        The row of the flock day that the instant belongs to.
    state : "open" or "shut"
        What the door should be.
    next_movement_utc : datetime64[m] or None
        None if none is known within 400 days.
    next_is_known : bool
        Whether that movement is due then, or planned and not known.
    """

    due: Due
    instant_utc: np.datetime64
    index: int
    state: Literal["open", "shut"]
    next_movement_utc: np.datetime64 | None
    next_is_known: bool

    @property
    def is_known(self) -> bool:
        """Whether the state is: no file in use ends before, and no bounded lateness reaches it."""
        due = self.due
        if due.up_to_min is None:
            return bool(due.known[self.index])
        late = np.timedelta64(due.up_to_min, "m")
        moves = np.concatenate([due.told_open_utc, due.told_close_utc])
        return not np.any((moves <= self.instant_utc) & (self.instant_utc < moves + late))

    @property
    def plan(self) -> Plan:
        """The days around, as they are planned."""
        return self.due.plan

    @property
    def minutes_to_next(self) -> int:
        """Whole minutes to the next movement, rounded up."""
        assert self.next_movement_utc is not None
        wait = self.next_movement_utc.astype("datetime64[s]") - self.instant_utc
        return int(-(-wait // MINUTE))


def days_around(site: Site, instant_utc: np.datetime64) -> Plan:
    """Return the plan of the days around an instant [datetime64[s], UTC], to the next opening.

    Raises
    ------
    PlanError
        As `make_plan`.
    """
    zone = get_zone(site.zone)
    date = zone.date_at(instant_utc)
    two = dt.timedelta(days=2)
    last = date + two
    if zone.rules_end is not None and date <= zone.rules_end:
        last = min(last, zone.rules_end)
    plan = make_plan(site, date - two, last)
    if np.any(plan.open_utc > instant_utc):
        return plan
    found = next_opening_after(site, plan.dates[-1])
    if found is None:
        return plan
    opening = zone.date_at(found)
    if zone.rules_end is not None and opening > zone.rules_end:
        return plan
    return make_plan(site, date - two, opening)


def moment_at(due: Due, instant_utc: np.datetime64) -> Moment:
    """Return what the door should be at an instant [datetime64[s], UTC].

    The governing flock day is found by instant among the days around, since near white nights
    the evening before may still be going on after midnight.

    Parameters
    ----------
    due
        Of `days_around`.
    instant_utc
        The instant.
    """
    plan = due.plan
    index = int(np.searchsorted(plan.day_start_utc, instant_utc, side="right")) - 1
    opens, closes = due.told_open_utc, due.told_close_utc
    is_open = bool(np.any((opens <= instant_utc) & (instant_utc < closes)))
    moves = np.concatenate([opens, closes])
    later = moves[moves > instant_utc]
    # Past the end of the zone rules only the plan's own next opening is known.
    following = later.min() if later.size else next_opening_after(plan.site, plan.dates[-1])
    known = np.tile(due.known | (due.up_to_min is not None), 2)
    next_is_known = bool(known[moves == following].all())
    state: Literal["open", "shut"] = "open" if is_open else "shut"
    return Moment(due, instant_utc, index, state, following, next_is_known)
