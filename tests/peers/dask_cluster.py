"""A real dask scheduler, and workers that are processes of their own."""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

PATIENCE_S = 30.0
_QUIET = {
    # Nothing looks for newer programs, and nothing asks the network.
    "PYTHONWARNINGS": "ignore",
}


class Cluster:
    """A scheduler of a test, with its workers."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.workers: list[subprocess.Popen[str]] = []
        self.scheduler, self.address = self._start(
            ["scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"],
            r"Scheduler at: +(tcp://[0-9.:]+)",
        )

    def add_worker(self, **environment: str) -> subprocess.Popen[str]:
        """Start a worker, without a nanny that would start it again."""
        worker, _ = self._start(
            [
                *("worker", self.address, "--no-nanny", "--nthreads", "1", "--no-dashboard"),
                *("--host", "127.0.0.1", "--local-directory", str(self.folder)),
            ],
            r"Registered to: +(tcp://\S+)",
            environment,
        )
        self.workers.append(worker)
        return worker

    def end(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()

    def _start(
        self, arguments: list[str], ready: str, environment: dict[str, str] | None = None
    ) -> tuple[subprocess.Popen[str], str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "dask", *arguments],
            env={**os.environ, **_QUIET, **(environment or {})},
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        found: list[str] = []
        said: list[str] = []
        is_ready = threading.Event()

        def read() -> None:
            assert process.stderr is not None
            for line in process.stderr:
                said.append(line)
                match = re.search(ready, line)
                if match and not found:
                    found.append(match[1])
                    is_ready.set()
            process.stderr.close()
            is_ready.set()

        threading.Thread(target=read, daemon=True).start()
        is_ready.wait(PATIENCE_S)
        assert found, "".join(said)
        return process, found[0]


@contextlib.contextmanager
def cluster(workers: int = 0) -> Iterator[Cluster]:
    """Give a scheduler with workers, ended with the block."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        made = Cluster(Path(folder))
        try:
            for _ in range(workers):
                made.add_worker()
            yield made
        finally:
            made.end()
