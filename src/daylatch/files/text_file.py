"""What all text files have in common: UTF-8, and no blanks at the ends of lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def lay_out(lines: Iterable[str]) -> bytes:
    """Return a file of these lines."""
    return "\n".join(line.rstrip() for line in lines).encode() + b"\n"
