"""What an entry on a server says, as text: to compare it, and to see whether others changed it.

Servers and readers write the same entry in other ways: other folding, order and escapes, stamps of
their own, properties of their own. What is compared is what is left without all that. The lines are
never read as times, which would ask zone rules that are none of ours.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from icalendar import Calendar, vText
from icalendar.parser import Contentlines

from daylatch.arrays import DAY
from daylatch.calendars.lines import Lines
from daylatch.calendars.revision import Issue, stamp_events
from daylatch.calendars.text import CalendarText
from daylatch.calendars.zone import make_timezone

if TYPE_CHECKING:
    from collections.abc import Iterable

    from icalendar import Event

    from daylatch.clock import Zone
    from daylatch.site.tables import Site

PRODID = "-//daylatch//calendar sync//EN"
SITE_MARK = "X-DAYLATCH-SITE"
CONTENT_MARK = "X-DAYLATCH-CONTENT"
# RFC 5545, 3.8.7; ACKNOWLEDGED and the UID of an alarm: RFC 9074.
_STAMPS = {"DTSTAMP", "SEQUENCE", "LAST-MODIFIED", "CREATED"}
_OF_ALARMS = {"ACKNOWLEDGED", "UID"}
_USUAL_VALUE = {"DTSTART": "DATE-TIME", "DTEND": "DATE-TIME", "TRIGGER": "DURATION"}
_DIGITS = 16
_EVENT = ["VCALENDAR", "VEVENT"]
_UNKNOWN_STAMP = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Content:
    """What an entry says.

    Attributes
    ----------
    digest : str
        Of everything but stamps and what others added for themselves.
    zone : str
        Digest of the clock that its times are named by; empty for times in UTC and for dates.
    """

    digest: str
    zone: str = ""


@dataclass(frozen=True)
class Mark:
    """What this program noted in an entry when it wrote it.

    Attributes
    ----------
    site : str
        From `site_mark`.
    content : Content
        What the entry said then.
    """

    site: str
    content: Content


@dataclass(frozen=True)
class Found:
    """One object of the calendar on the server.

    Attributes
    ----------
    url : str
        The server's own address of it.
    etag : str
        Its version; empty if the server names none that a condition can repeat.
    uid : str
        RFC 5545, 3.8.4.7.
    digest : str
        What it says now, as in `Content`.
    mark : Mark or None
        None if this program did not write it, or if the mark got lost.
    sequence : int
        How often it has changed.
    summary, start : str
        As they stand there, for messages.
    """

    url: str
    etag: str
    uid: str
    digest: str
    mark: Mark | None
    sequence: int = 0
    summary: str = ""
    start: str = ""


@dataclass(frozen=True)
class Wanted:
    """One entry of the plan.

    Attributes
    ----------
    uid : str
        RFC 5545, 3.8.4.7.
    event : Event
        Without stamps and marks.
    content : Content
        What it says.
    clock : bytes
        The description of its zone, for times that name one; else empty.
    """

    uid: str
    event: Event
    content: Content
    clock: bytes = b""


def site_mark(site: Site) -> str:
    """Return what tells two sites with the same ``id`` apart: a digest of name and rough place."""
    place = f"{round(site.latitude_deg)} {round(site.longitude_deg)}"
    return _digest([site.name, place])


def want(event: Event, zone: Zone) -> Wanted:
    """Return an entry of the plan, which has no stamps yet, made ready for comparing."""
    clock = b""
    if "TZID" in event["DTSTART"].params:
        date = np.datetime64(f"{event.start:%Y-%m-%d}", "D")
        # An entry of a wall clock lies within these whatever its zone.
        clock = make_timezone(zone, date - DAY, date + 2 * DAY).to_ical()
    lines = _lines(_object([event], b""))
    content = Content(_digest(_said(lines)), _digest([clock.decode()])[:8] if clock else "")
    return Wanted(str(event["UID"]), event, content, clock)


def read_found(url: str, etag: str, data: str) -> Found | None:
    """Return an object of the calendar; None if it is no event, or cannot be read."""
    try:
        lines = _lines(data.encode())
    except (ValueError, IndexError):
        return None
    named = {name: value for path, name, _, value in lines if path == _EVENT}
    if "UID" not in named:
        return None
    mark = None
    kept = re.fullmatch(r"([0-9a-f]{16})(?:-([0-9a-f]{8}))?", named.get(CONTENT_MARK, ""))
    if kept and SITE_MARK in named:
        mark = Mark(named[SITE_MARK], Content(kept[1], kept[2] or ""))
    sequence = named.get("SEQUENCE", "")
    return Found(
        url,
        etag,
        named["UID"],
        _digest(_said(lines)),
        mark,
        int(sequence) if re.fullmatch("[0-9]{1,9}", sequence) else 0,
        named.get("SUMMARY", ""),
        named.get("DTSTART", ""),
    )


def make_object(wanted: Wanted, site: str, found: Found | None, stamp_utc: dt.datetime) -> bytes:
    """Return what is sent: one entry, its marks, and the clock that its times are named by.

    Parameters
    ----------
    wanted
        The entry.
    site
        From `site_mark`.
    found
        What stands there now; None for a new entry.
    stamp_utc
        When it is made.
    """
    event = wanted.event.copy(recursive=True)
    previous = {}
    if found is not None:
        previous[wanted.uid] = Issue((), _UNKNOWN_STAMP, found.sequence, None)
    stamp_events([event], previous, stamp_utc, Lines())
    event[SITE_MARK] = CalendarText(site)
    content = wanted.content
    event[CONTENT_MARK] = CalendarText(
        "-".join(part for part in (content.digest, content.zone) if part)
    )
    return _object([event], wanted.clock)


def _object(events: Iterable[Event], clock: bytes) -> bytes:
    calendar = Calendar()
    calendar.add("PRODID", PRODID)
    calendar.add("VERSION", "2.0")
    for event in events:
        calendar.add_component(event)
    content: bytes = calendar.to_ical()
    # Before the first entry, where readers look for it.
    return content.replace(b"BEGIN:VEVENT", clock + b"BEGIN:VEVENT", 1) if clock else content


# A calendar holds an entry, and that an alarm (RFC 5545, 3.6).
_DEEPEST = 8


def _lines(data: bytes) -> list[tuple[list[str], str, tuple[str, ...], str]]:
    """Return the lines of a calendar object: where it stands, name, parameters, value.

    Raises
    ------
    ValueError
        If it cannot be read, or is nested more deeply than any calendar is.
    """
    found = []
    path: list[str] = []
    for line in Contentlines.from_ical(data):  # type: ignore[no-untyped-call]
        if not line:
            continue
        name, params, value = line.parts()
        name = name.upper()
        if name == "BEGIN":
            if len(path) == _DEEPEST:
                raise ValueError
            path = [*path, value.upper()]
        elif name == "END":
            path = path[:-1]
        else:
            given = sorted(
                f"{key.upper()}={params[key]}"
                for key in params
                if (key.upper(), str(params[key]).upper()) != ("VALUE", _USUAL_VALUE.get(name))
            )
            found.append((path, name, tuple(given), str(vText.from_ical(value))))
    return found


def _said(lines: Iterable[tuple[list[str], str, tuple[str, ...], str]]) -> list[str]:
    """Return what the entries of an object say, without what is not theirs."""
    said = []
    for path, name, params, value in lines:
        if path[:2] != _EVENT or name in _STAMPS or name.startswith("X-") or not value:
            continue
        if len(path) > len(_EVENT) and name in _OF_ALARMS:
            continue
        said.append("\n".join((*path[1:], name, *params, value)))
    return sorted(said)


def _digest(parts: Iterable[str]) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:_DIGITS]
