"""The whole look: everything that is wrong at an instant, and what nobody saw meanwhile."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from daylatch.home.watch.birds import look_at_birds
from daylatch.home.watch.door import judge_night, look_at_door
from daylatch.home.watch.kinds import Kind
from daylatch.home.watch.nights import nights
from daylatch.home.watch.scene import Findings, Trouble, grace
from daylatch.wording import capital, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.clock import Zone
    from daylatch.home.watch.scene import Found, Scene
    from daylatch.site.watch import Watch

DIARY = "diary"
"""What a doubt concerns that keeps from all that is judged by the diary."""
LONGEST_GAP = np.timedelta64(15, "m")
"""How long between two looks nobody need be told."""
LATE_REPORT_MIN = 5
"""How late the reports of a door may be without its clock being blamed (our choice, no source)."""
_WELL_ABOVE = 1.02
"""A battery that was low is low until it is so far above that (our choice, no source)."""


def look(scene: Scene, now_utc: np.datetime64) -> Findings:
    """Return what is wrong at an instant [datetime64[s]]. Pure: the same scene finds the same."""
    findings = in_doubt(scene.doubts)
    if DIARY in scene.doubts:
        # Without what was said nothing can be missed; what stood goes on.
        return findings
    look_at_door(scene, now_utc, findings)
    look_at_birds(scene, now_utc, findings)
    if scene.expects_door:
        if scene.site.settings.mqtt is not None:
            findings.take("link", _link(scene, now_utc))
        findings.take("battery", _battery(scene))
    findings.take("clock", _clock(scene))
    for trouble in _endings(scene, now_utc):
        findings.take(trouble.key, trouble)
    return findings


def in_doubt(doubts: dict[str, str]) -> Findings:
    """Return what is wrong if the watch cannot look, by what keeps it from that."""
    findings = Findings()
    for about, words in doubts.items():
        key = f"doubt {about}"
        findings.take(key, Trouble(key, Kind.IN_DOUBT, words))
    return findings


def unforeseen(error: Exception) -> str:
    """Return what is said of an error that nobody foresaw."""
    return f"This should not have happened ({type(error).__name__}: {error}): please report it."


def unwatched(scene: Scene, since_utc: np.datetime64, now_utc: np.datetime64) -> Trouble | None:
    """Return what was due while nobody looked; None if nothing was, or the time was short.

    Parameters
    ----------
    scene
        Of now.
    since_utc, now_utc
        The look before, and this one [datetime64[s]].
    """
    if now_utc - since_utc <= LONGEST_GAP or DIARY in scene.doubts:
        return None
    # Of what is over nothing more can come.
    lines = list(_missed(replace(scene, listening_since_utc=None), since_utc, now_utc))
    if not lines:
        return None
    before = "Of the last days: " if since_utc < scene.due.plan.day_start_utc[0] else ""
    minutes = int((now_utc - since_utc) // np.timedelta64(1, "m"))
    words = (
        f"Nobody watched from {scene.time(since_utc)} to {scene.time(now_utc)} "
        f"({duration_text(minutes)}): this computer was off or asleep, its clock was put forward, "
        f"or the watch could not look. {before}{' '.join(lines)}"
    )
    return Trouble(f"gap {since_utc}", Kind.NOT_LOOKED, words)


def _missed(scene: Scene, since_utc: np.datetime64, now_utc: np.datetime64) -> Iterator[str]:
    for night in nights(scene):
        waited = night.begins_utc + night.late + grace(scene.watch.shut_within_min)
        if not night.moves or night.ends_utc <= since_utc or waited > now_utc:
            continue
        found = None
        if scene.expects_door:
            found = judge_night(scene, night, min(now_utc, night.ends_utc))
        if isinstance(found, Trouble) and night.ends_utc <= now_utc:
            yield found.words
        elif since_utc < night.begins_utc:
            # What is wrong now has an alarm of its own.
            shut = f" {found}" if isinstance(found, str) else ""
            yield f"The door was due to shut at {scene.time(night.begins_utc)}.{shut}"


def is_quiet(watch: Watch, zone: Zone, now_utc: np.datetime64) -> bool:
    """Return whether an instant lies in the quiet hours."""
    if watch.quiet is None:
        return False
    wall = zone.to_local(np.array([now_utc])).wall[0]
    minutes = int((wall - wall.astype("datetime64[D]")) // np.timedelta64(1, "m"))
    begins, ends = (time.minutes for time in watch.quiet)
    if begins < ends:
        return begins <= minutes < ends
    return minutes >= begins or minutes < ends


def _link(scene: Scene, now_utc: np.datetime64) -> Found:
    lost = (
        ("The door has not been connected", scene.link_lost_utc),
        ("The broker cannot be reached", scene.broker_lost_utc),
    )
    since = [(words, at_utc) for words, at_utc in lost if at_utc is not None]
    if not since:
        return "The door is connected again."
    for words, at_utc in since:
        if now_utc >= at_utc + grace(scene.watch.link_within_min):
            told = f"{words} since {scene.time(at_utc)}: what the door does, nobody knows."
            return Trouble("link", Kind.LINK_LOST, told)
    return None


def _battery(scene: Scene) -> Found:
    battery = scene.site.settings.battery
    if battery is None or battery.low_v is None:
        return None
    trouble: Found = None
    for one in sorted(scene.volts, key=lambda one: one.number):
        volts = float(one.entry.value)
        if volts < battery.low_v:
            words = f"{capital(scene.told(one))}, below the {battery.low_v:g} V of low_v."
            trouble = Trouble("battery", Kind.BATTERY_LOW, words)
        elif volts >= battery.low_v * _WELL_ABOVE or not isinstance(trouble, Trouble):
            trouble = f"The battery is at {volts:g} V."
    return trouble


def _clock(scene: Scene) -> Found:
    off = scene.clock_off_min
    if off is None:
        return None
    # What is reported late looks like a clock that is slow.
    allowed = scene.margin_min + (LATE_REPORT_MIN if off < 0 else 0)
    if abs(off) <= allowed:
        return "The door's clock is within its margin."
    words = (
        f"By what was seen of its movements, the door's clock is {abs(off):.0f} min "
        f"{'fast' if off > 0 else 'slow'}, and {allowed} min are allowed: set it "
        "(`daylatch audit` says more)."
    )
    return Trouble("clock", Kind.CLOCK_OFF, words)


def _endings(scene: Scene, now_utc: np.datetime64) -> Iterator[Trouble]:
    today = scene.due.plan.zone.date_at(now_utc)
    for ending in scene.endings:
        left = (ending.last - today).days
        if left <= scene.watch.ends_within_days:
            when = f"ended on {ending.last}" if left < 0 else f"ends on {ending.last}"
            words = f"{ending.what} {when}: {ending.remedy}."
            yield Trouble(f"end {ending.what}", Kind.ENDS_SOON, words)
