"""Which rule keeps birds shut in while it is light, and for how long.

The rules are put in force one after the other, in their own order, on the same days under the same
Sun; each answers for what the waking lock-in grows by when it is added. The parts add up to the
whole, minute for minute. A rule that opens earlier or closes later takes away, so its part is
negative.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.nights.nights import waking_by_day
from daylatch.plan.daily.inputs import RuleInputs, gather_inputs
from daylatch.plan.daily.rules import Decisions, Rule, SideInput, decide
from daylatch.sun.crossings import SkyState

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Minutes
    from daylatch.birds.nights.nights import Nights


_ZERO = np.timedelta64(0, "m")
_FALLBACKS = (Rule.FALLBACK, Rule.DARK_FALLBACK)


class Cause(Enum):
    """What keeps the door shut while it is light; each is put in force after those above it."""

    LIGHT = "light"
    """The light event chosen."""
    FALLBACK = "fallback"
    """The same on days on which a movement has no such event."""
    OFFSET = "offset"
    LIMIT = "limit"
    """`not before` and `not after`."""
    LEAST_OPEN = "least open time"
    """As it would widen days without a guard."""
    GUARD = "guard"
    """What the guard takes back of that."""
    LEAST_NIGHT = "least night"
    SPAN = "dated span"
    """What dated spans change of all the above, shut days among it: the exceptions."""
    WORKS = "what works the door"
    """What due times change of the planned ones."""
    LAMP = "lamp"
    """Its light, where there is none by nature."""


def waking_by_cause(nights: Nights) -> dict[Cause, Minutes]:
    """Return for each cause its part of each flock day's waking lock-in [timedelta64[us]].

    Causes that the site's settings do not hold are left out, but for the light. On days that
    could not be planned without a dated span, all of it is the span's.
    """
    plan = nights.plan
    start, end = plan.dates[0], plan.dates[-1]
    settings = replace(plan.site.settings, spans=())
    inputs = gather_inputs(plan.site, settings, start, end)
    inside = (inputs.days.dates >= start) & (inputs.days.dates <= end)
    parts: dict[Cause, Minutes] = {}
    before = np.zeros(len(plan), "timedelta64[us]")
    for cause, decisions in _ladder(inputs):
        unplanned = np.logical_or.reduce(list(decisions.conflicts.values()))[inside]
        waking = waking_by_day(
            nights.light, decisions.open.time[inside], decisions.close.time[inside]
        )
        waking = np.where(unplanned, _ZERO, waking)
        parts[cause] = waking - before
        before = waking
        if cause is Cause.LIGHT:
            moves = (decisions.open, decisions.close)
            fallback = np.logical_or(*(np.isin(m.started_by[inside], _FALLBACKS) for m in moves))
            if fallback.any():
                parts[Cause.FALLBACK] = np.where(fallback, waking, _ZERO)
                parts[Cause.LIGHT] = np.where(fallback, _ZERO, waking)
    planned = waking_by_day(nights.light, plan.open_utc, plan.close_utc)
    by_spans = planned - before
    # A span that begins the day after these dates changes what the night before it is.
    if plan.settings.in_span.any() or by_spans.any():
        parts[Cause.SPAN] = by_spans
    if nights.due.differs.any():
        parts[Cause.WORKS] = nights.day_waking - nights.day_lamp - planned
    if nights.day_lamp.any():
        parts[Cause.LAMP] = nights.day_lamp
    return parts


def _ladder(given: RuleInputs) -> Iterator[tuple[Cause, Decisions]]:
    """Yield what is decided as the settings that are there are put in force one by one."""
    opening, closing = _without_rules(given.opening), _without_rules(given.closing)
    day = replace(given.day, least_open=_none(given), least_night=_none(given))
    yield Cause.LIGHT, decide(opening, closing, day)
    if (given.opening.offset != _ZERO).any() or (given.closing.offset != _ZERO).any():
        opening = replace(opening, offset=given.opening.offset)
        closing = replace(closing, offset=given.closing.offset)
        yield Cause.OFFSET, decide(opening, closing, day)
    if _has_limits(given.opening) or _has_limits(given.closing):
        opening, closing = (
            _with_limits(opening, given.opening),
            _with_limits(closing, given.closing),
        )
        yield Cause.LIMIT, decide(opening, closing, day)
    if given.day.least_open.any():
        day = replace(day, least_open=given.day.least_open)
        yield Cause.LEAST_OPEN, decide(opening, closing, day)
        opening = _with_guard(opening, given.opening)
        closing = _with_guard(closing, given.closing)
        yield Cause.GUARD, decide(opening, closing, day)
    if given.day.least_night.any():
        day = replace(day, least_night=given.day.least_night)
        yield Cause.LEAST_NIGHT, decide(opening, closing, day)


def _none(given: RuleInputs) -> Minutes:
    return np.zeros_like(given.day.least_open)


def _without_rules(side: SideInput) -> SideInput:
    """Return a movement that follows its light event alone, or its fallback."""
    never = np.full_like(side.not_before, "NaT")
    return replace(
        side,
        offset=np.zeros_like(side.offset),
        not_before=never,
        not_after=never,
        # A guard that is always above leaves a day room to its lower transits.
        guard_sky=np.full_like(side.guard_sky, SkyState.ALWAYS_ABOVE),
    )


def _has_limits(side: SideInput) -> bool:
    return not (np.isnat(side.not_before).all() and np.isnat(side.not_after).all())


def _with_limits(side: SideInput, given: SideInput) -> SideInput:
    return replace(side, not_before=given.not_before, not_after=given.not_after)


def _with_guard(side: SideInput, given: SideInput) -> SideInput:
    return replace(side, guard_sky=given.guard_sky)
