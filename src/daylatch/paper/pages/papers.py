"""Sizes of paper."""

from __future__ import annotations

from typing import NamedTuple

from daylatch.errors import UsageError

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


def named_paper(name: str | None) -> Paper | None:
    """Return the paper that the command line asks for; None if it asks for none.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    if name is None:
        return None
    if name.lower() not in PAPERS:
        raise UsageError(f'--paper is "{name.lower()}": write {" or ".join(PAPERS)}')
    return PAPERS[name.lower()]


def css_of(chosen: str | None) -> str:
    """Return the paper that a page asks a browser for; empty to leave it to the browser."""
    return "" if chosen is None else PAPERS[chosen].css
