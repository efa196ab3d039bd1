"""What must be known of due times, alike in every form that tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.console import printable
from daylatch.site.choices.works import WORKS
from daylatch.site.table import chosen
from daylatch.wording import date_ranges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.plan.due import Due
    from daylatch.site.tables import Site


def due_notes(due: Due) -> Iterator[str]:
    """Yield sentences on where due times come from; none where they are the planned ones."""
    site = due.plan.site
    works = WORKS[site.works].words
    latest = _latest_min(due)
    if due.up_to_min is not None:
        yield (
            f"The door moves up to {due.up_to_min} min later than planned: which minute, its table "
            f"alone knows (daylatch plan {printable(site.file_name)} --to table, and the file's "
            "name as in_use under [door])."
        )
    elif due.in_use is None and latest is not None:
        yield f"The door is worked by {works}, and moves up to {latest} min later than planned."
    yield from _of_file(due)


def _latest_min(due: Due) -> int | None:
    """Return by how much a movement is late at most; None where due is what is planned."""
    if not due.differs.any():
        return None
    late = np.concatenate([due.open_late, due.close_late])
    known = late[~np.isnat(late)]
    return int(known.max() // MINUTE) if known.size else None


def _of_file(due: Due) -> Iterator[str]:
    """Yield what is wrong with the file that is in use."""
    told = due.in_use
    if told is None:
        return
    name = printable(told.name)
    latest = _latest_min(due)
    late = "as planned" if latest is None else f"up to {latest} min later than planned"
    yield f"In use is {name} ({told.first} to {told.last}), by which the door moves {late}."
    if told.differs is not None:
        yield (
            f"From {told.differs} on the site file says otherwise than {name}: make a new one "
            f"({printable(told.remedy)}) and put it into use."
        )
    if not due.known.all():
        yield (
            f"On {_unknown(due)} it is not known when the door moves, because {name} does not "
            f"cover them; planned times stand there: make a new one ({printable(told.remedy)})."
        )


def _unknown(due: Due) -> str:
    dates = due.plan.dates[~due.known]
    return date_ranges(dates, most=2)


def idle_timer_note(site: Site) -> str:
    """Return that a timer is described and works no door; empty where that is not so."""
    if site.works == "timer" or not chosen(site.settings.timer):
        return ""
    return (
        "these are the plan's times; the timer's come with works = \"timer\" under [door] "
        "([timer] is filled in)"
    )
