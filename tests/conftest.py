"""What every test gets: a folder of its own to stand in, and the commands as a keeper runs them."""

from __future__ import annotations

import datetime as dt
import functools
import io
import os
import sys
from pathlib import Path
from typing import NamedTuple

import pytest
import typer.main
from hypothesis import settings

from daylatch.__main__ import run
from programs import untested

# What a page said stands in the failure, not only that it said something.
pytest.register_assert_rewrite("peers.browser")

# How long an example takes depends on what else the machine does.
settings.register_profile("daylatch", deadline=None)
settings.load_profile("daylatch")

# typer makes all commands anew at each call, which takes longer than most of them; a program calls
# once, and here thousands do.
typer.main.get_command = functools.cache(typer.main.get_command)

ROOT = Path(__file__).resolve().parent.parent


class Ran(NamedTuple):
    """What a command did."""

    status: int
    out: str
    err: str


@pytest.fixture
def daylatch(monkeypatch, tmp_path):
    """Return a function that runs a command line in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: str) -> Ran:
        out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
        err = io.StringIO()
        with monkeypatch.context() as patch:
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            status = run(list(arguments))
        return Ran(status, out.buffer.getvalue().decode(), err.getvalue())

    return call


@pytest.fixture
def set_clock(monkeypatch):
    """Return a function that sets the clock that commands read, by UTC.

    The clock itself, and not what modules import of it: one that is first imported meanwhile would
    keep another's for good.
    """

    def set_to(instant: object) -> None:
        shown = dt.datetime.fromisoformat(str(instant)).replace(tzinfo=dt.UTC)
        monkeypatch.setattr("daylatch.commands.now._clock", lambda: shown)

    return set_to


@pytest.fixture
def alder_row(tmp_path):
    """Return the first demo site, copied into the folder as site.toml."""
    text = (ROOT / "schedules/alder-row.toml").read_text()
    (tmp_path / "site.toml").write_text(text)
    return tmp_path / "site.toml"


def pytest_sessionfinish(session, exitstatus):
    """Where everything must run, a skipped test is a failed one."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") and reporter and reporter.stats.get("skipped") and exitstatus == 0:
        session.exitstatus = 1


def pytest_terminal_summary(terminalreporter):
    """Print what tests measured, and at the very end which programs they lacked."""
    write_measured(terminalreporter)
    skipped = [str(report.longrepr) for report in terminalreporter.stats.get("skipped", [])]
    if lines := untested(skipped):
        terminalreporter.section("missing programs")
        for line in lines:
            terminalreporter.write_line(line)


def write_measured(terminalreporter):
    """Print what tests measured (`record_property("measured", ...)`) beside their bounds."""
    lines = [
        value
        for report in terminalreporter.stats.get("passed", [])
        for name, value in report.user_properties
        if name == "measured" and report.when == "call"
    ]
    if lines:
        terminalreporter.section("measured")
        for line in sorted(lines):
            terminalreporter.write_line(line)
