"""What was seen of a house lately, for its page: the weeks around today, and the door's audit."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.due import due_of
from daylatch.commands.happened.flock_light import flock_sentence
from daylatch.commands.happened.records import audit_of, judged_by
from daylatch.commands.home.source import AUDITED, MOST_AUDITED
from daylatch.diary.audit.door_audit import audit_door
from daylatch.diary.audit.text import danger_summary, danger_words
from daylatch.diary.audit.words import clock_sentences, counts_text, remedies
from daylatch.diary.shown.days import show_days
from daylatch.errors import PlanError, SecondOpinionError
from daylatch.home.page.weeks import DAYS, days_ahead, days_behind
from daylatch.home.times.days import as_far_as_planned
from daylatch.plan.moment import days_around
from daylatch.site.watch import DOOR, HEAD_COUNT

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.diary.store.rows import Noted
    from daylatch.diary.store.store import Diary
    from daylatch.home.page.present import Present
    from daylatch.home.page.weeks import DayAhead, DayBehind
    from daylatch.home.watch.scene import Scene
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

_DAY = dt.timedelta(days=1)
_WEEK = dt.timedelta(days=DAYS)


def due_around(site: Site, present: Present) -> Due:
    """Return what is due from a week and a day ago until so long from now, as far as is planned.

    Where the days behind have no plan, those around now may have one.

    Raises
    ------
    PlanError, SecondOpinionError, SiteError
        If that cannot be told.
    """
    today = present.today
    first, least, most = today - _WEEK - _DAY, today + 2 * _DAY, today + _WEEK + _DAY
    try:
        return as_far_as_planned(site, due_of, first, least, most)
    except (PlanError, SecondOpinionError):
        return due_of(days_around(site, present.now_utc))


def weeks_of(
    scene: Scene, noted: Sequence[Noted], diary: Diary, present: Present
) -> tuple[list[DayAhead], list[DayBehind]]:
    """Return the week to come, and the days behind with what was seen.

    Parameters
    ----------
    scene
        What the watch looks at, with what is due as `due_around` has it.
    noted
        The entries of these days that hold, in the order of their moments.
    diary
        Where they stand.
    present
        Now.

    Raises
    ------
    DiaryError
        If what was in the door cannot be read.
    """
    due = scene.due
    ahead = list(days_ahead(due, present))
    since, until = due.plan.day_start_utc[0], due.plan.day_end_utc[-1]
    here = [one for one in noted if since <= one.entry.instant_utc < until]
    if not here:
        return ahead, []
    judged = judged_by(diary, due)
    audit = audit_door(judged, [one.entry for one in here], str(diary.path), present.today)
    days = (np.datetime64(present.today - _WEEK), np.datetime64(present.today - _DAY))
    shown = show_days(judged.due, here, audit, days, present.now_utc, "")
    told = ((HEAD_COUNT, scene.expects_count), (DOOR, scene.expects_door))
    expects = [who for who, is_expected in told if is_expected]
    began = None if scene.began_utc is None else present.zone.date_at(scene.began_utc)
    return ahead, list(days_behind(shown, present, expects, began))


def audited(site: Site, diary: Diary, present: Present) -> list[tuple[str, str]]:
    """Return what an audit finds in the last weeks, and when the birds go in.

    Each by what it is about; nothing if nothing was noted.

    Raises
    ------
    DiaryError, PlanError, SiteError
        If it cannot be made.
    """
    noted = diary.entries_if_any(present.now_utc - AUDITED, present.now_utc)
    entries = [one.entry for one in noted[-MOST_AUDITED:]]
    if not entries:
        return []
    audit = audit_of(site, diary, entries, str(diary.path), present.today)
    going_in = flock_sentence(site, present.today, diary, present.now_utc)
    return [*_findings(audit, present), *[("Going in", going_in)] * bool(going_in)]


def _findings(audit: DoorAudit, present: Present) -> Iterator[tuple[str, str]]:
    first, last = present.day(audit.first), present.day(audit.last)
    yield "Days", f"{first}{f' to {last}' * (last != first)}, as of {present.when(present.now_utc)}"
    for heading, nights, dangers in danger_summary(audit):
        worst = [
            f"{present.day(one.date.astype(object))}: {danger_words(audit, one, present.face)}"
            for one in dangers[-3:]
        ]
        yield heading, "; ".join([nights, *worst])
    if counts := counts_text(audit):
        yield "Movements", counts
    if audit.found.clock is not None:
        yield "The door's clock", " ".join(clock_sentences(audit))
    if what_to_do := " ".join(remedies(audit)):
        yield "What the keeper can do", what_to_do
