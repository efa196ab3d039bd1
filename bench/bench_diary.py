"""What a large diary costs beside a small one: a week shown, an entry added, a log taken in.

Run by ``make bench``. Both diaries end with the same week.
"""

from __future__ import annotations

import io
import statistics
import sys
import tempfile
import time
from contextlib import redirect_stdout
from pathlib import Path

import numpy as np

from daylatch.__main__ import run
from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary
from daylatch.site.reading.site_file import load_site

REPEATS = 9
ENTRIES = 50_000
GOAL_S = 0.1
LAST = np.datetime64("2026-10-31T18:00:00")
WEEK = ("--from", "2026-10-25", "--until", "2026-10-31")
DEMO = Path(__file__).resolve().parent.parent / "schedules/alder-row.toml"


def entries(count):
    """Return entries of every quarter of an hour up to the last."""
    steps = np.arange(count)[::-1] * np.timedelta64(15, "m")
    return [make_entry(LAST - step, "seen_shut", stamped_by="server") for step in steps]


def house(folder, count):
    """Return the site file of a house whose diary holds so many entries."""
    path = Path(folder) / f"{count}.toml"
    path.write_text(DEMO.read_text())
    diary = Diary(path.with_suffix(".diary"), load_site(path).id)
    begun = time.perf_counter()
    diary.take_in(entries(count), LAST, source="log.csv")
    return path, diary, time.perf_counter() - begun


def shown(path):
    with redirect_stdout(io.StringIO()):
        assert run(["diary", "show", str(path), *WEEK]) == 0


def median(work, repeats=REPEATS):
    took = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    return statistics.median(took)


def main():
    with tempfile.TemporaryDirectory() as folder:
        small, small_diary, _ = house(folder, 7 * 24 * 4)
        large, large_diary, taken_s = house(folder, ENTRIES)
        shown(small)
        shown(large)
        # One after the other, so that what else the machine does meets both.
        pairs = [
            (median(lambda: shown(small), 1), median(lambda: shown(large), 1))
            for _ in range(REPEATS)
        ]
        small_s, large_s = (statistics.median(one) for one in zip(*pairs, strict=True))
        more_s = statistics.median(large - small for small, large in pairs)
        added = [
            median(lambda diary=diary: diary.add([make_entry(LAST, "last_in")], LAST))
            for diary in (small_diary, large_diary)
        ]
    print(
        f"show of a week of {ENTRIES} entries: {large_s:.3f} s, with few {small_s:.3f} s "
        f"(ratio {large_s / small_s:.2f}): {more_s:.3f} s more (goal: {GOAL_S} at most)"
    )
    few_ms, many_ms = (1000 * one for one in added)
    print(
        f"an entry added with {ENTRIES} entries: {many_ms:.1f} ms, with few {few_ms:.1f} ms "
        f"(ratio {many_ms / few_ms:.2f})"
    )
    print(f"a log of {ENTRIES} rows taken in: {taken_s:.1f} s")


if __name__ == "__main__":
    sys.exit(main())
