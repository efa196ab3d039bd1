"""Whether somebody has counted heads, and whether all birds are in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.home.watch.kinds import Kind
from daylatch.home.watch.nights import IN, OUT, is_count_of_some, nights, said_in
from daylatch.home.watch.scene import Trouble, Unknown, grace
from daylatch.wording import capital

if TYPE_CHECKING:
    from daylatch.diary.store.rows import Noted
    from daylatch.home.watch.nights import Stretch
    from daylatch.home.watch.scene import Findings, Found, Scene


_LONG_AGO = np.timedelta64(24, "h")
"""After which time nobody is asked any more for a head count."""


def look_at_birds(scene: Scene, now_utc: np.datetime64, findings: Findings) -> None:
    """Find whether heads should have been counted and were not, and whether birds are out."""
    if not scene.expects_count:
        return
    for night in nights(scene):
        if night.moves and night.holds(now_utc):
            findings.take(f"count {night.key}", _judge(scene, night, now_utc))


def _judge(scene: Scene, night: Stretch, now_utc: np.datetime64) -> Found:
    key = f"count {night.key}"
    # Where it is not known when the door shuts, heads are counted after the planned closing.
    count = night.begins_utc if np.isnat(night.count_utc) else night.count_utc
    counts = [one for one in said_in(scene, night, now_utc) if one.entry.what in (*IN, OUT)]
    if not counts:
        if scene.began_utc is not None and count < scene.began_utc:
            return None
        if now_utc > count + _LONG_AGO:
            return None
        if now_utc < (until := count + grace(scene.watch.count_within_min)):
            return Unknown(f"The head count is waited for until {scene.time(until)}.")
        words = f"Heads were to be counted at {scene.time(count)}, and nobody has noted it."
        return Trouble(key, Kind.NOT_COUNTED, words)
    last = counts[-1]
    missing = _missing(scene, last)
    if not missing:
        return f"{capital(scene.told(last))}."
    if now_utc < max(count, last.entry.instant_utc):
        return Unknown(f"{missing} It is said at the time of the head count, {scene.time(count)}.")
    return Trouble(key, Kind.BIRDS_OUT, missing)


def _missing(scene: Scene, last: Noted) -> str:
    """Return which birds are not in, in a sentence; empty if all are."""
    at = scene.time(last.entry.instant_utc)
    if last.entry.what == OUT:
        return f"{capital(scene.told(last))}."
    if is_count_of_some(scene, last):
        return (
            f"{last.entry.count} were counted in at {at}, and the flock has {scene.birds} birds "
            "(if that is wrong, set flock.birds in the site file, or note the loss in the diary)."
        )
    return ""
