"""A controller: to the minute, or up to ``within_min`` later by its table.

Which minute a table of some width chooses hangs on the dates that it was packed for. So without the
file that is in use nothing but the bound is known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.plan.due import DueTimes

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan


def find_due(plan: Plan) -> DueTimes:
    """Return when it moves the door on the days of a plan."""
    within_min = plan.site.settings.door.within_min
    if not within_min:
        return DueTimes(plan.open_utc, plan.close_utc, np.ones(len(plan), np.bool_))
    shut = ~plan.is_open
    return DueTimes(
        np.full_like(plan.open_utc, "NaT"), np.full_like(plan.close_utc, "NaT"), shut, within_min
    )
