"""A calendar of the looks at the hen house on some days, for whoever looks after it meanwhile.

It is the sitter's sheet as entries, one each morning and each evening. Others may read a calendar,
and an entry that says that somebody is away tells strangers so. So it names nobody, and says no
more than what to do, unless the site file's ``calendar.show`` asks for ``away``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.fit.intake import intakes
from daylatch.calendars.entries import LEAST_LENGTH, Entries, closing_ends, describe_times, moments
from daylatch.calendars.file import finish_calendar, start_calendar
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.own import calendar_is_by
from daylatch.plan.daily.rules import Side
from daylatch.plan.due_words import public_due_notes

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from icalendar import Event

    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site, Span

PRODID = "-//daylatch//looks at the hen house//EN"
wrote = calendar_is_by(PRODID)
KINDS = frozenset({"lookopen", "lookclose", "lookday"})
"""What the identities of these entries end in."""
MORNING = "Look in at the hen house: is the door open?"
BY_HAND = {Side.OPEN: "Open the hen house door", Side.CLOSE: "Shut the hen house door"}
_BEFORE = np.timedelta64(30, "m")
"""How long before a closing in daylight the entry begins (this program's choice, no source)."""
SHUT = "Look in at the hen house: the door stays shut today"


def render(due: Due, occasion: Occasion, *, sitter: str = "", update: bool = False) -> bytes:
    """Return the calendar file of the looks on the days that are due.

    The stamps of its entries, and what an update is: `finish_calendar`; the sitter is that of
    `make_looks`.
    """
    plan = due.plan
    site = plan.site
    calendar = start_calendar(
        PRODID,
        f"Looks at the hen house: {site.name}",
        " ".join(
            [
                CAUTION,
                *public_due_notes(due),
                describe_times(plan),
                f"Titles are in the wall clock of {plan.zone.name}. Time-zone rules: "
                f"{zone_rules_version()}.",
            ]
        ),
        site.settings.calendar.color,
    )
    ends = None
    up = due.is_open
    if up.any():
        ends = due.told_open_utc[up][0], closing_ends(due)[up][-1]
    return finish_calendar(
        calendar, list(make_looks(due, sitter)), occasion, plan, ends, update=update
    )


def make_looks(due: Due, sitter: str = "") -> Iterator[Event]:
    """Yield the entries, without stamps, in the order of days: two on each, one if it is shut.

    Parameters
    ----------
    due
        Of the days.
    sitter
        Who looks after the birds; whom the site file names for a day, if left out.
    """
    plan = due.plan
    entries, up = Entries(due), due.is_open
    by_hand = plan.site.works == "hand"
    opens = moments(plan, due.told_open_utc[up], due.told_open_utc[up] + LEAST_LENGTH)
    # Where birds are out when it closes, somebody must be there before.
    begins = due.told_close_utc - np.where(due.closes_in_daylight, _BEFORE, np.timedelta64(0, "m"))
    closes = moments(plan, begins[up], closing_ends(due)[up])
    food = list(_feed_and_water(plan.site))
    birds = plan.site.settings.flock.birds_text if plan.site.settings.flock else ""
    for index, is_open in enumerate(up):
        asked = list(_if_asked(plan.site, plan.dates[index].item(), sitter))
        if not is_open:
            lines = [*food, *_heads(birds), *asked]
            yield entries.all_day(index, "lookday", SHUT, lines)
            continue
        opening, closing = (entries.time_of_day(entries.wall[side][index], index) for side in Side)
        unsure = list(entries.how_sure(index))
        yield entries.timed(
            index,
            "lookopen",
            BY_HAND[Side.OPEN] if by_hand else MORNING,
            [f"Opens {opening}.", *unsure, *food, *asked],
            *next(opens),
        )
        count = entries.head_count(index)
        title = f"{BY_HAND[Side.CLOSE] if by_hand else 'Hen house'}: count heads"
        if due.closes_in_daylight[index]:
            title = f"Hen house: shut the birds in before {closing}"
        elif count:
            title = f"{title} at {count}"
        yield entries.timed(
            index,
            "lookclose",
            title,
            [f"Closes {closing}.", *_heads(birds), *unsure, *asked],
            *next(closes),
            reminder_min=plan.site.settings.calendar.reminder_min,
        )


def _heads(birds: str) -> Iterator[str]:
    yield f"There should be {birds}. Are all in?" if birds else "Are all birds in?"


def _feed_and_water(site: Site) -> Iterator[str]:
    """Yield what all birds eat and drink in a day, as far as that is known."""
    for requirement, intake in intakes(site.settings):
        amount = site.measures.total((intake.least, intake.most), intake.base)
        yield f"{requirement.capitalize()}: {amount} a day."


def _if_asked(site: Site, date: dt.date, sitter: str) -> Iterator[str]:
    """Yield what tells that the keeper is away, and what only a sitter should read."""
    if "away" not in site.settings.calendar.show:
        return
    span: Span | None = next(
        (one for one in site.settings.spans if one.away and one.covers(date)), None
    )
    name = sitter or ("" if span is None else span.sitter.strip())
    yield f"The keeper is away; looked after by: {name}" if name else "The keeper is away."
    words = site.settings.card
    told = (
        ("Working the door by hand", words.by_hand),
        ("Whom to call", words.call),
        ("How to report", words.report),
    )
    yield from (f"{label}: {text.strip()}" for label, text in told if text.strip())
