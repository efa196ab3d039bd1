"""The plan as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import Coded
from daylatch.files.json_file import head_of, lay_out_columns
from daylatch.files.own import generator_is
from daylatch.plan.daily.rules import Rule, Side
from daylatch.plan.day import spans_by_day
from daylatch.plan.due_words import due_notes
from daylatch.plan.reasons import SKY_NAME, reasons_of
from daylatch.wording import local_text, minute_counts, utc_text

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.files.json_file import Columns
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan

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
    return lay_out_columns(head, {"days": _days(due)})


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


def _days(due: Due) -> Columns:
    """Return the rows, by their fields."""
    plan = due.plan
    why = reasons_of(plan)
    opens, closes = plan.decisions.open, plan.decisions.close
    return {
        "date": np.datetime_as_string(plan.dates).tolist(),
        "open": _wall(plan, plan.open_utc),
        "close": _wall(plan, plan.close_utc),
        "open_door_clock": _or_null(local_text(plan.on_door(plan.open_utc))),
        "close_door_clock": _or_null(local_text(plan.on_door(plan.close_utc))),
        "open_due": _wall(plan, due.open_utc),
        "close_due": _wall(plan, due.close_utc),
        "open_late_min": minute_counts(due.open_late),
        "close_late_min": minute_counts(due.close_late),
        "close_in_daylight": due.closes_in_daylight.tolist(),
        "head_count": _wall(plan, due.head_count_utc),
        "second_pass": plan.settings.second_pass.tolist(),
        "next_open": _wall(plan, due.next_open_utc),
        "lock_in_min": minute_counts(due.lock_in),
        "open_reason": why[Side.OPEN],
        "close_reason": why[Side.CLOSE],
        "open_rule": Coded(opens.decided_by, _RULES),
        "close_rule": Coded(closes.decided_by, _RULES),
        "open_event": _instants(plan.open_event_utc),
        "close_event": _instants(plan.close_event_utc),
        "sun": {key: _instants(getattr(plan.sun, key)) for key in _SUN_KEYS},
        "sky": {"dawn": Coded(plan.open_sky, _SKIES), "dusk": Coded(plan.close_sky, _SKIES)},
        "spans": spans_by_day(plan.site.settings.spans, plan.dates).each(
            lambda spans: [span.reason for span in spans]
        ),
        "open_shortfall_min": minute_counts(plan.decisions.open_shortfall),
        "night_shortfall_min": minute_counts(plan.decisions.night_shortfall),
        "past_guard": Coded(
            np.dot((1, 2), due.past_guard), [[], ["open"], ["close"], ["open", "close"]]
        ),
    }


def _wall(plan: Plan, instants: Times) -> list[str | None]:
    return _or_null(local_text(plan.on_wall(instants)))


def _instants(column: Times) -> list[str | None]:
    return _or_null(utc_text(column, "ms"))


def _or_null(texts: list[str]) -> list[str | None]:
    return [text or None for text in texts]


_SUN_KEYS = ("dawn", "sunrise", "transit", "sunset", "dusk")
_RULES = [rule.name.lower() for rule in Rule]
_SKIES = list(SKY_NAME.values())
