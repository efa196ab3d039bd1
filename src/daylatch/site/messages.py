"""What is said of a site file: keys, values and texts as they are shown, and what is right."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import re
import textwrap
import uuid
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from daylatch.console import printable
from daylatch.errors import Problem
from daylatch.site.keys.toml_slips import slip_on
from daylatch.site.keys.units import KEY_UNITS, SMALLER, converted, split_unit
from daylatch.site.keys.unknown import unknown_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pydantic_core import ErrorDetails

KeyPath = tuple[str | int, ...]
"""Where a value stands: keys, and indexes in lists."""
LISTS_OF_TABLES: frozenset[KeyPath] = frozenset({("span",), ("diary", "log")})
"""Where a file has several tables of one name."""
_LONGEST_TOLD = 140
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}")
# Python refuses to write a longer number in decimals (over 4,300 digits), which TOML can hold in
# hexadecimals.
_MOST_DECIMAL_BITS = 10_000
# What is larger was meant in no unit.
_MOST_TURNED = 1e9


def key_name(path: KeyPath) -> str:
    """Return where a value stands as a keeper would write it: ``span 2 close.offset_min``."""
    at = next((at for at, part in enumerate(path) if isinstance(part, int)), len(path))
    if path[:at] in LISTS_OF_TABLES and path[at:]:
        return (
            f"{_dotted(path[:at])} {_dotted(path[at : at + 1])} {_dotted(path[at + 1 :])}".strip()
        )
    return _dotted(path)


def _dotted(path: KeyPath) -> str:
    return ".".join(str(part + 1) if isinstance(part, int) else _key_part(part) for part in path)


def _key_part(part: str) -> str:
    """Return a key, in quotes unless it is one that TOML takes without."""
    return part if _BARE_KEY.fullmatch(part) else show_value(part)


def _key_text(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else toml_text(key)


def show_value(value: Any) -> str:
    """Return a value as TOML would have it, shortened."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = f'"{printable(value)}"'
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        text = "a list"
    elif isinstance(value, int) and value.bit_length() > _MOST_DECIMAL_BITS:
        text = hex(value)
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def told_text(text: str) -> str:
    """Return a text of the keeper's as it is shown: on one line, shortened, and printable."""
    return printable(textwrap.shorten(" ".join(text.split()), _LONGEST_TOLD, placeholder=" ..."))


def toml_text(value: object) -> str:
    """Return a setting as a site file has it."""
    value = getattr(value, "value", value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    if isinstance(value, int | dt.date):
        return str(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_text, value))}]"
    if isinstance(value, dict):
        pairs = (f"{_key_text(key)} = {toml_text(one)}" for key, one in value.items())
        return f"{{ {', '.join(pairs)} }}" if value else "{}"
    # The escapes of a TOML basic string are those of JSON.
    return json.dumps(str(value), ensure_ascii=False)


def suggest(word: str, known: Sequence[str]) -> str:
    """Return words that offer the known one most like a misspelt one, or nothing."""
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.65)
    return f"; did you mean {close[0]}?" if close else ""


def keys_around(model: type[BaseModel], loc: tuple[str | int, ...]) -> list[str]:
    """Return the keys that the table around a location takes."""
    for part in loc[:-1]:
        if isinstance(part, int):
            # An entry of a list of tables has the keys of all of them.
            continue
        field = model.model_fields.get(str(part))
        inner = next(
            (
                kind
                for kind in (field.annotation, *getattr(field.annotation, "__args__", ()))
                if isinstance(kind, type) and issubclass(kind, BaseModel)
            )
            if field is not None
            else iter(()),
            None,
        )
        if inner is None:
            return []
        model = inner
    return [field.alias or name for name, field in model.model_fields.items()]


def toml_problem(error: Exception, text: str) -> Problem:
    """Return what is wrong with a text that is no TOML."""
    if isinstance(error, RecursionError):
        return Problem("TOML", "", "is nested too deeply")
    if "int_max_str_digits" in str(error):
        return Problem("TOML", "", "a number is far too long")
    # Python 3.11 tells the place in its message only.
    words, _, place = str(error).rpartition(" (at ")
    last = text.rstrip().count("\n") + 1
    line = re.match(r"line (\d+), ", place.replace("end of document", f"line {last}, "))
    number = int(line[1]) if line else None
    slip = slip_on(text.splitlines()[number - 1]) if number else None
    if slip is not None:
        return Problem(slip.key, told_text(slip.found), slip.remedy, number)
    remedy = f"{words or error}; check quotes, brackets and that no key stands twice"
    return Problem("TOML", "", remedy, number)


_EXPECTED = {
    "string_type": "write text in quotes",
    "int_type": "write a whole number",
    "int_from_float": "write a whole number",
    "float_type": "write a number",
    "bool_type": "write true or false",
    "date_type": "write a date of the calendar, like 2027-01-31",
    "list_type": "write a list in square brackets",
    "model_type": "is a table of keys",
    "finite_number": "write a finite number",
    "missing": "is missing",
}


_BOUND_WORDS = {
    "greater_than_equal": "at least",
    "greater_than": "more than",
    "less_than_equal": "at most",
    "less_than": "less than",
}


def remedy_for(detail: ErrorDetails, allowed: Sequence[str]) -> str:
    """Return what would be right, for one of pydantic's errors."""
    kind, context = detail["type"], detail.get("ctx", {})
    match kind:
        case "missing" if detail["loc"] == ("id",):
            # Made now, so that no two houses get the same.
            own = f'write id = "{uuid.uuid4()}" as the first line, and never change it'
            remedy = f"is missing: {own}"
        case _ if kind in _EXPECTED:
            remedy = _EXPECTED[kind]
        case "extra_forbidden":
            remedy = unknown_key(str(detail["loc"][-1]), allowed)
        case "greater_than_equal" | "greater_than" | "less_than_equal" | "less_than":
            # Rounded down, so that a most that is shown is one that can be written.
            bound = math.floor(next(iter(context.values())) * 100) / 100
            remedy = f"must be {_BOUND_WORDS[kind]} {bound:.10g}"
            if kind == "less_than_equal":
                remedy += _of_unit(detail)
            if isinstance(detail["input"], float) and math.isnan(detail["input"]):
                remedy = "write a finite number"
            if detail["loc"] == ("latitude",) and abs(detail["input"]) <= 180:
                remedy += "; are latitude and longitude swapped?"
        case "literal_error" | "enum":
            remedy = f"write one of {context['expected']}"
        case "value_error":
            remedy = str(context["error"])
        case "string_too_long" | "too_long":
            remedy = f"is too long: at most {context['max_length']}"
        case "string_too_short" | "too_short":
            remedy = f"is too short: at least {context['min_length']}"
        case _:
            remedy = detail["msg"]
    return remedy


def _of_unit(detail: ErrorDetails) -> str:
    """Return the unit of a size that is far too large, and what it is if it was a smaller one."""
    key = next((part for part in reversed(detail["loc"]) if isinstance(part, str)), "")
    unit = split_unit(key)[1]
    smaller, value = SMALLER.get(unit), detail["input"]
    if smaller is None or not value < _MOST_TURNED:
        return ""
    words = f"{value:.10g} {KEY_UNITS[smaller].words} are {converted(value, smaller, unit):.3g}"
    return f" {KEY_UNITS[unit].words} ({words})"
