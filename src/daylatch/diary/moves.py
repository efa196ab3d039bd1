"""What an audit looks at: the movements that were due, and what was seen of the door.

All arrays of a class have one element a movement, an entry or a reading, in the order of time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.diary.entries import Kind


@dataclass(frozen=True, eq=False)
class Expected:
    """The movements that were due.

    Attributes
    ----------
    dates : datetime64[D]
        The flock day of each.
    opening : bool
        Whether it opens the door; else it closes it.
    planned_utc : datetime64[m]
        When the rules want it; NaT if only what is in the door moves it.
    due_utc : datetime64[m]
        When what works the door really moves it; the planned time where only a bound is known.
    up_to_min : int64
        By how many minutes it may rightly come later than that; 0 where it is known exactly.
    """

    dates: Times
    opening: Flags
    planned_utc: Times
    due_utc: Times
    up_to_min: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.dates)


@dataclass(frozen=True, eq=False)
class Seen:
    """What was seen of the door.

    Attributes
    ----------
    at_utc : datetime64[s]
        When, by what stamped it.
    opening : bool
        Whether it opened, or was open; else it shut, or was shut.
    kinds : tuple of Kind
        What each tells.
    within_min : float64
        How sure the time is, either way [min].
    outside : bool
        Whether something else than the door's own clock stamped it.
    """

    at_utc: Times
    opening: Flags
    kinds: tuple[Kind, ...]
    within_min: NDArray[np.float64]
    outside: Flags

    def __len__(self) -> int:
        return len(self.at_utc)


@dataclass(frozen=True, eq=False)
class Readings:
    """What the door's clock said, when somebody looked at it beside a right one.

    Attributes
    ----------
    at_utc : datetime64[s]
        When, by the right one.
    error_min : float64
        By how much it was fast (negative: slow) [min].
    within_min : float64
        How sure that is, either way [min].
    """

    at_utc: Times
    error_min: NDArray[np.float64]
    within_min: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.at_utc)
