"""What to say when a keeper's settings contradict themselves on some dates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.plan.daily.rules import Conflict
from daylatch.wording import date_ranges

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

REMEDY = {
    Conflict.NO_FALLBACK_OPEN: "it never gets as dark as open.light, and there is no "
    "open.fallback: add one under [open], such as 4 h 45 min after the lowest Sun, as `daylatch "
    "new` counts it for the place",
    Conflict.NO_FALLBACK_CLOSE: "it never gets as dark as close.light, and there is no "
    "close.fallback: add one under [close], such as 2 h 15 min before the lowest Sun, as `daylatch "
    "new` counts it for the place",
    Conflict.LIMITS_REVERSED_OPEN: "open.not_before lies after open.not_after: swap or drop one",
    Conflict.LIMITS_REVERSED_CLOSE: "close.not_before lies after close.not_after: swap or drop one",
    Conflict.LIMITS_LEAVE_NO_DAY: "open.not_before is not before close.not_after: they leave "
    "no time to be open; move one, or shut those days with a span",
    Conflict.FIXED_REVERSED: "the fixed opening is not before the fixed closing: change one, "
    "or shut those days with a span",
    Conflict.PAST_DAY_OPEN: "a wall-clock setting of [open] (limit, fallback or fixed "
    "time) puts the opening outside its day, which runs from one lowest Sun to the next: move it",
    Conflict.PAST_DAY_CLOSE: "a wall-clock setting of [close] (limit, fallback or fixed "
    "time) puts the closing outside its day, which runs from one lowest Sun to the next: move it",
}
"""What each conflict is and what would mend it."""


def describe_conflicts(
    dates: NDArray[np.datetime64[Any]],
    conflicts: dict[Conflict, NDArray[np.bool_]],
    among: NDArray[np.bool_],
) -> Iterator[str]:
    """Yield a line for each conflict that arises on some of the days, naming their dates.

    Parameters
    ----------
    dates
        datetime64[D], of all days.
    conflicts
        For each kind the days on which it arises.
    among
        The days that matter.
    """
    for kind, days in conflicts.items():
        found = dates[days & among]
        if found.size:
            yield f"{date_ranges(found)}: {REMEDY[kind]}"
