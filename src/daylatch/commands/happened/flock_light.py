"""The flock's light from its diary or a log, for its own command and for the sentence elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.diary import diary_of
from daylatch.commands.due import due_of
from daylatch.commands.happened.entries import DAYS_BACK
from daylatch.diary.roosting.looks import KINDS, TOLD
from daylatch.diary.roosting.roosting import make_roosting
from daylatch.diary.roosting.words import one_sentence
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.diary.entries import Entry
    from daylatch.diary.roosting.roosting import Roosting
    from daylatch.diary.store.store import Diary
    from daylatch.site.tables import Site

_DAY = np.timedelta64(1, "D")


def roosting_of(
    site: Site, entries: Sequence[Entry], source: str, wanted: float | None, today: dt.date
) -> Roosting | None:
    """Return what entries tell of a flock's light; None if none of them does.

    Parameters are those of `make_roosting`, with the site for what is due there.

    Raises
    ------
    PlanError, SiteError
        If it cannot be told what was due.
    """
    instants = np.array([one.instant_utc for one in entries if one.what in KINDS])
    if not len(instants):
        return None
    first, last = (end.astype("datetime64[D]") for end in (instants.min(), instants.max()))
    # A flock day may begin on the date before, and end on the one after.
    plan = make_plan(site, (first - _DAY).item(), (last + _DAY).item(), with_second_opinion=False)
    return make_roosting(due_of(plan), entries, source, wanted, today)


def flock_sentence(
    site: Site, today: dt.date, diary: Diary | None = None, until: np.datetime64 | None = None
) -> str:
    """Return one sentence on when a flock goes in by its diary; empty if it tells nothing of that.

    Parameters
    ----------
    site
        Whose flock.
    today
        The day.
    diary
        Of the site; it is looked for if left out.
    until
        Up to which instant it is looked at; all of it if left out.

    Raises
    ------
    DiaryError, PlanError, SiteError
        If the diary cannot be read, or it cannot be told what was due.
    """
    diary = diary_of(site) if diary is None else diary
    noted = diary.entries_if_any(None, until, whats=TOLD)
    if not noted:
        return ""
    since = noted[-1].entry.instant_utc - DAYS_BACK
    entries = [one.entry for one in noted if one.entry.instant_utc >= since]
    found = roosting_of(site, entries, str(diary.path), None, today)
    return "" if found is None else one_sentence(found)
