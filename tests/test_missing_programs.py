"""What a run of the tests says where a program of the system is missing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from programs import PROGRAMS

ROOT = Path(__file__).resolve().parent.parent
MODULE = "tests/door/reader/test_door_control.py"


def run_without_programs(folder, *command, **variables):
    """Run Python where no program can be found."""
    kept = {name: value for name, value in os.environ.items() if name != "CI"}
    return subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={**kept, "PATH": str(folder), **variables},
        capture_output=True,
        text=True,
        check=False,
    )


def pytest_without_programs(folder, **variables):
    return run_without_programs(
        # Whatever is asked of the run around it is none of its own last lines.
        folder,
        "-m",
        "pytest",
        "-p",
        "no:cacheprovider",
        MODULE,
        PYTEST_ADDOPTS="",
        **variables,
    )


def test_the_last_lines_say_what_is_missing_what_is_untested_and_how_to_get_it(tmp_path):
    ran = pytest_without_programs(tmp_path)
    assert ran.returncode == 0, ran.stdout
    *_, passed = ran.stdout.splitlines()
    assert "skipped" in passed
    assert "passed" not in passed
    told = ran.stdout.splitlines()[-1 - len(PROGRAMS) : -1]
    assert told[1] == (
        "gcc is missing, so this was not tried: the C reader of controller tables, a simulated "
        "door, C headers. On Debian and Ubuntu: apt install gcc libc6-dev"
    )
    assert [line.partition(" is missing")[0] for line in told] == list(PROGRAMS)


def test_where_everything_must_run_a_skip_fails(tmp_path):
    assert pytest_without_programs(tmp_path, CI="true").returncode == 1


def test_nothing_is_said_where_nothing_was_skipped(tmp_path):
    ran = run_without_programs(
        tmp_path, "-m", "pytest", "-p", "no:cacheprovider", "tests/test_wording.py"
    )
    assert ran.returncode == 0, ran.stdout
    assert "missing" not in ran.stdout


def test_the_packages_of_what_is_missing_are_listed(tmp_path):
    ran = run_without_programs(tmp_path, "tests/programs.py")
    assert ran.stdout.split() == [
        package for program in PROGRAMS.values() for package in program.packages
    ]


@pytest.mark.parametrize("name", PROGRAMS)
def test_a_program_that_is_there_is_not_listed(name, tmp_path):
    (tmp_path / name).touch(mode=0o755)
    listed = run_without_programs(tmp_path, "tests/programs.py").stdout.split()
    assert not set(PROGRAMS[name].packages) & set(listed)
    assert listed
