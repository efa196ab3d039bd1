"""Saying things on the standard streams, whatever state those are in."""

from __future__ import annotations

import os
import sys
from contextlib import suppress


def open_missing_streams() -> None:
    """Give the program streams that lead nowhere for those it was started without."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            # Kept open for as long as the program runs.
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115


def say(text: str) -> None:
    """Print to standard error; a message that nobody can read must not become an error itself."""
    with suppress(OSError, ValueError):
        print(text, file=sys.stderr, flush=True)


def print_bytes(content: bytes) -> None:
    """Write all of a content to standard output.

    Raises
    ------
    OSError
        If it takes no more.
    """
    rest = memoryview(content)
    while rest:
        # Without buffering (PYTHONUNBUFFERED) a write may take a part only.
        rest = rest[sys.stdout.buffer.write(rest) :]
    sys.stdout.buffer.flush()


def printable(text: str) -> str:
    """Return a text, such as a file's name, without what a terminal would obey."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
