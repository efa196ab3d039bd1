"""The flock's light from its diary or a log, for its own command and for the sentence elsewhere."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY
from daylatch.commands.diary import diary_of
from daylatch.commands.due import due_of
from daylatch.commands.happened.entries import DAYS_BACK
from daylatch.commands.now import now_utc, warn
from daylatch.diary.roosting.looks import KINDS, TOLD
from daylatch.diary.roosting.roosting import make_roosting
from daylatch.diary.roosting.words import one_sentence
from daylatch.errors import DiaryError, PlanError, SiteError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.diary.entries import Entry
    from daylatch.diary.roosting.roosting import Roosting
    from daylatch.diary.store.store import Diary
    from daylatch.site.tables import Site


def roosting_of(
    site: Site, entries: Sequence[Entry], source: str, wanted: float | None, today: dt.date
) -> Roosting | None:
    """Return what entries tell of a flock's light; None if none of them does.

    Parameters are those of `make_roosting`.

    Raises
    ------
    PlanError
        If flock days cannot be told at the place.
    """
    instants = np.array([one.instant_utc for one in entries if one.what in KINDS])
    if not len(instants):
        return None
    first, last = (end.astype("datetime64[D]") for end in (instants.min(), instants.max()))
    # A flock day may begin on the date before, and end on the one after.
    dates = (first - DAY).item(), (last + DAY).item()
    due, no_plan = None, ""
    try:
        due = due_of(make_plan(site, *dates, with_second_opinion=False))
    except (PlanError, SiteError) as error:
        # The birds had their light all the same.
        no_plan = " ".join(error.lines)
    return replace(make_roosting(site, due, entries, source, wanted, today), no_plan=no_plan)


def going_in(site: Site, today: dt.date) -> str:
    """Return what `flock_sentence` does, beside another matter: trouble is a warning."""
    try:
        return flock_sentence(site, today)
    except (DiaryError, PlanError) as error:
        warn("; ".join(error.lines))
        return ""


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
        Up to which instant it is looked at; now if left out.

    Raises
    ------
    DiaryError, PlanError
        If the diary cannot be read, or flock days cannot be told at the place.
    """
    diary = diary_of(site) if diary is None else diary
    noted = diary.entries_if_any(None, now_utc() if until is None else until, whats=TOLD)
    if not noted:
        return ""
    since = noted[-1].entry.instant_utc - DAYS_BACK
    entries = [one.entry for one in noted if one.entry.instant_utc >= since]
    found = roosting_of(site, entries, str(diary.path), None, today)
    return "" if found is None else one_sentence(found)
