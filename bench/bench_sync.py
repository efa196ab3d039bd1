"""How long a calendar sync takes, and how many requests it sends, beside one PUT after another.

Run by ``make bench``. A real server (Radicale) on this machine, with logins; several hundred
entries. The peer sends the same bytes over one session of the same HTTP library, with the login
from the first request on, and looks at nothing. The sync lists, compares, and guards every request
against edits made elsewhere.
"""

from __future__ import annotations

import contextlib
import io
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

import niquests

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from daylatch.__main__ import run
from peers.radicale_server import PASSWORD, USER, Running, radicale

ROUNDS = 3
DAYS = 120
GOAL_REQUESTS = 20
SITE = """id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Bench (demo)"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
[sync]
url = "{url}"
days_ahead = {days}
"""


class Count:
    """Counts the requests that the HTTP library sends."""

    def __init__(self) -> None:
        self.sent = 0
        send = niquests.Session.send

        def counting(session: niquests.Session, request, **options):
            self.sent += 1
            return send(session, request, **options)

        niquests.Session.send = counting

    def of(self, work) -> tuple[int, float]:
        """Return requests and seconds of a piece of work."""
        before, begun = self.sent, time.perf_counter()
        work()
        return self.sent - before, time.perf_counter() - begun


def sync(server: Running, name: str) -> None:
    path = server.folder / f"{name}.toml"
    path.write_text(SITE.format(url=f"{server.url}{USER}/{name}/", days=DAYS))
    with contextlib.redirect_stdout(io.StringIO()):
        status = run(["sync", str(path)])
    path.unlink()
    assert status == 0, status


def put_all(server: Running, name: str, objects: dict[str, str]) -> None:
    with niquests.Session() as session:
        session.auth = (USER, PASSWORD)
        for file, text in objects.items():
            answer = session.put(
                f"{server.url}{USER}/{name}/{file}",
                text.encode(),
                headers={"Content-Type": "text/calendar; charset=utf-8"},
            )
            assert answer.status_code == 201, answer.status_code


def main() -> int:
    count = Count()
    with tempfile.TemporaryDirectory() as folder, radicale(Path(folder)) as server:
        os.environ.update(
            DAYLATCH_CALENDAR_USER=USER,
            DAYLATCH_CALENDAR_PASSWORD=PASSWORD,
            DAYLATCH_CALENDAR_URL=server.url,
        )
        server.make("warm")
        sync(server, "warm")
        objects = server.texts("warm")
        first, again, plain = [], [], []
        for number in range(ROUNDS):
            for name in (f"sync{number}", f"plain{number}"):
                server.make(name)
            # In turns, so that neither always meets the fuller server.
            for which in ("sync", "plain") if number % 2 else ("plain", "sync"):
                if which == "plain":
                    plain.append(count.of(lambda n=number: put_all(server, f"plain{n}", objects)))
                else:
                    first.append(count.of(lambda n=number: sync(server, f"sync{n}")))
                    again.append(count.of(lambda n=number: sync(server, f"sync{n}")))
    print(f"\ncalendar sync of {len(objects)} entries, beside one PUT after another")
    print("               requests   seconds (median)")
    medians = {}
    for name, measured in (("plain PUTs", plain), ("first sync", first), ("repeat", again)):
        requests = {sent for sent, _ in measured}
        medians[name] = statistics.median(took for _, took in measured)
        print(f"  {name:12} {min(requests):8}  {medians[name]:9.2f}")
    fewer = plain[0][0] / max(sent for sent, _ in again)
    print(
        f"  a repeat sends {fewer:.0f} times fewer requests (goal {GOAL_REQUESTS}: "
        f"{'met' if fewer >= GOAL_REQUESTS else 'NOT met'})"
    )
    ratio = medians["first sync"] / medians["plain PUTs"]
    print(
        f"  a first sync takes {ratio:.2f} times as long (goal 1: "
        f"{'met' if ratio <= 1 else 'NOT met'}), its plan included"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
