"""One line of the verdict on a house: a requirement, its norm, and what was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from daylatch.birds.fit.stays import Case

if TYPE_CHECKING:
    import numpy as np

    from daylatch.birds.fit.verdicts import Verdict
    from daylatch.site.norms import Norm


@dataclass(frozen=True)
class Need:
    """What the birds eat or drink while they are shut in.

    Attributes
    ----------
    first, last : datetime64[D]
        The closing date of a lock-in, twice; or first and last of the days shut all day.
    shut_days : int
        Whole days shut; 0 for a lock-in.
    awake_min : int
        Light in the lock-in [min]; 0 for whole days.
    share : float
        Of a day's intake: the share of each day's light that is spent shut in, summed up.
    least, most : float
        For all birds [g or ml].
    """

    first: np.datetime64
    last: np.datetime64
    shut_days: int
    awake_min: int
    share: float
    least: float
    most: float


REQUIREMENTS = {
    "floor_asleep": ("House floor", Case.ASLEEP),
    "roost": ("Roost", Case.ASLEEP),
    "floor_awake": ("Waking space", Case.AWAKE),
    "feed": ("Feed inside", Case.AWAKE),
    "water": ("Water inside", Case.AWAKE),
    "something_to_do": ("Something to do", Case.AWAKE),
    "run_floor": ("Run floor", Case.ALWAYS),
    "birds_per_nest": ("Nest boxes", Case.ALWAYS),
    "nest_box": ("Nest size", Case.ALWAYS),
    "litter": ("Litter", Case.ALWAYS),
    "vents": ("Vents", Case.ALWAYS),
}
"""Every requirement, in the order in which they are read: its title, and when it counts.

`daylatch.birds.fit.checks` has a method of its name for each.
"""


@dataclass(frozen=True)
class Line:
    """What came of one requirement.

    Attributes
    ----------
    requirement : str
        One of `REQUIREMENTS`.
    verdict : Verdict
        What came of it.
    norm : Norm or None
        What it was compared with.
    found : str
        What the house has, in both systems; empty if that is not known or does not matter.
    wanted : str
        What the norm asks for, in both systems; empty without a figure.
    values : tuple of float
        What was compared with the norm, in the base of its unit.
    notes : tuple of str
        Remedies, and what else to know; a sentence or two each.
    needs : tuple of Need
        What must be inside.
    doubts : tuple of str
        What is odd about the sizes that it goes by, and what to write if they are in another unit.
    """

    requirement: str
    verdict: Verdict
    norm: Norm | None = None
    found: str = ""
    wanted: str = ""
    values: tuple[float, ...] = ()
    notes: tuple[str, ...] = ()
    needs: tuple[Need, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What it is called."""
        return REQUIREMENTS[self.requirement][0]

    @property
    def case(self) -> Case:
        """When it counts."""
        return REQUIREMENTS[self.requirement][1]
