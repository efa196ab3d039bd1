"""What a plain timer does each day: a line for each movement, and every form of the list has it."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING

from daylatch.site.timer import MOVEMENTS as NOUNS

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.arrays import Times
    from daylatch.plan.plan import Plan


@dataclass(frozen=True)
class TimerMovement:
    """A movement that a timer makes each day.

    Attributes
    ----------
    noun : str
        What it is called in sentences.
    name : str
        What it is called above columns and in files.
    planned : callable
        Takes a plan and returns when the movement should take place on each day [datetime64[m]].
    """

    noun: str
    name: str
    planned: Callable[[Plan], Times]


_OF_NOUN: dict[str, tuple[str, Callable[[Plan], Times]]] = {
    "opening": ("open", attrgetter("open_utc")),
    "closing": ("close", attrgetter("close_utc")),
}
MOVEMENTS = tuple(TimerMovement(noun, *_OF_NOUN[noun]) for noun in NOUNS)
"""In the order in which they follow each other on a day; sides of arrays have the same order."""
