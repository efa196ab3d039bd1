"""Times and dates in a calendar file (RFC 5545, 3.3.4 and 3.3.5)."""

from __future__ import annotations

import datetime as dt

from icalendar import vDate, vDatetime
from icalendar.parser import Parameters


class UtcTime(vDatetime):
    """A time in UTC. The library would look up all names of its zone, three times for each."""

    def __init__(self, instant_utc: dt.datetime) -> None:
        self.dt = instant_utc.replace(tzinfo=dt.UTC)
        self.params = Parameters()

    def is_utc(self) -> bool:
        """Return that it is."""
        return True


def named_time(wall: dt.datetime, zone_name: str) -> vDatetime:
    """Return a wall-clock time of a zone."""
    moment = vDatetime(wall)
    # Afterwards: the constructor drops the zone of a time that carries none itself.
    moment.params["TZID"] = zone_name
    return moment


def whole_date(date: dt.date) -> vDate:
    """Return a date that no reader takes for a time."""
    whole = vDate(date)
    # Else it would be read as a time (RFC 5545, 3.8.2.4).
    whole.params["VALUE"] = "DATE"
    return whole
