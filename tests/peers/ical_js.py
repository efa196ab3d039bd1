"""A second reader of calendar files, independent of ours and of the library that writes: ical.js.

It runs under node; ``make test`` installs it where npm is there.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from programs import is_here, reason

HERE = Path(__file__).resolve().parent / "node"
NODE = shutil.which("node")


def _lack() -> str:
    """Return why ical.js cannot run; nothing if it can."""
    if NODE is None:
        return reason("node")
    if (HERE / "node_modules" / "ical.js").is_dir():
        return ""
    return "needs ical.js: run `make node`" if is_here("npm") else reason("npm")


needs_ical_js = pytest.mark.skipif(bool(_lack()), reason=_lack())


def read_all(files: dict[str, bytes], folder: Path) -> dict[str, Any]:
    """Return what ical.js understands of each file."""
    paths = {}
    for number, (name, content) in enumerate(files.items()):
        path = folder / f"{number}.ics"
        path.write_bytes(content)
        paths[name] = str(path)
    assert NODE is not None
    done = subprocess.run(
        [NODE, str(HERE / "read_calendars.mjs"), *paths.values()],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    return {name: found[path] for name, path in paths.items()}
