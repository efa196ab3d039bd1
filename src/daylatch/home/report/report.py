"""What a door reports, as it comes in: read, or refused with what would be right."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.diary.entries import WHATS, EntryError, make_entry
from daylatch.site.choices.entry_kinds import MOST_STAMP_MIN

if TYPE_CHECKING:
    from daylatch.diary.entries import Entry

BY = "door"
"""Who reports, as the diary has it."""
MOST_BYTES = 4096
"""How large a report is at most."""
MOST_NUMBER = 2**53
"""What any language can hold exactly in JSON."""
OLDEST = np.timedelta64(31, "D")
"""How long a door may keep a report back (our choice, no source)."""
NEWEST = np.timedelta64(5, "m")
"""How far its clock may be ahead where it says when something was (our choice, no source)."""
REPORTABLE = tuple(what for what in WHATS if what not in ("note", "in_use"))
"""What a door can report: a note would need a text, and what is in the door a file."""
_KEYS = ("number", "what", "at", "value")


class ReportError(ValueError):
    """Something that is no report; its text says what would be right."""


class Report(NamedTuple):
    """What a door reports.

    Attributes
    ----------
    number : int or None
        The door's own number for it, by which a repeat is known.
    entry : Entry
        What it says.
    """

    number: int | None
    entry: Entry


def read_report(content: bytes, now_utc: np.datetime64) -> Report:
    """Return the report that a JSON object holds.

    It is stamped by whoever receives it. A door that kept one back says when it was as ``at``; then
    it is stamped by the door. Where that cannot be, because its clock is wrong, the moment is that
    of the receipt and as unsure as can be.

    Parameters
    ----------
    content
        The JSON text.
    now_utc
        When it is received [datetime64[s]].

    Raises
    ------
    ReportError
        If it is none.
    """
    data = _object(content)
    number = data.get("number")
    if type(number) is not int or not 0 <= number <= MOST_NUMBER:
        raise ReportError(
            "number: give the door's own number of this report, a whole one from 0 to "
            f"{MOST_NUMBER}, and the same again when it is repeated"
        )
    what = data.get("what")
    if not isinstance(what, str) or what not in REPORTABLE:
        raise ReportError(f"what: write one of {', '.join(REPORTABLE)}")
    value = _value(data.get("value"))
    at = data.get("at")
    if at is None:
        return Report(number, _entry(now_utc, what, value))
    at_utc = _instant(at)
    if at_utc is not None and now_utc - OLDEST <= at_utc <= now_utc + NEWEST:
        return Report(number, _entry(at_utc, what, value, stamped_by="door"))
    # Its clock is wrong: what it says is kept, and of the moment nothing is known.
    report = Report(number, _entry(now_utc, what, value, note=f"the door said that it was at {at}"))
    return on_its_way_for(report, MOST_STAMP_MIN)


def state_report(what: str, now_utc: np.datetime64) -> Report:
    """Return the report that a word of the door's stands for.

    Parameters
    ----------
    what
        The kind of entry.
    now_utc
        When it is received [datetime64[s]].

    Raises
    ------
    ReportError
        If it says nothing without a value.
    """
    return Report(None, _entry(now_utc, what, ""))


def battery_report(text: str, now_utc: np.datetime64) -> Report:
    """Return the report of a battery's volts.

    Raises
    ------
    ReportError
        If it is no voltage.
    """
    return Report(None, _entry(now_utc, "battery_v", text.strip()))


def on_its_way_for(report: Report, minutes: float) -> Report:
    """Return a report whose moment is that unsure, because it may have waited for so long [min]."""
    within = min(max(report.entry.within_min, math.ceil(minutes)), MOST_STAMP_MIN)
    if report.entry.stamped_by != "server":
        return report
    return report._replace(entry=replace(report.entry, within_min=float(within)))


def _entry(
    at_utc: np.datetime64, what: str, value: str, *, stamped_by: str = "server", note: str = ""
) -> Entry:
    try:
        return make_entry(at_utc, what, value, stamped_by=stamped_by, by=BY, note=note)
    except EntryError as error:
        raise ReportError(str(error)) from error


def _object(content: bytes) -> dict[str, Any]:
    try:
        data = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise ReportError('write JSON, such as {"number": 41, "what": "shut"}, in UTF-8') from error
    if not isinstance(data, dict):
        raise ReportError('write one JSON object, such as {"number": 41, "what": "shut"}')
    if set(data) - set(_KEYS):
        raise ReportError(f"there is a key that is none of {', '.join(_KEYS)}: take it out")
    return data


def _value(value: Any) -> str:
    match value:
        case None:
            return ""
        case str():
            return value
        case bool():
            raise ReportError("value: write a text or a number")
        case int():
            return str(value) if abs(value) <= MOST_NUMBER else "too large"
        case float():
            return np.format_float_positional(value, precision=9, trim="-")
        case _:
            raise ReportError("value: write a text or a number")


def _instant(at: Any) -> np.datetime64 | None:
    """Return the instant of a text; None for one that lies beyond all calendars."""
    try:
        moment = dt.datetime.fromisoformat(at)
    except (TypeError, ValueError):
        moment = None
    if moment is None or moment.tzinfo is None:
        raise ReportError(
            "at: write when it was with its distance from UTC, like 2027-06-01T20:14:05Z, or leave "
            "it out for just now"
        )
    try:
        return np.datetime64(moment.astimezone(dt.UTC).replace(tzinfo=None), "s")
    except OverflowError:
        return None
