"""Examples of dated spans: dates that fit the place, and every key that a span may have."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.site.values.surroundings import Period, Surroundings


def span_examples(around: Surroundings) -> list[dict[str, Any]]:
    """Return two dated spans, and one with every other key that a span may have."""
    seasons = around.seasons
    return [
        {**_dates(seasons.housing_order), "reason": "housing order", "shut": True},
        {
            **_dates(seasons.young_birds),
            "reason": "young birds come in late",
            "close.offset_min": 30,
        },
        {
            **_dates(seasons.summer),
            "reason": "what else a span may change: keep the lines that you need",
            "away": True,
            "sitter": "Kim",
            "tell": ["sitter"],
            "open.light": "sunrise",
            "open.offset_min": 0,
            "open.not_before": "07:00",
            "open.not_after": "09:30",
            "open.fallback": "07:00",
            "open.dark_fallback": "09:30",
            "open.fixed": "08:00",
            "close.light": "sunset",
            "close.not_before": "16:30",
            "close.not_after": "21:30",
            "close.fallback": "21:30",
            "close.dark_fallback": "16:30",
            "close.fixed": "22:00",
            "close.shut_in_by_hand": True,
            "day.least_open_h": 8,
            "day.widen": "close later",
            "day.guard": "civil",
            "night.least_h": 9,
            "night.lengthen": "open later",
            "head_count.after_close_min": 30,
            "head_count.second_pass": True,
        },
    ]


def _dates(period: Period) -> dict[str, dt.date]:
    return {"from": period.first, "until": period.last}
