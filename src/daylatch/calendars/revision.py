"""What became of calendar entries since the file before: kept as they were, revised, or new."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from icalendar import vDatetime, vInt
from icalendar.parser import Contentlines

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable

    from icalendar import Event

    from daylatch.calendars.lines import Lines

_STAMPS = ("DTSTAMP", "SEQUENCE", "LAST-MODIFIED")
_LARGEST_INTEGER = 2**31 - 1
"""RFC 5545, 3.3.8."""


@dataclass(frozen=True)
class Issue:
    """One entry as it was last published.

    Attributes
    ----------
    content : tuple of str
        Everything it says, without the stamps.
    stamp_utc : datetime
        When it was new or last changed.
    sequence : int
        How often it has changed.
    modified_utc : datetime or None
        When it last changed; None if it never did.
    """

    content: tuple[str, ...]
    stamp_utc: dt.datetime
    sequence: int
    modified_utc: dt.datetime | None


def read_issues(calendar: bytes) -> dict[str, Issue]:
    """Return the entries of an earlier file by their UID.

    The lines are compared as text and not read as times: reading them would ask the zone rules of
    the system, which are none of ours. A file that is cut short gives none, and an entry with
    stamps that make no sense is left out.
    """
    try:
        unfolded = Contentlines.from_ical(calendar)  # type: ignore[no-untyped-call]
    except ValueError:
        return {}
    lines = [line for line in unfolded if line]
    if not lines or lines[-1] != "END:VCALENDAR":
        return {}
    issues = {}
    block: list[str] = []
    for line in lines:
        if line == "BEGIN:VEVENT":
            block = []
        block.append(line)
        if line == "END:VEVENT":
            named = dict(text.partition(":")[::2] for text in block)
            issue = _issue(block, named)
            if issue is not None and "UID" in named:
                issues[named["UID"]] = issue
    return issues


def stamp_events(
    events: Iterable[Event], previous: dict[str, Issue], stamp_utc: dt.datetime, lines: Lines
) -> None:
    """Give each entry the stamps that tell a reader what changed (RFC 5545, 3.8.7).

    Parameters
    ----------
    events
        Without stamps; they are given theirs.
    previous
        The entries of the file before.
    stamp_utc
        For what is new or changed.
    lines
        Of the file that they are for.
    """
    # Most entries have the same stamps.
    time_of, number_of = cache(vDatetime), cache(vInt)
    for event in events:
        issue = previous.get(str(event["UID"]))
        if issue is None:
            stamp, sequence, modified = stamp_utc, 0, None
        elif issue.content == _content(lines.of(event)):
            stamp, sequence, modified = issue.stamp_utc, issue.sequence, issue.modified_utc
        else:
            sequence = min(issue.sequence + 1, _LARGEST_INTEGER)
            stamp, modified = stamp_utc, stamp_utc
        event["DTSTAMP"] = time_of(stamp)
        event["SEQUENCE"] = number_of(sequence)
        if modified is not None:
            event["LAST-MODIFIED"] = time_of(modified)


def _content(lines: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(line for line in lines if line and not line.startswith(_STAMPS)))


def _issue(block: list[str], named: dict[str, str]) -> Issue | None:
    """Return an entry from its lines, unless its stamps make no sense."""
    try:
        stamp = _instant(named["DTSTAMP"])
        modified = _instant(named["LAST-MODIFIED"]) if "LAST-MODIFIED" in named else None
        sequence = int(named["SEQUENCE"])
    except (KeyError, ValueError):
        return None
    if not 0 <= sequence <= _LARGEST_INTEGER:
        return None
    return Issue(_content(block), stamp, sequence, modified)


def _instant(text: str) -> dt.datetime:
    instant: dt.datetime = vDatetime.from_ical(text)  # type: ignore[no-untyped-call]
    if instant.tzinfo is None:
        raise ValueError("a stamp is in UTC")
    return instant
