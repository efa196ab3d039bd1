"""What the check of light events on arrays costs beside astral, and what it finds.

Both judge the sunrises and sunsets of whole years, astral by computing them, one event a call. Then
faults are planted among random sites, one a site, and random sites are judged as they are. Run it
with nothing else to do on the machine: ``python bench/bench_check.py``.
"""

import argparse
import os
import sys
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

from bench_sun import DAYS, astral_site_year, side_by_side  # before NumPy: one thread

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import numpy as np

from daylatch.sun.array_opinion import MARGIN_DEG, TOLERANCE_DEG
from planted_faults import GRAZING_DEG, KINDS, Block, find_block, plant, random_block

BLOCK_SITES, BLOCK_DAYS = 64, 370
ASTRAL_SITES = 12
CALLS = 40
PLANT_SITES = 125
SUNRISE_DEG = -0.8333
GOAL = 200.0


class Found(NamedTuple):
    """Of one kind of fault: how many were planted and found, and the same of grazing ones."""

    planted: int
    found: int
    grazing: int
    grazing_found: int


def block_within(limit_deg: float, altitude_deg: float) -> Block:
    generator = np.random.default_rng(1)
    latitude = generator.uniform(-limit_deg, limit_deg, BLOCK_SITES)
    longitude = generator.uniform(-180.0, 180.0, BLOCK_SITES)
    days = (DAYS[0] + np.arange(BLOCK_DAYS))[:, None]
    return find_block(latitude, longitude, days, np.full((1, BLOCK_SITES), altitude_deg))


def speed() -> None:
    print(
        f"blocks of {BLOCK_SITES} sites x {BLOCK_DAYS} days, ns an event (a rising or a setting, "
        "there or not)"
    )
    print(f"{'':36} {'astral':>10} {'ours':>10} {'ratio':>7} {'goal':>5}  met")
    for limit_deg in (60.0, 90.0):
        block = block_within(limit_deg, SUNRISE_DEG)
        generator = np.random.default_rng(2)
        latitudes = generator.uniform(-limit_deg, limit_deg, ASTRAL_SITES).tolist()
        longitudes = generator.uniform(-180.0, 180.0, ASTRAL_SITES).tolist()
        places = list(zip(latitudes, longitudes, strict=True))

        def astral_years(places: list[tuple[float, float]] = places) -> None:
            for place in places:
                astral_site_year(*place)

        block.opinion()
        theirs_s, ours_s, ratio = side_by_side(astral_years, block.opinion, CALLS)
        theirs = ASTRAL_SITES * DAYS.size * 2
        ours = block.times.size
        ratio *= ours / theirs
        print(
            f"{f'sunrise and sunset within {limit_deg:g} deg':36} {theirs_s / theirs * 1e9:7.0f} ns"
            f" {ours_s / ours * 1e9:7.1f} ns {ratio:7.0f} {GOAL:5.0f}"
            f"  {'yes' if ratio >= GOAL else 'no'}"
        )


def power(kind: str, seed: int, plants: int) -> Found:
    generator = np.random.default_rng(seed)
    found = Found(0, 0, 0, 0)
    while found.planted < plants:
        block = random_block(generator, PLANT_SITES)
        planted = plant(generator, block, kind)
        judged = planted.block.opinion().faulty[planted.sites]
        sure = planted.clearance_deg >= GRAZING_DEG
        # The last block's are not all needed.
        sure &= np.cumsum(sure) <= plants - found.planted
        grazing = planted.clearance_deg < GRAZING_DEG
        more = (sure, sure & judged, grazing, grazing & judged)
        found = Found(
            *(old + int(np.count_nonzero(new)) for old, new in zip(found, more, strict=True))
        )
    return found


def false_alarms(seed: int, blocks: int) -> None:
    generator = np.random.default_rng(seed)
    site_days = checked = unsure = alarms = 0
    worst_deg = 0.0
    for _ in range(blocks):
        block = random_block(generator, PLANT_SITES)
        opinion = block.opinion()
        site_days += block.days.size * PLANT_SITES
        checked += opinion.checked
        unsure += opinion.unsure
        alarms += int(np.count_nonzero(opinion.faulty))
        worst_deg = max(worst_deg, opinion.worst_deg)
    print(
        f"\nas they are (seed {seed}): {site_days:,} site-days, {checked:,} events, worst "
        f"{worst_deg:.4f} deg; {alarms} of {blocks * PLANT_SITES:,} sites called faulty; "
        f"{unsure:,} of {2 * site_days:,} sides graze, so that nothing is said of existence"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--plants", type=int, default=1_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    print(f"astral {version('astral')}, numpy {version('numpy')}")
    speed()
    print(
        f"\nplanted one a site, seed {options.seed}; tolerance {TOLERANCE_DEG:g} deg, margin "
        f"{MARGIN_DEG:g} deg; apart: missing events that pass an end of their side by less than "
        f"{GRAZING_DEG:g} deg"
    )
    print(f"{'':32} {'planted':>8} {'found':>8} {'apart':>8} {'found':>8}")
    all_found = True
    for kind in KINDS:
        found = power(kind, options.seed, options.plants)
        all_found &= found.found == found.planted
        print(f"{kind:32} {found.planted:8} {found.found:8} {found.grazing:8}", end="")
        print(f" {found.grazing_found:8}")
    false_alarms(options.seed, max(1, options.plants // 25))
    return 0 if all_found else 1


if __name__ == "__main__":
    sys.exit(main())
