"""How entries are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.diary.entries import KEEPER, SURE_MIN
from daylatch.site.choices.entry_kinds import MOST_STAMP_MIN
from daylatch.wording import duration_text

if TYPE_CHECKING:
    from daylatch.clock import Zone
    from daylatch.diary.entries import Entry
    from daylatch.site.tables import Site
    from daylatch.wording import ClockFace


def entry_text(entry: Entry, site: Site, zone: Zone) -> str:
    """Return an entry with its date and time at the site, and how sure that is."""
    return f"{site.face.instant(zone, entry.instant_utc)} {told(entry, site.face)}"


def told(entry: Entry, face: ClockFace, verdict: str = "") -> str:
    """Return an entry without its moment: what it says, what that means, its note, how sure it is.

    Parameters
    ----------
    entry
        The entry.
    face
        How times of day are written.
    verdict
        What it means, behind a comma; empty if nothing is known of that.
    """
    note = f": {entry.note}" if entry.note else ""
    sure = sureness(entry)
    return f"{entry.words(face)}{verdict}{note}{f' ({sure})' if sure else ''}"


def sureness(entry: Entry) -> str:
    """Return what stamped an entry, how sure its moment is and who reports it, if that is special.

    Nothing is said of what the keeper read off a right clock.
    """
    parts = []
    if entry.stamped_by != "phone":
        parts.append(f"by {entry.stamped_by}" if entry.stamped_by == "memory" else entry.stamped_by)
    minutes = entry.within_min
    if minutes >= MOST_STAMP_MIN:
        parts.append("at some time of the day")
    elif minutes != SURE_MIN["phone"]:
        sure = f"{minutes:g} min" if minutes < 60 else duration_text(round(minutes))
        parts.append(f"within {sure}")
    if entry.by != KEEPER:
        parts.append(f"told by {entry.by}")
    return ", ".join(parts)
