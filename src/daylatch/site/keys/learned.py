"""The comment that says where a light of the site file was learned: how it is written and read."""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

_DATE = r"\d{4}-\d{2}-\d{2}"
_COMMENT = re.compile(
    rf"# ?(?P<light>-?\d{{1,2}}(?:\.\d{{1,4}})?)° learned on (?P<on>{_DATE}) "
    rf"from (?P<days>\d{{1,6}}) (?P<half>evening|morning)s?, "
    rf"(?P<first>{_DATE}) to (?P<last>{_DATE})"
)


class LearnedFrom(NamedTuple):
    """Where a light comes from.

    Attributes
    ----------
    light_deg : float
        Its depression: who changes that by hand need not look at the comment.
    on : date
        When it was learned.
    days : int
        From how many evenings or mornings.
    half : str
        Which of the two.
    first, last : date
        Between which days.
    """

    light_deg: float
    on: dt.date
    days: int
    half: str
    first: dt.date
    last: dt.date

    @property
    def comment(self) -> str:
        """What stands above the light in the site file."""
        return f"# {self.light_deg:g}° {self.words}"

    @property
    def words(self) -> str:
        """When it was learned, and from what."""
        return (
            f"learned on {self.on} from {self.days} {self.half}{'s' * (self.days != 1)}, "
            f"{self.first} to {self.last}"
        )


def learned_from(line: str) -> LearnedFrom | None:
    """Return what a line of a site file says, if it is such a comment and nothing else."""
    found = _COMMENT.fullmatch(line.strip())
    if found is None:
        return None
    try:
        on, first, last = (dt.date.fromisoformat(found[name]) for name in ("on", "first", "last"))
    except ValueError:
        return None
    return LearnedFrom(float(found["light"]), on, int(found["days"]), found["half"], first, last)


def noted(text: str, line: int, learned: LearnedFrom) -> str:
    """Return the text of a site file with the comment above a line, instead of an older one.

    Parameters
    ----------
    text
        With any ends of lines.
    line
        Counted from one.
    learned
        What is to be said.
    """
    lines = text.split("\n")
    here = lines[line - 1]
    if line > 1 and learned_from(lines[line - 2]) is not None:
        del lines[line - 2]
        line -= 1
    indent = here[: len(here) - len(here.lstrip())]
    end = "\r" if here.endswith("\r") else ""
    lines.insert(line - 1, f"{indent}{learned.comment}{end}")
    return "\n".join(lines)
