"""How long a plan takes as a whole process, and what is made of it beside the plan itself.

Run by ``make bench``. A process is compared with an interpreter that only imports: both are started
in turn, many times, and compared by their medians and by their quickest runs, so that what else the
machine does weighs on both alike. Rows and forms are compared with making the plan of that year,
in processor time and in the same round.
"""

from __future__ import annotations

import datetime as dt
import gc
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.calendars import plan_calendar
from daylatch.door.works.due import make_due
from daylatch.files.occasion import Occasion
from daylatch.plan import csv, json
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "schedules/alder-row.toml"
REPEATS = 20
GOAL = 1.35
GOAL_OF_A_FORM = 1.0
IMPORTS = "import numpy, erfa, typer, pytz, astral.sun\nfrom pydantic import BaseModel\n"
# Times the stretches of one plan from inside, after the peer's imports.
INSIDE = f"""\
import time
from daylatch.__main__ import lighten
lighten()
marks = [time.perf_counter()]
{IMPORTS}
marks.append(time.perf_counter())
import datetime as dt
import daylatch.cli, daylatch.commands.plan.plan, daylatch.plan.text
from daylatch.door.works.due import make_due
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site
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


def processor_s(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def round_of(year: int) -> dict[str, float]:
    """Return what a year's plan takes, and what is made of it [s of processor time]."""
    site, occasion = load_site(DEMO), Occasion(dt.datetime(2027, 1, 1, tzinfo=dt.UTC))
    dates = dt.date(year, 1, 1), dt.date(year, 12, 31)
    taken = {"plan": processor_s(lambda: make_plan(site, *dates))}
    plan = make_plan(site, *dates)
    # With all that is kept of the first.
    alone = processor_s(lambda: make_plan(site, *dates, with_second_opinion=False))
    taken["alone"] = alone
    taken["days"] = processor_s(lambda: plan.days)
    for name, form in (("CSV", csv), ("JSON", json), ("iCalendar", plan_calendar)):
        fresh = make_due(make_plan(site, *dates, with_second_opinion=False))
        taken[name] = processor_s(lambda form=form, due=fresh: form.render(due, occasion))
    gc.collect()
    return taken


def forms() -> None:
    gc.disable()
    round_of(2000)
    rounds = [round_of(2001 + number) for number in range(REPEATS)]
    taken = {name: statistics.median(one[name] for one in rounds) for name in rounds[0]}
    whole, alone = taken.pop("plan"), taken.pop("alone")
    print(f"\nwhat is made of a year's plan ({REPEATS} years), processor time beside making it")
    print(f"  whole, with its second opinion: {whole * 1000:.1f} ms")
    print(f"  alone, without it, the Sun's curves kept: {alone * 1000:.1f} ms")
    for name, seconds_taken in taken.items():
        words = f"{name:9} {seconds_taken * 1000:6.1f} ms"
        for of, plan_s in (("whole", whole), ("alone", alone)):
            ratio = seconds_taken / plan_s
            met = "met" if ratio <= GOAL_OF_A_FORM else "NOT met"
            goal = f" ({met})" if name != "iCalendar" else ""
            words += f", {ratio:5.2f} of it {of}{goal}"
        print(f"  {words}")


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    process()
    forms()


def process() -> None:
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
