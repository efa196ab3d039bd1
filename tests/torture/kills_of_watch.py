"""Kills `daylatch home` and `daylatch watch --once` at random moments of simulated evenings.

In each evening the door shuts, or does not, or opens again, or shuts late; a minute lasts a
fifteenth of a second; the computer may sleep, and those who are told may be out of reach for a
while. Whatever the moments of the kills: every fault is told to both of them, no other evening
raises an alarm, and a message comes twice at most for a kill (between its sending and its noting).
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import random
import signal
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections import Counter
from contextlib import suppress
from pathlib import Path

import numpy as np

from daylatch.__main__ import run
from daylatch.commands import now as now_module
from daylatch.commands.home import home as home_module
from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary
from daylatch.home.watch.state import State, save_state
from peers.at_a_time import Clock
from peers.home_process import TOKEN
from peers.mosquitto import free_port
from peers.receivers import running_post
from sites import HOUSE, ID

SITE = f"""\
{HOUSE}[watch]
expects = ["door"]
[home]
port = PORT
"""
CLOSES = dt.datetime(2026, 11, 26, 16, 29)  # noqa: DTZ001 - UTC, as the clock has it
RATE = 900
BEGINS, KILLS_END, ENDS = -12, 45, 85
FAULTS = ("none", "none", "no report", "late", "open again")
NOT_SHUT, OPEN = "the door is not known to be shut", "the door is open and should be shut"
WANTED = {"no report": NOT_SHUT, "late": NOT_SHUT, "open again": OPEN}
TARGETS = ("phone", "mail")


class Evening:
    """One evening: what happens in it, and by which command it is watched."""

    def __init__(self, draw, folder):
        self.draw = draw
        self.folder = folder
        self.fault = draw.choice(FAULTS)
        self.once = draw.random() < 0.4
        self.sleeps_at = draw.uniform(-5, 12) if draw.random() < 0.3 else None
        self.down = sorted(draw.uniform(10, 60) for _ in range(2)) if draw.random() < 0.4 else None
        self.port = free_port()
        self.clock = Clock(folder / "clock.json")
        self.diary = Diary(folder / "hens.diary", ID)
        self.reports = {
            "none": [(draw.uniform(-2, 10), "shut")],
            "no report": [],
            "late": [(56, "shut")],
            "open again": [(1, "shut"), (draw.uniform(8, 35), "opened")],
        }[self.fault]
        self.kills = 0

    def at(self, minutes):
        return (CLOSES + dt.timedelta(minutes=minutes)).isoformat()

    def minutes(self):
        """Return how many minutes after the closing it is."""
        return (self.clock.now().replace(tzinfo=None) - CLOSES) / dt.timedelta(minutes=1)

    def wait_until(self, minutes):
        while self.minutes() < minutes:
            time.sleep(0.003)

    def prepare(self, addresses):
        (self.folder / "hens.toml").write_text(SITE.replace("PORT", str(self.port)))
        lines = [f"{name} = {json.dumps(address)}" for name, address in addresses.items()]
        secrets = self.folder / "hens.secrets"
        secrets.touch(0o600)
        secrets.write_text("\n".join([f'[door]\ntoken = "{TOKEN}"', "[tell]", *lines]) + "\n")
        # A house that has been watched before: a new one is given its time.
        began = State(began_utc=np.datetime64("2026-11-01T12:00:00"))
        save_state(self.folder / "hens.watch", ID, began)
        self.note(0, "opened", np.datetime64("2026-11-26T07:00:00"))

    def note(self, number, what, at):
        entry = make_entry(at, what, by="door", stamped_by="server")
        self.diary.report(entry, at, number)

    def world(self, began, tell):
        """Be the door, and those who are told, until killed."""
        with running_post() as post:
            tell({name: f"{post.address}{name}" for name in TARGETS})
            began()
            threading.Thread(target=self.door, daemon=True).start()
            written = 0
            with (self.folder / "told").open("a") as out:
                while True:
                    messages = list(zip(post.at, post.got, strict=False))
                    out.writelines(
                        json.dumps([name, title]) + "\n" for name, (title, _) in messages[written:]
                    )
                    written = len(messages)
                    out.flush()
                    post.works = self.down is None or not (
                        self.down[0] <= self.minutes() < self.down[1]
                    )
                    time.sleep(0.01)

    def door(self):
        for number, (minutes, what) in enumerate(self.reports, start=1):
            self.wait_until(minutes)
            if self.once:
                now = np.datetime64(self.clock.now().replace(tzinfo=None), "s")
                self.note(number, what, now)
            else:
                self.report(number, what)

    def report(self, number, what):
        content = json.dumps({"number": number, "what": what}).encode()
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}/report",
            content,
            {"Authorization": f"Bearer {TOKEN}"},
        )
        while True:
            with suppress(OSError), urllib.request.urlopen(request, timeout=2) as answer:
                if answer.status == 200:
                    return
            time.sleep(0.03)

    def command(self):
        """Run the command in a process of its own; return its number."""
        child = os.fork()
        if child:
            return child
        status = 99
        try:
            os.chdir(self.folder)
            log = os.open("log", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
            os.dup2(log, 1)
            os.dup2(log, 2)
            sys.stdout = os.fdopen(1, "w")
            sys.stderr = os.fdopen(2, "w")
            now_module._clock = self.clock.now
            home_module._LOOK_EVERY_S = 0.03
            words = ["watch", "--once"] if self.once else ["home"]
            status = run([*words, "hens.toml"])
        finally:
            os._exit(status if isinstance(status, int) else 98)

    def run(self, most_kills):
        """Live through the evening; return what was told."""
        self.clock.set(self.at(BEGINS), RATE)
        reading, writing = os.pipe()
        world = os.fork()
        if not world:
            os.close(reading)

            def tell(addresses):
                self.prepare(addresses)
                self.clock.set(self.at(BEGINS), RATE)

            try:
                self.world(lambda: os.write(writing, b"x"), tell)
            finally:
                os._exit(1)
        os.close(writing)
        os.read(reading, 1)
        os.close(reading)
        try:
            self.live(most_kills)
        finally:
            time.sleep(0.1)
            os.kill(world, signal.SIGKILL)
            os.waitpid(world, 0)
        return [json.loads(line) for line in (self.folder / "told").read_text().splitlines()]

    def live(self, most_kills):
        while self.minutes() < KILLS_END and self.kills < most_kills:
            if self.sleeps_at is not None and self.minutes() > self.sleeps_at:
                self.clock.set(self.at(self.minutes() + self.draw.uniform(18, 28)), RATE)
                self.sleeps_at = None
            self.kill_one()
        if self.once:
            while self.minutes() < ENDS:
                _, status = os.waitpid(self.command(), 0)
                assert os.waitstatus_to_exitcode(status) in (0, 10, 11), self.log()
                time.sleep(0.03)
            return
        child = self.command()
        self.wait_until(ENDS)
        os.kill(child, signal.SIGTERM)
        _, status = os.waitpid(child, 0)
        assert os.waitstatus_to_exitcode(status) == 0, self.log()

    def kill_one(self):
        child = self.command()
        if self.once:
            time.sleep(self.draw.uniform(0, 0.12))
        else:
            time.sleep(self.draw.uniform(0.02, 0.8) if self.draw.random() < 0.9 else 1.5)
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            # A look that was faster than the kill.
            assert os.waitstatus_to_exitcode(status) in (0, 10, 11), self.log()
            return
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        self.kills += 1

    def log(self):
        return (self.folder / "log").read_text()[-3000:]


def judge(evening, told):
    """Return how many faults were lost, alarms false, and messages doubled in an evening."""
    got = Counter((name, title.removeprefix("Test house: ")) for name, title in told)
    wanted = WANTED.get(evening.fault)
    # One who could not be told at first has heard of it by a reminder, or when it was over.
    lost = sum(
        not any(wanted in title for who, title in got if who == name)
        for name in TARGETS
        if wanted is not None
    )
    false = sum(got[name, one] for name in TARGETS for one in (NOT_SHUT, OPEN) if one != wanted)
    doubled = sum(count - 1 for count in got.values())
    return lost, false, doubled


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    draw = random.Random(options.seed)
    sums, faults = Counter(), Counter()
    with tempfile.TemporaryDirectory() as folder:
        warm_up(draw, Path(folder))
        while sums["kills"] < options.count:
            place = Path(tempfile.mkdtemp(dir=folder))
            evening = Evening(draw, place)
            told = evening.run(options.count - sums["kills"])
            lost, false, doubled = judge(evening, told)
            faults[evening.fault] += 1
            sums.update(
                kills=evening.kills,
                evenings=1,
                messages=len(told),
                lost=lost,
                false=false,
                doubled=doubled,
            )
            if lost or false or doubled > evening.kills:
                print(vars(evening), told, evening.log(), sep="\n", file=sys.stderr)
    print(
        f"{sums['kills']} kills (seed {options.seed}) in {sums['evenings']} evenings "
        f"({', '.join(f'{count} {fault}' for fault, count in sorted(faults.items()))}): "
        f"{sums['messages']} messages, {sums['lost']} alarms lost, {sums['false']} false, "
        f"{sums['doubled']} messages doubled"
    )
    if sums["lost"] or sums["false"]:
        sys.exit(1)


def warm_up(draw, folder):
    """Load what the commands load, so that their processes begin at once."""
    evening = Evening(draw, folder)
    evening.clock.set(evening.at(60))
    evening.prepare({"phone": "json://127.0.0.1:9/"})
    before, here = now_module._clock, Path.cwd()
    now_module._clock = evening.clock.now
    os.chdir(folder)
    with Path(os.devnull).open("w") as nowhere:
        out, err = sys.stdout, sys.stderr
        sys.stdout = sys.stderr = nowhere
        try:
            run(["watch", "--once", "hens.toml"])
        finally:
            sys.stdout, sys.stderr = out, err
    os.chdir(here)
    now_module._clock = before


if __name__ == "__main__":
    main()
