"""Hundreds of calendar syncs killed (SIGKILL) at random moments, against a real server.

The site's settings change before each, so that there is much to send. The run after the kill must
leave exactly the entries that a calendar has which was synced in peace: none doubled, none lost,
none of the old ones.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from itertools import repeat
from pathlib import Path

import icalendar

from peers.radicale_server import PASSWORD, USER, radicale

OFFSETS_MIN = (15, 40)
SITE = """id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Torture (demo)"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
[close]
offset_min = {offset_min}
[sync]
url = "{url}"
days_ahead = {days}
"""
DAYS = 30
AT_ONCE = 2


class Calendar:
    """A calendar on the server, and the site that keeps it."""

    def __init__(self, server, folder, name):
        self.server, self.name = server, name
        self.folder = folder / name
        self.folder.mkdir()
        server.make(name)

    def command(self, offset_min):
        """Return the command, after the settings were changed."""
        url = f"{self.server.url}{USER}/{self.name}/"
        text = SITE.format(offset_min=offset_min, url=url, days=DAYS)
        (self.folder / "site.toml").write_text(text)
        return [sys.executable, "-m", "daylatch", "sync", str(self.folder / "site.toml")]

    def sync(self, offset_min):
        """Run a sync to its end; return how long it took."""
        begun = time.monotonic()
        done = subprocess.run(self.command(offset_min), capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"a sync ended with {done.returncode}: {done.stderr}"
        return time.monotonic() - begun

    def entries(self):
        """Return what stands in it, sorted, each as often as it is there."""
        found = []
        for text in self.server.texts(self.name).values():
            for event in icalendar.Calendar.from_ical(text).walk("VEVENT"):
                found.append(
                    (
                        str(event["UID"]),
                        str(event.decoded("DTSTART")),
                        str(event.decoded("DTEND", "")),
                        str(event["SUMMARY"]),
                        str(event.get("STATUS", "")),
                    )
                )
        return sorted(found)


def kill_some(calendar, calm, seconds, count, seed):
    """Kill syncs of a calendar, one after another; return what became of them."""
    chance = random.Random(seed)
    states, bad = Counter(), []
    calendar.sync(OFFSETS_MIN[0])
    for number in range(1, count + 1):
        offset_min = OFFSETS_MIN[number % 2]
        before = calendar.entries()
        process = subprocess.Popen(
            calendar.command(offset_min), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(chance.uniform(0.0, 1.1 * seconds))
        process.kill()
        process.wait()
        killed = calendar.entries()
        known = "new" if killed == calm[offset_min] else "between"
        states["old" if killed == before else known] += 1
        print(f"  {seed}: {number} of {count}", file=sys.stderr)
        calendar.sync(offset_min)
        after = calendar.entries()
        if after != calm[offset_min]:
            lost = len(set(calm[offset_min]) - set(after))
            more = len(after) - len(set(after))
            bad.append(f"{seed}, kill {number}: {lost} lost, {more} doubled, {len(after)} in all")
            break
    return states, bad


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(f"kills of syncs: seed {options.seed}", flush=True)
    begun = time.monotonic()
    each = -(-options.count // AT_ONCE)
    with tempfile.TemporaryDirectory() as place, radicale(Path(place) / "server") as server:
        os.environ.update(
            DAYLATCH_CALENDAR_USER=USER,
            DAYLATCH_CALENDAR_PASSWORD=PASSWORD,
            DAYLATCH_CALENDAR_URL=server.url,
        )
        calm, seconds = {}, 0.0
        for offset_min in OFFSETS_MIN:
            calendar = Calendar(server, Path(place), f"calm{offset_min}")
            seconds = max(seconds, calendar.sync(offset_min))
            calm[offset_min] = calendar.entries()
        assert len(calm[OFFSETS_MIN[0]]) > DAYS
        assert calm[OFFSETS_MIN[0]] != calm[OFFSETS_MIN[1]]
        calendars = [Calendar(server, Path(place), f"killed{number}") for number in range(AT_ONCE)]
        seeds = [f"{options.seed}:{number}" for number in range(AT_ONCE)]
        with ThreadPoolExecutor(AT_ONCE) as pool:
            done = list(
                pool.map(kill_some, calendars, repeat(calm), repeat(seconds), repeat(each), seeds)
            )
    states = sum((states for states, _ in done), Counter())
    bad = [line for _, lines in done for line in lines]
    for line in bad:
        print(f"  {line}")
    told = ", ".join(f"{number} {state}" for state, number in sorted(states.items()))
    print(
        f"  {states.total()} kills of syncs of {len(calm[OFFSETS_MIN[0]])} entries: left {told};"
        f" {len(bad)} ended badly ({time.monotonic() - begun:.0f} s)"
    )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
