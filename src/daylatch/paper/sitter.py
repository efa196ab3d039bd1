"""The sheet for whoever looks after the birds while the keeper is away: a row a day, on one page.

It is a card by the day with room to tick and to write, and with all that a stranger to the house
must know: what to do if something is amiss, whom to call, how to report, feed and water.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from daylatch.birds.fit.intake import daily_intake
from daylatch.door.works.rows import RowsOf
from daylatch.paper.card import CALL_TITLE, Box, make_card
from daylatch.plan.due_words import public_due_notes
from daylatch.site.housing import Flock
from daylatch.site.norms import Norms
from daylatch.wording import days_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.paper.card import Card
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

TITLE = "Looking after the hens"
HOW_TO_READ = (
    "Look in each morning that the door is as it should be, and each evening at the time to count "
    "heads. Tick what is done, and write down what you see."
)
# Common practice, no source.
IF_STUCK = (
    "Look what holds it: something in the way, no power, a flat battery. Keep hands out from under "
    "it. Move it by hand: open in the morning; in the evening shut it once all birds are in."
)
IF_MISSING = (
    "Count again, with a light: nest boxes, under and behind the house, trees and bushes. A bird "
    "that roosts outside is calm in the dark: carry it in. Shut the others in by nightfall."
)
IF_HURT = (
    "Put it by itself, somewhere quiet, warm and dark, with water. Wash your hands. Call, and ask "
    "a vet before you give it anything."
)
REPORT = "Every evening once all are in, and at once if something is amiss."
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
    card = make_card(due, RowsOf.DAYS)
    door, missing, hurt = BOX_TITLES
    return replace(
        card,
        title=TITLE,
        reader=sitter,
        how_to_read=" ".join([HOW_TO_READ, *_how_sure(due)]),
        # The door's own clock is the keeper's affair.
        door_clock="",
        monthly_check="",
        birds=str(flock.birds) if flock and flock.birds else "",
        boxes=(
            Box(door, words.by_hand.strip(), IF_STUCK),
            Box(missing, words.if_missing.strip(), IF_MISSING),
            Box(hurt, words.if_hurt.strip(), IF_HURT),
            Box(CALL_TITLE, words.call.strip()),
            Box(REPORT_TITLE, words.report.strip(), REPORT),
            Box(FEED_TITLE, "\n".join(feed_and_water(site, len(due)))),
        ),
    )


def _how_sure(due: Due) -> Iterator[str]:
    """Yield how sure the times are, where they are not those at which the door moves."""
    if due.up_to_min is not None or not due.known.all():
        yield from public_due_notes(due)


def feed_and_water(site: Site, days: int) -> Iterator[str]:
    """Yield what all birds eat and drink in a day and in some days; nothing that is not known."""
    settings = site.settings
    norms = settings.norms or Norms.model_construct()
    flock = settings.flock or Flock.model_construct()
    for requirement in ("feed", "water"):
        intake = daily_intake(norms, flock, requirement)
        if intake is None:
            continue
        a_day, in_all = (
            site.measures.total((intake.least * count, intake.most * count), intake.base)
            for count in (1, days)
        )
        yield (
            f"{requirement.capitalize()}: {a_day} a day, {in_all} for the {days_text(days)}, by "
            f"the norm {intake.norm.name} ({intake.norm.scope})."
        )
    if flock.temperature == "hot":
        yield "In heat they drink more: look twice a day."
    elif flock.temperature == "cold":
        yield "Water freezes overnight: look each morning."
