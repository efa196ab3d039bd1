"""A second reader of calendar files, independent of ours and of the library that writes: ical.js.

It runs under node; ``npm ci`` in ``tests/peers/node`` installs it.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).resolve().parent / "node"
NODE = shutil.which("node")
needs_ical_js = pytest.mark.skipif(
    NODE is None or not (HERE / "node_modules" / "ical.js").is_dir(),
    reason="needs node with ical.js (`npm ci` in tests/peers/node), which is not here",
)


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
