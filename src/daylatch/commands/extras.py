"""Libraries that only some commands need, and letters that fonts lack."""

from __future__ import annotations

import importlib.util
import logging
import unicodedata
from functools import cache
from typing import TYPE_CHECKING

from daylatch.commands.now import warn
from daylatch.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable

# With what they need themselves.
_OF_PICTURES = ("matplotlib", "jinja2", "fpdf", "PIL", "fontTools")
_OF_SYNC = ("caldav", "niquests", "lxml", "keyring")
_OF_HOME = (
    "apprise",
    "cryptography",
    "filelock",
    "jinja2",
    "keyring",
    "paho",
    "segno",
    "starlette",
    "uvicorn",
)
_OF_MANY = ("dask", "distributed", "filelock", "pyarrow", "cryptography")
_MOST_NAMED = 10


def require_pictures() -> None:
    """See that the libraries are there which only pictures and pages need.

    Raises
    ------
    OutputError
        If one is not there.
    """
    # It would speak of its own affairs, such as where it keeps its list of fonts.
    logging.getLogger("matplotlib").setLevel(logging.CRITICAL)
    _require(_OF_PICTURES, "pictures", "pictures and pages need")


def require_sync() -> None:
    """See that the libraries are there which only the calendar sync needs.

    Raises
    ------
    OutputError
        If one is not there.
    """
    _require(_OF_SYNC, "sync", "calendar sync needs")


def require_home() -> None:
    """See that the libraries are there which only the watch and `daylatch home` need.

    Raises
    ------
    OutputError
        If one is not there.
    """
    _require(_OF_HOME, "home", "the watch needs")


def require_many() -> None:
    """See that the libraries are there which only plans of many houses need.

    Raises
    ------
    OutputError
        If one is not there.
    """
    _require(_OF_MANY, "many", "plans of many houses need")


@cache
def has_pictures() -> bool:
    """Return whether the libraries are there which pictures and pages need."""
    return _are_there(_OF_PICTURES)


def _are_there(libraries: Iterable[str]) -> bool:
    return all(importlib.util.find_spec(name) is not None for name in libraries)


def _require(libraries: Iterable[str], extra: str, who_needs: str) -> None:
    if not _are_there(libraries):
        raise OutputError(f"{who_needs} more libraries: pip install 'daylatch[{extra}]'")


def warn_about_letters(characters: Iterable[str], remedy: str = "") -> None:
    """Say which characters of a keeper's text the font does not have; none is no trouble."""
    unknown = sorted(characters)
    if not unknown:
        return
    named = ", ".join(
        f"{character} (U+{ord(character):04X} {unicodedata.name(character, 'no name')})"
        for character in unknown[:_MOST_NAMED]
    )
    more = len(unknown) - _MOST_NAMED
    if more > 0:
        named += f" and {more} more"
    warn(f"the font lacks {named}: a box stands there instead{remedy}")
