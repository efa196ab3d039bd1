"""The comment that says where a light of the site file was learned: how it is written and read."""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

_DATE = r"\d{4}-\d{2}-\d{2}"
_COMMENT = re.compile(
    rf"(?P<light>-?\d+(?:\.\d+)?)° learned on (?P<on>{_DATE}) from (?P<days>\d+) "
    rf"(?P<half>evening|morning)s?, (?P<first>{_DATE}) to (?P<last>{_DATE})"
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
        """What stands behind the light in the site file."""
        return f"{self.light_deg:g}° {self.words}"

    @property
    def words(self) -> str:
        """When it was learned, and from what."""
        return (
            f"learned on {self.on} from {self.days} {self.half}{'s' * (self.days != 1)}, "
            f"{self.first} to {self.last}"
        )


def learned_from(line: str) -> LearnedFrom | None:
    """Return what the comment on a line of a site file says; None without such a one."""
    found = _COMMENT.search(line.partition("#")[2])
    if found is None:
        return None
    try:
        on, first, last = (dt.date.fromisoformat(found[name]) for name in ("on", "first", "last"))
    except ValueError:
        return None
    return LearnedFrom(float(found["light"]), on, int(found["days"]), found["half"], first, last)


def renewed(comment: str, learned: LearnedFrom) -> str:
    """Return a comment that says where a light comes from, behind what else stood there.

    Parameters
    ----------
    comment
        As it stands in the file, with its sign; empty without one.
    learned
        What is to be said.
    """
    kept = _COMMENT.sub("", comment.lstrip("#")).strip(" ;")
    return f"{kept}; {learned.comment}" if kept else learned.comment
