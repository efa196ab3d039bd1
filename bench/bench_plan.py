"""How long a plan takes as a whole process, beside an interpreter that only imports.

Run by ``make bench``. Both are started in turn, many times, and compared by their medians and by
their quickest runs, so that what else the machine does weighs on both alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "schedules/alder-row.toml"
REPEATS = 25
GOAL = 1.4
IMPORTS = "import numpy, erfa, typer, pytz, astral.sun\nfrom pydantic import BaseModel\n"
# Times the stretches of one plan from inside, after the peer's imports.
INSIDE = f"""\
import gc, os, time
gc.disable()
os.environ["PYDANTIC_DISABLE_PLUGINS"] = "__all__"
os.environ["PYTZ_SKIPEXISTSCHECK"] = "1"
marks = [time.perf_counter()]
{IMPORTS}
marks.append(time.perf_counter())
import datetime as dt
import daylatch.cli, daylatch.commands.plan.plan, daylatch.plan.text
from daylatch.door.works.due import make_due
from daylatch.plan.plan import make_plan
from daylatch.site.reading import load_site
from daylatch.files.occasion import Occasion
marks.append(time.perf_counter())
site = load_site({str(DEMO)!r})
marks.append(time.perf_counter())
plan = make_plan(site, dt.date(2027, 1, 1), dt.date(2027, 12, 31))
marks.append(time.perf_counter())
daylatch.plan.text.render(make_due(plan), Occasion(None))
marks.append(time.perf_counter())
print(*(later - earlier for earlier, later in zip(marks, marks[1:])))
"""
STRETCHES = ("the peer's imports", "other imports", "site file", "plan", "text")


def environment() -> dict[str, str]:
    """Return this environment with byte code allowed: an installed program has its own."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}


def seconds(arguments: list[str]) -> float:
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment()
    )
    return time.perf_counter() - begun


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    peer = ["-c", IMPORTS]
    ours = ["-m", "daylatch", "plan", str(DEMO), "--year", "2027"]
    for arguments in (peer, ours):
        seconds(arguments)
    times = [(seconds(peer), seconds(ours)) for _ in range(REPEATS)]
    print(f"\ndaylatch plan as a process, against only importing ({REPEATS} runs of each)")
    for name, pick in (("median", statistics.median), ("quickest", min)):
        theirs, mine = (pick(column) for column in zip(*times, strict=True))
        ratio = mine / theirs
        met = "met" if ratio <= GOAL else "NOT met"
        print(f"  {name:9} {mine:.3f} s / {theirs:.3f} s = {ratio:.2f}  (goal {GOAL}: {met})")
    runs = [
        [float(value) for value in output.split()]
        for output in (
            subprocess.run(
                [sys.executable, "-c", INSIDE],
                check=True,
                capture_output=True,
                text=True,
                env=environment(),
            ).stdout
            for _ in range(7)
        )
    ]
    print("  inside one run, median:")
    for name, column in zip(STRETCHES, zip(*runs, strict=True), strict=True):
        print(f"    {name:20} {statistics.median(column) * 1000:6.1f} ms")


if __name__ == "__main__":
    main()
