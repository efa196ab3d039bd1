"""The site file before other words of a command, which may be left out."""

from __future__ import annotations

from pathlib import Path

from daylatch.commands import DEFAULT_SITE

_ENDING = ".toml"


def parted(words: list[str], *, never_alone: bool = False) -> tuple[Path, list[str]]:
    """Return the site file, and the words behind it.

    The first word is a site file if it ends like one.

    Parameters
    ----------
    words
        As they were typed.
    never_alone
        Whether something must stand behind a site file, so that a single word is none.
    """
    if words and words[0].lower().endswith(_ENDING) and not (never_alone and len(words) == 1):
        return Path(words[0]), words[1:]
    return DEFAULT_SITE, words
