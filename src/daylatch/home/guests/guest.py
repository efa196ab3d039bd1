"""A guest of a house: what they may do, and until when they can come in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from daylatch.diary.entries import KEEPER
from daylatch.site.table import check_name, spoken

LINK_LASTS = np.timedelta64(3, "D")
"""How long an invitation can be used (our choice)."""
COOKIE_LASTS = np.timedelta64(400, "D")
"""How long a cookie lasts after it was last seen. Browsers keep none for longer, by the draft that
is to follow RFC 6265 (draft-ietf-httpbis-rfc6265bis; from memory)."""
_OTHERS = {KEEPER, "door"}
"""Who else notes something."""


class May(Enum):
    """What a guest may do."""

    READ = "read"
    WRITE = "write"

    @property
    def words(self) -> str:
        """What that is called."""
        return "reads" if self is May.READ else "reads and notes"


@dataclass(frozen=True)
class Guest:
    """Somebody who was invited.

    Attributes
    ----------
    name : str
        What the keeper calls them; it stands in the diary as who noted something.
    may : May
        What they may do.
    invited_utc : datetime64[s]
        When they were invited.
    joined_utc, seen_utc : datetime64[s] or None
        When the link was used, and about when they last came; None before.
    ends_utc : datetime64[s] or None
        Until when a link that is open can be used; None once it was used.
    """

    name: str
    may: May
    invited_utc: np.datetime64
    joined_utc: np.datetime64 | None = None
    seen_utc: np.datetime64 | None = None
    ends_utc: np.datetime64 | None = None

    def can_join(self, now_utc: np.datetime64) -> bool:
        """Return whether their link can be used."""
        return self.ends_utc is not None and bool(now_utc < self.ends_utc)

    def can_come(self, now_utc: np.datetime64) -> bool:
        """Return whether their cookie counts."""
        last = self.seen_utc if self.seen_utc is not None else self.joined_utc
        return last is not None and bool(now_utc < last + COOKIE_LASTS)


def check_guest_name(text: str) -> str:
    """Return what a guest is called, if they can be.

    Raises
    ------
    ValueError
        Saying what would be right.
    """
    check_name(text)
    if text != text.strip():
        raise ValueError("take away the blanks around it")
    if spoken(text) in _OTHERS:
        raise ValueError("in the diary that is somebody else: write another name")
    return text


def is_called(guest: Guest, name: str) -> bool:
    """Return whether a guest has a name; case and blanks around do not count."""
    return spoken(guest.name) == spoken(name)
