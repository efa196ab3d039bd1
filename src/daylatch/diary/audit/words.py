"""What an audit says in a keeper's words: what ails the clock, and what to do."""

from __future__ import annotations

import datetime as dt
import shlex
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import DoorClock
from daylatch.console import printable
from daylatch.diary.audit.audit import LEAST_MOVEMENTS, ON_TIME_WITHIN_MIN, WhyNot
from daylatch.diary.audit.clock.door_clock import Cause
from daylatch.diary.audit.verdicts import Verdict
from daylatch.door.drift.drift import NO_CLOCK_PPM, S_A_DAY_AT_1_PPM
from daylatch.site.timekeeping import Timekeeping
from daylatch.wording import date_ranges, days_text, duration_text, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.audit.clock.door_clock import Clock, Step
    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.diary.audit.verdicts import Movement
    from daylatch.diary.entries import Entry

VERDICT_WORDS = {
    Verdict.ON_TIME: "on time",
    Verdict.LATE: "late",
    Verdict.EARLY: "early",
    Verdict.MISSED: "missed",
    Verdict.UNPLANNED: "not planned",
    Verdict.BY_HAND: "by hand",
    Verdict.NOT_REPORTED: "not reported",
}
_NOTE_IT = '`daylatch diary add "clock said 20:11 at 20:14"`'
WHY_NOT_WORDS = {
    WhyNot.NOTHING_SEEN: "no movement of the door was seen in these days",
    WhyNot.TOO_FEW: "too few movements were seen to judge its clock: note them, or what the clock "
    f"says ({_NOTE_IT}), for two weeks",
    WhyNot.ONLY_DOOR_STAMPS: "the log is stamped by the clock that works the door, so it always "
    "agrees with itself, however wrong that clock is. Note what the door's clock says beside a "
    f"right one, on two days some weeks apart: {_NOTE_IT}",
}
_JUDGING = frozenset({"opened", "shut", "clock_said"})
_CAUSE_WORDS = {
    Cause.SUMMER_TIME_MISSED: "it missed the change of the clocks",
    Cause.SUMMER_TIME_TWICE: "it changed once too often for summer time",
    Cause.SUMMER_TIME_UNWANTED: "it changed for summer time, which it should not",
    Cause.POWER_CUT: "it lost its time and began again, as after a power cut or an empty battery",
    Cause.SET_BY_HAND: "somebody set it",
    Cause.UNKNOWN: "it is not known why",
}
_CAUSE_REMEDIES = {
    Cause.SUMMER_TIME_MISSED: "If it cannot change for summer time by itself, let it keep standard "
    "time all year instead: set it to that (in winter the same as the wall clock's), write clock "
    '= "standard" under [door], and put a new table or list into the door',
    Cause.SUMMER_TIME_TWICE: "See that only one thing changes it: the clock itself, or whoever "
    "sets it",
    Cause.SUMMER_TIME_UNWANTED: "Switch summer time off in the clock; if it cannot be, write "
    'clock = "wall" under [door] and put a new table or list into the door',
    Cause.POWER_CUT: "Look at its plug, wires and battery, and put a new battery into the clock",
}
_KEEPS = {
    DoorClock.WALL: "the wall clock's time",
    DoorClock.STANDARD: "the zone's standard time, which it should keep all year",
    DoorClock.UTC: "UTC, which it should keep",
}
RIGHT_WITHIN_MIN = 1.5
"""A clock that is not known to be further off is right (whole minutes; this program's choice)."""


def fast_min_now(audit: DoorAudit, clock: Clock) -> float:
    """Return by how much the door's clock was fast (negative: slow) at the last entry [min]."""
    return float(clock.error_at(np.array([audit.until_utc]))[0])


