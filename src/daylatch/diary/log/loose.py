"""What a date and a time can mean that are written in a form which is not known."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from daylatch.diary.log.written_moments import LONGEST


class Loose(NamedTuple):
    """A text whose date may be read in several ways.

    Attributes
    ----------
    dates : dict of str to date
        What the date is, by the form in which it is taken to be written.
    time : timedelta
        Since midnight.
    has_mark : bool
        Whether the time has AM or PM.
    rest : str
        The form of all behind the date.
    """

    dates: dict[str, dt.date]
    time: dt.timedelta
    has_mark: bool
    rest: str


_SPLIT = re.compile(
    r"(?P<date>\S.*?)(?P<between>,?[T\s]\s*|,\s*)(?P<hour>\d{1,2})(?P<mark>[:.h])(?P<minute>\d\d)"
    r"(?:(?P=mark)(?P<second>\d\d)(?:(?P<point>[.,])\d{1,9})?)?(?P<blank>\s*)(?P<half>[ap]\.?\s?m\.?)?",
    re.ASCII | re.IGNORECASE,
)
_COMPACT = re.compile(
    r"(?P<date>\d{8})(?P<between>[T\s_-]?)(?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)?", re.ASCII
)


def read_loosely(text: str) -> Loose | None:
    """Return all readings of a text whose form is not known; None without any."""
    found = _COMPACT.fullmatch(text) or (_SPLIT.fullmatch(text) if len(text) <= LONGEST else None)
    if found is None:
        return None
    parts = found.groupdict()
    hour, half = int(parts["hour"]), (parts.get("half") or "").lower()
    minute, second = int(parts["minute"]), int(parts["second"] or 0)
    dates = _dates(parts["date"])
    midnight = hour == 24 and minute == second == 0
    if not dates or minute > 59 or second > 59 or (hour > 23 and not midnight):
        return None
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * half.startswith("p")
    return Loose(
        dates,
        dt.timedelta(hours=hour, minutes=minute, seconds=second),
        bool(half),
        parts["between"] + _time_form(parts),
    )


def _time_form(parts: dict[str, str | None]) -> str:
    mark = parts.get("mark") or ""
    form = ("%I" if parts.get("half") else "%H") + f"{mark}%M"
    form += f"{mark}%S" if parts["second"] else ""
    form += f"{parts['point']}%f" if parts.get("point") else ""
    return f"{form}{parts['blank']}%p" if parts.get("half") else form


_NUMBERS = [
    *(form.replace("-", mark) for form in ("%Y-%m-%d", "%d-%m-%Y", "%m-%d-%Y") for mark in "-/."),
    *("%Y%m%d", "%d.%m.%Y.", "%Y.%m.%d.", "%d. %m. %Y"),
]
_NAMES = [
    before + form.replace("%b", name)
    for before, form, name in product(
        ("", "%a ", "%a, ", "%A ", "%A, "),
        ("%d %b %Y", "%d. %b %Y", "%d-%b-%Y", "%d/%b/%Y", "%b %d, %Y", "%b %d %Y", "%Y-%b-%d"),
        ("%b", "%B"),
    )
]
_WIDTHS = {"%Y": r"\d{4}", "%m": r"\d{1,2}", "%d": r"\d{1,2}", " ": r"\s+", ".": r"\."}


def _shape(form: str) -> re.Pattern[str]:
    """Return the pattern of texts in a form, since strptime alone would take 2027111 as a date."""
    shape = re.sub(r"%[a-zA-Z]|[ .]", lambda part: _WIDTHS.get(part[0], "[A-Za-z]{3,9}"), form)
    return re.compile(r"\d{8}" if form == "%Y%m%d" else shape, re.ASCII)


_SHAPES = {form: _shape(form) for form in (*_NUMBERS, *_NAMES)}


@lru_cache(maxsize=4096)
def _dates(text: str) -> dict[str, dt.date]:
    """Return what a date is, by each form in which it can be written."""
    found = {}
    for form in _NAMES if re.search("[A-Za-z]", text) else _NUMBERS:
        if _SHAPES[form].fullmatch(text):
            try:
                found[form] = dt.datetime.strptime(text, form).date()  # noqa: DTZ007
            except ValueError:
                continue
    return found
