"""What has to be done to a calendar on a server so that it says what the plan says.

No state is kept between runs. Each entry carries a digest of what it said when it was written, so
that three things can be compared: what the plan wants, what stands there, and what was last written
there. Where the last two differ, somebody edited the entry elsewhere.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from daylatch.calendars.looks import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from daylatch.calendars.sync.content import Found, Wanted


class Kind(Enum):
    """What is done about one entry, as the summary says it."""

    ADD = "added"
    CHANGE = "changed"
    REMOVE = "removed"
    KEEP = "kept"
    CONFLICT = "conflicted"


SENT = (Kind.ADD, Kind.CHANGE, Kind.REMOVE)
"""What a server hears of."""


@dataclass(frozen=True)
class Scope:
    """Whose entries are looked after, and when.

    Attributes
    ----------
    site_id : str
        The permanent identity.
    mark : str
        From `daylatch.calendars.sync.content.site_mark`.
    first, last : date
        Flock days of the window, both included.
    overwrite : bool
        Whether edits made elsewhere may be lost.
    has_plan : bool
        Whether the entries of the plan are looked after.
    looks_on : frozenset of date or None
        On which days a sitter's entries are; None for all of the window.
    """

    site_id: str
    mark: str
    first: dt.date
    last: dt.date
    overwrite: bool = False
    has_plan: bool = True
    looks_on: frozenset[dt.date] | None = frozenset()

    def of_site(self, uid: str) -> tuple[dt.date, str] | None:
        """Return the flock day and the kind of an entry with a UID of this site's form."""
        match = re.fullmatch(rf"{re.escape(self.site_id)}-(\d{{8}})-([a-z]+)", uid, re.ASCII)
        if match is None:
            return None
        try:
            day = dt.datetime.strptime(match[1], "%Y%m%d").replace(tzinfo=dt.UTC).date()
        except ValueError:
            return None
        return day, match[2]

    def covers(self, uid: str) -> bool:
        """Return whether an entry is of this site's form, lies in the window and is looked after.

        A sitter's entries are those of people who rely on them: what keeps the plan up to date
        leaves them alone.
        """
        found = self.of_site(uid)
        if found is None or not self.first <= found[0] <= self.last:
            return False
        if found[1] in KINDS:
            return self.looks_on is None or found[0] in self.looks_on
        return self.has_plan


@dataclass(frozen=True)
class Difference:
    """One entry and what is to be done about it."""

    kind: Kind
    uid: str
    wanted: Wanted | None
    found: Found | None


def compare(
    wanted: Sequence[Wanted], found: Iterable[Found], scope: Scope
) -> tuple[Difference, ...]:
    """Return what is to be done, entry by entry.

    Parameters
    ----------
    wanted
        The entries of the plan's window.
    found
        What the calendar holds, of whomever.
    scope
        Everything outside of it is left out.

    Returns
    -------
    tuple of Difference
        In the plan's order, and after that what is planned no more.
    """
    there = {entry.uid: entry for entry in found if scope.covers(entry.uid)}
    planned = {entry.uid: entry for entry in wanted}
    return tuple(
        Difference(kind, uid, planned.get(uid), there.get(uid))
        for uid in [*planned, *sorted(there.keys() - planned.keys())]
        if (kind := decide(planned.get(uid), there.get(uid), scope)) is not None
    )


def strangers(found: Iterable[Found], scope: Scope) -> list[Found]:
    """Return the entries in the window that carry the site's id and another site's mark."""
    return [
        entry
        for entry in found
        if scope.covers(entry.uid) and entry.mark is not None and entry.mark.site != scope.mark
    ]


def decide(wanted: Wanted | None, found: Found | None, scope: Scope) -> Kind | None:
    """Return what is to be done about one entry; None if it is none of ours."""
    if found is None:
        return Kind.ADD if wanted else None
    mark = found.mark
    if mark is None and wanted is None:
        return None
    if (
        wanted is not None
        and found.digest == wanted.content.digest
        # A server that takes marks away leaves nothing more to compare.
        and (mark is None or (mark.site, mark.content.zone) == (scope.mark, wanted.content.zone))
    ):
        return Kind.KEEP
    if not scope.overwrite and (mark is None or mark.content.digest != found.digest):
        return Kind.CONFLICT
    return Kind.CHANGE if wanted else Kind.REMOVE
