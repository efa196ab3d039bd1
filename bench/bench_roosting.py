"""How good the light is that is learned of a flock, and whether its promises are kept.

Run by ``make bench``, for a quarter of an hour; ``--seeds 100`` for a short look. Logs are
simulated by `evening_logs`, 2,000 for each line (seeds 0 to 1999); each figure stands with its
Monte-Carlo error. A second truth stands beside, by which nothing was chosen. What a log costs to
learn from stands beside a plan of its season, in the same run.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import sys
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from evening_logs import PLAIN, SECOND, Flock, Manner

from daylatch.clock import get_zone
from daylatch.diary.roosting.half import Learned, learn
from daylatch.diary.roosting.instants import (
    light_instants,
    minutes_past,
    progress_deg,
    usual_minutes_a_degree,
)
from daylatch.diary.roosting.lag import HALF_YEAR_DAYS
from daylatch.diary.roosting.looks import Half, Looks
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site

if TYPE_CHECKING:
    from evening_logs import Evenings
    from numpy.typing import NDArray

    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

SEEDS = 2000
FIRST = "2026-09-01"
TRUTHS = 300
SITE = """
id = "7f6b1c0e-6a52-4b0f-8b52-6f1f2c9d0e11"
name = "Simulated"
[place]
latitude = {}
longitude = 0
zone = "UTC"
"""
REPEATS = 9


@dataclass(frozen=True)
class Checks:
    """Looks that find all in or not, one an evening, so many minutes about the usual moment."""

    about_min: float


@dataclass(frozen=True)
class Cell:
    """Logs of one kind; the goal is for 95 % of runs [min]."""

    name: str
    latitude_deg: float
    evenings: int
    manner: Manner = PLAIN
    checks: Checks | None = None
    goal_min: float | None = None
    shares: tuple[float, ...] = ()
    is_printed_only: bool = False


STRAYING = Manner(strays=0.12)
HOUR_OFF = Manner(hour_off=0.1)
CELLS = (
    *(
        Cell("moments", 52, evenings, goal_min=goal, shares=shares)
        for evenings, goal, shares in (
            (7, None, ()),
            (14, 4.0, (0.8,)),
            (29, None, (0.8, 0.9)),
            (30, None, (0.8, 0.9)),
            (59, None, (0.8, 0.9, 0.95)),
            (60, 2.0, (0.8, 0.9, 0.95)),
            (90, None, (0.8, 0.9, 0.95)),
            (299, None, (0.8, 0.9, 0.95, 0.99)),
        )
    ),
    Cell("moments, 10 % an hour off", 52, 14, HOUR_OFF, shares=(0.8,)),
    Cell("moments, 10 % an hour off", 52, 60, HOUR_OFF, goal_min=2.5, shares=(0.8, 0.9, 0.95)),
    *(
        Cell("moments", latitude, evenings, shares=shares)
        for latitude in (35, 60)
        for evenings, shares in ((14, (0.8,)), (30, (0.9,)), (60, (0.95,)))
    ),
    Cell("yes or no, +-15 min", 52, 60, checks=Checks(15), goal_min=3.4),
    Cell("yes or no, +-15 min", 52, 120, checks=Checks(15)),
    Cell("yes or no, +-30 min", 52, 60, checks=Checks(30)),
    Cell("12 % of evenings stray", 52, 30, STRAYING, shares=(0.9,), is_printed_only=True),
    Cell("12 % of evenings stray", 52, 60, STRAYING, shares=(0.9, 0.95), is_printed_only=True),
    *(
        Cell("second truth", 52, evenings, SECOND, shares=shares)
        for evenings, shares in ((14, (0.8,)), (30, (0.8, 0.9)), (60, (0.8, 0.9, 0.95)))
    ),
)


@dataclass
class Found:
    """What came of the logs of one cell."""

    errors: list[float] = field(default_factory=list)
    within_said: list[bool] = field(default_factory=list)
    kept: dict[float, list[bool]] = field(default_factory=dict)
    cost: dict[float, list[float]] = field(default_factory=dict)
    by_shape: dict[float, list[bool]] = field(default_factory=dict)
    not_told: int = 0


def site_at(latitude_deg: float) -> Site:
    return read_site(SITE.format(latitude_deg), "simulated")


def looks_of(
    log: Evenings, checks: Checks | None, usual: Floats, random: np.random.Generator
) -> Looks:
    """Return a log as looks: its moments, or whether all were in when somebody looked."""
    never = np.full(len(log.solar_days), np.datetime64("NaT", "s"))
    if checks is None:
        return Looks(
            Half.EVENING,
            log.solar_days,
            log.solar_days,
            log.logged_utc,
            never,
            never,
            np.zeros(len(never), np.bool_),
        )
    at = np.round(usual + random.uniform(-checks.about_min, checks.about_min, len(usual)))
    moment = (at * 60).astype(np.int64).astype("datetime64[s]")
    is_in = log.true_min <= at
    return Looks(
        Half.EVENING,
        log.solar_days,
        log.solar_days,
        never,
        np.where(is_in, never, moment),
        np.where(is_in, moment, never),
        np.zeros(len(never), np.bool_),
    )


def run(cell: Cell, first: int, seeds: int) -> Found:
    site, zone = site_at(cell.latitude_deg), get_zone("UTC")
    flock = Flock(cell.latitude_deg, FIRST, cell.evenings, cell.manner)
    truth = [flock.draw(np.random.default_rng(10**6 + seed)) for seed in range(TRUTHS)]
    days = truth[0].solar_days
    moments = np.stack([one.true_min for one in truth])
    utc = (moments * 60).round().astype(np.int64).astype("datetime64[s]")
    true_deg = float(np.median(progress_deg(Half.EVENING, site, utc.ravel())))
    rate = usual_minutes_a_degree(Half.EVENING, site, days, true_deg)
    usual = as_minutes(light_instants(Half.EVENING, site, days, true_deg))
    found, today = Found(), dt.date(2026, 11, 27)
    for seed in range(first, first + seeds):
        random = np.random.default_rng(seed)
        log = flock.draw(random, cell.evenings)
        rows = np.searchsorted(days, log.solar_days)
        looks = looks_of(log, cell.checks, usual[rows], random)
        learned = learn(looks, site, zone, None, today)
        if not isinstance(learned, Learned):
            found.not_told += 1
            continue
        found.errors.append((learned.light_deg - true_deg) * rate)
        found.within_said.append(abs(learned.light_deg - true_deg) <= learned.error_deg)
        light = as_minutes(light_instants(Half.EVENING, site, days, learned.light_deg))
        for share in cell.shares:
            claim = learned.claim_of(share)
            assert claim is not None, (cell, share)
            found.kept.setdefault(share, []).append(
                bool((moments <= light + claim.value).mean() >= share)
            )
            found.cost.setdefault(share, []).append(claim.value)
            found.by_shape.setdefault(share, []).append(claim.by_shape)
    return found


def other_season(latitude_deg: float, evenings: int, first: int, seeds: int) -> None:
    """Print how far off an autumn's light is on the worst day of the half-year after it."""
    site, zone, today = site_at(latitude_deg), get_zone("UTC"), dt.date(2026, 11, 20)
    flock = Flock(latitude_deg, FIRST, evenings)
    coming = Flock(latitude_deg, str(today), HALF_YEAR_DAYS)
    days = coming.solar_days[:HALF_YEAR_DAYS]
    drawn = [coming.draw(np.random.default_rng(10**6 + seed)) for seed in range(TRUTHS)]
    usual = np.median([one.true_min[:HALF_YEAR_DAYS] for one in drawn], axis=0)
    worst, told, is_within = [], [], []
    for seed in range(first, first + seeds):
        log = flock.draw(np.random.default_rng(seed), evenings)
        looks = looks_of(log, None, log.true_min, np.random.default_rng(seed))
        learned = learn(looks, site, zone, None, today)
        assert isinstance(learned, Learned)
        assert learned.other_season is not None
        off = usual - as_minutes(light_instants(Half.EVENING, site, days, learned.light_deg))
        season = learned.other_season
        low, high = -season.earlier_min, season.later_min
        worst.append(float(np.abs(off).max()))
        told.append(max(-low, high))
        is_within.append(bool((off >= low).all() and (off <= high).all()))
    at_90 = np.quantile(worst, 0.9)
    print(
        f"{evenings} autumn evenings at {latitude_deg:g} N: off by {np.median(worst):.1f} min on "
        f"the worst day of the next half-year (90 % of runs within {at_90:.1f}), up to "
        f"{np.median(told):.1f} said; within what is said in {100 * np.mean(is_within):.0f} %",
        flush=True,
    )


