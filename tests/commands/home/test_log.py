"""What the home says must hold nothing up, whoever does not read it."""

from __future__ import annotations

import io
import sys
import threading
import time

from daylatch.commands.home.log import unblocked_log
from daylatch.console import say


class Stuck(io.StringIO):
    """A terminal that takes nothing until it is told to."""

    def __init__(self):
        super().__init__()
        self.free = threading.Event()

    def write(self, text):
        self.free.wait(10)
        return super().write(text)


def test_lines_are_taken_at_once_and_written_later(monkeypatch):
    out = Stuck()
    monkeypatch.setattr(sys, "stderr", out)
    begun = time.monotonic()
    with unblocked_log():
        for number in range(3000):
            say(f"line {number}")
        assert time.monotonic() - begun < 1
        out.free.set()
    lines = out.getvalue().splitlines()
    # What did not fit is lost, and what was said first is not.
    assert lines[:3] == ["line 0", "line 1", "line 2"]
    assert 100 < len(lines) < 3000
    assert sys.stderr is out
