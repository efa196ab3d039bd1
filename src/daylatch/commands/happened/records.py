"""The tables and lists that were put into the door: as files beside the site file, and as kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY
from daylatch.commands.beside import IN_USE, BesideError, read_beside
from daylatch.commands.due import due_of
from daylatch.commands.now import warn
from daylatch.diary.audit.door_audit import audit_door
from daylatch.diary.audit.expected import Since, judge_by
from daylatch.diary.store.rows import Record
from daylatch.door.works.due import read_file
from daylatch.door.works.in_use import InUseError
from daylatch.errors import DiaryError, UsageError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.diary.audit.expected import Judged
    from daylatch.diary.entries import Entry
    from daylatch.diary.store.rows import Noted
    from daylatch.diary.store.store import Diary
    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site


def record_named(site: Site, name: str) -> Record:
    """Return the table or list that a keeper puts into the door, which is kept as it is.

    Raises
    ------
    UsageError
        If there is no such file, or it is none of this house's.
    """
    try:
        return _record(site, name)
    except (BesideError, InUseError) as error:
        raise UsageError(f'in use: "{name}" {error}') from error


def records_of(site: Site, entries: Sequence[Entry]) -> dict[int, Record]:
    """Return by an entry's place the tables and lists that a log names and that lie there."""
    found = {}
    for place, entry in enumerate(entries):
        if entry.what == "in_use":
            try:
                found[place] = _record(site, entry.value)
            except (BesideError, InUseError):
                # It may have been long ago. Whoever judges by it says that it is not kept.
                continue
    return found


def judged_by(diary: Diary, due: Due) -> Judged:
    """Return what was due by what was in the door on each day, as the diary has it.

    Raises
    ------
    DiaryError
        If the diary cannot be read, or a file that was put in cannot be this house's as its site
        file is now.
    """
    put_in = [
        Since(one.entry.instant_utc, one.entry.value, _file(due.plan.site, diary, one))
        for one in diary.entries_if_any(whats=["in_use"])
    ]
    try:
        return judge_by(due, put_in)
    except InUseError as error:
        raise DiaryError(
            f"{diary.path}: a table or list that was put into the door {error}; if the site file "
            "is right, undo its entry (`daylatch diary show` numbers them)"
        ) from error


def audit_of(
    site: Site, diary: Diary, entries: Sequence[Entry], source: str, today: dt.date
) -> DoorAudit:
    """Return what entries say of a site's door, by what was in it on each day.

    Parameters
    ----------
    site
        Whose door it is.
    diary
        Which knows what was in the door.
    entries
        At least one.
    source
        Where they come from, for people.
    today
        From when on anything can be done.

    Raises
    ------
    DiaryError, PlanError, SiteError
        If it cannot be told what was due.
    """
    instants = np.array([one.instant_utc for one in entries])
    first, last = (end.astype("datetime64[D]") for end in (instants.min(), instants.max()))
    # A flock day may begin on the date before, and end on the one after.
    plan = make_plan(site, (first - 2 * DAY).item(), (last + 2 * DAY).item())
    return audit_door(judged_by(diary, due_of(plan)), entries, source, today)


def _record(site: Site, name: str) -> Record:
    content = read_beside(site, name, *IN_USE)
    read_file(site.works, content, site)
    return Record(name, site.works, content)


def _file(site: Site, diary: Diary, noted: Noted) -> InUseFile | None:
    """Return what a kept file says; None where there is none that can be used."""
    if noted.record is None:
        return None
    record = diary.record(noted.record)
    try:
        return read_file(record.works, record.content, site)
    except InUseError as error:
        warn(f'{diary.path}: entry {noted.number}: "{record.name}" {error}')
        return None
