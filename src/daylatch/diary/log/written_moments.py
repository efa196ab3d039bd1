"""What a text says of a date and a time: with its distance from UTC, or as some clock showed it."""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

from daylatch.clock import LAST_YEAR_OF_RULES
from daylatch.diary.entries import FIRST_YEAR, EntryError

LONGEST = 100
"""How long a date with its time can be."""
_EPOCH = dt.datetime(1970, 1, 1)  # noqa: DTZ001 - UTC, as all that is marked so below
_MIDNIGHT = re.compile(r"(?<=[T\s,])24([:.h]?)00(\1[0.,]+)?(?![\d:])")


class Moment(NamedTuple):
    """A date and a time.

    Attributes
    ----------
    wall : datetime
        What a clock showed, without a zone.
    is_utc : bool
        Whether that is UTC, since the text gives its distance.
    """

    wall: dt.datetime
    is_utc: bool = False

    def check(self) -> None:
        """Refuse a year in which no log was kept, or whose clock changes are not known.

        Raises
        ------
        EntryError
            Naming the date.
        """
        if not FIRST_YEAR <= self.wall.year <= LAST_YEAR_OF_RULES:
            raise EntryError(
                f"{self.wall.date()} is no date of a log: write one from {FIRST_YEAR} to "
                f"{LAST_YEAR_OF_RULES}"
            )


def read_exact(text: str) -> Moment | None:
    """Return a moment in ISO 8601 with its distance from UTC; None for anything else.

    Fractions of a second are dropped.
    """
    if len(text) > LONGEST:
        return None
    text, days = _without_midnight(re.sub(r"\s?(?:UTC|GMT)$", "Z", text.upper()))
    try:
        read = dt.datetime.fromisoformat(text)
        if read.tzinfo is None:
            return None
        wall = read.astimezone(dt.UTC).replace(tzinfo=None, microsecond=0) + days
    except (ValueError, OverflowError):
        return None
    return Moment(wall, is_utc=True)


def read_unix(text: str) -> Moment | None:
    """Return a moment as seconds or milliseconds since 1970-01-01 UTC; None if it is none."""
    if re.fullmatch(r"\d{9,10}(\.\d+)?", text, re.ASCII):
        seconds = int(text.partition(".")[0])
    elif re.fullmatch(r"\d{12,13}", text, re.ASCII):
        seconds = int(text) // 1000
    else:
        return None
    moment = Moment(_EPOCH + dt.timedelta(seconds=seconds), is_utc=True)
    # Otherwise it is something else, such as a date and a time without marks.
    return moment if FIRST_YEAR <= moment.wall.year <= LAST_YEAR_OF_RULES else None


def read_by(form: str, text: str) -> Moment | None:
    """Return the moment of a text that is written in a known form, of strptime's; None if not."""
    if len(text) > LONGEST:
        return None
    for one, days in ((text, dt.timedelta(0)), _without_midnight(text)):
        try:
            read = dt.datetime.strptime(one, form).replace(microsecond=0)  # noqa: DTZ007
            if read.tzinfo is not None:
                read = read.astimezone(dt.UTC).replace(tzinfo=None)
                return Moment(read + days, is_utc=True)
            return Moment(read + days)
        except (ValueError, OverflowError):
            continue
    return None


def _without_midnight(text: str) -> tuple[str, dt.timedelta]:
    """Return a text with 24:00 as 00:00, and the days by which that is too early."""
    replaced = _MIDNIGHT.sub(lambda found: "00" + found[0][2:], text, count=1)
    return replaced, dt.timedelta(days=replaced != text)
