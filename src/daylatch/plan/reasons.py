"""Why a door time is what it is, in few words: for tables, files and calendars."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.plan.daily.rules import Rule
from daylatch.sun.crossings import SkyState
from daylatch.sun.lights import event_name

if TYPE_CHECKING:
    from daylatch.plan.day import Movement, PlannedDay

RULE_NAME = {
    Rule.LIGHT: "light",
    Rule.FALLBACK: "fallback",
    Rule.DARK_FALLBACK: "dark fallback",
    Rule.FIXED: "fixed time",
    Rule.DAY_EDGE: "edge of the flock day",
    Rule.NOT_BEFORE: "not before",
    Rule.NOT_AFTER: "not after",
    Rule.LEAST_OPEN: "least open time",
    Rule.LEAST_NIGHT: "least night",
    Rule.SHUT_SPAN: "dated span",
    Rule.DARK: "dark all day",
    Rule.NO_TIME_LEFT: "no open time left",
}
"""What each rule is called in tables."""

SKY_NAME = {
    SkyState.CROSSES: "crosses",
    SkyState.ALWAYS_ABOVE: "always above",
    SkyState.ALWAYS_BELOW: "always below",
}
"""What each sky state is called in files."""


def reason(movement: Movement, day: PlannedDay) -> str:
    """Return why a movement comes when it does, or why the door stays shut.

    The start of it, then every rule that moved it with its minutes: ``civil dawn +15 min; not
    before +22 min``.
    """
    if movement.time_utc is None:
        words = f"shut: {RULE_NAME[movement.decided_by]}"
        if movement.decided_by is Rule.SHUT_SPAN:
            words = "; ".join([words, *_span_reasons(day)])
        return words
    parts = [_start(movement)]
    parts += [f"{RULE_NAME[step.rule]} {step.minutes:+d} min" for step in movement.steps]
    return "; ".join(parts)


def _start(movement: Movement) -> str:
    if movement.started_by is Rule.LIGHT:
        return f"{event_name(movement.side, movement.altitude_deg)} {movement.offset_min:+d} min"
    return RULE_NAME[movement.started_by]


def _span_reasons(day: PlannedDay) -> list[str]:
    return [span.reason for span in day.spans if span.reason]
