"""Plans of many houses: in blocks beside single ones, and from a table into a dataset.

``python bench/bench_many.py`` measures blocks; with ``--sites 1000000`` also a whole run with two
workers, its memory with those of its processes, and how the work scales, beside two plain
processes. Times are processor time where one process works, so that what else the machine does
weighs little; those of whole runs are by the clock, and mean something on an idle machine only.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[threads] = "1"  # before NumPy is loaded

import statistics
import subprocess
import sys
import tempfile
import threading
import time
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import psutil

from daylatch.clock import zone_at
from daylatch.many.houses import HouseMaker, HouseRow
from daylatch.plan.block import make_plans
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from daylatch.site.tables import Site

YEAR = dt.date(2027, 1, 1), dt.date(2027, 12, 31)
SINGLES = 40
REPEATS = 7
GOAL_ONE_ZONE, GOAL_WORLD = 12.0, 8.0
GOAL_RUN_S, GOAL_RUN_BYTES = 8 * 60, 2**30
RUN_SITES = 1_000_000
LOOK_S = 0.2


def places(count: int, seed: int, *, world: bool) -> list[tuple[float, float]]:
    """Return places: all over the planet, or in the zone of Berlin."""
    generator = np.random.default_rng(seed)
    if world:
        latitudes = np.degrees(np.arcsin(generator.uniform(-1, 1, count)))
        longitudes = generator.uniform(-180, 180, count)
    else:
        latitudes, longitudes = generator.uniform(48, 54, count), generator.uniform(8, 14, count)
    return list(zip(latitudes.round(5).tolist(), longitudes.round(5).tolist(), strict=True))


def sites(count: int, *, world: bool) -> list[Site]:
    zones = [
        zone_at(*place) if world else "Europe/Berlin" for place in places(count, 1, world=world)
    ]
    rows = [
        HouseRow(f"h{number}", *place, zone or "UTC", ())
        for number, (place, zone) in enumerate(
            zip(places(count, 1, world=world), zones, strict=True)
        )
    ]
    return [site for _, site in HouseMaker({}, (), YEAR[0]).sites(rows)[0]]


def singly_s(some: list[Site]) -> float:
    """Return how long a single plan takes, second opinion apart [s]."""
    begun = time.process_time()
    for site in some:
        make_plan(site, *YEAR, with_second_opinion=False)
    return (time.process_time() - begun) / len(some)


def in_blocks_s(some: list[Site]) -> float:
    begun = time.process_time()
    count = sum(len(block.sites) + len(block.refused) for block in make_plans(some, *YEAR))
    assert count == len(some)
    return (time.process_time() - begun) / len(some)


def plannable(some: list[Site]) -> list[Site]:
    """Return sites without those that no plan can be made for, as near a pole of another zone."""
    return [site for block in make_plans(some, *YEAR) for site in block.sites]


def blocks() -> None:
    print(f"numpy {version('numpy')}, pyerfa {version('pyerfa')}; medians of {REPEATS} in turn")
    print(
        f"{'a year of plans, second opinion apart':44} {'singly':>9} {'in blocks':>9} {'ratio':>6}"
    )
    for name, world, count, goal in (
        ("in one zone", False, 2048, GOAL_ONE_ZONE),
        ("worldwide", True, 8192, GOAL_WORLD),
    ):
        some = plannable(sites(count, world=world))
        spread = some[:: max(len(some) // SINGLES, 1)]
        pairs = [(singly_s(spread), in_blocks_s(some)) for _ in range(REPEATS)]
        ratio = statistics.median(single / block for single, block in pairs)
        single, block = (statistics.median(column) for column in zip(*pairs, strict=True))
        print(
            f"{f'{count} houses {name}':44} {single * 1e3:6.2f} ms {block * 1e3:6.2f} ms"
            f" {ratio:6.1f}  (goal {goal:g}: {'met' if ratio >= goal else 'NOT met'})"
        )


def write_table(file: Path, count: int) -> None:
    rows = (
        f"house {number},{latitude},{longitude}\n"
        for number, (latitude, longitude) in enumerate(places(count, 2, world=True))
    )
    with file.open("w") as out:
        out.write("id,latitude,longitude\n")
        out.writelines(rows)


def tree_bytes(process: psutil.Process) -> int:
    """Return what a process and its children hold of memory that is not shared."""
    total = 0
    for one in [process, *process.children(recursive=True)]:
        try:
            total += one.memory_full_info().uss
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue
    return total


def whole_run(table: Path, folder: Path, workers: int) -> tuple[float, int]:
    """Return how long a run takes [s], and the most memory of all of its processes."""
    command = [sys.executable, "-m", "daylatch", "many", str(table), "--year", "2027"]
    begun = time.perf_counter()
    process = subprocess.Popen(
        [*command, "-o", str(folder), "--workers", str(workers)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    most = 0
    ended = threading.Event()

    def look() -> None:
        nonlocal most
        tree = psutil.Process(process.pid)
        while not ended.wait(LOOK_S):
            try:
                most = max(most, tree_bytes(tree))
            except psutil.NoSuchProcess:
                return

    looking = threading.Thread(target=look)
    looking.start()
    status = process.wait()
    ended.set()
    looking.join()
    assert status in {0, 13}, status
    return time.perf_counter() - begun, most


CONTROL = """\
import sys, datetime as dt
from pathlib import Path
from daylatch.many.parts import Task, cut, rows_of_part, versions_here
from daylatch.many.roster import read_roster
from daylatch.many.rows import open_table
from daylatch.many.work import plan_part
path, folder, which, of = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
with open_table(path) as table:
    roster, _ = read_roster("table", table)
