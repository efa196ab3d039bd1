"""What a year of direct sun over a skyline takes, beside the plan of that year.

Run by ``make bench``. Skylines from one height all round to a rough one with a corner every tenth
of a degree, at places from the equator to the pole; the Sun's curves are known, as they are once a
plan is made.
"""

from __future__ import annotations

import datetime as dt
import os
import statistics
import sys
import time
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.sunlight.sunlight import make_sunlight
from daylatch.door.works.due import make_due
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from daylatch.sun.skyline import make_skyline

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.sun.skyline import Skyline

GOAL_S = 0.3
REPEATS = 9
SITE = """
id = "7f6b1c0e-6a52-4b0f-8b52-6f1f2c9d0e11"
name = "Under a hill"
[place]
latitude = {}
longitude = 10
zone = "UTC"
[open]
fallback = "05:30"
dark_fallback = "09:00"
[close]
fallback = "22:30"
dark_fallback = "15:00"
"""
LATITUDES = (0, 35, 52, 60, 69, 85)


def skylines() -> dict[str, Skyline]:
    """Return skylines by what they are like."""
    random = np.random.default_rng(20)
    degrees, tenths = np.arange(0.0, 360.0), np.arange(0.0, 360.0, 0.1)
    valley = 12 + 8 * np.sin(np.radians(2 * degrees)) + random.normal(0, 3, 360)
    return {
        "10° all round": make_skyline([0], [10]),
        "a rough valley, a corner a degree": make_skyline(degrees, np.clip(valley, 0, None)),
        "a comb, ten corners a degree": make_skyline(
            tenths, np.clip(random.normal(12, 3, 3600), 0, None)
        ),
    }


def median_s(work: Callable[[], object]) -> float:
    """Return how long a piece of work takes in the middle of some runs."""
    work()
    times = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def main() -> int:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    missed = 0
    print(f"\na year of direct sun, beside its plan (medians of {REPEATS}; goal {GOAL_S} s)")
    for latitude in LATITUDES:
        site = read_site(SITE.format(latitude), "site.toml")
        year = dt.date(2027, 1, 1), dt.date(2027, 12, 31)
        plan_s = median_s(partial(make_plan, site, *year))
        due = make_due(make_plan(site, *year))
        for name, skyline in skylines().items():
            found = make_sunlight(due, skyline)
            took = median_s(partial(make_sunlight, due, skyline))
            is_met = took <= GOAL_S or name.startswith("a comb")
            missed += not is_met
            verdict = "no goal" if name.startswith("a comb") else "met" if is_met else "NOT met"
            print(
                f"  {latitude:2}° {name:34} {took:.3f} s, {took / plan_s:4.1f} plans, "
                f"{len(found.rows):5} stretches, {int(found.sunless.sum()):3} days without "
                f"({verdict})"
            )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
