"""The trace of one day, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.cautions import CAUTION
from daylatch.clock import DoorClock
from daylatch.console import printable
from daylatch.plan.block import LOOK_AHEAD_DAYS, next_opening_after
from daylatch.plan.daily.rules import Rule, Side
from daylatch.plan.daylight import remedy
from daylatch.plan.due_words import due_notes
from daylatch.plan.plan import make_plan
from daylatch.plan.summary import describe_clock_changes
from daylatch.site.choices.works import WORKS
from daylatch.sun.crossings import SkyState
from daylatch.sun.lights import event_name
from daylatch.wording import duration_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping, Sequence

    from daylatch.plan.day import Movement, PlannedDay
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.keys.learned import LearnedFrom
    from daylatch.site.tables import Site

NOTHING_LEARNED: Mapping[str, LearnedFrom] = {}
_DOES = {Side.OPEN: "opens", Side.CLOSE: "closes"}
_TABLE = {Side.OPEN: "[open]", Side.CLOSE: "[close]"}
_WRONG_END = {
    Side.OPEN: ", in the dark of the evening",
    Side.CLOSE: ", in the dark of the morning",
}
_HALF = {Side.OPEN: "morning", Side.CLOSE: "evening"}

_MOVED_BECAUSE = {
    Rule.DAY_EDGE: "it may not leave its flock day",
    Rule.NOT_BEFORE: "your limit not_before",
    Rule.NOT_AFTER: "your limit not_after",
    Rule.LEAST_OPEN: "your least open time makes the day longer",
    Rule.LEAST_NIGHT: "your least night makes the night longer",
}


def until_open(site: Site, date: dt.date) -> Plan:
    """Return the plan of a day, and on to the next opening if the door stays shut on it.

    Raises
    ------
    PlanError
        As `make_plan`.
    """
    plan = make_plan(site, date, date)
    found = None if plan.is_open.any() else next_opening_after(site, plan.dates[-1])
    return plan if found is None else make_plan(site, date, plan.zone.date_at(found))


def explain_day(
    due: Due,
    date: dt.date,
    learned: Mapping[str, LearnedFrom] = NOTHING_LEARNED,
    more: Sequence[str] = (),
) -> list[str]:
    """Return the sentences that say how the times of a plan's day came about, and when it is due.

    Parameters
    ----------
    due
        Of `until_open`, so that the next opening after a shut day can be told.
    date
        The day.
    learned
        Where the site file says that its lights were learned, by their tables.
    more
        Sentences on the day beside its times, such as of its direct sun.

    Raises
    ------
    PlanError
        For a date that the plan does not hold.
    """
    plan = due.plan
    index = plan.index_of(date)
    day, face = plan.day(index), plan.site.face
    start, end = (_wall(plan, edge[index]) for edge in (plan.day_start_utc, plan.day_end_utc))
    lines = [
        f"{date:%A} {date} at {printable(plan.site.name)}, in wall-clock time of {plan.site.zone}",
        f"This flock day runs from {start} to {end}: from one lowest Sun to the next, so that a "
        "closing after midnight still belongs to the evening before.",
        *(
            f"The wall clock changes: {change}."
            for change in describe_clock_changes(plan.part(plan.dates == plan.dates[index]), face)
        ),
        *_spans(day),
        "",
    ]
    if day.open.time_utc is None:
        lines += _shut(plan, day)
    else:
        is_planned = not due.differs[index]
        for movement in (day.open, day.close):
            lines += [
                *_movement(plan, movement, is_due=is_planned),
                *_learned(movement, learned.get(movement.side.name.lower())),
                "",
            ]
    if due.is_open[index] and not plan.is_open[index]:
        lines += ["", "That is the plan; but the file in use opens the door all the same:"]
    lines += [*_due(due, index), ""] if due.differs[index] or not due.known[index] else []
    lines += _after(due, day, index) if due.is_open[index] else _next_opening(due, index)
    day_alone = due.part(np.arange(len(due)) == index)
    told_apart = due.in_use is None and due.up_to_min is None
    notes = [] if told_apart else list(due_notes(day_alone))
    return [*lines, *[""] * bool(notes), *notes, *[""] * bool(more), *more, "", CAUTION]


def _due(due: Due, index: int) -> Iterator[str]:
    """Tell when the door really moves, where that is not the planned minute."""
    plan, works = due.plan, WORKS[due.plan.site.works].words
    if due.in_use is not None:
        works = f"by {printable(due.in_use.name)}"
    if not due.known[index]:
        if due.up_to_min is None:
            yield "It is not known when the door moves that day; the planned times stand here."
        else:
            yield f"The door may move up to {due.up_to_min} min after these planned times."
        return
    if not due.is_open[index]:
        yield "But by the file in use the door stays shut all day."
        return
    for verb, instants, late in (
        ("open", due.open_utc, due.open_late),
        ("close", due.close_utc, due.close_late),
    ):
        after = ""
        if not np.isnat(late[index]):
            minutes = int(late[index] // MINUTE)
            way = "after" if minutes > 0 else "BEFORE"
            after = f", {duration_text(abs(minutes))} {way} that" if minutes else ", as planned"
        when = _wall(plan, instants[index])
        yield f"The door is due to {verb} at {when}{after} ({works})."
    yield "Due is when it will really move."


def _spans(day: PlannedDay) -> Iterator[str]:
    for span in day.spans:
        words = f": {span.reason}" if span.reason else ""
        if span.is_of_people_only:
            told = "you are away" if span.away else "others are told by the watch"
            yield f"By your dated span from {span.dates_text} {told}{words}; it changes no time."
            continue
        yield f"Your dated span from {span.dates_text} changes it{words}."


def _shut(plan: Plan, day: PlannedDay) -> Iterator[str]:
    match day.open.decided_by:
        case Rule.SHUT_SPAN:
            yield "The door stays shut all day, because your span says so."
        case Rule.NO_TIME_LEFT:
            yield "The door stays shut all day: by the rules it would close before it opens."
            for movement in (day.open, day.close):
                yield from _movement(plan, movement)
        case _:
            yield "The door stays shut all day:"
            for movement in (day.open, day.close):
                if movement.sky is SkyState.ALWAYS_BELOW and movement.start_utc is None:
                    yield f"  {_sky(movement)}, and {_TABLE[movement.side]} has no dark_fallback."
    if day.open_shortfall_min:
        yield f"Your least open time is missed by {duration_text(day.open_shortfall_min)}."


def _next_opening(due: Due, index: int) -> Iterator[str]:
    """Tell when a door that is shut on a day opens again."""
    later = due.told_open_utc[index + 1 :]
    later = later[~np.isnat(later)]
    if not later.size:
        yield f"No opening is known within {LOOK_AHEAD_DAYS} days."
    else:
        yield f"It opens next at {_wall(due.plan, later[0])}."


def _movement(plan: Plan, movement: Movement, *, is_due: bool = True) -> Iterator[str]:
    if movement.time_utc is not None:
        door = ""
        if plan.door_clock is not DoorClock.WALL:
            door = f" ({_door(plan, movement)} on the door's clock)"
        does = _DOES[movement.side] if is_due else f"is planned to {_DOES[movement.side][:-1]}"
        yield f"The door {does} at {_wall(plan, movement.time_utc)}{door}."
    yield f"  {_start(plan, movement)}"
    for step in movement.steps:
        way = "later" if step.minutes > 0 else "earlier"
        yield f"  {duration_text(abs(step.minutes))} {way}: {_MOVED_BECAUSE[step.rule]}."


def _start(plan: Plan, movement: Movement) -> str:
    start = _wall(plan, movement.start_utc) if movement.start_utc is not None else "no time"
    match movement.started_by:
        case Rule.LIGHT:
            assert movement.event_utc is not None
            offset = f"{abs(movement.offset_min)} min " + (
                "before" if movement.offset_min < 0 else "after"
            )
            return (
                f"The Sun's centre passes {_depth(movement)} "
                f"({event_name(movement.side, movement.altitude_deg)}) at "
                f"{_wall(plan, movement.event_utc, to_seconds=True)}; {offset} it, rounded up to a "
                f"whole minute, is {start}."
            )
        case Rule.FIXED:
            return f"Your dated span fixes it at {start}."
        case Rule.DARK_FALLBACK:
            return f"{_sky(movement)}, so your dark_fallback {start} holds."
        case _:
            return f"{_sky(movement)}, so your fallback {start} holds."


def _learned(movement: Movement, learned: LearnedFrom | None) -> Iterator[str]:
    """Tell where a light was learned; one of a span, or changed by hand since, was not."""
    is_light = movement.started_by is Rule.LIGHT
    if learned is not None and is_light and movement.altitude_deg == -learned.light_deg:
        yield f"  That light was {learned.words} (`daylatch roosting`)."


def _depth(movement: Movement) -> str:
    if movement.altitude_deg > 0:
        return f"{movement.altitude_deg:g} degrees above the horizon"
    return f"{-movement.altitude_deg:g} degrees below the horizon"


def _sky(movement: Movement) -> str:
    reaches = "sinks" if movement.sky is SkyState.ALWAYS_ABOVE else "rises"
    return (
        f"In the {_HALF[movement.side]} half of this day the Sun never {reaches} to the light you "
        f"chose ({_depth(movement)})"
    )


def _after(due: Due, day: PlannedDay, index: int) -> Iterator[str]:
    plan = due.plan
    again = ", and the door closes once more" if day.second_pass else ""
    if np.isnat(due.head_count_utc[index]):
        yield "Count heads once the door has shut."
    else:
        yield f"Head count at {_wall(plan, due.head_count_utc[index])}{again}."
    if due.closes_in_daylight[index]:
        only = np.arange(len(due)) == index
        by_hand = plan.settings.shut_in_by_hand[index]
        yield (
            "The door closes in daylight, and you shut the birds in by hand before."
            if by_hand
            else f"The door closes in daylight: {remedy(due, only)}."
        )
    elif due.sun_up_at_close[index]:
        yield "The Sun is still up when the door closes, but near its lowest, as in white nights."
    if np.isnat(due.next_open_utc[index]):
        yield f"No opening is known within {LOOK_AHEAD_DAYS} days: the lock-in is open-ended."
    else:
        yield (
            f"The birds are then shut in for {duration_text(due.lock_in[index])}, until "
            f"{_wall(plan, due.next_open_utc[index])}."
        )
    if day.open_shortfall_min:
        yield f"Your least open time is missed by {duration_text(day.open_shortfall_min)}."
    if day.night_shortfall_min:
        yield f"Your least night is missed by {duration_text(day.night_shortfall_min)}."
    planned = (plan.decisions.past_guard_open, plan.decisions.past_guard_close)
    for side, beyond, by_plan in zip(Side, due.past_guard, planned, strict=True):
        if beyond[index]:
            wrong_end = _WRONG_END[side] if due.at_the_wrong_end[side][index] else ""
            why = "By your own settings"
            if not by_plan[index]:
                why = "Since it is late," if due.in_use is None else "By the file in use"
            yield (
                f"{why} the door {_DOES[side]} beyond the guard{wrong_end}: predators hunt in that "
                "light."
            )


def _wall(plan: Plan, instant_utc: np.datetime64, *, to_seconds: bool = False) -> str:
    return plan.site.face.instant(plan.zone, instant_utc, to_seconds=to_seconds)


def _door(plan: Plan, movement: Movement) -> str:
    column = plan.open_utc if movement.side is Side.OPEN else plan.close_utc
    index = int(np.flatnonzero(column == movement.time_utc)[0])
    return plan.site.face.moment(plan.on_door(column).wall[index])
