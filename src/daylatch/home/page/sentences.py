"""The page's plain sentences: what the door should be, what was last said, and tonight's count."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.home.watch.look import DIARY
from daylatch.home.watch.nights import IN, OUT, nights, said_in, says_open
from daylatch.plan.block import LOOK_AHEAD_DAYS
from daylatch.plan.daylight import remedy
from daylatch.plan.due_words import due_notes
from daylatch.plan.moment import moment_at
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.entries import Entry
    from daylatch.diary.store.rows import Noted
    from daylatch.home.page.present import Present
    from daylatch.home.watch.nights import Stretch
    from daylatch.home.watch.scene import Scene
    from daylatch.plan.moment import Moment

_A_DAY, _HALF_A_DAY = np.timedelta64(24, "h"), np.timedelta64(12, "h")
_PLANNED = ", as planned; when it really does is not known"


def headline(moment: Moment, present: Present) -> str:
    """Return what the door should be, and until when."""
    if moment.next_movement_utc is None:
        until = f"; no movement is known within {LOOK_AHEAD_DAYS} days"
    else:
        until = f" until {present.when(moment.next_movement_utc)}"
        until += "" if moment.next_is_known else _PLANNED
    return f"The door should be {moment.state}{until}."


def door_sentences(scene: Scene, present: Present) -> Iterator[str]:
    """Yield what was last said of the door, and what else is to be known of it."""
    moment = moment_at(scene.due, present.now_utc)
    last = _last_word(scene)
    if DIARY in scene.doubts:
        yield "What was said of it cannot be told: the diary cannot be read just now."
    elif last is None:
        yield "Nothing was said of the door in the last days."
    else:
        how = "It last said" if last.is_report else "Last noted of it"
        yield f"{how}: {_told(last, present)}."
        if _contradicts(last, moment):
            yield "That is not what is due now: look whether it is right."
    yield from _battery(scene, present)
    only = np.arange(len(scene.due)) == moment.index
    day = scene.due.part(only)
    if day.in_use is not None or day.up_to_min is not None or not moment.is_known:
        yield from due_notes(day)
    if moment.due.closes_in_daylight[moment.index]:
        by_hand = moment.plan.settings.shut_in_by_hand[moment.index]
        then = "shut the birds in by hand before" if by_hand else remedy(scene.due, only)
        yield f"The door closes in daylight: {then}."


def count_sentences(scene: Scene, present: Present) -> Iterator[str]:
    """Yield how tonight's head count stands, or last night's while that lasts."""
    night = _night(scene, present.now_utc)
    if night is None:
        yield "When the birds are shut in next is not known."
        return
    label = _label(night, present)
    counts = [one for one in said_in(scene, night, present.now_utc) if one.entry.what in (*IN, OUT)]
    birds = "" if scene.birds is None else f" There should be {scene.birds}."
    if DIARY in scene.doubts:
        yield f"{label}: what was counted cannot be told, so count heads.{birds}"
        return
    if counts:
        yield f"{label}: {_told(counts[-1], present)}."
        short = counts[-1].entry.what in IN and scene.birds is not None
        if short and 0 < counts[-1].entry.count < (scene.birds or 0):
            yield birds.strip()
        return
    early = _too_early(scene, night, present)
    if early is not None:
        yield f"{capital(_told(early, present))}, was too early to count for the night."
    if _is_long(night, present.now_utc):
        yield f"{label}: count heads every evening.{birds}"
    elif np.isnat(night.count_utc):
        yield f"{label}: count heads once the door has shut.{birds}"
    elif present.now_utc < night.count_utc:
        yield f"{label}: count heads at {present.when(night.count_utc)}.{birds}"
    else:
        due = present.when(night.count_utc)
        yield f"{label}: nobody has noted a head count, which was due at {due}.{birds}"


def early_count(scene: Scene, entry: Entry, present: Present) -> str:
    """Return that a count is too early to be that of the coming night; empty if it is not."""
    if entry.what not in IN or any(night.holds(entry.instant_utc) for night in nights(scene)):
        return ""
    coming = [one.begins_utc for one in nights(scene) if one.begins_utc > entry.instant_utc]
    if not coming or entry.instant_utc >= min(coming) - scene.early:
        return ""
    return (
        "It is too early to be the count of the night: the door is due to shut at "
        f"{present.when(min(coming))}, so count again then."
    )


def _last_word(scene: Scene) -> Noted | None:
    said = [one for one in scene.by_receipt if one.entry.kind.door is not None]
    return said[-1] if said else None


def _contradicts(last: Noted, moment: Moment) -> bool:
    """Return whether the door did something else since it was last due to move."""
    moves = np.concatenate([moment.due.told_open_utc, moment.due.told_close_utc])
    past = moves[moves <= moment.instant_utc]
    is_since = not past.size or last.entry.instant_utc >= past.max()
    return bool(is_since) and says_open(last) != (moment.state == "open")


def _battery(scene: Scene, present: Present) -> Iterator[str]:
    """Yield what the door's battery last said."""
    volts = sorted(scene.volts, key=lambda one: one.number)
    if volts:
        yield f"{capital(_told(volts[-1], present))}."


def _too_early(scene: Scene, night: Stretch, present: Present) -> Noted | None:
    """Return the last count of the day that was too early for its night; None without one."""
    since, until = night.begins_utc - _HALF_A_DAY, min(night.begins_utc, present.now_utc)
    counts = [
        one
        for one in scene.by_receipt
        if since <= one.entry.instant_utc <= until and early_count(scene, one.entry, present)
    ]
    return counts[-1] if counts else None


def _told(noted: Noted, present: Present) -> str:
    return f"{present.said(noted)}, {present.when(noted.entry.instant_utc)}"


def _night(scene: Scene, now_utc: np.datetime64) -> Stretch | None:
    """Return the night that an instant lies in, else the next."""
    known = [night for night in nights(scene) if night.ends_utc > now_utc]
    return min(known, key=lambda night: night.begins_utc) if known else None


def _is_long(night: Stretch, now_utc: np.datetime64) -> bool:
    """Return whether the door stays shut for days."""
    return not night.moves or bool(now_utc - night.begins_utc > _A_DAY)


def _label(night: Stretch, present: Present) -> str:
    if night.holds(present.now_utc) and _is_long(night, present.now_utc):
        return "While the door stays shut"
    if present.now_utc < night.begins_utc:
        date = present.zone.date_at(night.begins_utc)
        return "This evening" if date == present.today else capital(present.day(date))
    noon = night.ends_utc if night.ends_utc < np.datetime64("9000") else present.now_utc
    # Past midnight people still say tonight; at dawn it is over.
    is_evening = present.now_utc - night.begins_utc < (noon - night.begins_utc) / 2
    return "Tonight" if is_evening else "This night"
