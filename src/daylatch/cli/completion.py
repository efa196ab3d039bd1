"""What a shell is offered for a word that is half typed."""

from __future__ import annotations

import re
from pathlib import Path

_NEEDS_NO_QUOTES = re.compile(r"[\w./+,@%-]+")


def site_files(incomplete: str) -> list[str]:
    """Return the site files that a path may become, and the folders where more may lie.

    Parameters
    ----------
    incomplete
        What has been typed of the path.
    """
    found = _beginning_with(incomplete)
    # A shell ends the word after an only offer, so an only folder is entered at once.
    while len(found) == 1 and found[0].endswith("/"):
        found = _beginning_with(found[0])
    # The shell itself completes any file where it is offered nothing, and quotes what it must.
    return found if all(map(_NEEDS_NO_QUOTES.fullmatch, found)) else []


def _beginning_with(typed: str) -> list[str]:
    folder, slash, start = typed.rpartition("/")
    try:
        names = [
            f"{path.name}/" if path.is_dir() else path.name
            for path in Path(folder + slash).iterdir()
            if path.name.startswith(start) and (start or not path.name.startswith("."))
        ]
    except OSError:
        return []
    # A name that begins like an option would be taken for one.
    return sorted(
        ("./" if not folder and name.startswith("-") else "") + folder + slash + name
        for name in names
        if name.endswith((".toml", "/"))
    )
