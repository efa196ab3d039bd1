"""What can be tapped at the run, and how a tap becomes an entry of the diary."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.entries import EntryError, make_entry

if TYPE_CHECKING:
    from collections.abc import Mapping

    from daylatch.diary.entries import Entry

OLDEST = np.timedelta64(31, "D")
"""How long a phone may keep a tap (our choice, no source)."""
OLD_PAGE = np.timedelta64(4, "h")
"""From when on a page is asked whether it speaks of now (our choice, no source)."""
_TAP = re.compile(r"[0-9a-f]{32}", re.ASCII)


class TapKind(NamedTuple):
    """Something that can be tapped.

    Attributes
    ----------
    what : str
        The kind of entry that it makes.
    words : str
        What stands on its button, as whoever was there would say it.
    counts : tuple of int
        How many birds can be said with one tap; empty if none are counted.
    """

    what: str
    words: str
    counts: tuple[int, ...] = ()


EVENING = (
    TapKind("all_in", "All in"),
    TapKind("last_in", "Last one in just now"),
    TapKind("still_out", "{} still out", (1, 2, 3)),
    TapKind("shut_by_hand", "I shut it by hand"),
)
MORNING = (
    TapKind("none_waiting", "None waiting yet"),
    TapKind("waiting", "Some are waiting"),
    TapKind("first_out", "First one out just now"),
    TapKind("opened_by_hand", "I opened it by hand"),
)
"""All of them say what was seen or done, since nothing here moves the door."""
_WHATS = {kind.what for kind in (*EVENING, *MORNING)}
_COUNTED = {kind.what for kind in (*EVENING, *MORNING) if kind.counts}
"""Of which the page asks how many, so that an empty field is a slip."""


class TapError(ValueError):
    """Something that is no tap; its text says what is wrong, for whoever tapped."""


class Tap(NamedTuple):
    """A tap as it arrives.

    Attributes
    ----------
    key : str
        32 hexadecimal digits by which one that is sent again is known.
    entry : Entry
        What it says.
    is_old : bool
        Whether its page was made long ago and nobody says when it was tapped, so that it may be of
        that time.
    fields : dict
        What arrived, to be asked about or sent again.
    """

    key: str
    entry: Entry
    is_old: bool
    fields: dict[str, str]


def read_tap(fields: Mapping[str, str], by: str, now_utc: np.datetime64) -> Tap:
    """Return the tap that a form holds.

    Its moment is now, or so many seconds ago as the phone says (``ago``): by the difference of two
    looks at one clock, so that a phone whose clock is wrong is right all the same. What this
    program asked about or could not note has the moment of its first arrival (``moment``).

    Parameters
    ----------
    fields
        Of the form.
    by
        Who tapped.
    now_utc
        When it arrived [datetime64[s]].

    Raises
    ------
    TapError
        If it is none.
    """
    what, key = fields.get("what", ""), fields.get("tap", "")
    if what not in _WHATS or not _TAP.fullmatch(key):
        raise TapError("This is nothing that this page has: load it again.")
    value = fields.get("value", "").strip()
    if what in _COUNTED and not value:
        raise TapError(f"This cannot be noted: {what} says nothing without a value here.")
    at_utc, is_old = _moment(fields, now_utc)
    try:
        entry = make_entry(at_utc, what, value, by=by)
    except EntryError as error:
        raise TapError(f"This cannot be noted: {error}.") from error
    return Tap(key, entry, is_old, dict(fields))


def _moment(fields: Mapping[str, str], now_utc: np.datetime64) -> tuple[np.datetime64, bool]:
    if "ago" in fields:
        at_utc = now_utc - np.timedelta64(_seconds(fields["ago"]), "s")
    elif "moment" in fields:
        at_utc = np.datetime64(_seconds(fields["moment"]), "s")
    else:
        made_utc = np.datetime64(_seconds(fields.get("made", "0")), "s")
        return now_utc, bool(now_utc - made_utc > OLD_PAGE)
    if not now_utc - OLDEST <= at_utc <= now_utc:
        raise TapError(
            f"By this phone it was tapped at {at_utc} UTC, which cannot be: note it with its date "
            "and time by `daylatch diary add`."
        )
    return at_utc, False


def _seconds(text: str) -> int:
    if not re.fullmatch(r"\d{1,10}", text, re.ASCII):
        raise TapError("This is nothing that this page has: load it again.")
    return int(text)
