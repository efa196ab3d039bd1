"""What is too long for the tests (`make truth`, `make torture`) can still be started."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent
MODULES = re.findall(
    r"/python -m ((?:reference|torture)\.\w+)", (TESTS.parent / "Makefile").read_text()
)


def test_make_runs_every_one():
    there = {f"torture.{path.stem}" for path in (TESTS / "torture").glob("*.py")}
    assert set(MODULES) == there | {"reference.compare_at_large"}


@pytest.mark.parametrize("module", MODULES)
def test_it_starts(module):
    path = os.pathsep.join([str(TESTS), *filter(None, [os.environ.get("PYTHONPATH")])])
    done = subprocess.run(
        [sys.executable, "-m", module, "--help"],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "--seed" in done.stdout
