"""The list of a lamp's timer as a page for browsers, which prints on one sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.lamp_list.words import CAUTIONS, describe_lamp_list, lamp_words
from daylatch.files.own import page_is_by
from daylatch.paper.pages.timer_html import block_of, lay_out

if TYPE_CHECKING:
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.files.occasion import Occasion

# What the caution of the lamp takes, and what is said of each burn more.
_CAUTION_PT = 60.0
_BURN_PT = 60.0
_GENERATOR = "daylatch lamp timer list"
wrote = page_is_by(_GENERATOR)


def render(found: LampList, occasion: Occasion) -> bytes:
    """Return the page.

    Raises
    ------
    UsageError
        If the list does not fit one sheet.
    """
    lists = [one for _, one in found.burns]
    entries = [("The lamp", lamp_words(found)), *describe_lamp_list(found)]
    captions = tuple(burn.title for burn, _ in found.burns)
    blocks = [block_of(one) for one in lists]
    taken_pt = _CAUTION_PT + _BURN_PT * (len(lists) - 1)
    return lay_out(_GENERATOR, lists, blocks, entries, CAUTIONS, captions, taken_pt)
