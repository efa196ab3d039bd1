"""The list of a lamp's timer as text: how good it is, and the settings of each burn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.lamp_list.words import describe_lamp_list, lamp_words
from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.clock import zone_rules_version
from daylatch.door.timer.text import list_marks, list_rows
from daylatch.door.timer.words import standing_words, timer_clock_words
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.wording import labelled, wrapped

if TYPE_CHECKING:
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.files.occasion import Occasion

FIRST_LINE = "daylatch lamp timer settings"
wrote = first_line_is(FIRST_LINE)
_LABEL = 16


def render(found: LampList, occasion: Occasion) -> bytes:
    """Return the summary, the settings of each burn, the marks that occur and the cautions."""
    plan, lists = found.plan, [one for _, one in found.burns]
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}",
        f"Times: {timer_clock_words(lists[0])}; time-zone rules {zone_rules_version()}.",
        lamp_words(found),
    ]
    standing = standing_words(lists[0])
    head += [standing] * bool(standing)
    lines = [*wrapped(head), "", *labelled(describe_lamp_list(found), _LABEL), ""]
    for burn, one in found.burns:
        lines += [burn.title, *list_rows(one), ""]
    marks = list(dict.fromkeys(mark for one in lists for mark in list_marks(one)))
    lines += [*marks, *[""] * bool(marks), *wrapped([CAUTION, LAMP_CAUTION])]
    return text_file.lay_out(lines)
