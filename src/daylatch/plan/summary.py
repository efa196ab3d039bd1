"""What a plan amounts to, in a few lines of text."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.plan.daylight import safety_entries
from daylatch.plan.plan import LOOK_AHEAD_DAYS
from daylatch.plan.reasons import RULE_NAME
from daylatch.plan.rules import Rule, Side
from daylatch.site.tables import Closing, Lengthen, MovementSettings, Widen, ZoneSource
from daylatch.sun.lights import altitude_of, event_name, light_text
from daylatch.wording import (
    date_ranges,
    days_text,
    duration_of,
    duration_text,
    labelled,
    offset_text,
    place_text,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site, Span
    from daylatch.wording import ClockFace

_LABEL = 20
_ZERO = np.timedelta64(0, "m")


def describe_plan(plan: Plan) -> list[str]:
    """Return which site and dates a plan is for, in which clock, and by which rules."""
    site = plan.site
    first, last = plan.dates[[0, -1]]
    lines = [
        site.name,
        f"{describe_place(site)}, {first} to {last}",
        f"Times: {describe_clocks(plan)}; zone rules {zone_rules_version()}.",
        *(f"{line}." for line in describe_rules(site)),
    ]
    return wrapped(lines)


def describe_place(site: Site) -> str:
    """Return where a site is."""
    place = place_text(site.latitude_deg, site.longitude_deg)
    return f"{site.place_name} ({place})" if site.place_name else place


def describe_clocks(plan: Plan) -> str:
    """Return which clock the times are in, and the door's own if that is another."""
    words = f"wall clock of {plan.site.zone}"
    if plan.site.zone_source is not ZoneSource.FILE:
        words += f" ({plan.site.zone_source.value})"
    match plan.door_clock:
        case DoorClock.WALL:
            return words
        case DoorClock.UTC:
            return f"{words}, and the door's clock, which keeps UTC"
        case DoorClock.STANDARD:
            offsets = sorted(set(plan.zone.standard_offset(plan.dates).tolist()))
            keeps = " or ".join(
                f"UTC{offset_text(np.timedelta64(offset, 'm'))}" for offset in offsets
            )
            return f"{words}, and the door's clock, which keeps standard time ({keeps})"


def describe_rules(site: Site) -> Iterator[str]:
    """Yield the settings of the two movements in words."""
    settings = site.settings
    for side, movement in ((Side.OPEN, settings.open), (Side.CLOSE, settings.close)):
        words = [
            f"{_light(side, movement.light)} {movement.offset_min:+d} min",
            *_limits(movement, site.face),
        ]
        yield f"{('Opens', 'Closes')[side]} at {', '.join(words)}"
    if settings.day.least_open_h:
        yield (
            f"Open at least {duration_of(settings.day.least_open_h)}, or else "
            f"{_WIDEN[settings.day.widen]} (guard: {light_text(settings.day.guard)})"
        )
    if settings.night.least_h:
        yield (
            f"Shut at least {duration_of(settings.night.least_h)} a night, or else "
            f"{_LENGTHEN[settings.night.lengthen]}"
        )


_WIDEN = {
    Widen.OPEN_EARLIER: "open earlier",
    Widen.CLOSE_LATER: "close later",
    Widen.BOTH: "open earlier and close later",
}
_WRONG_END = ("it opens in the dark of the evening", "it closes in the dark of the morning")
_LENGTHEN = {
    Lengthen.CLOSE_EARLIER: "close earlier",
    Lengthen.OPEN_LATER: "open later",
    Lengthen.BOTH: "close earlier and open later",
}


def _limits(movement: MovementSettings, face: ClockFace) -> Iterator[str]:
    if movement.not_before:
        yield f"not before {face.time(movement.not_before.minutes)}"
    if movement.not_after:
        yield f"not after {face.time(movement.not_after.minutes)}"
    if movement.fallback:
        yield f"{face.time(movement.fallback.minutes)} when the Sun stays above that light"
    if movement.dark_fallback:
        yield f"{face.time(movement.dark_fallback.minutes)} when the Sun stays below it"
    if isinstance(movement, Closing) and movement.shut_in_by_hand:
        yield "the birds shut in by hand before"


def _light(side: Side, light: float | str) -> str:
    return event_name(side, altitude_of(light))


def summarize(due: Due, before: Iterable[tuple[str, str]] = ()) -> list[str]:
    """Return the summary of a plan, wrapped and aligned, with what is to stand before it."""
    return labelled([*before, *summary_entries(due)], _LABEL)


