"""What the card says in words beside its rows: how to read them, dates, and what to remember."""

from __future__ import annotations

import datetime as dt
from calendar import day_abbr, day_name, month_abbr, month_name
from typing import TYPE_CHECKING

from daylatch.arrays import MINUTE
from daylatch.clock import DoorClock
from daylatch.door.works.rows import RowsOf
from daylatch.plan.summary import describe_door_clock_changes
from daylatch.wording import capital

if TYPE_CHECKING:
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan

_TO = "\N{EN DASH}"
BY_HAND = "hand"
"""What works a door whose card is what a person goes by, as the site file names it."""

_LATEST = (
    "A row gives the latest opening and the latest closing of all its days, so the door never "
    'moves before its planned minute. Under "late" stands how many minutes after it the door may '
    "move on any day of the row."
)
_BY_ITSELF = (
    "A row gives the latest opening and the latest closing of its days. The door moves by itself, "
    'each day at its own time, up to as many minutes before these as stand under "late": have the '
    "birds in by then. A card by the day (--month) has each day's own times."
)


def _periods(plan: Plan, rows_of: RowsOf) -> str:
    """Return between which days weeks run, before what follows; nothing of months."""
    if rows_of is RowsOf.MONTHS:
        return ""
    first = plan.site.settings.writing.first_weekday
    return f"Weeks run from {day_name[first]} to {day_name[first - 1]}. "


def how_to_read(due: Due, rows_of: RowsOf, *, by_setting: bool) -> str:
    """Return what a row's times mean, and how late they are."""
    works = due.plan.site.works
    if works == BY_HAND and rows_of is not RowsOf.DAYS:
        late_by_min = due.plan.site.settings.card.late_by_min
        parted = "" if late_by_min is None else f" No row is more than {late_by_min} min late."
        return f"{_periods(due.plan, rows_of)}{_LATEST}{parted}"
    if rows_of is RowsOf.DAYS:
        if not due.differs.any() and due.known.all():
            return "Each day has its own times, to the minute."
        words = "Each day has its own times."
    elif by_setting:
        words = "What a row says is due on each of its days."
    else:
        # Whoever reads a row would else wait for a door that has closed.
        return f"{_periods(due.plan, rows_of)}{_BY_ITSELF}"
    return f'{words} Under "late" stands how many minutes after the planned ones they are at most.'


def label(
    first: dt.date, last: dt.date, rows_of: RowsOf, *, tells_year: bool, tells_month: bool = False
) -> str:
    """Return dates as people write them, such as ``Mon 4`` for one day of a month."""
    year = f" {last.year}" if tells_year else ""
    if rows_of is RowsOf.DAYS:
        month = f" {month_abbr[first.month]}" if tells_month else ""
        return f"{day_abbr[first.weekday()]} {first.day}{month}"
    if first == last:
        return f"{first.day} {month_abbr[first.month]}{year}"
    if (first.year, first.month) == (last.year, last.month):
        if rows_of is RowsOf.MONTHS and _is_whole_month(first, last):
            return f"{month_name[first.month]}{year}"
        return f"{first.day}{_TO}{last.day} {month_abbr[last.month]}{year}"
    return f"{first.day} {month_abbr[first.month]}{_TO}{last.day} {month_abbr[last.month]}{year}"


def _is_whole_month(first: dt.date, last: dt.date) -> bool:
    return first.day == 1 and (last + dt.timedelta(days=1)).month != last.month


def dates_covered(plan: Plan, rows_of: RowsOf) -> str:
    """Return the dates of all rows as people write them."""
    first, last = plan.dates[[0, -1]].tolist()
    if first == last:
        return long_date(first)
    if rows_of is RowsOf.DAYS and (first.year, first.month) == (last.year, last.month):
        if _is_whole_month(first, last):
            return f"{month_name[first.month]} {first.year}"
        return f"{first.day} to {long_date(last)}"
    if rows_of is RowsOf.DAYS and first.year == last.year:
        return f"{first.day} {month_name[first.month]} to {long_date(last)}"
    return f"{long_date(first)} to {long_date(last)}"


def long_date(date: dt.date) -> str:
    """Return a date as people write it, such as ``4 January 2027``."""
    return f"{date.day} {month_name[date.month]} {date.year}"


def remember_heads(due: Due) -> str:
    """Return when heads are counted, how many there should be, and what for."""
    plan = due.plan
    flock = plan.site.settings.flock
    birds = flock.birds_text if flock else ""
    counts = plan.settings.head_count[due.is_open]
    if not len(counts):
        return f"Count heads at dusk{f': {birds}' if birds else ''}."
    minutes = " or ".join(map(str, sorted({int(count // MINUTE) for count in counts})))
    closing = "closing" if due.up_to_min is None else "the latest closing"
    words = f"Count heads {minutes} min after {closing}: are all birds in?"
    if birds:
        words = f"Count heads: {birds}, {minutes} min after {closing}. Are all in?"
    if plan.settings.second_pass[due.is_open].any():
        words += " The door closes once more then."
    return words


def monthly_check(plan: Plan) -> str:
    """Return what is to be looked after once a month."""
    words = (
        "Once a month, compare the door's clock with one that is right, and set it if it is off."
    )
    match plan.door_clock:
        case DoorClock.WALL:
            words += " When the wall clock changes, see that the door's clock has changed too."
        case DoorClock.UTC:
            words += " It keeps UTC: leave it alone when the wall clock changes."
        case DoorClock.STANDARD:
            words += " It keeps standard time: leave it alone when the wall clock changes."
            changes = describe_door_clock_changes(plan)
            words += "".join(f" {capital(text)}." for text in changes)
    return words
