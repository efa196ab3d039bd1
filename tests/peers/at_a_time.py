"""Runs a command of the program by another clock than the computer's.

``python -m peers.at_a_time CLOCK COMMAND...``: the file CLOCK holds an instant, the reading of the
monotonic clock at which it was that instant, and how fast time runs. It can be changed at any
moment, by `Clock`, and several processes can run by one.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
import time
from pathlib import Path
from types import SimpleNamespace


class Clock:
    """A clock that tests set."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def set(self, instant: str, rate: float = 1.0) -> None:
        """Put it to an instant (UTC), to run on from there at a rate."""
        part = self.path.with_suffix(f".{os.getpid()}")
        part.write_text(json.dumps([instant, time.monotonic(), rate]))
        part.replace(self.path)

    def now(self) -> dt.datetime:
        """Return what it shows."""
        instant, since, rate = json.loads(self.path.read_text())
        begin = dt.datetime.fromisoformat(instant).replace(tzinfo=dt.UTC)
        gone = dt.timedelta(seconds=(time.monotonic() - since) * rate)
        return (begin + gone).replace(microsecond=0)


def main() -> None:
    from uvicorn import server as dating  # noqa: PLC0415 - only ever loaded by a home

    from daylatch.commands import now  # noqa: PLC0415 - a test that only sets the clock needs none
    from daylatch.commands.home import home  # noqa: PLC0415
    from daylatch.home.server import door_times, serving  # noqa: PLC0415
    from daylatch.home.times import teller  # noqa: PLC0415

    # Nobody waits for a stranger here as long as at home.
    serving.LONGEST_S = float(os.environ.get("LONGEST_S", "3"))
    serving.HEAD_S = float(os.environ.get("HEAD_S", "2"))
    door_times.PATIENCE_S = 1.5
    teller.LOOK_EVERY_S = 0.2
    now._clock = Clock(Path(sys.argv[1])).now
    # The library's own use of the clock: the Date of each answer.
    dating.time = SimpleNamespace(time=lambda: now._clock().timestamp())
    home._LOOK_EVERY_S = float(os.environ.get("LOOK_EVERY_S", "0.1"))
    sys.argv = ["daylatch", *sys.argv[2:]]
    from daylatch.__main__ import main as run  # noqa: PLC0415

    run()


if __name__ == "__main__":
    main()
