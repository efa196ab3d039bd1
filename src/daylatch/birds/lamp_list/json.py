"""The list of a lamp's timer as JSON; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.lamp_list.lamp_movements import BURNS
from daylatch.cautions import LAMP_CAUTION
from daylatch.door.timer.json import about_list, list_settings
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is

if TYPE_CHECKING:
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.files.occasion import Occasion

GENERATOR = "daylatch lamp timer settings"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(found: LampList, occasion: Occasion) -> bytes:
    """Return the file: how good each burn's list is, and its settings one a line."""
    head = head_of(found.plan.site, GENERATOR, FORMAT)
    head["lamp_caution"] = LAMP_CAUTION
    head["from"], head["until"] = (str(date) for date in found.plan.dates[[0, -1]])
    head["burns"] = {burn.name: about_list(one) for burn, one in found.burns}
    lists = {burn.name: list_settings(one) for burn, one in found.burns}
    return lay_out(head, {burn.name: lists.get(burn.name, iter(())) for burn in BURNS})