def as_minutes(instants: NDArray[np.datetime64]) -> Floats:
    return minutes_past(instants, np.zeros(instants.shape, "datetime64[us]"))


def print_cell(cell: Cell, found: Found) -> bool:
    """Print what came of a cell; return whether its goals are met."""
    errors = np.abs(np.array(found.errors))
    at_95 = float(np.quantile(errors, 0.95))
    random = np.random.default_rng(0)
    again = [np.quantile(random.choice(errors, len(errors)), 0.95) for _ in range(200)]
    said = np.mean(found.within_said)
    told = f"; no light in {found.not_told} runs" if found.not_told else ""
    ok = cell.goal_min is None or at_95 <= cell.goal_min
    goal = (
        "" if cell.goal_min is None else f" (goal {cell.goal_min:g}: {'met' if ok else 'MISSED'})"
    )
    print(
        f"{cell.name:26} {cell.latitude_deg:3g} N {cell.evenings:4d}  95 % within "
        f"{at_95:4.2f} +-{np.std(again):4.2f} min{goal}; sd {np.std(found.errors):4.2f}; "
        f"within what it says: {100 * said:.1f} %{told}",
        flush=True,
    )
    for share, kept in found.kept.items():
        rate = float(np.mean(kept))
        error = (rate * (1 - rate) / len(kept)) ** 0.5
        is_kept = rate + 2 * error >= 0.95
        ok &= is_kept or cell.is_printed_only
        missed = "" if is_kept or cell.is_printed_only else " (MISSED)"
        how = f"{100 * np.mean(found.by_shape[share]):.0f} % by shape"
        print(
            f"{'':31}{100 * share:g} % claim kept in {100 * rate:.1f} +-{100 * error:.1f} % of runs"
            f"{missed}, {np.mean(found.cost[share]):.1f} min past the light ({how})",
            flush=True,
        )
    return ok


def speed() -> None:
    """Print what it takes to learn from a season and from five years, beside a plan of a year."""
    site, zone, today = site_at(52), get_zone("UTC"), dt.date(2026, 11, 27)
    plan = _median(lambda: make_plan(site, dt.date(2027, 1, 1), dt.date(2027, 12, 31)))
    for evenings in (60, 1500):
        first = "2026-09-01" if evenings == 60 else "2021-01-01"
        log = Flock(52, first, evenings).draw(np.random.default_rng(0), evenings)
        looks = looks_of(log, None, log.true_min, np.random.default_rng(0))
        took = _median(lambda looks=looks: learn(looks, site, zone, None, today))
        print(f"learning from {evenings} evenings takes {took / plan:.2f} of a year's plan")


def _median(work: object) -> float:
    taken = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", default="")
    wanted = parser.parse_args()
    speed()
    met = [
        print_cell(cell, run(cell, wanted.first, wanted.seeds))
        for cell in CELLS
        if wanted.only in cell.name
    ]
    for latitude_deg in (35, 52, 60):
        other_season(latitude_deg, 60, wanted.first, min(wanted.seeds, 200))
    if not all(met):
        sys.exit("a goal is missed")


if __name__ == "__main__":
    main()