def clock_sentences(audit: DoorAudit) -> Iterator[str]:
    """Yield what ails the clock; why it cannot be told where that is so."""
    clock = audit.found.clock
    if clock is None:
        yield f"Not judged: {WHY_NOT_WORDS[audit.found.why_not]}." if audit.found.why_not else ""
        return
    if not has_fault(clock):
        drifted = abs(clock.drift_ppm) + clock.drift_error_ppm
        # One look at it, or two at once, tell nothing of that.
        known = drifted < NO_CLOCK_PPM
        drift = f", and drifts by less than {_ppm(drifted)} ppm" if known else ""
        off = abs(clock.offset_min) + clock.offset_error_min
        yield f"No fault was found: it is less than {_minutes(off)} min wrong{drift}."
        return
    if clock.has_offset:
        yield (
            f"On {clock.first_date} it was {_fast(clock.offset_min)} "
            f"(give or take {_minutes(clock.offset_error_min)})."
        )
    for step in clock.steps:
        yield _step_sentence(step)
    if clock.has_drift:
        verb = "gains" if clock.drift_ppm > 0 else "loses"
        a_day = abs(clock.drift_ppm) * S_A_DAY_AT_1_PPM
        yield (
            f"It {verb} {a_day:.1f} s a day ({_ppm(abs(clock.drift_ppm))} ppm, give or take "
            f"{_ppm(clock.drift_error_ppm)})."
        )
    unchecked = _set_and_not_checked(audit, clock)
    if unchecked is not None:
        yield _unchecked_sentence(audit, unchecked)
        return
    fast = fast_min_now(audit, clock)
    yield f"On {audit.last} it was {'right' if abs(fast) < RIGHT_WITHIN_MIN else _fast(fast)}."


def has_fault(clock: Clock) -> bool:
    """Return whether anything ails a clock."""
    return bool(clock.has_offset or clock.has_drift or clock.steps)


def _set_and_not_checked(audit: DoorAudit, clock: Clock) -> np.datetime64 | None:
    """Return when the clock was set last, if too little was seen since to know how it is now."""
    sets = [one.instant_utc for one in audit.entries if one.what == "clock_set"]
    if not sets or any(step.since <= sets[-1] <= step.until for step in clock.steps):
        return None
    return sets[-1] if len(_seen_since(audit, sets[-1])) < LEAST_MOVEMENTS else None


def _seen_since(audit: DoorAudit, since_utc: np.datetime64) -> list[Entry]:
    """Return what judges the clock since an instant."""
    return [
        one
        for one in audit.entries
        if one.instant_utc > since_utc and one.what in _JUDGING and one.stamped_by != "door"
    ]


def _unchecked_sentence(audit: DoorAudit, set_utc: np.datetime64) -> str:
    count = len(_seen_since(audit, set_utc))
    date = audit.due.plan.zone.date_at(set_utc)
    seen = f"seen {_times(count)} since, which is too little" if count else "nothing was seen since"
    return f"On {date} it was set; {seen} to know whether it is right now."


def _step_sentence(step: Step) -> str:
    way = "forward" if step.minutes > 0 else "back"
    when = f"Between {step.since.astype('datetime64[D]')} and {step.date}"
    if step.date - step.since.astype("datetime64[D]") <= np.timedelta64(1, "D"):
        when = f"On {step.date} or the night before"
    return (
        f"{when} it jumped {duration_text(round(abs(step.minutes)))} {way} (give or take "
        f"{_minutes(step.error_min)} min): {_CAUSE_WORDS[step.cause]}."
    )


