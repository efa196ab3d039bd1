"""What commands that write calendar files share: the update file, and what importers take."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.now import warn
from daylatch.errors import UsageError

if TYPE_CHECKING:
    from pathlib import Path

# Reported by people who import; no source.
MOST_ENTRIES = 1100
MOST_BYTES = 1_000_000


def refuse_update(update: bool, form: str, output: Path | None) -> None:
    """Refuse an update of anything but a calendar file.

    Raises
    ------
    UsageError
        If one was asked for.
    """
    if update and form != "ics":
        raise UsageError("--update is for calendar files: add --to ics")
    if update and output is None:
        raise UsageError("--update looks at the earlier file: name it, such as -o door.ics")


def warn_about_update(update: bool, previous: bytes | None) -> None:
    """Say that an update found nothing to compare with."""
    if update and previous is None:
        warn("there is no earlier file to update, so nothing in this one is cancelled")


def warn_about_calendar(content: bytes) -> None:
    """Say that a calendar file is larger than many importers take."""
    entries = content.count(b"\r\nBEGIN:VEVENT\r\n")
    if entries > MOST_ENTRIES or len(content) > MOST_BYTES:
        warn(
            f"{entries:,} entries in {len(content) / 1000:,.0f} KB in one calendar file: many "
            "importers stop near 1 MB or 1,100 entries (reported, no source); make a file a year; "
            'style = "days" under [calendar] halves the number of a door\'s entries'
        )
