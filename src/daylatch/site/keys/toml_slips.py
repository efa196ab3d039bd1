"""Values that people write and TOML does not take: what was meant, and how it is written."""

from __future__ import annotations

import re
from typing import NamedTuple


class TomlSlip(NamedTuple):
    """A line that is no TOML: its key, its value as it stands there, and what would be right."""

    key: str
    found: str
    remedy: str


_LINE = re.compile(r"\s*(?P<key>[\w.-]+)\s*=\s*(?P<value>[^#]*\S)\s*(#.*)?")
_NUMBER = r"[+-]?\d+(?:\.\d+)?"
# The quotation marks of print, single and double, low and angled.
_CURLY = "\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb"
_REMEDIES = (
    (re.compile(f"[{_CURLY}]"), 'use straight quotes: "..."'),
    (re.compile(r"[+-]?\d+,\d+"), "write a number with a point, like 4.5"),
    (re.compile(rf"{_NUMBER}\s*%"), "write a share as a number, like 0.4 for 40 %"),
    (re.compile(r"\d{1,2}[:.]\d\d"), 'write a time in quotes, like "06:30"'),
    (
        re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}\.?"),
        "write a date of the calendar, like 2027-01-31",
    ),
    (
        re.compile(r"(yes|no|on|off|true|false)", re.IGNORECASE),
        "write true or false, in small letters",
    ),
    (
        re.compile(rf"{_NUMBER}\s*[^\W\d]\w*\.?"),
        "write the number alone: the name of the key says the unit",
    ),
    (re.compile(r"[^\W\d][^\"'\[\]{}=,]*"), "write text in quotes"),
)


def slip_on(line: str) -> TomlSlip | None:
    """Return what is wrong with a line; None if it is nothing that people often write."""
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    value = match["value"]
    for pattern, remedy in _REMEDIES:
        if pattern.match(value) if pattern is _REMEDIES[0][0] else pattern.fullmatch(value):
            return TomlSlip(match["key"], value, remedy)
    return None
