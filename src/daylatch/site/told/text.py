"""How a keeper's own texts are told: on one line, shortened, and without what a terminal obeys."""

from __future__ import annotations

import textwrap

from daylatch.console import printable

_LONGEST = 140


def told_text(text: str) -> str:
    """Return a text of the keeper's as it is shown."""
    return printable(textwrap.shorten(" ".join(text.split()), _LONGEST, placeholder=" ..."))
