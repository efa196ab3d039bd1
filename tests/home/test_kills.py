"""Fifty kills at random moments of simulated evenings; `make torture` does a thousand."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent.parent


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_no_kill_loses_an_alarm_or_raises_a_false_one():
    path = os.pathsep.join([str(TESTS), str(TESTS.parent / "src")])
    done = subprocess.run(
        [sys.executable, "-m", "torture.kills_of_watch", "--count", "50", "--seed", "2"],
        env=os.environ | {"PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    found = re.match(r"50 kills .*, 0 alarms lost, 0 false, (\d+) messages doubled", done.stdout)
    assert found, done.stdout
    assert int(found[1]) <= 50
