"""Why a door time is what it is, in few words: for tables, files and calendars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import Coded, number_combinations
from daylatch.plan.daily.rules import Rule, Side
from daylatch.plan.day import spans_by_day
from daylatch.sun.crossings import SkyState
from daylatch.sun.lights import event_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Minutes
    from daylatch.plan.daily.rules import Moves
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Span

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


def reasons_of(plan: Plan) -> dict[Side, Coded[str]]:
    """Return why each movement of a plan comes when it does, or why the door stays shut."""
    spans = spans_by_day(plan.site.settings.spans, plan.dates).each(span_reasons)
    return {
        Side.OPEN: reason_codes(
            Side.OPEN,
            plan.decisions.open,
            plan.settings.open.altitude_deg,
            plan.settings.open.offset,
            spans,
        ),
        Side.CLOSE: reason_codes(
            Side.CLOSE,
            plan.decisions.close,
            plan.settings.close.altitude_deg,
            plan.settings.close.offset,
            spans,
        ),
    }


def span_reasons(spans: tuple[Span, ...]) -> str:
    """Return what a keeper said of the spans that touch a day; empty if nothing."""
    return "; ".join(span.reason for span in spans if span.reason)


def reason_codes(
    side: Side,
    moves: Moves,
    altitude_deg: NDArray[np.float64],
    offset: Minutes,
    spans: Coded[str] | None = None,
) -> Coded[str]:
    """Return why movements come when they do, or why the door stays shut.

    The start of it, then every rule that moved it with its minutes: ``civil dawn +15 min; not
    before +22 min``. Words are made once for each combination that there is.

    Parameters
    ----------
    side
        Which movements.
    moves
        How they came about, in any shape, as days, or days and houses.
    altitude_deg, offset
        Of the light, and from it to the movement; to be broadcast to that shape.
    spans
        `span_reasons` of each element, to be broadcast likewise; none if left out.
    """
    shape = moves.time.shape
    columns: list[NDArray[Any]] = [moves.decided_by, moves.started_by, altitude_deg, offset]
    columns += moves.moved.values()
    if spans is not None:
        columns.append(spans.codes)
    combinations, places = number_combinations(columns, shape)
    at = np.unravel_index(places, shape)
    # What the columns have where an element of each combination stands.
    decided, started, altitudes, offsets, *moved = (
        _plain(np.broadcast_to(column, shape)[at]) for column in columns
    )
    starts = [
        f"{event_name(side, altitude)} {ahead:+d} min" if rule == Rule.LIGHT else RULE_NAME[rule]
        for rule, altitude, ahead in zip(started, altitudes, offsets, strict=True)
    ]
    steps = (_step_words(rule, by) for rule, by in zip(moves.moved, moved, strict=False))
    texts = ["".join(parts) for parts in zip(starts, *steps, strict=True)]
    for number in np.flatnonzero(np.isnat(moves.time[at])).tolist():
        texts[number] = f"shut: {RULE_NAME[decided[number]]}"
        if decided[number] == Rule.SHUT_SPAN and spans is not None:
            said = spans.values[moved[-1][number]]
            texts[number] += f"; {said}" if said else ""
    known = {text: code for code, text in enumerate(dict.fromkeys(texts))}
    codes = np.array([known[text] for text in texts], np.int32)
    return Coded(codes[combinations], list(known))


def _step_words(rule: Rule, minutes: list[int]) -> list[str]:
    """Return by how many minutes a rule moved each; empty where it did not."""
    words = {by: f"; {RULE_NAME[rule]} {by:+d} min" if by else "" for by in set(minutes)}
    return [words[by] for by in minutes]


def _plain(column: NDArray[Any]) -> list[Any]:
    """Return a column's values, durations as minutes."""
    if column.dtype.kind == "m":
        column = column.astype("timedelta64[m]").astype(np.int64)
    values: list[Any] = column.tolist()
    return values
