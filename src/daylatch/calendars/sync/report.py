"""What is said of a sync: the differences one by one, and what came of them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from daylatch.calendars.sync.differences import Difference, Kind
from daylatch.console import printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from daylatch.clock import Zone
    from daylatch.wording import ClockFace

_VERBS = {Kind.ADD: "add", Kind.CHANGE: "change", Kind.REMOVE: "remove"}
_LONGEST_SUMMARY = 40


def counts_text(counts: Mapping[Kind, int]) -> str:
    """Return how many entries came to what, such as ``2 added, 0 changed, ...``."""
    return ", ".join(f"{counts.get(kind, 0)} {kind.value}" for kind in Kind)


def difference_lines(differences: Iterable[Difference], zone: Zone, face: ClockFace) -> list[str]:
    """Return a line for each entry that would be sent, in the zone's time by a keeper's clock."""
    return [
        f"{_VERBS[one.kind]:6}  {_wanted_text(one, zone, face) or _found_text(one, zone, face)}"
        for one in differences
        if one.kind in _VERBS
    ]


def conflict_lines(conflicts: Iterable[Difference], zone: Zone, face: ClockFace) -> list[str]:
    """Return what was left as it is, beside what the plan says."""
    lines = []
    for one in sorted(conflicts, key=lambda one: one.uid):
        lines.append(f"left    {_found_text(one, zone, face)}")
        lines.append(f"  plan: {_wanted_text(one, zone, face) or 'no entry'}")
    return lines


def _wanted_text(one: Difference, zone: Zone, face: ClockFace) -> str:
    if one.wanted is None:
        return ""
    event = one.wanted.event
    start: bytes = cast("Any", event["DTSTART"]).to_ical()
    return f"{_when(start.decode(), zone, face)} {event['SUMMARY']}"


def _found_text(one: Difference, zone: Zone, face: ClockFace) -> str:
    if one.found is None:
        return "an entry that changes while it is looked at"
    summary = printable(one.found.summary)
    if len(summary) > _LONGEST_SUMMARY:
        summary = f"{summary[: _LONGEST_SUMMARY - 3]}..."
    return f"{_when(one.found.start, zone, face)} {summary}"


def _when(start: str, zone: Zone, face: ClockFace) -> str:
    """Return the begin of an entry on the wall clock, from its text in the calendar."""
    match = re.fullmatch(r"(\d{4})(\d\d)(\d\d)(?:T(\d\d)(\d\d)\d\d(Z?))?", start, re.ASCII)
    if match is None:
        return printable(start[:_LONGEST_SUMMARY])
    year, month, day, hour, minute, utc = match.groups()
    if hour is None:
        return f"{year}-{month}-{day}"
    try:
        instant = np.datetime64(f"{year}-{month}-{day}T{hour}:{minute}", "m")
        return face.instant(zone, instant) if utc else face.moment(instant)
    except ValueError:
        return start
