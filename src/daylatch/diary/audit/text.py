"""An audit as text: first what cost birds or could have, then the clock, then each movement."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.console import printable
from daylatch.diary.audit.dangers import DangerKind
from daylatch.diary.audit.verdicts import Verdict
from daylatch.diary.audit.words import (
    VERDICT_WORDS,
    clock_sentences,
    counts_text,
    is_by_clock,
    remedies,
    sources_text,
)
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.wording import FACE_24_HOURS, date_ranges, labelled, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.audit.dangers import Danger
    from daylatch.diary.audit.door_audit import DoorAudit
    from daylatch.wording import ClockFace

FIRST_LINE = "daylatch door audit"
wrote = first_line_is(FIRST_LINE)
_LABEL = 15
_MOST_NIGHTS = 8
_HEADINGS = {
    DangerKind.OPEN_AT_NIGHT: "Open at night",
    DangerKind.BIRDS_OUT: "Birds out",
    DangerKind.BIRDS_LOST: "Lost or hurt",
}
_COLUMNS = "date        movement  planned  due    seen   min late  verdict"


def render(audit: DoorAudit) -> bytes:
    """Return what was found, what to do, the movements that were not on time and the caution."""
    site = audit.site
    head = [FIRST_LINE, site.name, f"{describe_place(site)}, {audit.first} to {audit.last}"]
    lines = [*wrapped(head), "", *_dangers(audit), *labelled(_entries(audit), _LABEL), ""]
    rows = list(_rows(audit))
    if rows:
        lines += [_heading(audit), _COLUMNS, *rows, ""]
    return text_file.lay_out([*lines, *wrapped([CAUTION])])


def danger_summary(audit: DoorAudit) -> Iterator[tuple[str, str, list[Danger]]]:
    """Yield each kind of danger: what it is called, on how many nights it was, and those."""
    for kind, heading in _HEADINGS.items():
        told = [danger for danger in audit.dangers if danger.kind is kind]
        if kind is DangerKind.BIRDS_LOST and not told:
            continue
        nights = "1 night" if len(told) == 1 else f"{len(told)} nights"
        yield heading, nights if told else "nothing that is known of", told


def _dangers(audit: DoorAudit) -> Iterator[str]:
    """Yield each kind of danger with its nights, a line each."""
    for heading, nights, told in danger_summary(audit):
        yield f"{heading:{_LABEL}}{nights}"
        for danger in told[:_MOST_NIGHTS]:
            yield from labelled(
                [(f"  {danger.date}", danger_words(audit, danger, audit.site.face))], _LABEL
            )
        if len(told) > _MOST_NIGHTS:
            yield f"{'':{_LABEL}}and {len(told) - _MOST_NIGHTS} more, which --to csv lists"


def _entries(audit: DoorAudit) -> Iterator[tuple[str, str]]:
    yield "The clock", " ".join(clock_sentences(audit))
    yield "To do", " ".join(remedies(audit)) or "nothing"
    yield "Movements", counts_text(audit) or "none was due or seen"
    for opening, word in ((True, "Openings"), (False, "Closings")):
        dates = [
            one.date
            for one in audit.found.movements
            if one.verdict is Verdict.NOT_REPORTED and one.opening is opening
        ]
        if dates:
            yield f"{word} not", f"reported on {date_ranges(np.array(dates), most=_MOST_NIGHTS)}"
    count = len(audit.entries)
    yield "Seen", f"{count} entr{'y' if count == 1 else 'ies'} of {printable(audit.source)}"
    yield "Judged by", sources_text(audit)


def danger_words(audit: DoorAudit, danger: Danger, face: ClockFace = FACE_24_HOURS) -> str:
    """Return what was dangerous, with the time of day at the site.

    Parameters
    ----------
    audit, danger
        What was found.
    face
        How times of day are written; for programs always the same.
    """
    return danger.words.format(face.time_at(audit.due.plan.zone, danger.at_utc))


def _heading(audit: DoorAudit) -> str:
    if any(map(is_by_clock, audit.found.movements)):
        return "Movements not on time that its clock does not explain, by the wall clock:"
    return "Movements that were not on time, by the wall clock:"


def _rows(audit: DoorAudit) -> Iterator[str]:
    for one in audit.found.movements:
        if one.verdict in {Verdict.ON_TIME, Verdict.NOT_REPORTED} or is_by_clock(one):
            continue
        times = (_time(audit, at) for at in (one.planned_utc, one.due_utc, one.seen_utc))
        planned, due, seen = map(audit.site.face.aligned, times)
        late = "" if one.late_min is None else f"{one.late_min:+.0f}"
        yield (
            f"{one.date}  {'opening' if one.opening else 'closing'}   {planned}    {due}  {seen}  "
            f"{late:>8}  {VERDICT_WORDS[one.verdict]}"
        )


def _time(audit: DoorAudit, instant_utc: np.datetime64) -> str:
    return audit.site.face.time_at(audit.due.plan.zone, instant_utc)
