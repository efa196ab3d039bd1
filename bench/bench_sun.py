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

from daylatch import ephemeris
from daylatch.sun import sun_crossings

YEAR = 2026
DAYS = np.arange(np.datetime64(f"{YEAR}-01-01"), np.datetime64(f"{YEAR + 1}-01-01"))
DATES = [day.item() for day in DAYS]
SUNRISE_DEG = -0.8333
SITES = 3000
REPEATS = 7
MEGABYTE = 1e6


def median_s(work: Callable[[], object], repeats: int = REPEATS) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


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
    ephemeris._solar_year.cache_clear()
    site_year()


def bulk(limit_deg: float, sites: int = SITES) -> Callable[[], object]:
    generator = np.random.default_rng(1)
    latitude = generator.uniform(-limit_deg, limit_deg, (sites, 1))
    longitude = generator.uniform(-180.0, 180.0, (sites, 1))
    return lambda: sun_crossings(latitude, longitude, DAYS, SUNRISE_DEG)


def traced_peak_bytes(work: Callable[[], object]) -> int:
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    rows: list[tuple[str, float, float]] = []

    site_year()
    astral_s = median_s(lambda: astral_site_year(52.0, 5.0))
    uncached_s = median_s(uncached_site_year)
    cached_s = median_s(site_year, 20 * REPEATS)
    rows.append(("one site-year, nothing cached", 1.0, astral_s / uncached_s))
    rows.append(("one site-year, the year's samples cached", 30.0, astral_s / cached_s))

    events = 2 * DAYS.size
    for limit_deg in (60.0, 90.0):
        generator = np.random.default_rng(2)
        places = [
            (generator.uniform(-limit_deg, limit_deg), generator.uniform(-180.0, 180.0))
            for _ in range(12)
        ]
        per_event = statistics.median(
            median_s(lambda place=place: astral_site_year(*place), 3) / events for place in places
        )
        work = bulk(limit_deg)
        work()
        ours = median_s(work) / (SITES * events)
        rows.append(
            (f"{SITES} sites x {DAYS.size} days, within {limit_deg:g} deg", 200.0, per_event / ours)
        )
        print(
            f"within {limit_deg:g} deg: {ours * 1e9:.0f} ns an event,"
            f" astral {per_event * 1e6:.1f} us"
        )

    print(
        f"one site-year: {uncached_s * 1e3:.2f} ms uncached, {cached_s * 1e3:.3f} ms cached, "
        f"astral {astral_s * 1e3:.1f} ms"
    )
    print(f"\nastral {version('astral')}, numpy {version('numpy')}, pyerfa {version('pyerfa')}")
    print(f"{'times as fast as astral':45} {'goal':>6} {'here':>8}  met")
    for name, goal, ratio in rows:
        print(f"{name:45} {goal:6.0f} {ratio:8.1f}  {'yes' if ratio >= goal else 'no'}")

    print(f"\n{'peak memory of a bulk call':45} {'result':>9} {'beside it':>9}")
    for sites in (SITES // 10, SITES):
        work = bulk(60.0, sites)
        result_bytes = sites * DAYS.size * (3 * 8 + 2)
        beside = traced_peak_bytes(work) - result_bytes
        print(
            f"{f'{sites} sites x {DAYS.size} days':45} {result_bytes / MEGABYTE:6.1f} MB"
            f" {beside / MEGABYTE:6.1f} MB"
        )


if __name__ == "__main__":
    main()
