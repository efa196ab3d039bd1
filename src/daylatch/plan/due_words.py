"""What must be known of due times, alike in every form that tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.console import printable
from daylatch.site.choices.works import WORKS
from daylatch.site.table import chosen
from daylatch.wording import date_ranges, days_text, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.plan.due import Due, InUse
    from daylatch.site.tables import Site


def due_notes(due: Due) -> Iterator[str]:
    """Yield sentences on where due times come from; none where they are the planned ones.

    How late the door is at most is told of the days that are told, so not of a single one.
    """
    site = due.plan.site
    if due.in_use is not None:
        name = printable(due.in_use.name)
        dates = f" ({due.in_use.first} to {due.in_use.last})"
        yield from _of_file(due, f"The door goes by {name}{dates}", name, _mend(due.in_use))
    elif due.up_to_min is not None:
        from shlex import quote  # noqa: PLC0415 - for few houses

        year = due.plan.dates[0].item().year
        command = f"daylatch plan {quote(printable(site.file_name))} --to table --year {year}"
        yield (
            f"The door moves up to {due.up_to_min} min later than planned; only its table says to "
            f"the minute ({command} -o door-{year}.bin makes it; name it as in_use under [door])."
        )
    elif due.differs.any():
        yield f"The door is worked by {WORKS[site.works].words}, and moves {_lateness(due)}."


def file_troubles(due: Due) -> Iterator[str]:
    """Yield what is amiss with the file in use, as `due_notes` has it; nothing without one."""
    if due.in_use is not None:
        yield from _troubles(due, printable(due.in_use.name), _mend(due.in_use))


def _mend(told: InUse) -> str:
    remedy = printable(told.remedy)
    return f"make a new one ({remedy}), put it into the door, and name it as in_use"


def public_due_notes(due: Due) -> Iterator[str]:
    """Yield the same for readers who may be anybody: no file is named, and no command."""
    if due.in_use is not None:
        file = "the file in its controller or timer"
        yield from _of_file(due, f"The door goes by {file}", file, "ask the keeper")
    elif due.up_to_min is not None:
        yield f"The door moves up to {due.up_to_min} min later than planned."
    elif due.differs.any():
        yield f"The door moves {_lateness(due)}."


def _lateness(due: Due) -> str:
    """Return how the due times of known days lie to the planned ones; what is early comes first."""
    late = np.stack([due.open_late, due.close_late])
    known = late[~np.isnat(late)]
    if not due.differs.any():
        return "as planned"
    words = []
    due_open, planned_open = due.known & due.is_open, due.known & due.plan.is_open
    for verb, other, days in (
        ("opens it", "shut", due_open & ~planned_open),
        ("keeps it shut", "open", planned_open & ~due_open),
    ):
        if days.any():
            words.append(
                f"other than planned: {verb} on {days_text(int(days.sum()))} planned {other}"
            )
    early = np.any(late < np.timedelta64(0, "m"), axis=0)
    if early.any():
        words.append(
            f"up to {duration_text(-known.min())} BEFORE the planned time on "
            f"{days_text(int(early.sum()))}"
        )
    if known.size and known.max() > np.timedelta64(0, "m"):
        later = f"up to {duration_text(known.max())} later"
        words.append(later if len(due) == 1 or early.any() else f"{later} than planned")
    return " and ".join(words)


def _of_file(due: Due, head: str, name: str, mend: str) -> Iterator[str]:
    """Yield what is to be known of the file that is in use."""
    moves = due.known & due.is_open
    yield f"{head} and moves {_lateness(due)}." if moves.any() else f"{head}."
    yield from _troubles(due, name, mend)


def _troubles(due: Due, name: str, mend: str) -> Iterator[str]:
    """Yield what is amiss with the file that is in use."""
    told = due.in_use
    assert told is not None
    if told.differs is not None:
        yield f"From {told.differs} on the site file says otherwise than {name}: {mend}."
    if not due.known.all():
        yield (
            f"It is not known when the door moves on {_unknown(due)}: {name} does not cover these "
            f"dates, so planned times stand there. To mend it, {mend}."
        )


def _unknown(due: Due) -> str:
    return date_ranges(due.plan.dates[~due.known], most=2)


def idle_timer_note(site: Site) -> str:
    """Return that a timer is described and works no door; empty where that is not so."""
    if site.works == "timer" or not chosen(site.settings.timer):
        return ""
    return (
        "these are the plan's times; the timer's come with works = \"timer\" under [door] "
        "([timer] is filled in)"
    )
