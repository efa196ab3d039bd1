"""Finding in which form the dates and times of a log are written, from all of its rows.

A form is never guessed: one that two readings fit, and times that are partly of 12 hours, are
refused with what was found.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, NamedTuple

from daylatch.diary.log.loose import Loose, read_loosely
from daylatch.diary.log.rows import LogError
from daylatch.diary.log.written_moments import Moment, read_by, read_exact, read_unix
from daylatch.site.messages import show_value

if TYPE_CHECKING:
    from collections.abc import Sequence

FEW_ROWS = 8
"""So many times before 13:00 and no other hint at hours of 12 or 24 (our choice, no source)."""
_NOON_HOURS = 12
_TWO_DIGITS = re.compile(r"\d{1,2}([-/.])\d{1,2}\1\d{2}(?=[T\s,]|$)", re.ASCII)


class Stamp(NamedTuple):
    """What a row says of when, and at which line it stands."""

    line: int
    text: str


class FoundMoments(NamedTuple):
    """The moments of a log.

    Attributes
    ----------
    moments : list of Moment or None
        Of each row; None where it is in no known form.
    may_be_of_12_hours : bool
        Whether no time says whether hours are counted to 12 or to 24.
    """

    moments: list[Moment | None]
    may_be_of_12_hours: bool


def find_moments(stamps: Sequence[Stamp], name: str) -> FoundMoments:
    """Return the moments of a log whose form nobody says.

    Parameters
    ----------
    stamps
        Of all rows.
    name
        Of the file, for messages.

    Raises
    ------
    LogError
        If they are in no form, in several, or in one that can be read in two ways.
    """
    sure = [read_exact(stamp.text) or read_unix(stamp.text) for stamp in stamps]
    loose = {
        stamp: read
        for stamp, known in zip(stamps, sure, strict=True)
        if known is None and (read := read_loosely(stamp.text)) is not None
    }
    unfit = [
        stamp
        for stamp, known in zip(stamps, sure, strict=True)
        if known is None and stamp not in loose
    ]
    if len(unfit) * 2 > len(stamps):
        raise _unknown(unfit[0], len(unfit), len(stamps), name)
    _refuse_mixed_hours(loose, name)
    form = _form_of(loose, name) if loose else ""
    moments = [
        _moment(loose[stamp], form) if stamp in loose else known
        for stamp, known in zip(stamps, sure, strict=True)
    ]
    early = all(not read.has_mark and _is_before_13(read.time) for read in loose.values())
    return FoundMoments(moments, early and len(loose) >= FEW_ROWS)


def _is_before_13(time: dt.timedelta) -> bool:
    return 1 <= time // dt.timedelta(hours=1) <= _NOON_HOURS


def _moment(read: Loose, form: str) -> Moment | None:
    try:
        return Moment(dt.datetime.combine(read.dates[form], dt.time()) + read.time)
    except OverflowError:
        return None


def _unknown(first: Stamp, count: int, of: int, name: str) -> LogError:
    forms = _of_two_digits(first.text)
    example = 'write under its [[diary.log]] how it is, such as format = "%d.%m.%Y %H:%M"'
    remedy = _formats(forms) if forms else example
    return LogError(
        name,
        first.line,
        f"{show_value(first.text)} is no date and time in a form that is known, as in {count} of "
        f"{of} rows: {remedy}",
    )


def _of_two_digits(text: str) -> list[str]:
    """Return the forms that a text with a year of two digits can be in; none if it has no such."""
    date = _TWO_DIGITS.match(text)
    rest = read_loosely(f"2027-01-01{text[date.end() :]}") if date else None
    if date is None or rest is None:
        return []
    orders = ("%d-%m-%y", "%m-%d-%y", "%y-%m-%d")
    forms = [order.replace("-", date[1]) + rest.rest for order in orders]
    return [form for form in forms if read_by(form, text) is not None]


def _formats(forms: Sequence[str]) -> str:
    lines = " or ".join(f"format = {show_value(form)}" for form in forms)
    return f"write under its [[diary.log]] {lines}"


def _refuse_mixed_hours(loose: dict[Stamp, Loose], name: str) -> None:
    marked = next((stamp for stamp, read in loose.items() if read.has_mark), None)
    bare = next((stamp for stamp, read in loose.items() if not read.has_mark), None)
    if marked is not None and bare is not None:
        raise LogError(
            name,
            bare.line,
            f"{show_value(bare.text)} has no AM or PM, and line {marked.line} has "
            f"{show_value(marked.text)}: write all times with AM or PM, or none",
        )


def _form_of(loose: dict[Stamp, Loose], name: str) -> str:
    """Return the form of the dates of all rows."""
    (first, read), *others = loose.items()
    fitting = set(read.dates)
    for stamp, read in others:
        if fitting.isdisjoint(read.dates):
            raise LogError(
                name,
                stamp.line,
                f"the date in {show_value(stamp.text)} is not written as others are, such as in "
                f"line {first.line} {show_value(first.text)}: write all dates in one way",
            )
        fitting &= set(read.dates)
    forms = sorted(fitting)
    for stamp, read in loose.items():
        if len({read.dates[form] for form in forms}) > 1:
            ways = {read.dates[form]: form + read.rest for form in forms}
            readings = " or ".join(f"{date.day} {date:%B %Y}" for date in ways)
            raise LogError(
                name,
                stamp.line,
                f"{show_value(stamp.text)} may be {readings}, and no row says which: "
                f"{_formats(list(ways.values()))}",
            )
    return forms[0]
