"""What a dated span changes, in a keeper's words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.clock import WallTime
from daylatch.site.messages import told_text
from daylatch.sun.lights import altitude_of, event_name, light_text, start_words
from daylatch.wording import duration_of, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.tables import Lengthen, Span, Widen
    from daylatch.wording import ClockFace

_SIDES = {"open": (0, "opens"), "close": (1, "closes")}


def describe_span(span: Span, face: ClockFace) -> str:
    """Return the dates of a span, what it changes, and why."""
    changes = dict(span.changes())
    parts = [*_lights(changes), *(_change(key, value, face) for key, value in changes.items())]
    if span.away:
        sitter = f", and {told_text(span.sitter)} looks after it" if span.sitter else ""
        parts.append(f"you are away{sitter}")
    if span.tell is not None:
        parts.append(f"the watch tells {listed(span.tell) or 'nobody'}")
    why = f" ({told_text(span.reason)})" if span.reason else ""
    return f"{span.dates_text}: {', '.join(parts) or 'changes nothing'}{why}"


def _lights(changes: dict[str, Any]) -> Iterator[str]:
    """Yield changes of a light and the minutes after it in one, and take them from the others."""
    for table, (side, verb) in _SIDES.items():
        light = changes.pop(f"{table}.light", None)
        offset = changes.pop(f"{table}.offset_min", None)
        if light is not None and offset is None:
            yield f"{verb} by another light, {event_name(side, altitude_of(light))}"
        elif light is not None:
            yield f"{verb} {start_words(side, altitude_of(light), offset)}"
        elif offset is not None:
            when = f"{abs(offset)} min {'before' if offset < 0 else 'after'}" if offset else "at"
            yield f"{verb} {when} its light"


def end_text(choice: Widen | Lengthen) -> str:
    """Return at which end a day or a night gives way."""
    return "at both ends" if choice.value == "both" else str(choice.value)


def _change(key: str, value: Any, face: ClockFace) -> str:
    table, _, name = key.partition(".")
    if table in _SIDES and key != "close.shut_in_by_hand":
        return f"{_SIDES[table][1]} {_movement(name, value, face)}"
    match key:
        case "shut":
            return "shut all day" if value else "not shut"
        case "close.shut_in_by_hand":
            return "the birds are shut in by hand" if value else "nobody shuts the birds in by hand"
        case "day.least_open_h":
            return f"open at least {duration_of(value)}" if value else "no least open time"
        case "day.widen":
            return f"a short day is widened: {end_text(value)}"
        case "day.guard":
            return f"guard: {light_text(value)}"
        case "night.least_h":
            return f"shut at least {duration_of(value)} a night" if value else "no least night"
        case "night.lengthen":
            return f"a short night is lengthened: {end_text(value)}"
        case "head_count.after_close_min":
            return f"head count {value} min after closing"
        case "head_count.second_pass":
            return (
                "the door closes once more then" if value else "the door does not close once more"
            )
        case _:
            raise LookupError(f"no words for {key} of a span")


def _movement(name: str, value: Any, face: ClockFace) -> str:
    time = face.time(value.minutes) if isinstance(value, WallTime) else ""
    match name:
        case "not_before":
            return f"not before {time}" if time else "as early as the light says"
        case "not_after":
            return f"not after {time}" if time else "as late as the light says"
        case "fixed":
            return f"at {time} whatever the light" if time else "by the light"
        case "fallback":
            return f"at {time or 'no time'} when the Sun stays above that light"
        case "dark_fallback":
            return f"at {time or 'no time'} when the Sun stays below it"
        case _:
            raise LookupError(f"no words for {name} of a movement in a span")
