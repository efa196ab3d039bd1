"""The diary as text, day by day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.verdicts import Verdict
from daylatch.diary.words import told
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_place
from daylatch.wording import duration_text, labelled, listed, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.shown.days import DayShown, Line, Shown
    from daylatch.wording import ClockFace

_VERDICTS = {
    Verdict.ON_TIME: "on time",
    Verdict.UNPLANNED: "not planned",
    Verdict.MISSED: "had not moved by itself",
}


def show(shown: Shown) -> list[str]:
    """Return the lines."""
    plan = shown.due.plan
    first, last = (plan.dates[shown.days[end].index] for end in (0, -1))
    lines = [plan.site.name, f"{describe_place(plan.site)}, {first} to {last}, by the wall clock"]
    lines += [*due_notes(shown.due), *[shown.birds] * bool(shown.birds)]
    out = wrapped(lines)
    for day in shown.days:
        out += ["", *_day(shown, day)]
    return out


def _day(shown: Shown, day: DayShown) -> Iterator[str]:
    if not day.lines:
        yield from wrapped([f"{_heading(shown, day)}; nothing noted"])
        return
    face = shown.due.plan.site.face
    yield from wrapped([_heading(shown, day)])
    yield from labelled(
        (
            (
                f"{line.noted.number:>6}  "
                f"{face.aligned(_time(shown, line.noted.entry.instant_utc))}",
                _words(line, face),
            )
            for line in day.lines
        ),
        8 + face.width + 2,
    )
    if day.unseen:
        yield from wrapped([f"        not reported: {listed([*_unseen(shown, day)])}"])


def _heading(shown: Shown, day: DayShown) -> str:
    """Return a day's date, with what was due and, where that differs, planned."""
    due, index = shown.due, day.index
    date = due.plan.dates[index].item()
    parts = []
    sides = (
        ("open", due.told_open_utc, due.plan.open_utc),
        ("shut", due.told_close_utc, due.plan.close_utc),
    )
    for word, times, planned in sides:
        if np.isnat(times[index]):
            continue
        other = (
            ""
            if times[index] == planned[index]
            else f" (planned {_time(shown, planned[index]) or 'shut'})"
        )
        parts.append(f"{word} {_time(shown, times[index])}{other}")
    what = "due: " + ", ".join(parts) if parts else "the door stays shut"
    if parts and not due.known[index]:
        what = what.replace("due:", "planned:")
    return f"{date} {date:%a}  {what}"


def _words(line: Line, face: ClockFace) -> str:
    mark = "" if line.noted.is_live else "undone: "
    if line.noted.corrected_by is not None:
        mark = f"corrected by {line.noted.corrected_by}: "
    return f"{mark}{told(line.noted.entry, face, _verdict(line))}"


def _verdict(line: Line) -> str:
    """Return how a movement lies to its due time."""
    one = line.movement
    if one is None:
        return ""
    if one.verdict in _VERDICTS:
        return f", {_VERDICTS[one.verdict]}"
    late = one.late_min
    if late is None:
        return ""
    if one.verdict in {Verdict.LATE, Verdict.EARLY}:
        return f", {duration_text(abs(round(late)))} {one.verdict.value}"
    return ""


def _unseen(shown: Shown, day: DayShown) -> Iterator[str]:
    for one in day.unseen:
        missed = " (it did not move by itself)" if one.is_missed else ""
        yield f"{one.what} due {_time(shown, one.due_utc)}{missed}"


def _time(shown: Shown, instant_utc: np.datetime64) -> str:
    plan = shown.due.plan
    return plan.site.face.time_at(plan.zone, instant_utc)
