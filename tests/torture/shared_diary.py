"""Two writers and a reader of one diary, for a minute.

Each is a process of its own. None may see an error, no entry may be lost or doubled, and the reader
never sees fewer entries than before.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary

HOUSE = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
NOW = np.datetime64("2027-03-01T18:00:00")
WRITERS = ("one", "two")


def noted(text):
    return make_entry(NOW, "note", note=text)


def write(path, mark, seconds, least, written):
    """Add entries for a while, and at least so many."""
    diary, count, begun = Diary(path, HOUSE), 0, time.monotonic()
    while count < least or time.monotonic() - begun < seconds:
        diary.add([noted(f"{mark} {count}")], NOW)
        count += 1
    written.put((mark, count))


def read(path, done, written):
    diary, seen, reads = Diary(path, HOUSE), 0, 0
    while not done.is_set() or not reads:
        now = len(diary.entries())
        assert now >= seen
        seen, reads = now, reads + 1
    written.put(("reads", reads))


def work_together(path, seconds, least):
    """Let two writers and a reader work; return how often each did something."""
    Diary(path, HOUSE).add([noted("begun")], NOW)
    spawn = multiprocessing.get_context("spawn")
    written, done = spawn.Queue(), spawn.Event()
    writers = [
        spawn.Process(target=write, args=(path, mark, seconds, least, written)) for mark in WRITERS
    ]
    reader = spawn.Process(target=read, args=(path, done, written))
    for worker in (*writers, reader):
        worker.start()
    did = dict(written.get(timeout=seconds + 120) for _ in writers)
    done.set()
    did |= dict([written.get(timeout=120)])
    for worker in (*writers, reader):
        worker.join()
        assert worker.exitcode == 0
    return did


def notes_in(path):
    return [one.entry.note for one in Diary(path, HOUSE).entries()]


def main():
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--count", type=int, default=10, help="the least that each writer adds")
    asked.add_argument("--seed", type=int, default=1, help="nothing here hangs on it")
    asked.add_argument("--seconds", type=float, default=60)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hens.diary"
        did = work_together(path, given.seconds, given.count)
        notes = notes_in(path)
    whole = len(notes) == len(set(notes)) == 1 + sum(did[mark] for mark in WRITERS)
    print(f"{given.seconds:g} s: {did}; {'all' if whole else 'NOT all'} entries are there, once")
    return not whole


if __name__ == "__main__":
    sys.exit(main())
