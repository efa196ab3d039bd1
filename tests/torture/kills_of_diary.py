"""Thousands of processes killed (SIGKILL) while they add to a diary, import, restore and upgrade.

Whatever the moment: what a process had confirmed is there, once; what it had not is there whole or
not at all; the file is sound; and the same import or restore done again adds nothing twice. A kill
ends a process, not the computer: what the disk itself loses in a power cut is not tried here.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

import numpy as np

from daylatch.diary.entries import make_entry
from daylatch.diary.store import opening, schema
from daylatch.diary.store.backup import back_up, bring_back
from daylatch.diary.store.store import Diary

HOUSE = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
BEGIN = np.datetime64("2027-01-01T07:00:00")
LOG_ROWS = 40
KILLS_A_DIARY = 50
LATEST_S = 0.03
# A step as a later version may have it: a column more, and every row looked at.
NEXT_VERSION = (
    "ALTER TABLE act ADD COLUMN host TEXT NOT NULL DEFAULT ''",
    "CREATE TABLE seen (entry INTEGER PRIMARY KEY, what TEXT NOT NULL) STRICT",
    "INSERT INTO seen SELECT number, what FROM entry",
)


def noted(text, minute=0):
    return make_entry(BEGIN + np.timedelta64(minute, "m"), "note", note=text)


def log_of(round_number):
    """Return the rows of a log, two of which say the same."""
    rows = [noted(f"log {round_number} row {row}", row) for row in range(LOG_ROWS)]
    return [*rows, rows[0]]


def adding(diary, tell, kill, _):
    number = 0
    while True:
        text = f"added {kill} {number}"
        diary.add([noted(text)], BEGIN)
        tell(text)
        number += 1


def importing(diary, tell, kill, _):
    diary.take_in(log_of(kill), BEGIN, source="log.csv")
    tell(f"log {kill}")
    while True:
        diary.take_in(log_of(kill), BEGIN, source="log.csv")


def restoring(diary, tell, kill, backup):
    bring_back(backup, Path("backup"), diary.path, HOUSE)
    tell("backup")
    while True:
        bring_back(backup, Path("backup"), diary.path, HOUSE)


def upgrading(diary, tell, kill, _):
    schema.UPGRADES = (*schema.UPGRADES, NEXT_VERSION)
    opening.UPGRADES = schema.UPGRADES
    diary.add([noted(f"upgraded {kill}")], BEGIN)
    tell(f"upgraded {kill}")
    while True:
        time.sleep(1)


def killed(work, diary, kill, backup, seconds):
    """Run a piece of work in a process of its own and kill it; return what it had confirmed."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.close(reading)
            work(diary, lambda text: os.write(writing, f"{text}\n".encode()), kill, backup)
        finally:
            os._exit(1)
    os.close(writing)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reading) as told:
        lines = told.read().splitlines()
    if not os.WIFSIGNALED(status):
        raise AssertionError(f"{work.__name__} {kill} ended by itself, before it was killed")
    return lines


def texts_in(diary):
    """Return how often each note stands in a diary; one killed at its beginning has none."""
    if not diary.path.exists() or not version_of(diary.path):
        return Counter()
    return Counter(one.entry.note for one in diary.entries())


def version_of(path):
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def sound(path):
    with closing(sqlite3.connect(path)) as connection:
        found = connection.execute("PRAGMA integrity_check").fetchone()[0]
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    return found == "ok" and not broken


