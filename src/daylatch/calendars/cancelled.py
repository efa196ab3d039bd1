"""Entries that an earlier file held and the plan no longer has, as cancelled ones.

The file that holds them is no message of a scheduling protocol: RFC 5546 wants an organizer's
address in those, and one method for the whole file. It stays what RFC 5545, 3.7.2 calls a snapshot,
in which an entry's status says that it is cancelled (3.8.1.11).
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

import numpy as np
from icalendar import Event, vDate, vDatetime, vText
from icalendar.parser import Contentline

from daylatch.calendars.text import CalendarText
from daylatch.calendars.times import whole_date
from daylatch.clock import Fold, get_zone

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from daylatch.calendars.revision import Issue

# Also in words, for readers that show such an entry as any other.
_MARK = "Cancelled: "


def cancel_dropped(
    issues: Mapping[str, Issue],
    planned: Iterable[Event],
    site_id: str,
    first: dt.date,
    last: dt.date,
) -> Iterator[Event]:
    """Yield a cancelled entry, without stamps, for each that is planned no longer.

    Parameters
    ----------
    issues
        The entries of the earlier file.
    planned
        The entries that the plan has now.
    site_id
        Entries of other sites are none of ours.
    first, last
        The planned dates. The plan says nothing about others.
    """
    there = {str(event["UID"]) for event in planned}
    for uid in sorted(issues.keys() - there):
        match = re.fullmatch(rf"{re.escape(site_id)}-(\d{{8}})-\w+", uid, re.ASCII)
        if match is None or not f"{first:%Y%m%d}" <= match[1] <= f"{last:%Y%m%d}":
            continue
        event = _cancelled(uid, issues[uid])
        if event is not None:
            yield event


def _cancelled(uid: str, issue: Issue) -> Event | None:
    """Return what is left of an entry: when it would have been, and its title."""
    found: dict[str, CalendarText | vDate | vDatetime] = {}
    for text in issue.content:
        if not text.startswith(("DTSTART", "DTEND", "SUMMARY")):
            continue
        try:
            name, params, value = Contentline(text).parts()  # type: ignore[no-untyped-call]
            if name == "SUMMARY":
                title = vText.from_ical(value).removeprefix(_MARK)
                found[name] = CalendarText(f"{_MARK}{title}")
            else:
                found[name] = _time(value, params.get("VALUE"), params.get("TZID"))
        except ValueError:
            return None  # changed by another hand, past reading
    if found.keys() != {"DTSTART", "DTEND", "SUMMARY"}:
        return None
    event = Event()
    event["UID"] = CalendarText(uid)
    event.update(found)
    event["STATUS"] = CalendarText("CANCELLED")
    event["TRANSP"] = CalendarText("TRANSPARENT")
    return event


def _time(value: str, kind: str | None, zone_name: str | None) -> vDate | vDatetime:
    """Return a date as it is, and a time in UTC: the file need not describe another zone for it."""
    if kind == "DATE":
        return whole_date(vDate.from_ical(value))  # type: ignore[no-untyped-call]
    time: dt.datetime = vDatetime.from_ical(value)  # type: ignore[no-untyped-call]
    if zone_name is not None:
        # A repeated time is never written by the zone's name.
        wall = np.array([time.replace(tzinfo=None)], "datetime64[m]")
        instant = get_zone(zone_name).to_instants(wall, Fold.EARLIER)[0]
        time = instant.item().replace(tzinfo=dt.UTC)
    if time.tzinfo is None:
        raise ValueError("no time of ours is without a zone")
    return vDatetime(time)
