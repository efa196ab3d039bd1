"""Hundreds of exports killed (SIGKILL) at random moments, over files that were there.

Whatever the moment, the file is the whole old one or the whole new one, and the run after it makes
the whole new one. Half of the kills come at any moment of the run, half as soon as anything in the
folder changes, which is when a file is being put in place. Temporary files that kills leave behind
must be gone after the next write.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle, islice
from pathlib import Path
from typing import NamedTuple

SITE = Path(__file__).resolve().parents[2] / "schedules/alder-row.toml"
# The same input gives the same bytes.
ENVIRONMENT = {**os.environ, "SOURCE_DATE_EPOCH": "1798761600"}
EXPORTS = {
    "p.txt": ("plan",),
    "p.csv": ("plan",),
    "p.json": ("plan",),
    "p.ics": ("plan",),
    "p.bin": ("plan", "--to", "table"),
    "feed": ("feed",),
    "y.svg": ("draw",),
    "y.png": ("draw",),
    "c.pdf": ("card",),
    "c.html": ("card",),
}
OLD = ("--from", "2027-01-01", "--until", "2027-03-31")
NEW = ("--from", "2027-02-01", "--until", "2027-05-31")


class Wanted(NamedTuple):
    """What an export writes, and how long it takes."""

    old: dict[str, bytes]
    new: dict[str, bytes]
    seconds: float


def command(name, dates):
    kind, *options = EXPORTS[name]
    return [sys.executable, "-m", "daylatch", kind, "site.toml", *options, *dates, "-o", name]


def export(folder, name, dates):
    """Run an export to its end."""
    subprocess.run(
        command(name, dates), cwd=folder, env=ENVIRONMENT, check=True, capture_output=True
    )


def new_folder(place):
    folder = Path(tempfile.mkdtemp(dir=place))
    shutil.copy(SITE, folder / "site.toml")
    return folder


def contents(folder, name):
    """Return the files of an export, which is one file or a folder of some; not temporary ones."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.relative_to(folder).parts[0] == name and not is_left(path)
    }


def is_left(path):
    """Return whether a file is a temporary one, by its name."""
    return path.name.startswith(".") and path.name.endswith(".part")


def left_over(folder):
    return sum(is_left(path) for path in folder.rglob("*"))


def measure(place, name):
    """Return what an export writes without being killed."""
    folder = new_folder(place)
    export(folder, name, OLD)
    old = contents(folder, name)
    begun = time.monotonic()
    export(folder, name, NEW)
    return Wanted(old, contents(folder, name), time.monotonic() - begun)


def names_in(folder):
    return {path for path in folder.rglob("*") if path.is_dir() or path.is_file()}


def kill_one(place, name, wanted, seed):
    """Kill an export and run it again; return what became of it, and what is wrong."""
    chance = random.Random(seed)
    folder = new_folder(place)
    before = wanted.old if chance.random() < 0.8 else {}
    for path, content in before.items():
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_bytes(content)
    process = subprocess.Popen(
        command(name, NEW),
        cwd=folder,
        env=ENVIRONMENT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    if chance.random() < 0.5:
        time.sleep(chance.uniform(0.0, 1.2 * wanted.seconds))
    else:
        there = names_in(folder)
        while process.poll() is None and names_in(folder) == there:
            time.sleep(0.0002)
        time.sleep(chance.choice((0.0, 0.0, 0.0005, 0.002)))
    process.kill()
    process.wait()
    killed = contents(folder, name)
    parts = left_over(folder)
    found = []
    # A feed is a folder of several files, each of which is whole by itself.
    for path in before.keys() | wanted.new.keys() | killed.keys():
        if killed.get(path) not in (before.get(path), wanted.new.get(path)):
            found.append(f"{seed}: {name}: {path} is neither the old nor the new file")
    export(folder, name, NEW)
    if before and name != "feed" and contents(folder, name) != wanted.new:
        found.append(f"{seed}: {name}: the next run did not write the new file")
    after = left_over(folder)
    if after:
        found.append(f"{seed}: {name}: {after} temporary files are still there")
    shutil.rmtree(folder)
    state = "new" if killed == wanted.new else "old" if killed == before else "some of each"
    return state, parts, after, found


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", help="where to write; a disk tells more than memory")
    options = parser.parse_args()
    print(f"kills of exports: seed {options.seed}", flush=True)
    begun = time.monotonic()
    states, parts, stayed, bad = Counter(), 0, 0, 0
    with tempfile.TemporaryDirectory(dir=options.folder) as place, ThreadPoolExecutor(2) as pool:
        measured = pool.map(lambda name: measure(place, name), EXPORTS)
        wanted = dict(zip(EXPORTS, measured, strict=True))
        names = list(islice(cycle(EXPORTS), options.count))
        seeds = [f"{options.seed}:{number}" for number in range(options.count)]
        for state, left, after, found in pool.map(
            lambda name, seed: kill_one(place, name, wanted[name], seed), names, seeds
        ):
            states[state] += 1
            print(f"  {states.total()} of {options.count}", file=sys.stderr)
            parts += left
            stayed += after
            bad += bool(found)
            for line in found:
                print(f"  {line}", flush=True)
    told = ", ".join(f"{number} {state}" for state, number in sorted(states.items()))
    print(f"  {options.count} kills: {told}; {bad} ended badly")
    print(
        f"  temporary files that they left: {parts}; still there after the next write: {stayed}"
        f" ({time.monotonic() - begun:.0f} s)"
    )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
