"""Whether the door is what it should be, as far as anybody said."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.home.watch.kinds import Kind
from daylatch.home.watch.nights import (
    days,
    is_count_of_all,
    moment_of,
    nights,
    opening_allowance,
    said_in,
    says_open,
)
from daylatch.home.watch.scene import Trouble, Unknown, grace
from daylatch.wording import capital

if TYPE_CHECKING:
    from daylatch.diary.store.rows import Noted
    from daylatch.home.watch.nights import Stretch
    from daylatch.home.watch.scene import Findings, Found, Scene

OPEN_AGAIN_MIN = 5
"""How long a door may be open again in the night: one that meets an obstacle reopens, and shuts
again (our choice, no source)."""
MOST_REOPENED = 3
REOPENED_WITHIN = np.timedelta64(30, "m")
"""How often it may do so within that time before it is said (our choice, no source)."""
_SAME_DAY = np.timedelta64(12, "h")


class _Words(NamedTuple):
    """What was said of a door in a night.

    Attributes
    ----------
    last : Noted or None
        The last word of it.
    opened : Noted or None
        If it is open by that: the first word that said so.
    shut : Noted or None
        If it is shut by that: the first word that said so.
    was_shut : bool
        Whether it was shut before.
    reopened : list of Noted
        Each word that it is open again, since a person last counted.
    """

    last: Noted | None
    opened: Noted | None
    shut: Noted | None
    was_shut: bool
    reopened: list[Noted]


def look_at_door(scene: Scene, now_utc: np.datetime64, findings: Findings) -> None:
    """Find whether the door should be shut and is not known to be, or open."""
    if not scene.expects_door:
        return
    for night in nights(scene):
        if night.holds(now_utc):
            key = f"night {night.key}"
            findings.take(key, judge_night(scene, night, now_utc))
    for day in days(scene):
        if day.holds(now_utc):
            findings.take(f"day {day.key}", _judge_day(scene, day, now_utc))


def judge_night(scene: Scene, night: Stretch, now_utc: np.datetime64) -> Found:
    """Return what is to be said of the door in a night."""
    words = _words(scene, night, now_utc)
    key = f"night {night.key}"
    if (often := _reopened(scene, words, now_utc)) is not None:
        return Trouble(key, Kind.OPEN_AGAIN, often)
    if words.last is not None and words.opened is None:
        return f"{capital(scene.told(words.last))}."
    if words.opened is not None and _is_again(words, night):
        told = f"{capital(scene.told(words.opened))}, and it should be shut{_until(scene, night)}."
        if now_utc < _allowed_open(scene, night, words.opened):
            return Unknown(told)
        return Trouble(key, Kind.OPEN_AGAIN, told)
    if not night.moves:
        return None
    due = f"The door was due to shut at {scene.time(night.begins_utc)}"
    begins = night.begins_utc
    if scene.began_utc is not None:
        # Before that nobody listened.
        begins = max(begins, scene.began_utc)
    until = scene.waited_until(begins + night.late + grace(scene.watch.shut_within_min))
    if now_utc < until:
        return Unknown(f"{due}; word of it is waited for until {scene.time(until)}.")
    told = f"{due}, and no word has come that it is shut."
    return Trouble(key, Kind.NOT_SHUT, told + _last_known(scene, night, words.last))


def _judge_day(scene: Scene, day: Stretch, now_utc: np.datetime64) -> Found:
    since = day.begins_utc - scene.early_opening
    last = None
    for one in scene.by_receipt:
        if one.entry.kind.door is None or not _is_of_day(one, day, now_utc):
            continue
        if says_open(one) and one.entry.instant_utc >= since:
            return f"{capital(scene.told(one))}."
        last = one
    if last is not None and says_open(last):
        # It was opened earlier, and nobody shut it.
        return f"{capital(scene.told(last))}."
    due = f"The door was due to open at {scene.time(day.begins_utc)}"
    until = scene.waited_until(day.begins_utc + day.late + grace(scene.watch.open_within_min))
    if now_utc < until:
        return Unknown(f"{due}; word of it is waited for until {scene.time(until)}.")
    told = f"{due}, and no word has come that it is open: the birds may be shut in without water."
    return Trouble(f"day {day.key}", Kind.NOT_OPEN, told)


def _is_of_day(one: Noted, day: Stretch, now_utc: np.datetime64) -> bool:
    """Return whether an entry tells of a day, or of the night before it."""
    at_utc = one.entry.instant_utc
    is_there = one.is_report or bool(at_utc <= now_utc)
    return is_there and bool(day.begins_utc - _SAME_DAY <= at_utc < day.ends_utc)


def _words(scene: Scene, night: Stretch, now_utc: np.datetime64) -> _Words:
    """Return what was said of the door in a night, in the order in which it counts.

    A person who has counted all birds in after the closing was there: that says that it is shut.
    What a door kept back and says to be from before it was open does not: there is doubt.
    """
    last = opened = shut = None
    was_shut = False
    known_open = night.begins_utc - scene.early
    reopened: list[Noted] = []
    allowance = opening_allowance(scene, night)
    for one in said_in(scene, night, now_utc):
        if says_open(one):
            if moment_of(one) >= night.ends_utc - allowance:
                # That opens it for the day.
                continue
            is_of_night = not night.moves or moment_of(one) >= night.begins_utc
            if opened is None and was_shut and is_of_night:
                reopened.append(one)
            opened, shut = opened or one, None
            known_open = max(known_open, one.entry.instant_utc)
        elif one.entry.kind.door is not None:
            kept_back = one.entry.stamped_by == "door"
            if kept_back and opened and one.entry.instant_utc < known_open:
                continue
            opened, shut, was_shut = None, shut or one, True
        elif is_count_of_all(scene, one) and one.entry.instant_utc >= night.begins_utc:
            opened, shut, was_shut, reopened = None, shut or one, True, []
        else:
            continue
        last = one
    return _Words(last, opened, shut, was_shut, reopened)


def _reopened(scene: Scene, words: _Words, now_utc: np.datetime64) -> str | None:
    """Return that a door opens again and again, in a sentence; None if it stays as it is."""
    lately = [one for one in words.reopened if moment_of(one) > now_utc - REOPENED_WITHIN]
    stays = words.shut is not None and now_utc >= words.shut.entry.instant_utc + grace(
        OPEN_AGAIN_MIN
    )
    if len(lately) < MOST_REOPENED or stays:
        return None
    return (
        f"The door opened again {len(lately)} times in the last half hour, and should be shut: "
        f"something may lie in its way. Last: {scene.told(words.last or lately[-1])}."
    )


def _is_again(words: _Words, night: Stretch) -> bool:
    """Return whether a door that is open was shut before, in that night."""
    assert words.opened is not None
    if not night.moves:
        return True
    return words.was_shut and bool(moment_of(words.opened) >= night.begins_utc)


def _allowed_open(scene: Scene, night: Stretch, opened: Noted) -> np.datetime64:
    """Return until when a door may be open again: for an obstacle, and for a second pass."""
    until = moment_of(opened) + grace(OPEN_AGAIN_MIN)
    if scene.has_second_pass and not np.isnat(night.count_utc):
        until = max(until, night.count_utc + grace(scene.watch.shut_within_min))
    return until


def _last_known(scene: Scene, night: Stretch, last: Noted | None) -> str:
    """Return the last thing that is known of the door at all, and why it does not count."""
    known = last
    if known is None:
        earlier = [
            one
            for one in scene.by_receipt
            if one.entry.kind.door is not None and one.entry.instant_utc < night.ends_utc
        ]
        known = earlier[-1] if earlier else None
    if known is None:
        return ""
    told = f" Last: {scene.told(known)}"
    counts_from = night.begins_utc - scene.early
    if says_open(known) or known.entry.instant_utc < counts_from - _SAME_DAY:
        return f"{told}."
    why = "its moment is not sure"
    if known.entry.instant_utc < counts_from:
        why = f"it was before {scene.time(counts_from)}"
    return f'{told}, which does not count, for {why}: if the door is shut, note "seen shut".'


def _until(scene: Scene, night: Stretch) -> str:
    if night.ends_utc > np.datetime64("9000"):
        return ""
    return f" until {scene.time(night.ends_utc)}"
