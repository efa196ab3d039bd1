"""Times of day as people write them."""

from __future__ import annotations

import re

from daylatch.clock import WallTime
from daylatch.diary.entries import EntryError

_HALF = r" ?[ap]\.?m\.?"
_NAMED = {"noon": WallTime(720), "midnight": WallTime(0)}
TIME = rf"(?:\d{{1,2}}[:.]\d{{2}}(?:{_HALF})?|\d{{1,2}}{_HALF}|{'|'.join(_NAMED)})"
"""A pattern of what may be one."""


def read_time(text: str) -> WallTime:
    """Return a time of day, with 24 hours, with am and pm, or by its name.

    Raises
    ------
    EntryError
        If there is no such time.
    """
    if text.lower() in _NAMED:
        return _NAMED[text.lower()]
    found = re.fullmatch(r"(\d{1,2})(?:[:.](\d{2}))?(?: ?([ap])\.?m\.?)?", text, re.A | re.I)
    try:
        if found is None or not (found[2] or found[3]):
            raise ValueError
        time = WallTime.parse(f"{found[1]}:{found[2] or '00'}")
        hour, minute = divmod(time.minutes, 60)
        if found[3] and not 1 <= hour <= 12:
            raise ValueError
    except ValueError:
        raise EntryError(f'"{text}" is no time of day: write it like 20:14') from None
    if not found[3]:
        return time
    return WallTime((hour % 12 + 12 * (found[3].lower() == "p")) * 60 + minute)


def has_letters(text: str) -> bool:
    """Return whether a time is written with am or pm, or by its name."""
    return text.lower() in _NAMED or text.rstrip(". ").lower().endswith("m")


def has_half(text: str) -> bool:
    """Return whether a time says which half of the day it is in."""
    return has_letters(text) or read_time(text).minutes >= 13 * 60
