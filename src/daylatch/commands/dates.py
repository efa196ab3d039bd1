"""The dates that a command is asked for."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, NamedTuple

from daylatch.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

DEFAULT_DAYS = 365
MOST_DRAWN_DAYS = 5 * 366
"""A day of a picture is then a third of a point wide."""


class Range(NamedTuple):
    """The dates asked for, as they were typed."""

    year: str | None
    first: str | None
    last: str | None

    def dates(self, today: Callable[[], dt.date]) -> tuple[dt.date, dt.date]:
        """Return the first and last date.

        Parameters
        ----------
        today
            Looks at the clock, which need not be right where all dates were given.

        Raises
        ------
        UsageError
            If they cannot be read or contradict each other.
        """
        if self.year is not None:
            if self.first or self.last:
                raise UsageError("give either --year, or --from and --until")
            if not (self.year.isascii() and self.year.isdigit() and len(self.year) == 4):
                raise UsageError(f'--year is "{self.year}": write a year like 2027')
            return parse_date(f"{self.year}-01-01", "--year"), dt.date(int(self.year), 12, 31)
        first = parse_date(self.first, "--from") if self.first else today()
        if self.last is None:
            ahead = min(dt.timedelta(days=DEFAULT_DAYS - 1), dt.date.max - first)
            return first, first + ahead
        last = parse_date(self.last, "--until")
        if last < first and not self.first:
            raise UsageError(f"--until {last} lies before today, {first}: give --from too")
        if last < first:
            raise UsageError(f"--until {last} lies before --from {first}: swap them")
        return first, last


def looks_like_date(text: str) -> bool:
    """Return whether a text is written as dates are, though there may be no such date."""
    return re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII) is not None


def parse_date(text: str, option: str) -> dt.date:
    """Read a date given on the command line.

    Raises
    ------
    UsageError
        Naming the option, what was found and what would be right.
    """
    try:
        # The library also reads other forms of ISO 8601, such as weeks.
        if not looks_like_date(text):
            raise ValueError
        return dt.date.fromisoformat(text)
    except ValueError:
        raise UsageError(
            f'{option} is "{text}": write a date of the calendar, like 2027-01-31'
        ) from None


def refuse_undrawable(first: dt.date, last: dt.date, what: str) -> None:
    """Refuse more dates than a picture, or a page with one, can show.

    Raises
    ------
    UsageError
        Naming the dates and the most.
    """
    days = (last - first).days + 1
    if days > MOST_DRAWN_DAYS:
        raise UsageError(
            f"{first} to {last} are {days} days, too many for one {what}: ask for "
            f"{MOST_DRAWN_DAYS} (five years) at most"
        )
