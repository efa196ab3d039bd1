"""What commands that write calendar files share: the update file, and what importers take."""

from __future__ import annotations

from daylatch.commands.now import warn

# Reported by people who import; no source.
MOST_ENTRIES = 1100
MOST_BYTES = 1_000_000


def warn_about_calendar(content: bytes, previous: bytes | None, *, update: bool) -> None:
    """Say that an update found nothing to compare with, and that a file is larger than many take.

    Parameters
    ----------
    content, previous
        The file, and that which it replaces.
    update
        Whether what is no longer planned was to be cancelled.
    """
    if update and previous is None:
        warn("there is no earlier file to update, so nothing in this one is cancelled")
    entries = content.count(b"\r\nBEGIN:VEVENT\r\n")
    if entries > MOST_ENTRIES or len(content) > MOST_BYTES:
        warn(
            f"{entries:,} entries in {len(content) / 1000:,.0f} KB in one calendar file: many "
            "importers stop near 1 MB or 1,100 entries (reported, no source); make a file a year; "
            'style = "days" under [calendar] halves the number of a door\'s entries'
        )
