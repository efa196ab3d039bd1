"""The plan as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.plan.due_words import due_notes
from daylatch.plan.reasons import SKY_NAME, reason
from daylatch.wording import local_text, minutes_text, utc_text

if TYPE_CHECKING:
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due

GENERATOR = "daylatch"
wrote = generator_is(GENERATOR)
FORMAT = 2
"""Raised whenever a field changes its meaning or goes."""


def render(due: Due, occasion: Occasion) -> bytes:
    """Return the file: UTF-8, one line a day.

    Head count, next opening and lock-in are those of the due times.
    """
    plan = due.plan
    head = head_of(plan.site, GENERATOR, FORMAT)
    head["second_opinion"] = {
        "checked": plan.second_opinion.checked,
        "worst_deg": round(plan.second_opinion.worst_deg, 4),
        "worst_s": round(plan.second_opinion.worst_s, 1),
        "unchecked": [str(date) for date in plan.second_opinion.unchecked],
        "beyond_reach": plan.second_opinion.beyond_reach,
    }
    head["due"] = due_head(due)
    return lay_out(head, {"days": _days(due)})


def due_head(due: Due) -> dict[str, Any]:
    """Return what is said of due times as a whole."""
    told = due.in_use
    return {
        "up_to_min": due.up_to_min,
        "in_use": None
        if told is None
        else {
            "file": told.name,
            "from": str(told.first),
            "until": str(told.last),
            "differs_from": None if told.differs is None else str(told.differs),
        },
        "notes": list(due_notes(due)),
    }


def _days(due: Due) -> list[dict[str, Any]]:
    """Return the rows."""
    plan = due.plan
    local = {
        "open": plan.open_utc,
        "close": plan.close_utc,
        "open_due": due.open_utc,
        "close_due": due.close_utc,
        "head_count": due.head_count_utc,
        "next_open": due.next_open_utc,
    }
    wall = {key: local_text(plan.on_wall(column)) for key, column in local.items()}
    door = {key: local_text(plan.on_door(local[key])) for key in ("open", "close")}
    events = {
        "open_event": utc_text(plan.open_event_utc, "ms"),
        "close_event": utc_text(plan.close_event_utc, "ms"),
    }
    sun = {key: utc_text(getattr(plan.sun, key), "ms") for key in _SUN_KEYS}
    minutes = {
        "open_late_min": minutes_text(due.open_late),
        "close_late_min": minutes_text(due.close_late),
        "lock_in_min": minutes_text(due.lock_in),
    }
    past = due.past_guard
    rows = []
    for i, day in enumerate(plan.days):
        rows.append(
            {
                "date": day.date.isoformat(),
                "open": wall["open"][i] or None,
                "close": wall["close"][i] or None,
                "open_door_clock": door["open"][i] or None,
                "close_door_clock": door["close"][i] or None,
                "open_due": wall["open_due"][i] or None,
                "close_due": wall["close_due"][i] or None,
                "open_late_min": _number(minutes["open_late_min"][i]),
                "close_late_min": _number(minutes["close_late_min"][i]),
                "close_in_daylight": bool(due.closes_in_daylight[i]),
                "head_count": wall["head_count"][i] or None,
                "second_pass": day.second_pass,
                "next_open": wall["next_open"][i] or None,
                "lock_in_min": _number(minutes["lock_in_min"][i]),
                "open_reason": reason(day.open, day),
                "close_reason": reason(day.close, day),
                "open_rule": day.open.decided_by.name.lower(),
                "close_rule": day.close.decided_by.name.lower(),
                "open_event": events["open_event"][i] or None,
                "close_event": events["close_event"][i] or None,
                "sun": {key: texts[i] or None for key, texts in sun.items()},
                "sky": {"dawn": SKY_NAME[day.open.sky], "dusk": SKY_NAME[day.close.sky]},
                "spans": [span.reason for span in day.spans],
                "open_shortfall_min": day.open_shortfall_min,
                "night_shortfall_min": day.night_shortfall_min,
                "past_guard": [s for s, p in zip(("open", "close"), past, strict=True) if p[i]],
            }
        )
    return rows


def _number(text: str) -> int | None:
    return int(text) if text else None


_SUN_KEYS = ("dawn", "sunrise", "transit", "sunset", "dusk")
