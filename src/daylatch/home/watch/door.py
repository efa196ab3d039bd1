"""Whether the door is what it should be, as far as anybody said."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.home.watch.kinds import Kind
from daylatch.home.watch.nights import IN, days, nights, said_in
from daylatch.home.watch.scene import Trouble, Unknown, capital, grace

if TYPE_CHECKING:
    from daylatch.diary.store.rows import Noted
    from daylatch.home.watch.nights import Stretch
    from daylatch.home.watch.scene import Findings, Found, Scene

OPEN_AGAIN_MIN = 5
"""How long a door may be open again in the night: one that meets an obstacle reopens, and shuts
again (our choice, no source)."""


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
    words = _words(scene, night)
    last = words[-1] if words else None
    if last is not None and not _says_open(last):
        return f"{capital(scene.told(last))}."
    key = f"night {night.key}"
    if last is not None and (not night.moves or not all(map(_says_open, words))):
        if now_utc >= last.entry.instant_utc + grace(OPEN_AGAIN_MIN):
            told = f"{capital(scene.told(last))}, and it should be shut{_until(scene, night)}."
            return Trouble(key, Kind.OPEN_AGAIN, told)
        return None
    if not night.moves:
        return None
    if now_utc < night.begins_utc + night.late + grace(scene.watch.shut_within_min):
        return None
    if last is None and scene.may_come(now_utc):
        return Unknown.YET
    told = f"The door was due to shut at {scene.time(night.begins_utc)}, and {_no_word(last)}."
    return Trouble(key, Kind.NOT_SHUT, told + _last_known(scene, night, last))


def _judge_day(scene: Scene, day: Stretch, now_utc: np.datetime64) -> Found:
    ends = day.ends_utc - scene.early
    for one in said_in(scene, day):
        door = one.entry.kind.door
        if door is not None and door.is_open and one.entry.instant_utc < ends:
            return f"{capital(scene.told(one))}."
    if now_utc < day.begins_utc + day.late + grace(scene.watch.open_within_min):
        return None
    if scene.may_come(now_utc):
        return Unknown.YET
    words = (
        f"The door was due to open at {scene.time(day.begins_utc)}, and no word has come that it "
        "is open: the birds may be shut in without water."
    )
    return Trouble(f"day {day.key}", Kind.NOT_OPEN, words)


def _words(scene: Scene, night: Stretch) -> list[Noted]:
    """Return what was said of the door in a night, in the order in which it counts.

    A person who has counted all birds in after the closing was there: that says that it is shut.
    """
    return [
        one
        for one in said_in(scene, night)
        if (one.entry.kind.door is not None and not _opens_for_the_day(scene, night, one))
        or (one.entry.what in IN and one.entry.instant_utc >= night.begins_utc)
    ]


def _opens_for_the_day(scene: Scene, night: Stretch, one: Noted) -> bool:
    """Return whether an entry is the opening that ends the night, or one a little early."""
    return _says_open(one) and bool(one.entry.instant_utc >= night.ends_utc - scene.early)


def _says_open(one: Noted) -> bool:
    door = one.entry.kind.door
    return door is not None and door.is_open


def _no_word(last: Noted | None) -> str:
    return "no word has come that it is shut" if last is None else "it is open"


def _last_known(scene: Scene, night: Stretch, last: Noted | None) -> str:
    """Return the last thing that is known of the door at all."""
    known = last
    if known is None:
        earlier = [
            one
            for one in scene.by_receipt
            if one.entry.kind.door is not None and one.entry.instant_utc < night.ends_utc
        ]
        known = earlier[-1] if earlier else None
    return "" if known is None else f" Last: {scene.told(known)}."


def _until(scene: Scene, night: Stretch) -> str:
    if night.ends_utc > np.datetime64("9000"):
        return ""
    return f" until {scene.time(night.ends_utc)}"
