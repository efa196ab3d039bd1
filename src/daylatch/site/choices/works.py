"""What can work a door, a line each.

From its line follow what ``door.works`` takes and what is said of it, and how due times are found.
"""

from __future__ import annotations

from typing import NamedTuple

MOST_WITHIN_MIN = 255
"""The widest controller table: its format has a byte for the width."""


class Anew(NamedTuple):
    """What must be made anew for each year: what tells its calendar entry, its title, and words."""

    kind: str
    title: str
    words: str


class Works(NamedTuple):
    """One thing that can work a door.

    Attributes
    ----------
    name : str
        What the site file calls it.
    words : str
        What it is, in words.
    when : str
        When it moves the door, in words.
    module : str
        What finds the due times (``find_due``); imported when it is used.
    anew : Anew or None
        What ends with the year and must be made again.
    has_clock, has_motor : bool
        Whether a clock of its own must be looked after, and a motor with its battery.
    """

    name: str
    words: str
    when: str
    module: str
    anew: Anew | None = None
    has_clock: bool = True
    has_motor: bool = True


WORKS = {
    works.name: works
    for works in (
        Works(
            "controller",
            "a controller",
            "to the minute, or up to within_min later",
            "daylatch.door.works.controller",
            Anew(
                "newtable",
                "New table for the door's controller",
                "A table for this year ends on 31 December, and then the door is held where it is. "
                "If the one in use covers more years, see when it ends.",
            ),
        ),
        Works(
            "timer",
            "a plain timer",
            "by the list of [timer]",
            "daylatch.door.works.timer",
            Anew(
                "newlist",
                "New list for the hen house timer",
                "The list for this year ends on 31 December: make that of the next year.",
            ),
        ),
        Works(
            "hand",
            "a person",
            "by the rows of [card]",
            "daylatch.door.works.hand",
            Anew(
                "newcard",
                "New card for the hen house door",
                "The card for this year ends on 31 December: print that of the next year.",
            ),
            has_clock=False,
            has_motor=False,
        ),
    )
}


def list_works() -> str:
    """Return what can work a door, in one sentence."""
    *others, last = (f"{works.words} ({works.when})" for works in WORKS.values())
    return f"What works it: {', '.join(others)}, or {last}."
