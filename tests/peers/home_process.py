"""``daylatch home`` as a process of its own, by a clock that tests set."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.diary.store.store import Diary
from peers.at_a_time import Clock
from sites import HOUSE, ID

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.diary.entries import Entry

TESTS = Path(__file__).resolve().parent.parent
TOKEN = "a-token-of-the-tests-0123456789"
SITE = f"""\
{HOUSE}[home]
port = 0
url = "https://hens.example.org"
[watch]
expects = ["head count", "door"]
remind_min = 15
"""


class Home:
    """A house in a folder, and the process that looks after it."""

    def __init__(self, folder: Path, site: str = SITE, tell: dict[str, str] | None = None) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.site = folder / "hens.toml"
        self.site.write_text(site)
        self.clock = Clock(folder / "clock.json")
        self.secrets(tell or {})
        self.process: subprocess.Popen[str] | None = None
        self.said: list[str] = []
        self.url = ""

    def secrets(self, tell: dict[str, str], more: str = "") -> None:
        lines = [f'[door]\ntoken = "{TOKEN}"', "[tell]"]
        lines += [f"{name} = {json.dumps(address)}" for name, address in tell.items()]
        path = self.folder / "hens.secrets"
        path.touch(0o600)
        path.chmod(0o600)
        path.write_text("\n".join(lines) + "\n" + more)

    def command(self, *arguments: str) -> list[str]:
        return [sys.executable, "-m", "peers.at_a_time", str(self.clock.path), *arguments]

    @property
    def environment(self) -> dict[str, str]:
        path = os.pathsep.join([str(TESTS), str(TESTS.parent / "src")])
        return os.environ | {"PYTHONPATH": path, "COLUMNS": "80"}

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run another command in the folder, by the same clock."""
        return subprocess.run(
            self.command(*arguments),
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )

    def start(self) -> None:
        before = self.log.count("watching ")
        self.process = subprocess.Popen(
            self.command("home", "hens.toml"),
            cwd=self.folder,
            env=self.environment,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._reader = threading.Thread(target=self._read, args=(self.process,), daemon=True)
        self._reader.start()
        self.until(lambda: self.log.count("watching ") > before or self.process.poll() is not None)
        self.url = self._address()
        assert self.url, self.log

    def _read(self, process: subprocess.Popen[str]) -> None:
        for line in process.stderr:
            self.said.append(line.rstrip("\n"))

    def _address(self) -> str:
        found = re.findall(r"listening at (\S+)", self.log)
        return found[-1] if found and self.process.poll() is None else ""

    @property
    def log(self) -> str:
        return "\n".join(self.said)

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        self.process.send_signal(how)
        status = self.process.wait(20)
        self._reader.join()
        self.process.stderr.close()
        return status

    def until(self, holds: Callable[[], object], seconds: float = 20) -> None:
        """Wait until something holds."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if holds():
                return
            time.sleep(0.02)
        raise AssertionError(self.log)

    def go_to(self, instant: str) -> None:
        """Put the clock on to an instant without the home taking it for a sleep."""
        for minutes in (11, 0):
            at = dt.datetime.fromisoformat(instant) - dt.timedelta(minutes=minutes)
            self.clock.set(at.isoformat())
            self.until(lambda at=at: self.state()["looked_utc"] >= at.isoformat())

    def ask(
        self,
        path: str,
        content: bytes | None = None,
        headers: dict[str, str] | None = None,
        method: str | None = None,
    ) -> tuple[int, str]:
        """Return status and text of an answer."""
        request = urllib.request.Request(
            self.url + path, data=content, headers=headers or {}, method=method
        )
        try:
            with urllib.request.urlopen(request, timeout=10) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    def report(self, number: int, what: str, **more: object) -> tuple[int, dict[str, object]]:
        """Report as the door does."""
        content = json.dumps({"number": number, "what": what, **more}).encode()
        status, text = self.ask("/report", content, {"Authorization": f"Bearer {TOKEN}"})
        return status, json.loads(text)

    def entries(self) -> list[Entry]:
        """Return what stands in the diary."""
        return [one.entry for one in Diary(self.folder / "hens.diary", ID).entries_if_any()]

    def state(self) -> dict[str, object]:
        return json.loads((self.folder / "hens.watch").read_text())


@contextlib.contextmanager
def running_home(home: Home) -> Iterator[Home]:
    home.start()
    try:
        yield home
    finally:
        if home.process is not None and home.process.poll() is None:
            home.stop(signal.SIGKILL)
