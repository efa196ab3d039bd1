"""``daylatch diary undo``: take back what was noted last, or one entry."""

from __future__ import annotations

import re
from pathlib import Path

from daylatch.clock import get_zone
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import now_utc, warn_about
from daylatch.diary.words import entry_text
from daylatch.errors import UsageError
from daylatch.site.reading.site_file import load_site

_MOST_TOLD = 5


def run(words: list[str]) -> None:
    """Undo an entry by its number, some, those of a log, or all that the last command put in."""
    path, rest = parted(words)
    which = _which(rest)
    site = load_site(path)
    warn_about(site)
    undone = diary_of(site).undo(now_utc(), which)
    zone = get_zone(site.zone)
    for one in undone[:_MOST_TOLD]:
        print(f"undone {one.number}: {entry_text(one.entry, site, zone)}")
    if len(undone) > _MOST_TOLD:
        print(f"and {len(undone) - _MOST_TOLD} more, which came with them")


def _which(words: list[str]) -> int | range | str | None:
    if not words:
        return None
    text = " ".join(words)
    numbers = re.fullmatch(r"(\d{1,15})(?:-(\d{1,15}))?", text, re.ASCII)
    if numbers is None and "." in text:
        # An import notes the name of its log, without the folder.
        return Path(text).name
    if numbers is None:
        raise UsageError(
            f'"{text}" is no number of an entry: `daylatch diary show` numbers them; write 41, '
            "41-60 or the name of a log that was taken in; without any, the last is undone"
        )
    first = int(numbers[1])
    if numbers[2] is None:
        return first
    last = int(numbers[2])
    if last < first:
        raise UsageError(f"{text} runs backwards: write {last}-{first}")
    return range(first, last + 1)
