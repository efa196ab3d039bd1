"""What nights and pictures cost as processes, beside a plan and beside importing matplotlib.

Run by ``make bench``. The commands of a comparison are started in turn, many times, and compared by
their medians and by their quickest runs, so that what else the machine does weighs on all alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench_plan import DEMO, environment

REPEATS = 15
NIGHTS_GOAL = 1.1
DRAW_GOAL_S = 1.0
YEAR = [str(DEMO), "--year", "2027"]
COMMAND = ["-m", "daylatch"]
# What drawing takes of matplotlib, for each form.
IMPORTS = {
    "svg": "import matplotlib.figure, matplotlib.backends.backend_svg",
    "png": "import matplotlib.figure, matplotlib.backends.backend_agg",
    "pdf": "import matplotlib.figure, matplotlib.backends.backend_pdf",
}
PICTURES = {
    "year": ["--picture", "year"],
    "nights": ["--picture", "nights"],
    "compare": ["--picture", "compare", "--with", "close.offset_min=35"],
}


def seconds(arguments: list[str]) -> float:
    """Return how long a command runs; what it says is shown if it fails."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=environment(),
        check=False,
    )
    took = time.perf_counter() - begun
    if done.returncode:
        raise SystemExit(done.stderr.decode())
    return took


def interleaved(*commands: list[str]) -> list[tuple[float, ...]]:
    """Return the seconds of each command, run after run."""
    for command in commands:
        seconds(command)
    return [tuple(seconds(command) for command in commands) for _ in range(REPEATS)]


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    picks = (("median", statistics.median), ("quickest", min))
    times = interleaved([*COMMAND, "plan", *YEAR], [*COMMAND, "nights", *YEAR])
    print(f"\ndaylatch nights as a process, against daylatch plan ({REPEATS} runs of each)")
    for name, pick in picks:
        plan, nights = (pick(column) for column in zip(*times, strict=True))
        ratio = nights / plan
        met = "met" if ratio <= NIGHTS_GOAL else "NOT met"
        print(
            f"  {name:9} {nights:.3f} s / {plan:.3f} s = {ratio:.2f}  (goal {NIGHTS_GOAL}: {met})"
        )
    print(f"\ndaylatch draw as a process, less importing matplotlib ({REPEATS} runs of each)")
    with tempfile.TemporaryDirectory() as folder:
        for picture, options in PICTURES.items():
            for form, imports in IMPORTS.items():
                if picture != "year" and form != "svg":
                    continue
                file = str(Path(folder) / f"{picture}.{form}")
                draw = [*COMMAND, "draw", *YEAR, *options, "--force", "-o", file]
                times = interleaved(["-c", imports], draw)
                for name, pick in picks:
                    peer, ours = (pick(column) for column in zip(*times, strict=True))
                    more = ours - peer
                    met = "met" if more <= DRAW_GOAL_S else "NOT met"
                    print(
                        f"  {picture:8} {form} {name:9} {ours:.3f} s - {peer:.3f} s = {more:.2f} s"
                        f"  (goal {DRAW_GOAL_S:.1f} s: {met})"
                    )


if __name__ == "__main__":
    main()
