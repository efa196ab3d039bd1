"""How fast `daylatch home` answers doors and people while it watches, and what memory it takes.

Run by ``make bench``. All on one core. The peer is the same web library that answers a fixed text:
what is beyond it, the report or the page costs. While it is measured the watch looks ten times a
second, which at home it does every half minute.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

import numpy as np

from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary
from peers.home_process import SITE, TOKEN, Home, running_home
from peers.mosquitto import free_port
from sites import ID

ROUNDS, REPORTS = 5, 25
PAGES = 60
ENTRIES = 50_000
GOAL_MS, GOAL_PAGE_MS, GOAL_MB = 50, 100, 150
# Without an address for phones nobody but this computer asks, and needs no invitation.
LOCAL = SITE.replace('url = "https://hens.example.org"\n', "")
PEER = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.routing import Route
async def report(request):
    await request.body()
    return JSONResponse({"entry": 1, "new": True})
async def page(request):
    return PlainTextResponse("x" * 14_000)
app = Starlette(routes=[Route("/report", report, methods=["POST"]), Route("/page", page)])
uvicorn.run(app, port=int(sys.argv[1]), http="h11", log_level="error")
"""


def answered(port, content):
    """Return how long an answer took [ms]."""
    with closing(HTTPConnection("127.0.0.1", port, timeout=10)) as connection:
        begun = time.perf_counter()
        connection.request(
            "POST", "/report", content, {"Authorization": f"Bearer {TOKEN}", "Host": "localhost"}
        )
        answer = connection.getresponse()
        answer.read()
        took = 1000 * (time.perf_counter() - begun)
        assert answer.status == 200, answer.status
        return took


def shown(port, path):
    """Return how long a page took [ms]."""
    with closing(HTTPConnection("127.0.0.1", port, timeout=10)) as connection:
        begun = time.perf_counter()
        connection.request("GET", path, headers={"Host": "localhost"})
        answer = connection.getresponse()
        content = answer.read()
        took = 1000 * (time.perf_counter() - begun)
        assert answer.status == 200, content
        return took


def fill(home):
    """Put years of a door's life into the diary."""
    days = ENTRIES // 5
    begin = np.datetime64("2026-11-26T12:00:00") - np.timedelta64(days, "D")
    entries = []
    for day in range(days):
        noon = begin + np.timedelta64(day, "D")
        for what, minutes, by in (
            ("opened", -270, "door"),
            ("shut", 290, "door"),
            ("seen_shut", 291, "door"),
            ("last_in", 280, "keeper"),
            ("all_in", 310, "keeper"),
        ):
            at = noon + np.timedelta64(minutes, "m")
            entries.append(make_entry(at, what, by=by, stamped_by="server"))
    Diary(home.folder / "hens.diary", ID).add(entries, np.datetime64("2026-11-26T12:00:00"))


def memory_mb(process):
    """Return the memory of a process that is its own, and the most it had [MB]."""
    found = Path(f"/proc/{process}/status").read_text()
    return [int(found.partition(f"{key}:")[2].split()[0]) / 1024 for key in ("VmRSS", "VmHWM")]


def main():
    core = {min(os.sched_getaffinity(0))}
    os.sched_setaffinity(0, core)
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder), LOCAL, {"phone": "json://127.0.0.1:9/"})
        home.clock.set("2026-11-26T12:00:00")
        port = free_port()
        peer = subprocess.Popen([sys.executable, "-c", PEER, str(port)])
        try:
            with running_home(home):
                measure(home, port)
                measure_pages(home, port, "a diary of a few entries")
                fill(home)
                measure_pages(home, port, f"a diary of {ENTRIES:,} entries")
                now_mb, most_mb = memory_mb(home.process.pid)
                print(f"home: {now_mb:.0f} MB of memory, {most_mb:.0f} MB at most (aim {GOAL_MB})")
        finally:
            peer.kill()
            peer.wait()


def measure(home, peer_port):
    port = urlsplit(home.url).port
    time.sleep(2)
    ours, theirs, number = [], [], 0
    for round_ in range(ROUNDS):
        # A door may report sixty times a minute, by the computer's own clock.
        for _ in range(REPORTS if round_ else 1):
            number += 1
            report = {"number": number, "what": "opened" if number % 2 else "shut"}
            ours.append(answered(port, json.dumps(report).encode()))
            theirs.append(answered(peer_port, json.dumps(report).encode()))
        time.sleep(REPORTS)
    ours, theirs = ours[1:], theirs[1:]
    slow = statistics.quantiles(ours, n=20)[-1]
    ratio = statistics.median(ours) / statistics.median(theirs)
    print(
        f"home: {len(ours)} reports answered in {statistics.median(ours):.1f} ms (median; "
        f"95 % within {slow:.1f} ms, the slowest {max(ours):.1f} ms, aim {GOAL_MS}), "
        f"{ratio:.1f} times a fixed text by the same web library"
    )


def measure_pages(home, peer_port, what):
    port = urlsplit(home.url).port
    time.sleep(2)
    pages, fixed = [], []
    for _ in range(PAGES):
        pages.append(shown(port, f"/house/{ID}"))
        fixed.append(shown(peer_port, "/page"))
    slow = statistics.quantiles(pages, n=20)[-1]
    ratio = statistics.median(pages) / statistics.median(fixed)
    print(
        f"home: the page in {statistics.median(pages):.1f} ms (median of {PAGES}; 95 % within "
        f"{slow:.1f} ms, the slowest {max(pages):.1f} ms, goal {GOAL_PAGE_MS}) with {what}, "
        f"{ratio:.1f} times a fixed text of its length"
    )


if __name__ == "__main__":
    main()
