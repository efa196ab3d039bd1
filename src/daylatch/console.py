"""Saying things on the standard streams, whatever state those are in."""

from __future__ import annotations

import errno
import io
import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import IO


class _Closed(io.RawIOBase):
    """A stream that takes nothing, in place of one that was closed."""

    def __init__(self, held: IO[str]) -> None:
        # For as long as the program runs, so that no other file takes its number.
        self._held = held

    def writable(self) -> bool:
        return True

    def write(self, _: object) -> int:
        raise OSError(errno.EBADF, "standard output is closed")


def open_missing_streams() -> None:
    """Give the program streams for those it was started without.

    Nothing comes from its input, messages are lost, and a result that nobody gets is an error.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            stream: IO[str] = open(os.devnull, mode, encoding="utf-8")  # noqa: PTH123, SIM115
            if name == "stdout":
                stream = io.TextIOWrapper(io.BufferedWriter(_Closed(stream)), encoding="utf-8")
            setattr(sys, name, stream)


def say(line: str) -> None:
    """Print a line to standard error, without what a terminal would obey.

    A message that nobody can read must not become an error itself.
    """
    with suppress(OSError, ValueError):
        print(printable(line), file=sys.stderr, flush=True)


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