def remedies(audit: DoorAudit) -> Iterator[str]:
    """Yield what to do about the door and its clock; nothing where all is well."""
    missed = [one for one in audit.found.movements if one.verdict is Verdict.MISSED]
    if missed:
        yield (
            f"The door did not move {_times(len(missed))}: try it by its switch, and look at its "
            "battery, its track and its obstruction stop."
        )
    clock = audit.found.clock
    if clock is None:
        if any(one.verdict in {Verdict.LATE, Verdict.EARLY} for one in audit.found.movements):
            yield f"See whether the door's clock is right, and note it: {_NOTE_IT}."
        return
    fast = fast_min_now(audit, clock)
    if _set_and_not_checked(audit, clock) is not None:
        yield f"See whether it is right now, and note it: {_NOTE_IT}."
    elif abs(fast) >= RIGHT_WITHIN_MIN and has_fault(clock):
        way = "back" if fast > 0 else "forward"
        time = _KEEPS[audit.site.door_clock]
        yield f"Set the clock {duration_text(round(abs(fast)))} {way}, to {time}."
    for cause in dict.fromkeys(step.cause for step in clock.steps):
        if cause in _CAUSE_REMEDIES:
            yield f"{_CAUSE_REMEDIES[cause]}."
    if clock.has_drift:
        yield _look_again(audit, clock)


def _look_again(audit: DoorAudit, clock: Clock) -> str:
    """Return when a clock that was set right will have used up its margin, and how to reckon on."""
    facts = audit.site.settings.clock or Timekeeping.model_construct()
    ppm = abs(clock.drift_ppm)
    left_s = max(0, 60 * facts.margin_min - facts.set_error_s)
    days = max(1, int(left_s / (ppm * S_A_DAY_AT_1_PPM)))
    verb = "gains" if clock.drift_ppm > 0 else "loses"
    site = shlex.quote(printable(audit.site.file_name))
    return (
        f"It {verb} {_ppm(ppm)} ppm: once set right it is {facts.margin_min} min wrong after "
        f"{days_text(days)}, so look again by {audit.today + dt.timedelta(days)} if you set it on "
        f"{audit.today} (`daylatch drift {site} --ppm {ppm:.0f}` reckons on)."
    )


def sources_text(audit: DoorAudit) -> str:
    """Return by what the days were judged."""
    first, last = np.datetime64(audit.first, "D"), np.datetime64(audit.last, "D")
    sources = [
        source for source in audit.judged.sources if source.last >= first and source.first <= last
    ]
    parts = []
    for source in sources:
        words = f'"{printable(source.name)}"' if source.name else "the site file as it is today"
        if source.name and not source.is_kept:
            words = f"the site file as it is today ({words} is not kept in the diary)"
        dates = "" if source is sources[-1] else f" until {source.last}"
        parts.append(words + dates)
    text = listed(parts)
    uncovered = audit.judged.uncovered
    uncovered = uncovered[(uncovered >= first) & (uncovered <= last)]
    if uncovered.size:
        text += (
            f"; what was in the door does not cover {date_ranges(uncovered, most=2)}, "
            "which are judged as planned"
        )
    return text


def counts_text(audit: DoorAudit) -> str:
    """Return how many movements came to what, without those that none did."""
    counts = audit.found.counts
    told = ", ".join(
        f"{counts[verdict]} {words}" for verdict, words in VERDICT_WORDS.items() if counts[verdict]
    )
    explained = sum(map(is_by_clock, audit.found.movements))
    if explained:
        told += f"; its clock explains {explained} of those late or early"
    own = sum(one.stamped_by == "door" and one.what in _JUDGING for one in audit.entries)
    if own and audit.found.judged:
        told += f"; {own} by the stamp of its own clock, and only as right as that"
    return told


def is_by_clock(one: Movement) -> bool:
    """Return whether a movement was late or early for no other reason than the door's clock."""
    late = one.late_min
    if one.verdict not in {Verdict.LATE, Verdict.EARLY} or late is None or one.by_clock_min is None:
        return False
    beyond = late - one.by_clock_min
    return -ON_TIME_WITHIN_MIN <= beyond <= ON_TIME_WITHIN_MIN + one.up_to_min


def _fast(minutes: float) -> str:
    return f"{duration_text(round(abs(minutes)))} {'fast' if minutes > 0 else 'slow'}"


def _minutes(minutes: float) -> str:
    return f"{minutes:.1f}"


def _ppm(ppm: float) -> str:
    return f"{ppm:.0f}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
