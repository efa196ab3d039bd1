"""An audit as JSON; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.diary.audit.clock.door_clock import Cause
from daylatch.diary.audit.text import danger_words
from daylatch.diary.audit.words import (
    WHY_NOT_WORDS,
    clock_sentences,
    fast_min_now,
    remedies,
    sources_text,
)
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import utc_text

if TYPE_CHECKING:
    from daylatch.diary.audit.clock.door_clock import Step
    from daylatch.diary.audit.door_audit import DoorAudit

GENERATOR = "daylatch door audit"
wrote = generator_is(GENERATOR)
FORMAT = 1
# A change that should not be is one too many.
_CAUSES = {Cause.SUMMER_TIME_UNWANTED: Cause.SUMMER_TIME_TWICE}


def render(audit: DoorAudit) -> bytes:
    """Return the file: what was dangerous, what ails the clock, and a line for each movement."""
    found, head = audit.found, head_of(audit.site, GENERATOR, FORMAT)
    head["from"], head["until"] = str(audit.first), str(audit.last)
    head["dangers"] = [
        {
            "date": str(danger.date),
            "kind": danger.kind.value,
            "seen": _text(danger.at_utc),
            "words": danger_words(audit, danger),
        }
        for danger in audit.dangers
    ]
    head["judged"] = found.judged
    head["why_not"] = None if found.why_not is None else WHY_NOT_WORDS[found.why_not]
    head["clock"] |= _clock(audit)
    head["counts"] = {verdict.value: count for verdict, count in found.counts.items()}
    head["words"] = [*clock_sentences(audit)]
    head["to_do"] = [*remedies(audit)]
    head["seen_in"] = {"source": audit.source, "entries": len(audit.entries)}
    head["judged_by"] = sources_text(audit)
    movements = (
        {
            "date": str(one.date),
            "movement": "open" if one.opening else "close",
            "planned": _text(one.planned_utc),
            "due": _text(one.due_utc),
            "seen": _text(one.seen_utc),
            "verdict": one.verdict.value,
            "late_min": _number(one.late_min),
            "by_clock_min": _number(one.by_clock_min),
            "up_to_min": one.up_to_min,
        }
        for one in found.movements
    )
    return lay_out(head, {"steps": _steps(audit), "movements": movements})


def _clock(audit: DoorAudit) -> dict[str, Any]:
    clock = audit.found.clock
    if clock is None:
        names = ("offset_min", "offset_error_min", "drift_ppm", "drift_error_ppm", "fast_min")
        return dict.fromkeys(names) | {"steps": []}
    return {
        "offset_min": _number(clock.offset_min),
        "offset_error_min": _number(clock.offset_error_min),
        "drift_ppm": _number(clock.drift_ppm),
        "drift_error_ppm": _number(clock.drift_error_ppm),
        "has_offset": clock.has_offset,
        "has_drift": clock.has_drift,
        "fast_min": _number(fast_min_now(audit, clock)),
        "steps": _steps(audit),
    }


def _steps(audit: DoorAudit) -> list[dict[str, Any]]:
    clock = audit.found.clock
    return [] if clock is None else [_step(step) for step in clock.steps]


def _step(step: Step) -> dict[str, Any]:
    return {
        "date": str(step.date),
        "minutes": _number(step.minutes),
        "error_min": _number(step.error_min),
        "cause": _CAUSES.get(step.cause, step.cause).value,
    }


def _text(instant_utc: np.datetime64) -> str | None:
    return utc_text(np.array([instant_utc], "datetime64[s]"))[0] or None


def _number(value: float | None) -> float | None:
    return round(float(value), 2) if value is not None and math.isfinite(value) else None
