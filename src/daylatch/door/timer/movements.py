"""What a plain timer does each day: a line for each movement, and every form of the list has it."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from daylatch.site.timer import MOVEMENTS as NOUNS

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

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
    guard : callable or None
        Takes a plan and returns the minute on each day past which the movement must not come
        [datetime64[m]], and the `SkyState` of that crossing; None if it may be as late as it likes.
    sign : int
        +1 if it is never early, and how late it gets is what a list is chosen by; -1 if it is never
        late, and how early it gets is.
    """

    noun: str
    name: str
    planned: Callable[[Plan], Times]
    guard: Callable[[Plan], tuple[Times, NDArray[np.int8]]] | None = None
    sign: int = 1

    @property
    def wrong(self) -> str:
        """What it is where a list cannot be exact."""
        return "late" if self.sign > 0 else "early"


def _closing_guard(plan: Plan) -> tuple[Times, NDArray[np.int8]]:
    return plan.guard.close_utc, plan.guard.close_sky


_OF_NOUN: dict[str, tuple[Any, ...]] = {
    "opening": ("open", attrgetter("open_utc")),
    "closing": ("close", attrgetter("close_utc"), _closing_guard),
}
MOVEMENTS = tuple(TimerMovement(noun, *_OF_NOUN[noun]) for noun in NOUNS)
"""In the order in which they follow each other on a day; sides of arrays have the same order."""
