"""What can be wrong with light events on arrays, and how it is said of a site.

`daylatch.sun.array_opinion` finds it.
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.sun.lights import event_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers


class Fault(IntEnum):
    """What can be wrong with one side of a day."""

    OFF = 0
    ELSEWHERE = 1
    ORDER = 2
    MISSING = 3
    IMPOSSIBLE = 4
    SKY = 5


_WORDS = {
    Fault.OFF: "has the {event} of {day} where the Sun stands {amount:.2f} degrees away",
    Fault.ELSEWHERE: "has the {event} of {day} {amount:.2f} hours outside its half of that day",
    Fault.ORDER: "has the {event} of {day} in the wrong order, by {amount:.1f} s",
    Fault.MISSING: "has no {event} on {day}, where the Sun passes by {amount:.2f} degrees",
    Fault.IMPOSSIBLE: "has the {event} of {day}, where the Sun stays {amount:.2f} degrees away",
    Fault.SKY: "has the wrong state of the sky for the {event} of {day}, where the Sun stands "
    "{amount:.2f} degrees from it at the transit",
}


class SiteFault(NamedTuple):
    """The first fault of a site.

    Attributes
    ----------
    site : int
        Its place on the sites' axis.
    fault : Fault
        What is wrong.
    side : int
        0 for the rising, 1 for the setting.
    altitude_deg : float
        That the event is for.
    solar_day : datetime64[D]
        The day of local mean solar time.
    amount : float
        By how much: hours for ``ELSEWHERE``, seconds for ``ORDER``, else degrees.
    """

    site: int
    fault: Fault
    side: int
    altitude_deg: float
    solar_day: np.datetime64
    amount: float

    def sentence(self) -> str:
        """Return the fault as one line."""
        said = _WORDS[self.fault].format(
            event=event_name(self.side, self.altitude_deg), day=self.solar_day, amount=self.amount
        )
        return (
            f"the check of the Sun disagrees, so there is no plan: daylatch {said}; "
            "please report this"
        )


class FirstFaults:
    """The first fault of each site, as the check comes upon faults."""

    def __init__(self, sites: int) -> None:
        self.row = np.full(sites, np.iinfo(np.int64).max)
        self.fault = np.zeros(sites, np.int8)
        self.side = np.zeros(sites, np.int8)
        self.amount = np.zeros(sites)

    @property
    def faulty(self) -> Flags:
        """Which sites have one."""
        return np.asarray(self.row < np.iinfo(np.int64).max)

    def add(
        self,
        fault: Fault,
        side: int,
        wrong: Flags,
        amounts: NDArray[np.floating[Any]],
        first_row: int,
        sites: Numbers,
    ) -> None:
        """Take in faults of some days and sites; of two on one day the first that came stays.

        Parameters
        ----------
        fault, side
            Which kind, and 0 for risings or 1 for settings.
        wrong
            (rows, columns), where they are.
        amounts
            Of that shape, by how much.
        first_row
            Of which day the first row is.
        sites
            Of which site each column is.
        """
        rows = wrong.argmax(axis=0)
        columns = np.flatnonzero(wrong.any(axis=0) & (rows + first_row < self.row[sites]))
        rows, here = rows[columns], sites[columns]
        self.row[here], self.fault[here], self.side[here] = rows + first_row, fault, side
        self.amount[here] = amounts[rows, columns]
