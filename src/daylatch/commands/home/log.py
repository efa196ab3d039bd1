"""What the home says to whoever reads its log: somebody who does not read must hold nothing up."""

from __future__ import annotations

import io
import sys
import threading
from contextlib import contextmanager, suppress
from queue import Full, Queue
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TextIO

_MOST_LINES = 1000
_END_S = 1.0


class _Unblocked(io.TextIOBase):
    """Takes lines at once, and drops what nobody reads."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._lines: Queue[str | None] = Queue(_MOST_LINES)
        self._writer = threading.Thread(target=self._write, name="log", daemon=True)
        self._writer.start()

    def write(self, text: str) -> int:
        with suppress(Full):
            self._lines.put_nowait(text)
        return len(text)

    def end(self) -> None:
        """Wait a moment for what is left."""
        with suppress(Full):
            self._lines.put(None, timeout=_END_S)
            self._writer.join(_END_S)

    def _write(self) -> None:
        while (text := self._lines.get()) is not None:
            with suppress(OSError, ValueError):
                self._out.write(text)
                self._out.flush()


@contextmanager
def unblocked_log() -> Iterator[None]:
    """Let standard error take lines at once, whatever reads it."""
    before = sys.stderr
    log = _Unblocked(before)
    sys.stderr = log
    try:
        yield
    finally:
        sys.stderr = before
        log.end()