task = Task(dt.date(2027, 1, 1), dt.date(2027, 12, 31), {}, roster.keys, False, versions_here())
for number, part in enumerate(cut(roster, task)):
    if number % of == which:
        made = plan_part(task, part.name, part.digest, rows_of_part(roster, part))
        (folder / f"{part.name}.parquet").write_bytes(made.times)
"""


def control(table: Path, folder: Path, processes: int) -> float:
    """Return how long plain processes take that share the parts without an engine [s]."""
    folder.mkdir()
    begun = time.perf_counter()
    running = [
        subprocess.Popen(
            [sys.executable, "-c", CONTROL, str(table), str(folder), str(which), str(processes)]
        )
        for which in range(processes)
    ]
    for process in running:
        assert process.wait() == 0
    return time.perf_counter() - begun


def runs(count: int) -> None:
    print(
        f"\ndask {version('dask')}, distributed {version('distributed')}, pyarrow "
        f"{version('pyarrow')}; load {os.getloadavg()[0]:.1f}"
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small = folder / "small.csv"
        write_table(small, min(count, 40_000))
        for workers in (1, 2):
            took, most = whole_run(small, folder / f"out-{workers}", workers)
            plain = control(small, folder / f"plain-{workers}", workers)
            print(
                f"{min(count, 40_000):,} houses, {workers} worker(s): {took:6.1f} s, "
                f"{most / 1e6:5.0f} MB; as {workers} plain process(es) {plain:6.1f} s"
            )
        table = folder / "table.csv"
        write_table(table, count)
        took, most = whole_run(table, folder / "out", 2)
        size = sum(file.stat().st_size for file in (folder / "out/times").iterdir())
        met = took <= GOAL_RUN_S * count / RUN_SITES and most <= GOAL_RUN_BYTES
        print(
            f"{count:,} houses into Parquet with 2 workers: {took:.0f} s, {most / 2**20:.0f} MiB "
            f"in all processes, {size / 1e6:.0f} MB of files, {size / count / 365:.1f} bytes a day "
            f"(goal 8 min a million, 1 GiB: {'met' if met else 'NOT met'})"
        )


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--sites", type=int, default=0)
    asked = options.parse_args()
    blocks()
    if asked.sites:
        runs(asked.sites)


if __name__ == "__main__":
    main()
