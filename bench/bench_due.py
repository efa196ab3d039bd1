"""What due times cost: commands with a timer, a card or a file in use, beside an exact controller.

Run by ``make bench``. All are started in turn, many times, on one core; what is compared is the
processor's time, so that what else the machine does weighs little.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from bench_plan import DEMO, environment

REPEATS = 9
GOAL_S = 0.15
SITES = {
    "exact controller": "",
    "timer": 'works = "timer"',
    "hand": 'works = "hand"',
    "table in use": 'within_min = 3\nin_use = "door.bin"',
    "list in use": 'works = "timer"\nin_use = "list.json"',
}
COMMANDS = {
    "today": ("today", "--at", "2027-06-21T12:00Z"),
    "plan": ("plan", "--year", "2027"),
    "plan over two years": ("plan", "--from", "2026-07-01", "--until", "2027-06-30"),
}


def cpu_seconds(*arguments: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "daylatch", *arguments],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=environment(),
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def make_sites(folder: Path) -> dict[str, str]:
    """Write a site file for each way to work the door; return their paths."""
    text = DEMO.read_text()
    paths = {}
    for number, (name, works) in enumerate(SITES.items()):
        path = folder / f"site{number}.toml"
        path.write_text(text.replace('works = "controller" # to the minute', works))
        paths[name] = str(path)
    year = ("--year", "2027")
    exact, timer = paths["exact controller"], paths["timer"]
    cpu_seconds(
        *("plan", exact, *year, "--to", "table", "--within", "3", "-o", f"{folder}/door.bin")
    )
    cpu_seconds("settings", timer, *year, "-o", f"{folder}/list.json")
    return paths


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    print(f"\ndue times: processor time against an exact controller ({REPEATS} runs of each)")
    with tempfile.TemporaryDirectory() as folder:
        paths = make_sites(Path(folder))
        for command, (verb, *options) in COMMANDS.items():
            runs: dict[str, list[float]] = {name: [] for name in SITES}
            for _ in range(REPEATS):
                for name, path in paths.items():
                    runs[name].append(cpu_seconds(verb, path, *options))
            exact, *others = (statistics.median(times) for times in runs.values())
            for name, seconds in zip(list(SITES)[1:], others, strict=True):
                more = seconds - exact
                met = "met" if more <= GOAL_S else "NOT met"
                print(
                    f"  {command:20} {name:13} {more:+.3f} s, {seconds / exact:.2f} times  "
                    f"(goal {GOAL_S} s more: {met})"
                )


if __name__ == "__main__":
    main()
