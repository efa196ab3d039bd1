"""How late a plain timer gets, beside the figures of a trial, and how long the lists take.

Run by ``make bench``. As in the trial: civil dawn and dusk of one year of 366 days at longitude 0.
"""

from __future__ import annotations

import datetime as dt
import time

from daylatch.door.timer.timer_days import DAYS_OF_A_YEAR
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from daylatch.site.timer import Timer

YEAR = 2028
LATITUDES = (0, 35, 52, 60)
# Settings a year of each side, and the worst lateness at each latitude [min]; None: not tried.
TRIAL_BEST = {12: (5, 21, 40, 62), 24: (3, 11, 21, 32)}
TRIAL_MONTHLY = (14, 41, 69, 96)
TRIAL_WEEKLY = (3, 9, 15, 20)
# How late at most, and how many dates of both sides together, at 52 degrees.
TRIAL_TOGETHER = {10: 55, 15: 38, 20: 29, 30: 20, 45: 12}
TRIAL_NOT_BEFORE = 8
# Two years are listed whenever due times are asked for.
MOST_S = 0.04

SITE = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Bench"
[place]
latitude = {latitude}
longitude = 0
zone = "UTC"
[open]
offset_min = 0
{limit}
[close]
offset_min = 0
"""


def year_of(latitude: int, limit: str = ""):
    """Return the plan of a year, light alone."""
    site = read_site(SITE.format(latitude=latitude, limit=limit), "bench")
    plan = make_plan(site, dt.date(YEAR, 1, 1), dt.date(YEAR, 12, 31))
    assert len(plan) == max(DAYS_OF_A_YEAR)
    return plan


def wanting(**keys: object) -> Timer:
    """Return a timer of whole minutes."""
    # The trial's figures know no guard.
    return Timer.model_validate({"past_guard": True, **keys})


def show(label: str, ours: list[tuple[int, ...]], trial: tuple[int, ...]) -> None:
    """Print a row of ours, opening and closing, and of the trial's."""
    cells = [
        f"{','.join(map(str, one))} / {other}{'' if max(one) <= other else ' *'}"
        for one, other in zip(ours, trial, strict=True)
    ]
    print(f"  {label:30}" + "".join(f"{cell:>14}" for cell in cells))


def main() -> None:
    plans = [year_of(latitude) for latitude in LATITUDES]
    print(f"\nplain timers, worst lateness [min], ours / a trial's, {YEAR}, longitude 0")
    print("  (opening, closing; * where ours is later)")
    print(f"  {'settings a year, each side':30}" + "".join(f"{lat:13d}°" for lat in LATITUDES))
    slowest = 0.0
    for count, trial in TRIAL_BEST.items():
        begun = time.perf_counter()
        found = [make_timer_list(plan, wanting(changes=count, together=False)) for plan in plans]
        slowest = max(slowest, (time.perf_counter() - begun) / len(plans))
        show(f"{count}, on the best dates", [each.worst_min for each in found], trial)
    found = [make_timer_list(plan, wanting(changes=12, on="month starts")) for plan in plans]
    show("12, on the 1st of each month", [each.worst_min for each in found], TRIAL_MONTHLY)
    found = [make_timer_list(plan, wanting(changes=52, on=["monday"])) for plan in plans]
    show("52, weekly (Mondays)", [each.worst_min for each in found], TRIAL_WEEKLY)
    print("  opening and closing on the same dates, 52°: dates, ours / the trial's")
    plan = plans[LATITUDES.index(52)]
    for tolerance, trial in TRIAL_TOGETHER.items():
        begun = time.perf_counter()
        (count,) = make_timer_list(plan, wanting(tolerance_min=tolerance)).counts
        slowest = max(slowest, time.perf_counter() - begun)
        print(f"    at most {tolerance} min late: {count:3d} / {trial:3d}")
    flat = year_of(52, 'not_before = "06:30"')
    opening, closing = make_timer_list(flat, wanting(changes=12, together=False)).worst_min
    print(
        f"  not before 06:30, 52°, 12 settings: opening {opening} min (trial {TRIAL_NOT_BEFORE}), "
        f"closing {closing} min"
    )
    met = "met" if slowest <= MOST_S else "NOT met"
    print(f"  slowest list of a year: {slowest * 1000:.0f} ms (goal {MOST_S * 1000:.0f} ms: {met})")


if __name__ == "__main__":
    main()
