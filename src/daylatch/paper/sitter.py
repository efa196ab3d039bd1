"""The sheet for whoever looks after the birds while the keeper is away: a row a day, on one page.

It is a card by the day with room to tick and to write, and with all that a stranger to the house
must know: what to do if something is amiss, whom to call, how to report, feed and water.
"""

from __future__ import annotations

import datetime as dt
import re
from calendar import day_name
from dataclasses import replace
from typing import TYPE_CHECKING

from daylatch.birds.fit.intake import intakes
from daylatch.clock import zone_rules_version
from daylatch.door.works.rows import RowsOf
from daylatch.paper.card import CALL_TITLE, DAYLIGHT_MARK, FALLBACK_MARK, Box, make_card
from daylatch.paper.card_words import BY_HAND, long_date
from daylatch.plan.due_words import public_due_notes
from daylatch.wording import days_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.paper.card import Card
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

TITLE = "Looking after the hens"
BY_ITSELF = (
    "The door works by itself at these times. Come in the morning, once it has opened, and see "
    "that it is open; and in the evening when heads are counted: see that it is shut and all are "
    "in."
)
BY_PERSON = (
    "You work the door. Open it in the morning at the time that stands here, or a little later; in "
    "the evening shut it at the time to close, and count heads: are all in?"
)
IN_DAYLIGHT = (
    "ON DAYS WITH {mark} IT CLOSES WHILE BIRDS ARE STILL OUT: be there before, and shut them in."
)
# Common practice, no source.
IF_STUCK = (
    "Look what holds it: something in the way, no power, a flat battery. Keep hands out from under "
    "it. Move it by hand: open in the morning; in the evening shut it once all birds are in."
)
IF_STIFF = (
    "Look what holds it, and keep hands out from under it. If it cannot be shut by nightfall, bar "
    "the opening with a board, and call."
)
IF_MISSING = (
    "Count again, with a light: nest boxes, under and behind the house, trees and bushes. A bird "
    "that roosts outside is calm in the dark: carry it in. Shut the others in meanwhile."
)
IF_HURT = (
    "Put it by itself, somewhere quiet, warm and dark, with water. Wash your hands. Call, and ask "
    "a vet before you give it anything."
)
REPORT = "Every evening once all are in, and at once if something is amiss."
_FOR_A_SITTER = {
    FALLBACK_MARK: "days without dusk or dawn: the door goes by the clock",
    DAYLIGHT_MARK: "it closes while birds are out: be there before, and shut them in",
}
TICKS = (("Looked", "in"), ("All", "in"))
TICKS_BY_PERSON = (("Opened",), ("Shut,", "all in"))
BOX_TITLES = ("If the door did not move", "If a bird is missing", "If a bird is hurt")
REPORT_TITLE, FEED_TITLE = "How to report", "Feed and water for these days"


def make_sheet(due: Due, sitter: str) -> Card:
    """Return what the sheet of some days says.

    Parameters
    ----------
    due
        Of the days, the birds as they are then.
    sitter
        Who looks after the birds; empty if nobody is named.
    """
    site = due.plan.site
    words, flock = site.settings.card, site.settings.flock
    card = make_card(due, RowsOf.DAYS, tells_settings=False)
    by_hand = site.works == BY_HAND
    food = "\n".join(feed_and_water(site, len(due)))
    door, missing, hurt = BOX_TITLES
    return replace(
        card,
        title=TITLE,
        reader=sitter,
        how_to_read=" ".join([BY_PERSON if by_hand else BY_ITSELF, *_how_sure(due)]),
        marks=tuple(
            (mark, _FOR_A_SITTER.get(mark) or _clock_change(text)) for mark, text in card.marks
        ),
        # The door's own clock is the keeper's affair.
        clocks=f"Times: wall clock of {site.zone}. Zone rules {zone_rules_version()}.",
        door_clock="",
        monthly_check="",
        ticks=TICKS_BY_PERSON if by_hand else TICKS,
        birds=str(flock.birds) if flock and flock.birds else "",
        boxes=(
            Box(door, words.by_hand.strip(), IF_STIFF if by_hand else IF_STUCK, 1),
            Box(missing, words.if_missing.strip(), IF_MISSING, 1),
            Box(hurt, words.if_hurt.strip(), IF_HURT, 1),
            Box(CALL_TITLE, words.call.strip()),
            Box(REPORT_TITLE, words.report.strip(), REPORT, 1),
            Box(FEED_TITLE, "", food, 0 if food else 3),
        ),
    )


def _clock_change(text: str) -> str:
    """Return a change of the clock as people say it; any other text as it is."""
    found = re.fullmatch(r"(\d{4}-\d\d-\d\d) (forward|back) (.*)", text)
    if found is None:
        return text
    date = dt.date.fromisoformat(found[1])
    return (
        f"{day_name[date.weekday()]} {long_date(date)}: clocks go {found[2]} {found[3]}. The times "
        "from then on are by the new time."
    )


def _how_sure(due: Due) -> Iterator[str]:
    """Yield what is to be known of the times: that birds may be out, and how sure they are."""
    if due.closes_in_daylight.any():
        yield IN_DAYLIGHT.format(mark=DAYLIGHT_MARK)
    if due.up_to_min is not None or not due.known.all():
        yield from public_due_notes(due)


def feed_and_water(site: Site, days: int) -> Iterator[str]:
    """Yield what all birds eat and drink in a day and in some days; nothing that is not known."""
    for requirement, intake in intakes(site.settings):
        a_day, in_all = (
            site.measures.total((intake.least * count, intake.most * count), intake.base)
            for count in (1, days)
        )
        yield (
            f"{requirement.capitalize()}: {a_day} a day, {in_all} for the {days_text(days)} (norm "
            f"{intake.norm.name})."
        )
    if site.settings.flock is not None and site.settings.flock.birds is not None:
        yield "In heat they drink more; in frost look whether the water is frozen."
