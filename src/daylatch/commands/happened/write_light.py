"""Putting a light that was learned into the site file, every comment kept."""

from __future__ import annotations

import codecs
import re
import sys
from typing import TYPE_CHECKING, Any, NamedTuple

import typer

from daylatch.console import printable, say
from daylatch.diary.roosting.proposal_words import TABLES
from daylatch.errors import OutputError, UsageError
from daylatch.files.put import changeable, put
from daylatch.site.keys.learned import LearnedFrom, noted
from daylatch.site.keys.lines import lines_of_keys
from daylatch.site.reading.site_file import read_site
from daylatch.wording import listed

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.diary.roosting.half import Learned

_MARK = codecs.BOM_UTF8


class Change(NamedTuple):
    """What is put into one table of the site file.

    Attributes
    ----------
    table : str
        Which.
    light_deg : float
        Its light.
    offset_min : int
        The minutes past it.
    learned : LearnedFrom
        Where it comes from.
    """

    table: str
    light_deg: float
    offset_min: int
    learned: LearnedFrom

    @property
    def settings(self) -> list[str]:
        """The same as settings to try out."""
        return [
            f"{self.table}.light={self.light_deg:g}",
            f"{self.table}.offset_min={self.offset_min}",
        ]


def changes_of(learned: Sequence[Learned], today: dt.date) -> list[Change]:
    """Return what proposals put into the site file."""
    found = []
    for half in learned:
        if half.proposal is not None:
            light_deg, offset_min, _ = half.proposal
            dates = half.looks.dates
            source = LearnedFrom(
                light_deg, today, half.days, half.half.value, dates[0].item(), dates[-1].item()
            )
            found.append(Change(TABLES[half.half], light_deg, offset_min, source))
    return found


def write_lights(path: Path, changes: Sequence[Change]) -> None:
    """Put lights into a site file; on a terminal each is asked for first.

    Raises
    ------
    SiteError, OutputError, UsageError
        If the file cannot be read or written, or would not be understood any more; nothing is
        changed then.
    """
    import tomlkit  # noqa: PLC0415 - for this option only

    target = changeable(path)
    try:
        content = target.read_bytes()
    except OSError as error:
        raise OutputError(f"{path}: cannot be read: {error.strerror or error}") from error
    # With its ends of lines as they are.
    text = content.decode("utf-8-sig")
    read_site(text, str(path))
    document = tomlkit.parse(text)
    asks = sys.stdin.isatty()
    told = [_told(document, change) for change in changes]
    if not any(told):
        say(f"{path}: has these values already")
        return
    written = []
    for change, words in zip(changes, told, strict=True):
        if words and (not asks or _agrees(path, words)):
            _put(document, change)
            written.append(change)
    if not written:
        raise UsageError(f"{path}: nothing was written")
    made = tomlkit.dumps(document)
    if "\n" in text and text.count("\r\n") == text.count("\n"):
        made = re.sub(r"(?<!\r)\n", "\r\n", made)
    for change in written:
        # In whichever way the table is written.
        line = lines_of_keys(made)[change.table, "light"]
        made = noted(made, line, change.learned)
    # What is written must be good: a slip would show here and not in the evening.
    read_site(made, str(path))
    put(target, (_MARK if content.startswith(_MARK) else b"") + made.encode())
    done = [words for change, words in zip(changes, told, strict=True) if change in written]
    say(f"wrote {path}: {listed(done)}")
    say("Next: daylatch check, and whatever works the door needs its new times")


def _agrees(path: Path, words: str) -> bool:
    """Return whether the keeper agrees; asked beside the result, which may go into a file."""
    return typer.confirm(f"Write into {printable(str(path))}: {words}?", err=True)


def _told(document: Any, change: Change) -> str:
    """Return what changes, with the values that it had; empty if nothing does."""
    table = document.get(change.table, {})
    parts = []
    for key, value in (("light", change.light_deg), ("offset_min", change.offset_min)):
        old = table.get(key, "the default")
        if old != value:
            parts.append(f"{change.table}.{key} {printable(str(old))} becomes {value:g}")
    return ", ".join(parts)


def _put(document: Any, change: Change) -> None:
    """Put a light into a document."""
    import tomlkit  # noqa: PLC0415 - as above

    if change.table not in document:
        document[change.table] = tomlkit.table()
    table = document[change.table]
    table["light"] = change.light_deg
    table["offset_min"] = change.offset_min
