"""A controller: to the minute, or up to ``within_min`` later by its table.

Which minute a table of some width chooses hangs on the dates that it was packed for. So without the
file that is in use nothing but the bound is known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.plan.due import DueTimes

if TYPE_CHECKING:
    from daylatch.door.works.in_use import InUseFile
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


def find_due(plan: Plan) -> DueTimes:
    """Return when it moves the door on the days of a plan."""
    if is_exact(plan.site):
        return DueTimes(plan.open_utc, plan.close_utc, np.ones(len(plan), np.bool_))
    nothing = np.full_like(plan.open_utc, "NaT")
    return DueTimes(nothing, nothing, ~plan.is_open, plan.site.settings.door.within_min)


def is_exact(site: Site) -> bool:
    """Return whether it always moves the door at the planned minute."""
    return not site.settings.door.within_min


def read_in_use(content: bytes, site: Site) -> InUseFile:
    """Return the table that is in use.

    Raises
    ------
    InUseError
        If it is none, or cannot be this house's.
    """
    # Most houses name none, and a table takes a while to load.
    from daylatch.door.works.in_use_table import read_table  # noqa: PLC0415

    return read_table(content)
