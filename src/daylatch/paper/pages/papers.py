"""Sizes of paper."""

from __future__ import annotations

from typing import NamedTuple

PT_PER_MM = 72 / 25.4


class Paper(NamedTuple):
    """A sheet of paper, upright [pt]."""

    name: str
    css: str
    width: float
    height: float


PAPERS = {
    # ISO 216, and ANSI/ASME Y14.1 size A.
    "a4": Paper("A4", "A4", 210 * PT_PER_MM, 297 * PT_PER_MM),
    "letter": Paper("US Letter", "letter", 8.5 * 72, 11 * 72),
}
