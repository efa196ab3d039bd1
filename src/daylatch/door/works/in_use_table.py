"""A controller table that is in use: when the door moves by its bytes."""

from __future__ import annotations

from dataclasses import dataclass
from shlex import quote
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.door.table.decode import ControllerTable, decode
from daylatch.door.table.encode import CLOCKS
from daylatch.door.table.file import bytes_in
from daylatch.door.table.format import CLOCK_BITS, TableError
from daylatch.door.works.in_use import InUseError, within
from daylatch.plan.due import DueTimes
from daylatch.wording import offset_text

if TYPE_CHECKING:
    from daylatch.arrays import Flags, Times
    from daylatch.clock import DoorClock
    from daylatch.door.works.in_use import FindDue
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_CLOCK_OF = {number: clock for clock, number in CLOCKS.items()}


def read_table(content: bytes) -> TableInUse:
    """Return a table that is in use, from its bytes in any of their forms.

    Raises
    ------
    InUseError
        If it is none, or cannot be this house's.
    """
    try:
        table = decode(bytes_in(content))
    except TableError as error:
        raise InUseError(
            f"{error}: name the file that `daylatch plan --to table` wrote and that is in the door"
        ) from error
    return TableInUse(table)


@dataclass(frozen=True)
class TableInUse:
    """A controller table that is in use."""

    table: ControllerTable

    @property
    def first(self) -> np.datetime64:
        """The first date that it covers [datetime64[D]]."""
        return np.datetime64(self.table.first, "D")

    @property
    def last(self) -> np.datetime64:
        """The last date that it covers [datetime64[D]]."""
        return np.datetime64(self.table.last, "D")

    @property
    def clock(self) -> DoorClock:
        """What the controller's clock keeps."""
        return _CLOCK_OF[self.table.head.flags & CLOCK_BITS]

    def times(self, plan: Plan) -> DueTimes:
        """Return when the door moves by it on the days of a plan.

        Raises
        ------
        InUseError
            If its clock is another than that of the site's zone.
        """
        known = within(plan.dates, self)
        self._refuse_other_zone(plan, known)
        values = [
            self.table.on(date) if here else (None, None)
            for date, here in zip(plan.dates.tolist(), known, strict=True)
        ]
        opens, closes = (self._instants(plan, [day[side] for day in values]) for side in range(2))
        return DueTimes(opens, closes, known)

    def agrees(self, plan: Plan, times: DueTimes, find_due: FindDue) -> Flags:
        """Return on which days of a plan that is what the site file now asks for.

        A table may be late by what the site file allows, or by its own width if that says nothing.
        """
        allowed = plan.site.settings.door.within_min
        width = (self.table.head.within_min if allowed is None else allowed) * MINUTE
        same = np.full(len(plan), self.clock is plan.door_clock)
        for due, planned in ((times.open_utc, plan.open_utc), (times.close_utc, plan.close_utc)):
            same &= ((due >= planned) & (due <= planned + width)) | (
                np.isnat(due) & np.isnat(planned)
            )
        return same

    def remedy(self, site: Site, dates: str, number: str) -> str:
        """Return the command that makes a new one for some dates, beside the one in use."""
        return f"daylatch plan {quote(site.file_name)} --to table {dates} -o new-{number}.bin"

    def _instants(self, plan: Plan, values: list[object]) -> Times:
        """Return when the controller's clock shows minutes of the days; NaT for what are none."""
        nothing = np.timedelta64("NaT", "m")
        minutes = np.array(
            [np.timedelta64(value, "m") if isinstance(value, int) else nothing for value in values]
        )
        # The controller acts as soon as its clock shows the minute.
        return plan.first_shown(self.clock, plan.dates.astype("datetime64[m]") + minutes)

    def _refuse_other_zone(self, plan: Plan, known: Flags) -> None:
        """Refuse a table whose clock is never that of this zone.

        On some days it may be another, after a change of the zone's rules: that shows in its times.
        """
        head = self.table.head
        days = (plan.dates - self.first).astype(np.int64)
        quarters = head.offset_quarters + sum(
            (np.where(days >= begins, by, 0) for begins, by in head.changes), np.zeros_like(days)
        )
        noons, _ = plan.zone.noons(plan.dates)
        own = plan.clock_offset(self.clock, noons) // MINUTE
        other = known & (own != 15 * quarters)
        if known.any() and other[known].all():
            index = int(np.flatnonzero(other)[0])
            theirs, ours = (
                offset_text(np.timedelta64(int(minutes), "m"))
                for minutes in (15 * quarters[index], own[index])
            )
            raise InUseError(
                f"is made for another clock (on {plan.dates[index]} it keeps UTC{theirs}, and "
                f"here that is UTC{ours}): is it another house's? Name this one's table"
            )
