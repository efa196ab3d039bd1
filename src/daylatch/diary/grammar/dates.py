"""Dates as people say them: ``2027-03-04``, ``yesterday``, ``Sunday``, ``4 Mar``."""

from __future__ import annotations

import datetime as dt
import re
from calendar import day_name, month_abbr, month_name

from daylatch.clock import LAST_YEAR_OF_RULES
from daylatch.diary.entries import FIRST_YEAR, EntryError

_DAY = dt.timedelta(days=1)
_DAYS_BEFORE = {
    "today": 0,
    "tonight": 0,
    "this morning": 0,
    "this evening": 0,
    "yesterday": 1,
    "yesterday evening": 1,
    "yesterday morning": 1,
    "last night": 1,
}
_WEEKDAYS = {name.lower(): number for number, name in enumerate(day_name)}
_MONTHS = {
    name.lower(): number
    for names in (month_name, month_abbr)
    for number, name in enumerate(names)
    if name
}
_NAMED_MONTH = "|".join(sorted(_MONTHS, key=len, reverse=True))
_DATE = re.compile(
    r"(?:^| )(?:on )?(?P<date>"
    r"(?P<year>\d{4})[-/](?P<month>\d{1,2})[-/](?P<day>\d{1,2})"
    r"|(?P<day2>\d{1,2})\.(?P<month2>\d{1,2})\.(?P<year2>\d{4})"
    rf"|(?P<day3>\d{{1,2}})\.? (?P<month3>{_NAMED_MONTH})\.?(?: (?P<year3>\d{{4}}))?"
    rf"|(?P<month4>{_NAMED_MONTH})\.? (?P<day4>\d{{1,2}})(?:, (?P<year4>\d{{4}}))?"
    rf"|(?:last )?(?P<weekday>{'|'.join(_WEEKDAYS)})"
    rf"|(?P<before>{'|'.join(sorted(_DAYS_BEFORE, key=len, reverse=True))})"
    r")(?=[ ,:]|$):?,?",
    re.IGNORECASE | re.ASCII,
)


def leading_date(words: str, today: dt.date) -> tuple[str, dt.date | None]:
    """Return words without the date that they begin with, and the date; as `without_date`."""
    found = _DATE.match(words)
    return (words, None) if found is None else (words[found.end() :].strip(), _date(found, today))


def without_date(words: str, today: dt.date) -> tuple[str, dt.date | None]:
    """Return words without the date that stands among them, and the date.

    A day of the week, or a date without its year, is the last one up to today.

    Raises
    ------
    EntryError
        If there are two, or no such date.
    """
    found = list(_DATE.finditer(words))
    if not found:
        return words, None
    if len(found) > 1:
        first, second = (one["date"] for one in found[:2])
        raise EntryError(f"there are two dates, {first} and {second}: write one")
    (one,) = found
    rest = f"{words[: one.start()]} {words[one.end() :]}"
    return " ".join(rest.split()), _date(one, today)


def _date(found: re.Match[str], today: dt.date) -> dt.date:
    if found["before"]:
        return today - _DAY * _DAYS_BEFORE[found["before"].lower()]
    if found["weekday"]:
        return today - _DAY * ((today.weekday() - _WEEKDAYS[found["weekday"].lower()]) % 7)
    day, month, year = (
        next((found[f"{key}{number}"] for number in ("", 2, 3, 4) if _has(found, key, number)), "")
        for key in ("day", "month", "year")
    )
    try:
        if year and not FIRST_YEAR <= int(year) <= LAST_YEAR_OF_RULES:
            raise ValueError
        number = _MONTHS.get(month.lower()) or int(month)
        if year:
            return dt.date(int(year), number, int(day))
        this_year = dt.date(today.year, number, int(day))
        return this_year if this_year <= today else dt.date(today.year - 1, number, int(day))
    except ValueError:
        raise EntryError(f"{found['date']} is no date of the calendar") from None


def _has(found: re.Match[str], key: str, number: int | str) -> bool:
    return bool(found.groupdict().get(f"{key}{number}"))
