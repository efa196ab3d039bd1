"""What a plan amounts to, in a few lines of text."""

from __future__ import annotations

from collections import Counter
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.plan.block import LOOK_AHEAD_DAYS
from daylatch.plan.daily.rules import Rule, Side
from daylatch.plan.daylight import safety_entries
from daylatch.plan.reasons import RULE_NAME
from daylatch.site.tables import Closing, Lengthen, MovementSettings, Widen, ZoneSource
from daylatch.sun.lights import (
    DEPRESSION_DEG,
    HORIZON_ALTITUDE_DEG,
    altitude_of,
    light_words,
    start_words,
)
from daylatch.sun.second_opinion import DISAGREEMENT_DEG
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
_LONGEST_LOCK_IN = "Longest lock-in"
_MINUTE_S = 60
_ZERO = np.timedelta64(0, "m")


def describe_plan(plan: Plan) -> list[str]:
    """Return which site and dates a plan is for, in which clock, and by which rules."""
    site = plan.site
    first, last = plan.dates[[0, -1]]
    lines = [
        site.name,
        f"{describe_place(site)}, {first} to {last}",
        f"Times: {describe_clocks(plan)}; time-zone rules {zone_rules_version()}.",
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
    opening, closing = settings.open, settings.close
    # Said once, of the first movement that goes by it.
    same = altitude_of(opening.light) == altitude_of(closing.light)
    for side, movement, is_told in ((Side.OPEN, opening, False), (Side.CLOSE, closing, same)):
        words = [
            start_words(side, altitude_of(movement.light), movement.offset_min)
            + ("" if is_told else _meaning(movement.light)),
            *_limits(movement, site.face),
        ]
        yield f"{('Opens', 'Closes')[side]} {', '.join(words)}"
    if settings.day.least_open_h:
        yield (
            f"Open for at least {duration_of(settings.day.least_open_h)}: on shorter days it "
            f"{_WIDEN[settings.day.widen]}, up to the guard, beyond which predators hunt "
            f"({light_words(settings.day.guard)})"
        )
    if settings.night.least_h:
        yield (
            f"Shut for at least {duration_of(settings.night.least_h)} a night: in shorter nights "
            f"it {_LENGTHEN[settings.night.lengthen]}"
        )


_WIDEN = {
    Widen.OPEN_EARLIER: "opens earlier",
    Widen.CLOSE_LATER: "closes later",
    Widen.BOTH: "opens earlier and closes later",
}
_WRONG_END = ("it opens in the dark of the evening", "it closes in the dark of the morning")
_LENGTHEN = {
    Lengthen.CLOSE_EARLIER: "closes earlier",
    Lengthen.OPEN_LATER: "opens later",
    Lengthen.BOTH: "closes earlier and opens later",
}


def _limits(movement: MovementSettings, face: ClockFace) -> Iterator[str]:
    if movement.not_before:
        yield f"not before {face.time(movement.not_before.minutes)}"
    if movement.not_after:
        yield f"not after {face.time(movement.not_after.minutes)}"
    if movement.fallback:
        yield f"at {face.time(movement.fallback.minutes)} on days that never get so dark"
    if movement.dark_fallback:
        yield f"at {face.time(movement.dark_fallback.minutes)} on days that never get so light"
    if isinstance(movement, Closing) and movement.shut_in_by_hand:
        yield "the birds shut in by hand before"


def _meaning(light: float | str) -> str:
    """Return where the Sun is at a twilight; sunrise, sunset and degrees say so themselves."""
    if not isinstance(light, str) or altitude_of(light) == HORIZON_ALTITUDE_DEG:
        return ""
    return f" (Sun {DEPRESSION_DEG[light]:g}° below the horizon)"


def summarize(due: Due, before: Iterable[tuple[str, str]] = ()) -> list[str]:
    """Return the summary of a plan, wrapped and aligned, with what is to stand before it."""
    entries = [
        (label, f"{text} (lock-in: from closing to the next opening)")
        if label == _LONGEST_LOCK_IN
        else (label, text)
        for label, text in summary_entries(due)
    ]
    return labelled([*before, *entries], _LABEL)


def summary_entries(due: Due) -> Iterator[tuple[str, str]]:
    """Yield the summary of a plan by its due times, a label with its text."""
    plan = due.plan
    dates, up = plan.dates, due.is_open
    if up.any():
        span = (due.told_close_utc - due.told_open_utc)[up]
        for label, index in (("Longest open", span.argmax()), ("Shortest open", span.argmin())):
            yield label, f"{duration_text(span[index])} on {dates[up][index]}"
    yield _LONGEST_LOCK_IN, _longest_lock_in(due)
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
        yield "Beyond the guard", f"{words}; predators hunt then"
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
    words = f"{' or '.join(map(str, minutes))} min after {closing}: are all birds in?"
    if plan.settings.second_pass.any():
        words += " The door closes once more then"
    return words


def _opinion(plan: Plan) -> str:
    opinion = plan.second_opinion
    if opinion.beyond_reach:
        return (
            "none: the independent computation of the Sun (astral) does not reach so near the "
            "pole; compare the times with what you see"
        )
    if not opinion.checked:
        return "nothing to compare: the Sun does not pass the light you chose in these dates"
    words = (
        "agrees, nothing to do: a second, independent computation of the Sun (astral) finds the "
        f"same {opinion.checked} light events (when the Sun passes the light you chose), to within "
    )
    if opinion.worst_s < _MINUTE_S:
        words += f"{opinion.worst_s:.0f} s"
    else:
        words += (
            f"{ceil(opinion.worst_s / _MINUTE_S)} min and {opinion.worst_deg:.2f}° of its height "
            f"(from {DISAGREEMENT_DEG:g}° on there would be no plan). Minutes are normal on days "
            "when the Sun hardly rises or sinks"
        )
    if opinion.unchecked:
        dates = date_ranges(np.unique(np.array(opinion.unchecked, "datetime64[D]")))
        words += (
            f". Not compared: {dates}, where astral finds none, as is usual when the Sun barely "
            "reaches the light: nothing to do"
        )
    return words
