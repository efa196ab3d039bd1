"""The programs of the system that tests use, which no Python package brings.

A test that needs one is marked with `needs`. Where one is missing its tests are skipped, and the
last lines of the run say what went untested and how to get it. Run as a program, this prints the
packages (of Debian and Ubuntu) of those that are missing; with ``CI`` set a skip fails the run.
"""

from __future__ import annotations

import shutil
import sys
from typing import NamedTuple


class Program(NamedTuple):
    """Its packages in Debian and Ubuntu, with what it needs; and what is tried out with it."""

    packages: tuple[str, ...]
    tries: str


PROGRAMS = {
    "chromium": Program(("chromium", "fonts-dejavu-core"), "HTML pages in a browser"),
    "gcc": Program(
        ("gcc", "libc6-dev"), "the C reader of controller tables, a simulated door, C headers"
    ),
    "g++": Program(("g++",), "the C reader as C++"),
    "avr-gcc": Program(("gcc-avr", "avr-libc"), "the C reader on 8-bit controllers, and its size"),
    "arm-none-eabi-gcc": Program(
        ("gcc-arm-none-eabi", "libnewlib-arm-none-eabi"), "the C reader for 32-bit controllers"
    ),
    "simavr": Program(("simavr",), "the C reader's answers on a simulated controller"),
    "systemd-analyze": Program(("systemd",), "the systemd unit of `daylatch home`"),
    "mosquitto": Program(("mosquitto",), "reports by a real MQTT broker"),
    "node": Program(("nodejs",), "calendar files in a second reader (ical.js)"),
    "npm": Program(("npm",), "calendar files in a second reader, which npm fetches"),
}


def is_here(name: str) -> bool:
    """Return whether a program can be run."""
    return shutil.which(name) is not None


def reason(name: str) -> str:
    """Return why a test is skipped."""
    return f"needs {name}, which is not here"


def needs(name: str):
    """Return the mark of tests that cannot run without a program."""
    import pytest  # noqa: PLC0415 - not there yet when packages are asked for

    assert name in PROGRAMS
    return pytest.mark.skipif(not is_here(name), reason=reason(name))


def untested(skipped: list[str]) -> list[str]:
    """Return a sentence for each missing program, if tests were skipped for want of any.

    Parameters
    ----------
    skipped
        The reasons for which tests were skipped. A test that needs several programs names one.
    """
    missing = {name: program for name, program in PROGRAMS.items() if not is_here(name)}
    if not any(reason(name) in text for name in missing for text in skipped):
        return []
    return [
        f"{name} is missing, so this was not tried: {program.tries}. "
        f"On Debian and Ubuntu: apt install {' '.join(program.packages)}"
        for name, program in missing.items()
    ]


if __name__ == "__main__":
    sys.stdout.writelines(
        f"{package}\n"
        for name, program in PROGRAMS.items()
        if not is_here(name)
        for package in program.packages
    )
