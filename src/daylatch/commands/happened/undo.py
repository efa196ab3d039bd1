"""``daylatch diary undo``: take back what was noted last, or one entry."""

from __future__ import annotations

from daylatch.clock import get_zone
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import now_utc, warn_about
from daylatch.diary.words import entry_text
from daylatch.errors import UsageError
from daylatch.site.reading import load_site

_MOST_TOLD = 5


def run(words: list[str]) -> None:
    """Undo an entry by its number, or all that the last command put in."""
    path, rest = parted(words)
    number = _number(rest)
    site = load_site(path)
    warn_about(site)
    undone = diary_of(site).undo(now_utc(), number)
    zone = get_zone(site.zone)
    for one in undone[:_MOST_TOLD]:
        print(f"undone {one.number}: {entry_text(one.entry, site, zone)}")
    if len(undone) > _MOST_TOLD:
        print(f"and {len(undone) - _MOST_TOLD} more, which came with them")


def _number(words: list[str]) -> int | None:
    match words:
        case []:
            return None
        case [text] if text.isascii() and text.isdigit() and len(text) < 16:
            return int(text)
    raise UsageError(
        f'"{" ".join(words)}" is no number of an entry: `daylatch diary show` numbers them; '
        "without one the last is undone"
    )
