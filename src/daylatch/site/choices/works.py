"""What can work a door, a line each.

From its line follow what ``door.works`` takes and what is said of it, and how due times are found.
"""

from __future__ import annotations

from typing import NamedTuple

MOST_WITHIN_MIN = 255
"""The widest controller table: its format has a byte for the width."""


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
    """

    name: str
    words: str
    when: str
    module: str


WORKS = {
    works.name: works
    for works in (
        Works(
            "controller",
            "a controller",
            "to the minute, or up to within_min later",
            "daylatch.door.works.controller",
        ),
        Works(
            "timer",
            "a plain timer",
            "by the list of [timer]",
            "daylatch.door.works.timer",
        ),
        Works(
            "hand",
            "a person",
            "by the rows of [card]",
            "daylatch.door.works.hand",
        ),
    )
}


def list_works() -> str:
    """Return what can work a door, in one sentence."""
    *others, last = (f"{works.words} ({works.when})" for works in WORKS.values())
    return f"What works it: {', '.join(others)}, or {last}."
