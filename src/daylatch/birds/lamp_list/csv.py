"""The list of a lamp's timer as CSV (RFC 4180), a row for each setting and kind of weekday."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.lamp_list.lamp_movements import BURNS
from daylatch.birds.lamp_list.words import CAUTIONS
from daylatch.door.timer.csv import header_of, list_rows
from daylatch.files.csv_file import lay_out
from daylatch.files.own import header_is

if TYPE_CHECKING:
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.files.occasion import Occasion

HEADER = ("burn", *header_of(BURNS[0].movements))
wrote = header_is(HEADER)


def render(found: LampList, occasion: Occasion) -> bytes:
    """Return the file: as `daylatch.door.timer.csv` has it, after which burn a row is of.

    The cautions stand in the first row alone.
    """
    rows = [[burn.name, *row] for burn, one in found.burns for row in list_rows(one)]
    return lay_out(HEADER, rows, CAUTIONS)
