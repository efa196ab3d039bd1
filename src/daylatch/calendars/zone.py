"""The wall clock of a site, as a calendar file describes it (RFC 5545, 3.6.5).

Built from the plan's own zone: the library's way from a zone object gives onsets in the time
that holds after the change, where the standard wants the time that held before it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np
from icalendar import Timezone, TimezoneDaylight, TimezoneStandard, vDatetime, vUTCOffset

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.clock import Zone

# The longest reminder is a day: its moment must lie within the description too.
_LEAD = np.timedelta64(2, "D")


def make_timezone(zone: Zone, first_utc: np.datetime64, last_utc: np.datetime64) -> Timezone:
    """Describe a zone for a range of instants, and no further.

    Parameters
    ----------
    zone
        The wall clock.
    first_utc, last_utc
        Everything that the calendar names in this zone lies between them.

    Returns
    -------
    Timezone
        What holds two days before the range, then one observance a clock change. Each is written
        out: a rule of recurrence would say more than the range needs, and some zones follow none.
    """
    begin = first_utc.astype("datetime64[s]") - _LEAD
    timezone = Timezone()
    timezone.add("TZID", zone.name)
    held = zone.offset_at(np.array([begin]))[0]
    onsets = [(begin, held, held)]
    onsets += [
        (change.instant_utc, change.before, change.after)
        for change in zone.changes(begin, last_utc.astype("datetime64[s]"))
    ]
    for instant, before, after in onsets:
        # By the offset and not by the law's name for it: Dublin's law calls summer time standard.
        standard = zone.standard_offset(instant.astype("datetime64[D]")[None])[0]
        observance = TimezoneDaylight() if after > standard else TimezoneStandard()
        observance["DTSTART"] = vDatetime(cast("dt.datetime", (instant + before).item()))
        observance["TZOFFSETFROM"] = vUTCOffset(cast("dt.timedelta", before.item()))
        observance["TZOFFSETTO"] = vUTCOffset(cast("dt.timedelta", after.item()))
        timezone.add_component(observance)
    return timezone