class Torture:
    def __init__(self, seed, folder):
        self.random = random.Random(seed)
        self.folder = folder
        self.came = Counter()
        self.lost = self.doubled = self.torn = self.unsound = 0

    def run(self, count):
        for kill in range(count):
            if kill % KILLS_A_DIARY == 0:
                self.begin(kill)
            work = self.random.choice([adding, importing, restoring])
            if kill % 5 == 4:
                self.kill_upgrade(kill)
            else:
                self.kill(work, kill)
            if kill % KILLS_A_DIARY == KILLS_A_DIARY - 1 or kill == count - 1:
                self.finish()

    def begin(self, kill):
        self.place = Path(tempfile.mkdtemp(dir=self.folder))
        self.diary = Diary(self.place / "hens.diary", HOUSE)
        self.confirmed = set()
        other = Diary(self.place / "other.diary", HOUSE)
        other.add([noted(f"kept {kill} {row}", row) for row in range(LOG_ROWS)], BEGIN)
        other.add([noted("mended")], BEGIN, instead_of=1)
        other.undo(BEGIN, 2)
        self.backup = back_up(other.path, HOUSE)
        self.kept = texts_in(other)

    def seconds(self):
        return LATEST_S * self.random.random()

    def kill(self, work, kill):
        before = texts_in(self.diary)
        told = killed(work, self.diary, kill, self.backup, self.seconds())
        after = texts_in(self.diary)
        # A repeated import, or restore, makes whole what was not, and doubles nothing.
        if work is importing:
            self.whole_or_not(f"log {kill} ", after, len(log_of(kill)), told)
            self.diary.take_in(log_of(kill), BEGIN, source="log.csv")
        if work is restoring:
            part = sum((after & self.kept).values())
            self.torn += part not in {0, sum((before & self.kept).values()), self.kept.total()}
            self.lost += bool(told) and part != self.kept.total()
            bring_back(self.backup, Path("backup"), self.diary.path, HOUSE)
        if work is adding:
            self.confirmed |= set(told)
            self.lost += sum(not after[text] for text in told)
        self.came[f"{work.__name__}: {'confirmed' if told else 'not confirmed'}"] += 1
        self.doubled += self.too_many(texts_in(self.diary))

    def whole_or_not(self, beginning, texts, rows, told):
        found = sum(count for text, count in texts.items() if text.startswith(beginning))
        self.torn += found not in {0, rows}
        self.lost += bool(told) and found != rows

    @staticmethod
    def too_many(texts):
        """Return how many notes stand there too often; the first row of a log stands twice."""
        allowed = {text: 2 if text.endswith("row 0") else 1 for text in texts}
        return sum(count > allowed[text] for text, count in texts.items())

    def kill_upgrade(self, kill):
        old = Diary(self.place / f"old-{kill}.diary", HOUSE)
        old.add([noted(f"before {row}", row) for row in range(LOG_ROWS)], BEGIN)
        told = killed(upgrading, old, kill, None, self.seconds())
        version = version_of(old.path)
        with closing(sqlite3.connect(old.path)) as connection:
            notes = {note for (note,) in connection.execute("SELECT note FROM entry")}
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
            columns = {row[1] for row in connection.execute("PRAGMA table_info(act)")}
            if "seen" in tables:
                copied = connection.execute("SELECT count(*) FROM seen").fetchone()[0]
                self.torn += copied != LOG_ROWS
        newest = len(schema.UPGRADES) + 1
        self.torn += version not in {newest - 1, newest}
        self.torn += ("seen" in tables) != (version == newest) or ("host" in columns) != (
            version == newest
        )
        self.lost += not {f"before {row}" for row in range(LOG_ROWS)} <= notes
        self.lost += bool(told) and f"upgraded {kill}" not in notes
        self.unsound += not sound(old.path)
        self.came[f"upgrading: version {'new' if version == newest else 'old'}"] += 1

    def finish(self):
        texts = texts_in(self.diary)
        self.lost += sum(not texts[text] for text in self.confirmed)
        self.unsound += not sound(self.diary.path)
        shutil.rmtree(self.place)


def main():
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--count", type=int, default=10_000, help="how many are killed")
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        torture = Torture(given.seed, Path(folder))
        torture.run(given.count)
    for what, count in sorted(torture.came.items()):
        print(f"{what}: {count}")
    print(
        f"seed {given.seed}, {given.count} killed: {torture.lost} confirmed entries lost, "
        f"{torture.doubled} doubled, {torture.torn} halves, {torture.unsound} files unsound"
    )
    return bool(torture.lost or torture.doubled or torture.torn or torture.unsound)


if __name__ == "__main__":
    sys.exit(main())
