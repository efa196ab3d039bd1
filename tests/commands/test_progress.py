"""What takes its time is shown on a terminal, and nowhere else."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

import pytest

# Patience is cut short, so that the tests need little.
RUN = """
import sys
from daylatch.commands import progress
progress.PATIENCE_S = float(sys.argv[1])
from daylatch.__main__ import run
status = run(sys.argv[2:])
loaded = "rich.progress" in sys.modules
print("rich" if loaded else "bare", file=open("loaded", "w"))
sys.exit(status)
"""
TABLE = ("plan", "--year", "2027", "--to", "table", "-o", "door.bin", "--force")


def run_in_terminal(folder, patience, *arguments):
    """Return the status and what a terminal got on standard error."""
    ours, theirs = pty.openpty()
    run = subprocess.Popen(
        [sys.executable, "-c", RUN, patience, *arguments],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm", "COLUMNS": "80"},
    )
    os.close(theirs)
    got = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:
            break  # the other end is closed
        if not piece:
            break
        got += piece
    os.close(ours)
    return run.wait(), got.decode()


def loaded(folder):
    return (folder / "loaded").read_text().strip()


def test_a_bar_is_shown_and_taken_away(alder_row, tmp_path):
    status, got = run_in_terminal(tmp_path, "0.05", *TABLE)
    assert status == 0
    assert "Working it out" in got
    assert "\N{BOX DRAWINGS HEAVY HORIZONTAL}" in got
    # The cursor is there again, and the line is wiped before the next message.
    assert got.rindex("\x1b[?25h") > got.rindex("\x1b[?25l")
    assert got.rindex("\x1b[2K") < got.rindex("wrote door.bin")
    assert loaded(tmp_path) == "rich"


def test_what_is_quick_shows_nothing_and_loads_nothing(alder_row, tmp_path):
    status, got = run_in_terminal(tmp_path, "60", *TABLE)
    assert (status, "Working" in got, "\x1b" in got) == (0, False, False)
    assert loaded(tmp_path) == "bare"


def test_a_pipe_gets_nothing_of_it(alder_row, tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", RUN, "0", *TABLE], cwd=tmp_path, capture_output=True, check=True
    )
    assert done.stderr.startswith(b"wrote door.bin")
    assert loaded(tmp_path) == "bare"


def test_an_error_takes_the_bar_away(alder_row, tmp_path):
    status, got = run_in_terminal(tmp_path, "0", *TABLE, "--memory", "16")
    assert status == 2
    last = got.splitlines()[-1]
    assert "the table needs" in last
    assert "Working" not in last


@pytest.mark.parametrize("terminal", [True, False])
def test_only_a_terminal_is_told(monkeypatch, terminal):
    from daylatch.commands import progress  # noqa: PLC0415

    monkeypatch.setattr(sys.stderr, "isatty", lambda: terminal, raising=False)
    with progress.shown_progress("Sending") as tell:
        assert (tell is not None) is terminal
