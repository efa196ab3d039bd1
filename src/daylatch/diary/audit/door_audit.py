"""The whole audit of a door: what was due, what was seen, and what follows from both."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import DoorClock
from daylatch.diary.audit.audit import audit
from daylatch.diary.audit.dangers import find_dangers
from daylatch.diary.audit.expected import expected_of
from daylatch.diary.audit.seen import clock_set_in, readings_in, seen_in
from daylatch.diary.audit.verdicts import Verdict

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.diary.audit.audit import Audit
    from daylatch.diary.audit.dangers import Danger
    from daylatch.diary.audit.expected import Judged
    from daylatch.diary.entries import Entry
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

BY_PERSON = "hand"
_AROUND = np.timedelta64(12, "h")
"""How far before the first entry and after the last one a movement may have been due that they tell
of."""


@dataclass(frozen=True, eq=False)
class DoorAudit:
    """What an audit found.

    Attributes
    ----------
    judged : Judged
        What was due, and by what.
    entries : tuple of Entry
        What was seen, in the order of time.
    source : str
        Where that comes from.
    found : Audit
        The verdicts, and what ails the clock.
    today : date
        From when on anything can be done.
    """

    judged: Judged
    entries: tuple[Entry, ...]
    source: str
    found: Audit
    today: dt.date

    @property
    def due(self) -> Due:
        """When the door was due, by what was in it."""
        return self.judged.due

    @property
    def site(self) -> Site:
        """Whose door it is."""
        return self.due.plan.site

    @cached_property
    def dangers(self) -> tuple[Danger, ...]:
        """What cost birds, or could have."""
        return find_dangers(self.due, self.found.movements, self.entries)

    @property
    def first(self) -> dt.date:
        """The date of the first entry."""
        return self.due.plan.zone.date_at(self.entries[0].instant_utc)

    @property
    def last(self) -> dt.date:
        """The date of the last entry."""
        return self.due.plan.zone.date_at(self.entries[-1].instant_utc)

    @property
    def until_utc(self) -> np.datetime64:
        """When the last entry was [datetime64[s]]."""
        return self.entries[-1].instant_utc


def audit_door(
    judged: Judged,
    entries: Sequence[Entry],
    source: str,
    today: dt.date,
) -> DoorAudit:
    """Return what entries say of a door.

    Parameters
    ----------
    judged
        When the door was due, on the days of the entries and two more either way.
    entries
        At least one.
    source
        Where they come from, for people.
    today
        From when on anything can be done.
    """
    ordered = tuple(sorted(entries, key=lambda one: one.instant_utc))
    plan = judged.due.plan
    clock = plan.door_clock
    first, last = ordered[0].instant_utc, ordered[-1].instant_utc
    found = audit(
        expected_of(judged.due, first - _AROUND, last + _AROUND),
        seen_in(ordered, by_person=plan.site.works == BY_PERSON),
        readings_in(ordered, plan.zone, clock),
        clock_set_in(ordered),
        plan.zone.changes(first, last),
        follows_zone=clock is DoorClock.WALL,
    )
    # Who began to look, or stopped, shortly after a movement need not have seen it.
    movements = tuple(
        one
        for one in found.movements
        if one.verdict is not Verdict.NOT_REPORTED or first <= one.due_utc <= last
    )
    return DoorAudit(judged, ordered, source, replace(found, movements=movements), today)
