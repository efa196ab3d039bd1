"""How often the audit of a door's log is right, and what it costs beside a plan.

Run by ``make bench``, for some twenty minutes; ``--seeds 20`` for a short look. Logs are simulated
by `door_logs`, 1000 for each line (seeds 0 to 999); the audit's limits were chosen by other seeds
(``--first 10000``). Each share stands with its standard error. A second truth, with a motor slow in
the cold, entries from memory and stamps to five minutes, stands beside; nothing was chosen by it.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from door_logs import (
    NEVER_SET,
    NO_READINGS,
    SITE,
    Faults,
    Log,
    Manner,
    base_changes,
    make_log,
    second_truth,
)

from daylatch.arrays import DAY
from daylatch.diary.audit.audit import Audit, Cause, Clock, Verdict, audit
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site

if TYPE_CHECKING:
    from collections.abc import Callable

SEEDS = 1000
FIRST = np.datetime64("2026-01-05")
LENGTHS = (14, 30, 60, 180)
NEAR_MIN = 1.0
BESIDE = np.timedelta64(12, "h")
LATE_MIN = 3.0
REPEATS = 9
YEAR_GOAL_S = 0.5
Random = np.random.Generator

PLAIN = Manner()
ROUGH = Manner(jitter_min=1.0, missed=0.05, late=0.05)
CUT = Manner(cut=True)
CLOSINGS = Manner(closings_only=True)
GAP = Manner(gap_days=21)


def sign(random: Random) -> int:
    return int(random.choice([-1, 1]))


def fine(_random: Random, _first: np.datetime64, _days: int) -> Faults:
    return Faults()


def offset(low: float, high: float) -> Callable[..., Faults]:
    return lambda random, _first, _days: Faults(sign(random) * random.uniform(low, high))


def drift(low: float, high: float) -> Callable[..., Faults]:
    return lambda random, _first, _days: Faults(drift_ppm=sign(random) * random.uniform(low, high))


def step(low: float, high: float) -> Callable[..., Faults]:
    def made(random: Random, _first: np.datetime64, days: int) -> Faults:
        return Faults(
            steps=((random.uniform(3, days - 3), sign(random) * random.uniform(low, high)),)
        )

    return made


def summer_time(_random: Random, first: np.datetime64, days: int) -> Faults:
    """Return a clock that misses the changes of its zone."""
    found = [one for one in base_changes() if first <= one.instant_utc < first + days * DAY]
    return Faults(
        steps=tuple(
            (float((one.instant_utc - first.astype("datetime64[s]")) / DAY), -one.minutes)
            for one in found
        )
    )


def two_steps(random: Random, days: int) -> tuple[tuple[float, float], ...]:
    """Return a jump in each half of a log, five days apart at least and three from its ends."""
    halves = (3.0, days / 2 - 2.5), (days / 2 + 2.5, days - 3.0)
    return tuple((random.uniform(*half), sign(random) * random.uniform(5, 60)) for half in halves)


def mixed(random: Random, _first: np.datetime64, days: int) -> Faults:
    return Faults(
        sign(random) * random.uniform(3, 25),
        sign(random) * random.uniform(40, 200),
        two_steps(random, days),
    )


def drift_and_steps(random: Random, _first: np.datetime64, days: int) -> Faults:
    return Faults(0.0, sign(random) * random.uniform(40, 200), two_steps(random, days))


@dataclass(frozen=True)
class Cell:
    """Logs of one kind, and what counts as right of them.

    That is: all of its faults found and nothing else; offset and steps no further off than
    `near_min`, each step between the observations around it or half a day beyond, and put down to
    its cause where one is named.
    """

    name: str
    faults: Callable[..., Faults]
    manner: Manner | Callable[[Random], Manner] = PLAIN
    lengths: tuple[int, ...] = LENGTHS
    cause: Cause | None = None
    holds_change: bool = False
    near_min: float = NEAR_MIN


CELLS = (
    Cell("fine", fine),
    Cell("offset 3-25 min", offset(3, 25)),
    Cell("an hour", offset(60, 60)),
    Cell("summer time missed", summer_time, cause=Cause.SUMMER_TIME_MISSED, holds_change=True),
    Cell("a step of 5-60 min", step(5, 60)),
    Cell("a reset of 70-700 min", step(70, 700), cause=Cause.POWER_CUT),
    Cell("drift 40-200 ppm", drift(40, 200)),
    Cell("mixed", mixed, ROUGH, near_min=2.0),
)
BEYOND = (
    Cell("offset 2 min", offset(2, 2)),
    Cell("drift 25 ppm", drift(25, 25), lengths=(30, 60)),
    Cell("drift 15 ppm", drift(15, 15), lengths=(60, 180)),
    Cell("two steps, drift", drift_and_steps, lengths=(30, 60, 180)),
    Cell("cut: fine", fine, CUT),
    Cell("cut: offset 2 min", offset(2, 2), CUT),
    Cell("cut: step", step(5, 60), CUT, lengths=(14, 60)),
    Cell("cut: drift", drift(40, 200), CUT, lengths=(30, 60)),
    Cell("closings: fine", fine, CLOSINGS),
    Cell("closings: offset", offset(3, 25), CLOSINGS, lengths=(14, 60)),
    Cell("closings: step", step(5, 60), CLOSINGS, lengths=(14, 60)),
    Cell("closings: drift", drift(40, 200), CLOSINGS, lengths=(30, 60)),
    Cell("gap: fine", fine, GAP, lengths=(60, 180)),
    Cell("gap: step", step(5, 60), GAP, lengths=(60, 180)),
    Cell("gap: drift", drift(40, 200), GAP, lengths=(60, 180)),
)
SECOND = tuple(
    Cell(name, faults, second_truth, lengths=(60, 180), near_min=3.0)
    for name, faults in (
        ("fine", fine),
        ("offset 6-25 min", offset(6, 25)),
        ("a step of 10-60 min", step(10, 60)),
        ("drift 40-200 ppm", drift(40, 200)),
    )
)


def case(cell: Cell, days: int, seed: int) -> Log:
    """Return the log of a seed: the same whoever asks."""
    random = np.random.default_rng([seed, days])
    first = FIRST + int(random.integers(0, 700)) * DAY
    while cell.holds_change and not holds_change(first, days):
        first = FIRST + int(random.integers(0, 700)) * DAY
    manner = cell.manner if isinstance(cell.manner, Manner) else cell.manner(random)
    return make_log(random, first, days, cell.faults(random, first, days), manner)


def holds_change(first: np.datetime64, days: int) -> bool:
    """Return whether clocks change in a log, and nowhere within three days of its ends."""
    into = [(one.instant_utc - first.astype("datetime64[s]")) / DAY for one in base_changes()]
    inside = [day for day in into if 0 <= day < days]
    return bool(inside) and all(3 <= day < days - 3 for day in inside)


def steps_right(cell: Cell, log: Log, clock: Clock) -> bool:
    """Return whether all steps were found, where they were and as large, and no other."""
    steps = sorted(log.faults.steps)
    if len(steps) != len(clock.steps):
        return False
    for (day, minutes), found in zip(steps, clock.steps, strict=True):
        at = log.first.astype("datetime64[s]") + np.timedelta64(round(day * 86400), "s")
        if abs(found.minutes - minutes) > cell.near_min:
            return False
        if not found.since - BESIDE <= at <= found.until + BESIDE:
            return False
        if cell.cause is not None and found.cause is not cell.cause:
            return False
    return True


def right(cell: Cell, log: Log, clock: Clock) -> bool:
    """Return whether the audit found what ails the clock, and nothing else."""
    if not steps_right(cell, log, clock):
        return False
    faults = log.faults
    found = (clock.has_offset, clock.has_drift) == (faults.offset_min != 0, faults.drift_ppm != 0)
    near = not faults.offset_min or abs(clock.offset_min - faults.offset_min) <= cell.near_min
    return found and near


@dataclass
class Tally:
    """What came of the logs of a cell."""

    rights: list[bool] = field(default_factory=list)
    steps_rights: list[bool] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    drifts: bool = False
    drift_errors: list[float] = field(default_factory=list)
    within: dict[str, list[bool]] = field(default_factory=dict)
    movements: Counter[str] = field(default_factory=Counter)

    def add(self, cell: Cell, log: Log) -> None:
        begun = time.perf_counter()
        result = audit(log.expected, log.seen, NO_READINGS, NEVER_SET, log.changes)
        self.seconds.append(time.perf_counter() - begun)
        clock = result.clock
        assert clock is not None
        self.rights.append(right(cell, log, clock))
        self.steps_rights.append(steps_right(cell, log, clock))
        self.count_movements(log, result)
        self.drifts = log.faults.drift_ppm != 0
        if len(clock.steps) == len(log.faults.steps):
            self.drift_errors.append(abs(clock.drift_ppm - log.faults.drift_ppm))
            self.cover("drift", clock.drift_ppm - log.faults.drift_ppm, clock.drift_error_ppm)
            if clock.has_drift or not log.faults.drift_ppm:
                error = clock.offset_min - log.faults.offset_min
                self.cover("offset", error, clock.offset_error_min)
                for found, (_, minutes) in zip(clock.steps, sorted(log.faults.steps), strict=True):
                    self.cover("step", found.minutes - minutes, found.error_min)

    def cover(self, name: str, error: float, half_width: float) -> None:
        self.within.setdefault(name, []).append(abs(error) <= half_width)

    def count_movements(self, log: Log, result: Audit) -> None:
        """Count what was said to be missed, or late beyond the clock, and what really was."""
        due = [one for one in result.movements if not np.isnat(one.due_utc)]
        for one, done, late in zip(due, log.done, log.late, strict=True):
            unseen = one.verdict in {Verdict.MISSED, Verdict.NOT_REPORTED}
            beyond = False
            if one.by_clock_min is not None:
                after = (one.seen_utc - one.due_utc) / np.timedelta64(1, "m")
                beyond = after - one.by_clock_min > LATE_MIN
            for name, found, true in (("missed", unseen, not done), ("late", beyond, late)):
                kind = ("found" if found else "lost") if true else ("false" if found else "")
                self.movements[f"{name} {kind}"] += bool(kind)


def share(values: list[bool]) -> str:
    """Return a share with its standard error, in per cent."""
    mean = statistics.fmean(values)
    return f"{100 * mean:5.1f} ± {100 * (mean * (1 - mean) / len(values)) ** 0.5:.2f} %"


def run_cells(cells: tuple[Cell, ...], seeds: range) -> list[Tally]:
    """Run and print the lines of cells; return what came of them."""
    tallies = []
    for cell in cells:
        for days in cell.lengths:
            tally = Tally()
            for seed in seeds:
                tally.add(cell, case(cell, days, seed))
            tallies.append(tally)
            line = f"  {cell.name:22} {days:4} days  right {share(tally.rights)}"
            if cell.faults in {mixed, drift_and_steps}:
                line += f"  its steps {share(tally.steps_rights)}"
            if tally.drifts:
                line += f"  drift off by {np.percentile(tally.drift_errors, 95):5.1f} ppm (p95)"
            milliseconds = 1000 * statistics.median(tally.seconds)
            print(f"{line}  {milliseconds:.0f} ms", flush=True)
    return tallies


def tell_movements(title: str, tallies: list[Tally]) -> None:
    total: Counter[str] = sum((tally.movements for tally in tallies), Counter())
    for name in ("missed", "late"):
        counts = ", ".join(
            f"{total[f'{name} {kind}']} {kind}" for kind in ("found", "false", "lost")
        )
        print(f"  {title:8} {name:7} {counts}")


def tell_coverage(title: str, tallies: list[Tally]) -> None:
    for name in ("offset", "drift", "step"):
        values = [one for tally in tallies for one in tally.within.get(name, [])]
        if values:
            print(f"  {title:10} {name:7} within its 95 % interval {share(values)}")


def tell_speed() -> None:
    """Print what a year's log costs, beside the plan of that year."""
    cell = Cell("mixed", mixed, ROUGH)
    log = case(cell, 365, 0)
    site = read_site(SITE, "simulated.toml")
    ours, theirs = [], []
    # Each year once: what the plan's second opinion said of one is remembered.
    for year in range(2029, 2029 + REPEATS):
        begun = time.perf_counter()
        make_plan(site, dt.date(year, 1, 1), dt.date(year, 12, 31))
        planned = time.perf_counter()
        audit(log.expected, log.seen, NO_READINGS, NEVER_SET, log.changes)
        ours.append(time.perf_counter() - planned)
        theirs.append(planned - begun)
    seconds, plan = statistics.median(ours), statistics.median(theirs)
    met = "met" if seconds <= YEAR_GOAL_S else "NOT met"
    print(
        f"  a year's log, mixed faults, {len(log.expected)} movements: {seconds:.3f} s, "
        f"{seconds / plan:.1f} times the plan of that year ({plan:.3f} s)  "
        f"(goal {YEAR_GOAL_S} s: {met})"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS, help="logs for each line")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.seeds)
    print(
        f"\naudit of a door's log: {len(seeds)} simulated logs a line, shares ± one standard error"
    )
    print(f"  numpy {np.__version__}, Python {sys.version.split()[0]}")
    tell_speed()
    plain = run_cells(CELLS, seeds)
    for title, wanted in (("plain", PLAIN), ("mixed", ROUGH)):
        of = [tally for cell, tally in by_cell(CELLS, plain) if cell.manner is wanted]
        tell_movements(title, of)
    print("beyond: small faults, cut stamps, closings only, a gap of three weeks")
    beyond = run_cells(BEYOND, seeds)
    rounded = [tally for cell, tally in by_cell(BEYOND, beyond) if cell.manner is not CUT]
    cut = [tally for cell, tally in by_cell(BEYOND, beyond) if cell.manner is CUT]
    tell_coverage("rounded", plain + rounded)
    tell_coverage("cut", cut)
    print("a second truth: a motor slow in the cold, entries from memory, stamps to five minutes")
    tell_coverage("second", run_cells(SECOND, seeds))


def by_cell(cells: tuple[Cell, ...], tallies: list[Tally]) -> list[tuple[Cell, Tally]]:
    return list(zip([cell for cell in cells for _ in cell.lengths], tallies, strict=True))


if __name__ == "__main__":
    main()