def summary_entries(due: Due) -> Iterator[tuple[str, str]]:
    """Yield the summary of a plan by its due times, a label with its text."""
    plan = due.plan
    dates, up = plan.dates, due.is_open
    if up.any():
        span = (due.told_close_utc - due.told_open_utc)[up]
        for label, index in (("Longest open", span.argmax()), ("Shortest open", span.argmin())):
            yield label, f"{duration_text(span[index])} on {dates[up][index]}"
    yield "Longest lock-in", _longest_lock_in(due)
    yield from safety_entries(due)
    if not up.all():
        yield "Shut all day", f"{days_text(int((~up).sum()))}: {date_ranges(dates[~up])}"
    for label, moves in (
        ("Opening decided by", plan.decisions.open),
        ("Closing decided by", plan.decisions.close),
    ):
        counts = Counter(moves.decided_by.tolist())
        yield (
            label,
            ", ".join(
                f"{RULE_NAME[Rule(rule)]} ({days_text(count)})"
                for rule, count in counts.most_common()
            ),
        )
    touched = [
        span for span in plan.site.settings.spans if span.touches(dates[0].item(), dates[-1].item())
    ]
    if touched:
        yield "Dated spans", "; ".join(map(_span, touched))
    yield from _shortfalls(plan)
    past = np.logical_or(*due.past_guard)
    if past.any():
        words = f"{days_text(int(past.sum()))}: {date_ranges(dates[past])}"
        for flags, wrong in zip(due.at_the_wrong_end, _WRONG_END, strict=True):
            if flags.any():
                words += f"; {wrong} on {days_text(int(flags.sum()))}"
        yield "Beyond the guard", words
    if plan.clock_changes:
        yield "Clock changes", "; ".join(describe_clock_changes(plan, plan.site.face))
    if plan.door_clock is DoorClock.STANDARD:
        yield from (("Door clock", text) for text in describe_door_clock_changes(plan))
    yield "Head count", _head_count(due)
    yield "Second opinion", _opinion(plan)


def _span(span: Span) -> str:
    return f"{span.dates_text} ({span.reason})" if span.reason else span.dates_text


def _longest_lock_in(due: Due) -> str:
    plan, lock_in = due.plan, due.lock_in
    known = ~np.isnat(lock_in)
    unended = due.is_open & ~known
    words = []
    if known.any():
        index = int(np.argmax(np.where(known, lock_in, _ZERO)))
        words.append(f"{duration_text(lock_in[index])} from {plan.dates[index]}")
    if unended.any():
        words.append(
            f"open-ended from {plan.dates[unended][0]} (no opening is known within "
            f"{LOOK_AHEAD_DAYS} days)"
        )
    return "; ".join(words) or "the door never closes in this range, because it never opens"


def _shortfalls(plan: Plan) -> Iterator[tuple[str, str]]:
    for label, column in (
        ("Too little open", plan.decisions.open_shortfall),
        ("Too short a night", plan.decisions.night_shortfall),
    ):
        yield from _worst(plan, label, column)


def _worst(
    plan: Plan, label: str, column: NDArray[np.timedelta64[Any]]
) -> Iterator[tuple[str, str]]:
    short = column > _ZERO
    if short.any():
        yield (
            label,
            f"{days_text(int(short.sum()))}, at worst by {duration_text(column.max())} on "
            f"{plan.dates[int(column.argmax())]}: {date_ranges(plan.dates[short])}",
        )


def describe_clock_changes(plan: Plan, face: ClockFace) -> Iterator[str]:
    """Yield each change of the wall clock within a plan, in words."""
    for change in plan.clock_changes:
        at = change.instant_utc.astype("datetime64[m]")
        way = "forward" if change.minutes > 0 else "back"
        minutes = duration_text(abs(change.minutes))
        date = (at + change.before).astype("datetime64[D]")
        if abs(change.minutes) >= DAY_MIN:
            yield f"{date} is {'skipped' if change.minutes > 0 else 'held twice'} by the calendar"
            continue
        before, after = face.times(np.array([at + change.before, at + change.after]))
        yield f"{date} {way} {minutes} ({before} becomes {after})"


def describe_door_clock_changes(plan: Plan) -> Iterator[str]:
    """Yield when a zone takes another standard time for good, so that the door must follow."""
    offsets = plan.zone.standard_offset(plan.dates)
    for index in np.flatnonzero(np.diff(offsets)) + 1:
        yield (
            f"set it from UTC{offset_text(offsets[index - 1])} to UTC{offset_text(offsets[index])} "
            f"on {plan.dates[index]}: the zone's standard time changes for good"
        )


def _head_count(due: Due) -> str:
    plan = due.plan
    minutes = sorted({int(count // MINUTE) for count in plan.settings.head_count})
    closing = "closing"
    if due.up_to_min is not None:
        closing = f"the latest closing, which is {due.up_to_min} min after the planned one"
    words = f"{' or '.join(map(str, minutes))} min after {closing}"
    if plan.settings.second_pass.any():
        words += "; the door closes once more then"
    return words


def _opinion(plan: Plan) -> str:
    opinion = plan.second_opinion
    if opinion.beyond_reach:
        return "none: so near the pole the independent computation (astral) does not reach"
    if not opinion.checked:
        return "no light event in these dates to ask about"
    words = (
        f"an independent computation (astral) agrees on {opinion.checked} light events, "
        f"within {opinion.worst_deg:.2f} deg of the Sun's altitude and {opinion.worst_s:.0f} s"
    )
    if opinion.unchecked:
        words += f"; unchecked: {date_ranges(np.array(opinion.unchecked, 'datetime64[D]'))}"
    return words
