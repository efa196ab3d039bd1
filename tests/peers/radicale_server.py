"""A real CalDAV server (Radicale) on this machine, with logins and a storage of its own."""

from __future__ import annotations

import contextlib
import socket
import subprocess
import sys
import time
from typing import TYPE_CHECKING, NamedTuple

import caldav

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

USER, PASSWORD = "keeper", "egg & spoon: 7"
VISITOR = "visitor"


class Running(NamedTuple):
    """A server that runs."""

    url: str
    folder: Path

    def storage(self) -> Path:
        """Return where it keeps what it was sent."""
        return self.folder / "collections" / "collection-root"

    def client(self, user: str = USER) -> caldav.DAVClient:
        """Return somebody else's way to the same calendars."""
        return caldav.DAVClient(
            self.url, username=user, password=PASSWORD, enable_rfc6764=False, auth_type="basic"
        )

    def calendar(self, name: str = "hens") -> caldav.Calendar:
        """Return a calendar as others see it."""
        return caldav.Calendar(self.client(), url=f"{self.url}{USER}/{name}/")

    def make(self, name: str = "hens") -> caldav.Calendar:
        """Make an empty calendar."""
        home = caldav.CalendarSet(self.client(), url=f"{self.url}{USER}/")
        return home.make_calendar(name=name, cal_id=name)

    def texts(self, name: str = "hens") -> dict[str, str]:
        """Return the entries of a calendar as they are stored, by the names of their files."""
        found = (self.storage() / USER / name).glob("*.ics")
        return {path.name: path.read_text() for path in found}

    def put(self, name: str, file: str, text: str) -> None:
        """Store an entry of a calendar, under the name of a file, as somebody else would."""
        url = f"{self.url}{USER}/{name}/{file}"
        answer = self.client().request(url, "PUT", text, {"Content-Type": "text/calendar"})
        assert answer.status in (200, 201, 204), answer.status


RIGHTS = f"""
[root]
user: .+
collection:
permissions: R

[own]
user: {USER}
collection: {USER}(/.*)?
permissions: RWrw

[visitors]
user: {VISITOR}
collection: {USER}(/.*)?
permissions: Rr
"""


@contextlib.contextmanager
def radicale(folder: Path) -> Iterator[Running]:
    """Run a server until the block ends."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "users").write_text(f"{USER}:{PASSWORD}\n{VISITOR}:{PASSWORD}\n")
    (folder / "rights").write_text(RIGHTS)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "radicale", "--config", ""]
    for option, value in {
        "server-hosts": f"127.0.0.1:{port}",
        "auth-type": "htpasswd",
        "auth-htpasswd-filename": folder / "users",
        "auth-htpasswd-encryption": "plain",
        "auth-delay": "0",
        "rights-type": "from_file",
        "rights-file": folder / "rights",
        "storage-filesystem-folder": folder / "collections",
        "logging-level": "error",
    }.items():
        command += [f"--{option}", str(value)]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, stdin=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 20
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                break
            except OSError:
                if process.poll() is not None or time.monotonic() > until:
                    raise AssertionError((folder / "log").read_text()) from None
                time.sleep(0.02)
        yield Running(f"http://127.0.0.1:{port}/", folder)
    finally:
        process.terminate()
        process.wait(10)
