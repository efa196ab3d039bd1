"""``daylatch today``: what the door should be now."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_date
from daylatch.commands.due import due_of
from daylatch.commands.instants import parse_instant
from daylatch.commands.now import is_before_rules, now_utc, warn, warn_about
from daylatch.console import printable
from daylatch.errors import PlanError, UsageError
from daylatch.plan.block import LOOK_AHEAD_DAYS
from daylatch.plan.daylight import remedy
from daylatch.plan.due_words import due_notes, idle_timer_note
from daylatch.plan.moment import Moment, days_around, moment_at
from daylatch.site.choices.works import WORKS
from daylatch.site.reading.site_file import load_site
from daylatch.wording import duration_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from daylatch.plan.due import Due


STATES = ("open", "shut")
_PLANNED = " (planned: the file in use does not cover that day, so it is not known)"


def run(path: Path, *, at: str | None, brief: bool, asked: str | None) -> bool:
    """Print the state of the door; return False only if ``asked`` names the other state."""
    if asked is not None and asked not in STATES:
        raise UsageError(f'--is is "{asked}": write open or shut')
    instant = parse_instant(at, "--at") if at is not None else now_utc()
    site = load_site(path)
    warn_about(site)
    early = is_before_rules(instant)
    if early and asked is not None:
        raise PlanError(f"it cannot be told: {_early(instant)}")
    if early and at is not None:
        warn(f"--at lies in the past: {_early(instant)}")
    moment = moment_at(due_of(days_around(site, instant)), instant)
    if asked is not None:
        _refuse_unknown(moment)
        return asked == moment.state
    print(_brief(moment) if brief else "\n".join(wrapped(_lines(moment))))
    return True


def _early(instant: np.datetime64) -> str:
    return (
        f"{instant} UTC lies before the time-zone rules in use were made, about "
        f"{zone_rules_date()}; if that is what a clock shows, set it"
    )


def _refuse_unknown(moment: Moment) -> None:
    """Refuse to answer a script where nothing is known of the door.

    Raises
    ------
    PlanError
        If the file in use does not cover the day, or the door may just be about to move.
    """
    if not moment.is_known:
        raise PlanError(list(due_notes(_day_alone(moment)))[-1])


def _day_alone(moment: Moment) -> Due:
    return moment.due.part(np.arange(len(moment.due)) == moment.index)


def _brief(moment: Moment) -> str:
    if moment.next_movement_utc is None:
        return f"{moment.state}, and no movement is known within {LOOK_AHEAD_DAYS} days"
    wait = duration_text(moment.minutes_to_next)
    if not moment.next_is_known:
        wait = "planned; what is due is not known"
    elif moment.due.up_to_min is not None:
        wait += f", or up to {moment.due.up_to_min} min later"
    return f"{moment.state} until {_clock(moment, moment.next_movement_utc)} ({wait})"


def _lines(moment: Moment) -> list[str]:
    lines = [
        f"{printable(moment.plan.site.name)}, {_when(moment, moment.instant_utc)} "
        f"(wall clock of {moment.plan.site.zone})",
        f"The door should be {moment.state}.",
    ]
    if moment.next_movement_utc is None:
        lines.append(f"No movement is known within the next {LOOK_AHEAD_DAYS} days.")
    else:
        verb = "closes" if moment.state == "open" else "opens"
        lines.append(
            f"It {verb} at {_when(moment, moment.next_movement_utc)}, in "
            f"{duration_text(moment.minutes_to_next)}{'' if moment.next_is_known else _PLANNED}."
        )
    lines += _of_day(moment)
    idle = idle_timer_note(moment.plan.site)
    return [*lines, *_notes(moment), *[f"Note: {idle}."] * bool(idle), CAUTION]


def _notes(moment: Moment) -> Iterator[str]:
    """Yield what must be known of the flock day's due times; how late they are, it shows itself."""
    day = _day_alone(moment)
    if day.in_use is not None or day.up_to_min is not None:
        yield from due_notes(day)
    elif day.differs.any():
        yield f"The door is worked by {WORKS[moment.plan.site.works].words}."


_FLOCK_DAY = "from one lowest Sun to the next"


def _of_day(moment: Moment) -> Iterator[str]:
    """Yield the times of the flock day, due and planned."""
    due, plan, index = moment.due, moment.plan, moment.index
    date = plan.dates[index]
    if not due.is_open[index]:
        yield f"Flock day {date} ({_FLOCK_DAY}): the door stays shut."
        return
    opens, closes = due.told_open_utc[index], due.told_close_utc[index]
    yield (
        f"Flock day {date} ({_FLOCK_DAY}): open from {_when(moment, opens)} to "
        f"{_when(moment, closes)}."
    )
    if due.differs[index] and plan.is_open[index]:
        planned = (_when(moment, times[index]) for times in (plan.open_utc, plan.close_utc))
        yield (
            f"Planned: open from {' to '.join(planned)}; the times above are due (when the door "
            "will really move)."
        )
    if not due.known[index] and due.up_to_min is None:
        yield "It is not known when the door really moves that day; these are planned times."
    if np.isnat(due.head_count_utc[index]):
        yield "Count heads once the door has shut."
    else:
        yield f"Head count at {_when(moment, due.head_count_utc[index])}."
    if due.closes_in_daylight[index]:
        by_hand = plan.settings.shut_in_by_hand[index]
        only = np.arange(len(due)) == index
        then = "shut the birds in by hand before" if by_hand else remedy(due, only)
        yield f"The door closes in daylight: {then}."


def _when(moment: Moment, instant_utc: np.datetime64) -> str:
    return moment.plan.site.face.instant(moment.plan.zone, instant_utc)


def _clock(moment: Moment, instant_utc: np.datetime64) -> str:
    """Return the time alone if it is of the same date, else date and time."""
    zone = moment.plan.zone
    if zone.date_at(instant_utc) != zone.date_at(moment.instant_utc):
        return _when(moment, instant_utc)
    return moment.plan.site.face.time_at(zone, instant_utc)
