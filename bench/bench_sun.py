"""Speed of the Sun's crossings as ratios to astral's, measured in one run on one core.

Both compute the sunrise and the sunset of whole years; astral one event a call. Run it with
nothing else to do on the machine: ``python bench/bench_sun.py``.
"""

import datetime as dt
import os

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[threads] = "1"  # before NumPy is loaded

import statistics
import time
import tracemalloc
from collections.abc import Callable
from importlib.metadata import version

import astral.sun
import numpy as np
from astral import Observer

from daylatch.sun import ephemeris
from daylatch.sun.crossings import sun_crossings

YEAR = 2026
DAYS = np.arange(np.datetime64(f"{YEAR}-01-01"), np.datetime64(f"{YEAR + 1}-01-01"))
DATES = [day.item() for day in DAYS]
SUNRISE_DEG = -0.8333
SITES = 3000
ASTRAL_SITES = 12
REPEATS = 7
GOALS_WITHIN_DEG = {60.0: 400.0, 90.0: 200.0}
MILLION_GOAL_S = 75.0
MEGABYTE = 1e6


def timed_s(work: Callable[[], object], calls: int = 1) -> float:
    start = time.perf_counter()
    for _ in range(calls):
        work()
    return (time.perf_counter() - start) / calls


def side_by_side(
    theirs: Callable[[], object], ours: Callable[[], object], calls: int = 1
) -> tuple[float, float, float]:
    """Return medians of both times [s] and of their ratios, taken in turn.

    A machine's speed changes from second to second, so that only neighbours are compared.
    """
    pairs = [(timed_s(theirs), timed_s(ours, calls)) for _ in range(REPEATS)]
    return (
        statistics.median(pair[0] for pair in pairs),
        statistics.median(pair[1] for pair in pairs),
        statistics.median(pair[0] / pair[1] for pair in pairs),
    )


def astral_site_year(latitude_deg: float, longitude_deg: float) -> int:
    """Ask for every event and return how many there were none of."""
    observer = Observer(latitude_deg, longitude_deg)
    missing = 0
    for date in DATES:
        for event in (astral.sun.sunrise, astral.sun.sunset):
            try:
                event(observer, date, tzinfo=dt.UTC)
            except ValueError:
                missing += 1
    return missing


def site_year() -> None:
    sun_crossings(52.0, 5.0, DAYS, SUNRISE_DEG)


def uncached_site_year() -> None:
    for value in vars(ephemeris).values():
        if hasattr(value, "cache_clear"):
            value.cache_clear()
    site_year()


def bulk(limit_deg: float, sites: int = SITES) -> Callable[[], object]:
    generator = np.random.default_rng(1)
    latitude = generator.uniform(-limit_deg, limit_deg, (sites, 1))
    longitude = generator.uniform(-180.0, 180.0, (sites, 1))
    return lambda: sun_crossings(latitude, longitude, DAYS, SUNRISE_DEG)


def million_site_years_s(sites: int) -> float:
    """Return how long a million site-years over the whole planet take, days x sites, in blocks."""
    generator = np.random.default_rng(3)
    blocks = max(5, 2048 // sites)
    latitude = generator.uniform(-90.0, 90.0, (blocks, sites))
    longitude = generator.uniform(-180.0, 180.0, (blocks, sites))

    def work() -> None:
        for place in zip(latitude, longitude, strict=True):
            sun_crossings(*place, DAYS[:, None], SUNRISE_DEG)

    work()
    return statistics.median(timed_s(work) for _ in range(REPEATS)) * 1e6 / (blocks * sites)


def traced_peak_bytes(work: Callable[[], object]) -> int:
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    rows: list[tuple[str, float, float, float, float]] = []
    one_year = 2 * DAYS.size

    def astral_year() -> int:
        return astral_site_year(52.0, 5.0)

    site_year()
    rows.append(("a site-year, nothing kept", 1.0, *side_by_side(astral_year, uncached_site_year)))
    rows.append(
        ("a site-year, the Sun's curves kept", 30.0, *side_by_side(astral_year, site_year, 20))
    )
    for limit_deg, goal in GOALS_WITHIN_DEG.items():
        work = bulk(limit_deg)
        work()
        # Astral's pace depends on the place (it is quick to find that there is no event).
        generator = np.random.default_rng(2)
        latitudes = generator.uniform(-limit_deg, limit_deg, ASTRAL_SITES).tolist()
        longitudes = generator.uniform(-180.0, 180.0, ASTRAL_SITES).tolist()
        places = list(zip(latitudes, longitudes, strict=True))

        def astral_years(places: list[tuple[float, float]] = places) -> None:
            for place in places:
                astral_site_year(*place)

        theirs_s, ours_s, ratio = side_by_side(astral_years, work)
        share = SITES / ASTRAL_SITES
        rows.append(
            (
                f"{SITES} site-years within {limit_deg:g} deg",
                goal,
                theirs_s / ASTRAL_SITES,
                ours_s / SITES,
                ratio * share,
            )
        )

    print(f"astral {version('astral')}, numpy {version('numpy')}, pyerfa {version('pyerfa')}")
    print(f"{'':36} {'astral':>10} {'ours':>10} {'ratio':>7} {'goal':>5}  met")
    for name, goal, theirs_s, ours_s, ratio in rows:
        print(
            f"{name:36} {theirs_s / one_year * 1e9:7.0f} ns {ours_s / one_year * 1e9:7.0f} ns"
            f" {ratio:7.1f} {goal:5.0f}  {'yes' if ratio >= goal else 'no'}"
        )
    print("times are for one event (a sunrise or a sunset)")

    print(f"\n{'a million site-years within 90 deg':36} {'measured':>10} {'goal':>10}  met")
    for sites in (64, 512):
        took_s = million_site_years_s(sites)
        print(
            f"{f'in blocks of {sites} sites':36} {took_s:8.1f} s {MILLION_GOAL_S:8.0f} s"
            f"  {'yes' if took_s <= MILLION_GOAL_S else 'no'}"
        )

    print(f"\n{'peak memory of a bulk call':36} {'result':>10} {'beside it':>10}")
    for sites in (SITES // 10, SITES):
        work = bulk(60.0, sites)
        result_bytes = sites * DAYS.size * (3 * 8 + 2)
        beside = traced_peak_bytes(work) - result_bytes
        print(
            f"{f'{sites} site-years':36} {result_bytes / MEGABYTE:7.1f} MB"
            f" {beside / MEGABYTE:7.1f} MB"
        )


if __name__ == "__main__":
    main()
