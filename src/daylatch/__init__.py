"""Open and close times for a hen house's pop door, for any place and any day of the year.

What other programs may use: ``load_site``, ``make_plan``, ``make_plans``, ``make_due``,
``sun_crossings`` and ``sun_position``; ``docs/reference/python.md`` shows them at work.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from daylatch.door.works.due import make_due as make_due
    from daylatch.plan.block import make_plans as make_plans
    from daylatch.plan.plan import make_plan as make_plan
    from daylatch.site.reading.site_file import load_site as load_site
    from daylatch.sun.crossings import sun_crossings as sun_crossings
    from daylatch.sun.crossings import sun_position as sun_position

__version__ = "0.1.0"

_PUBLIC = {
    "make_due": "daylatch.door.works.due",
    "load_site": "daylatch.site.reading.site_file",
    "make_plan": "daylatch.plan.plan",
    "make_plans": "daylatch.plan.block",
    "sun_crossings": "daylatch.sun.crossings",
    "sun_position": "daylatch.sun.crossings",
}


def __getattr__(name: str) -> Any:
    # Found when they are asked for, so that the command line need not load them for its help.
    if name in _PUBLIC:
        return getattr(importlib.import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
