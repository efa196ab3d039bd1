"""What is learned of a flock as JSON; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.diary.roosting.half import Learned
from daylatch.diary.roosting.instants import depression_of
from daylatch.diary.roosting.looks import Half
from daylatch.diary.roosting.proposal_words import cost_sentences, proposal_lines
from daylatch.diary.roosting.words import doubt_sentences, not_told_sentence, one_sentence
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is

if TYPE_CHECKING:
    from daylatch.diary.roosting.finding import NotTold
    from daylatch.diary.roosting.roosting import Roosting, UnderRules

GENERATOR = "daylatch roosting"
wrote = generator_is(GENERATOR)
FORMAT = 1
_NOTHING = ("light_deg", "light_error_deg", "light_error_min", "spread_min")


def render(roosting: Roosting) -> bytes:
    """Return the file: what was learned of evenings, and under ``morning`` of mornings."""
    head = head_of(roosting.site, GENERATOR, FORMAT)
    head["from"], head["until"] = str(roosting.first), str(roosting.last)
    head["source"] = roosting.source
    head["words"] = one_sentence(roosting)
    head["rules"] = [_rules(one) for one in roosting.rules]
    head["costs"] = [] if roosting.costs is None else list(cost_sentences(roosting.costs))
    head |= _half(roosting.evening, Half.EVENING)
    if roosting.morning is not None:
        head["morning"] = _half(roosting.morning, Half.MORNING)
    return lay_out(head, {})


def _rules(rules: UnderRules) -> dict[str, Any]:
    ahead = rules.ahead
    return {
        "settings": rules.name or None,
        "evenings": rules.evenings,
        "in_time": rules.in_time,
        "at_least": rules.at_least,
        "ahead": ahead and {"share": ahead.share, "minutes": _number(ahead.minutes)},
    }


def _half(found: Learned | NotTold | None, half: Half) -> dict[str, Any]:
    if not isinstance(found, Learned):
        why = None if found is None else not_told_sentence(found)
        count = 0 if found is None else found.days
        return dict.fromkeys(_NOTHING) | {
            "evenings": count,
            "why_not": why,
            "outliers": [],
            "shares": [],
            "refused": [],
            "proposal": None,
            "lag": None,
            "other_season": None,
            "doubts": [],
        }
    return {
        "light_deg": found.light_deg,
        "light_error_deg": _number(found.error_deg),
        "light_error_min": _number(found.error_min),
        "spread_min": _number(found.spread_min),
        "evenings": found.days,
        "why_not": None,
        "outliers": _outliers(found),
        "shares": [
            {
                "share": one.share,
                "confidence": _number(one.confidence, 4),
                "offset_min": _number(one.value),
                "by_shape": one.by_shape,
            }
            for one in found.claims
        ],
        "refused": [{"share": one.share, "needs": one.needs} for one in found.refused],
        "proposal": None
        if found.proposal is None
        else found.proposal._asdict() | {"lines": proposal_lines(half, found.proposal)},
        "lag": _lag(found),
        "other_season": _season(found),
        "doubts": list(doubt_sentences(found)),
    }


def _outliers(found: Learned) -> list[dict[str, Any]]:
    return [
        {
            "date": str(found.looks.dates[row]),
            "minutes": _number(found.minutes[row]),
            "latest_min": _number(found.latest_min[row]),
        }
        for row in np.flatnonzero(found.outliers).tolist()
    ]


def _lag(found: Learned) -> dict[str, Any]:
    lag = found.lag
    return {
        "minutes": lag.minutes,
        "light_deg": _number(depression_of(found.half, lag.sun_deg)),
        "low_min": lag.low_min,
        "high_min": lag.high_min,
        "told_apart": lag.is_told_apart,
    }


def _season(found: Learned) -> dict[str, Any] | None:
    season = found.other_season
    if season is None:
        return None
    return {
        "date": str(season.date),
        "earlier_min": _number(season.earlier_min),
        "later_min": _number(season.later_min),
        "without_light_days": season.without,
    }


def _number(value: float, digits: int = 2) -> float | None:
    return round(float(value), digits) if math.isfinite(value) else None
