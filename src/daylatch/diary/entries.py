"""What a diary holds: entries of a few kinds, each with a moment and how sure it is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import LAST_YEAR_OF_RULES, WallTime
from daylatch.site.choices.entry_kinds import MOST_STAMP_MIN
from daylatch.site.messages import show_value
from daylatch.site.table import TEXT_LIMITS, check_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.wording import ClockFace

SURE_MIN = {"phone": 1.0, "server": 1.0, "door": 1.0, "memory": 5.0}
"""What can stamp an entry, and how sure its moment then is if nobody says [min] (our choice, no
source)."""
KEEPER = "keeper"
"""Who reports an entry if nobody is named."""
FIRST_YEAR = 1980
"""Before it nothing of a door was written down (our choice, no source)."""
MOST_BIRDS = 100_000
MOST_VOLTS = 100.0
LONGEST_NOTE = TEXT_LIMITS["notes"]
LONGEST_NAME = TEXT_LIMITS["name"]


class EntryError(ValueError):
    """Something that cannot be an entry; its text says what would be right."""


class ValueKind(Enum):
    """What the value of an entry is."""

    NOTHING = "nothing"
    COUNT = "a count"
    READING = "a clock's reading"
    VOLTS = "volts"
    RECORD = "the name of a record"


class Kind(Enum):
    """What an entry tells of the door."""

    MOVED = "moved"
    """It moved by itself."""
    BY_HAND = "by hand"
    """Somebody moved it."""
    STATE = "state"
    """It was seen open or shut, and may have moved at any time before."""


class DoorWord(NamedTuple):
    """What a kind of entry tells of the door: in which state it is then, and how that was seen."""

    is_open: bool
    kind: Kind


class What(NamedTuple):
    """A kind of entry.

    Attributes
    ----------
    words : str
        How it is told; ``{}`` stands for the value.
    value : ValueKind
        What its value is.
    needs_value : bool
        Whether it says nothing without one.
    door : DoorWord or None
        What it tells of the door.
    value_words : str
        How it is told with a value that may also be left out.
    """

    words: str
    value: ValueKind = ValueKind.NOTHING
    needs_value: bool = False
    door: DoorWord | None = None
    value_words: str = ""


WHATS: dict[str, What] = {
    "last_in": What("last bird in"),
    "first_out": What("first bird out"),
    "all_in": What("all in", ValueKind.COUNT, value_words="all {} in"),
    "still_out": What("some still out", ValueKind.COUNT, value_words="{} still out"),
    "waiting": What("birds waiting", ValueKind.COUNT, value_words="{} waiting"),
    "none_waiting": What("none waiting"),
    "seen_open": What("door seen open", door=DoorWord(True, Kind.STATE)),
    "seen_shut": What("door seen shut", door=DoorWord(False, Kind.STATE)),
    "opened": What("door opened", door=DoorWord(True, Kind.MOVED)),
    "shut": What("door shut", door=DoorWord(False, Kind.MOVED)),
    "opened_by_hand": What("door opened by hand", door=DoorWord(True, Kind.BY_HAND)),
    "shut_by_hand": What("door shut by hand", door=DoorWord(False, Kind.BY_HAND)),
    "clock_said": What("the door's clock said {}", ValueKind.READING, needs_value=True),
    "clock_set": What(
        "the door's clock was set",
        ValueKind.READING,
        value_words="the door's clock was set to {}",
    ),
    "in_use": What("{} put into the door", ValueKind.RECORD, needs_value=True),
    "battery_v": What("battery at {} V", ValueKind.VOLTS, needs_value=True),
    "lost": What("{} lost", ValueKind.COUNT, needs_value=True),
    "gained": What("{} gained", ValueKind.COUNT, needs_value=True),
    "hurt": What("{} hurt", ValueKind.COUNT, needs_value=True),
    "note": What("note"),
}
"""Every kind of entry, by its name in files."""


@dataclass(frozen=True)
class Entry:
    """Something that was seen or done, as it is written down.

    Attributes
    ----------
    instant_utc : datetime64[s]
        When, by what stamped it.
    what : str
        Its kind, of `WHATS`.
    value : str
        As `read_value` returns it; empty without one.
    stamped_by : str
        What stamped it, of `SURE_MIN`.
    within_min : float
        How sure the moment is, either way [min].
    by : str
        Who or what reported it.
    note : str
        Anything else, in the keeper's words.
    """

    instant_utc: np.datetime64
    what: str
    value: str = ""
    stamped_by: str = "phone"
    within_min: float = 1.0
    by: str = KEEPER
    note: str = ""

    @property
    def count(self) -> int:
        """How many birds; 0 where none are counted."""
        return int(self.value) if self.value and self.kind.value is ValueKind.COUNT else 0

    @property
    def kind(self) -> What:
        """What kind of entry it is."""
        return WHATS[self.what]

    def words(self, face: ClockFace) -> str:
        """Return how it is told, without its moment and its note.

        Parameters
        ----------
        face
            How times of day are written.
        """
        kind, value = self.kind, self.value
        if value and kind.value is ValueKind.READING:
            value = face.time(WallTime.parse(value).minutes)
        return (kind.value_words if value and kind.value_words else kind.words).format(value)


def make_entry(
    instant_utc: np.datetime64,
    what: str,
    value: str = "",
    *,
    stamped_by: str = "",
    within: str = "",
    by: str = "",
    note: str = "",
) -> Entry:
    """Return an entry from texts, of which all but the kind may be empty.

    Raises
    ------
    EntryError
        If they make none.
    """
    if what not in WHATS:
        raise EntryError(f"what is {show_value(what)}: write one of {', '.join(WHATS)}")
    stamped_by = stamped_by or "phone"
    if stamped_by not in SURE_MIN:
        raise EntryError(
            f"stamped_by is {show_value(stamped_by)}: write one of {', '.join(SURE_MIN)}"
        )
    for key, text, longest in (("by", by, LONGEST_NAME), ("note", note, LONGEST_NOTE)):
        _check_text(key, text, longest)
    if what == "note" and not note.strip():
        raise EntryError("a note without a text says nothing: write it as note")
    return Entry(
        instant_utc.astype("datetime64[s]"),
        what,
        read_value(what, value),
        stamped_by,
        read_within(within) if within else SURE_MIN[stamped_by],
        by or KEEPER,
        note,
    )


def check_year(instant_utc: np.datetime64) -> None:
    """Refuse an instant of which no diary can tell.

    Raises
    ------
    EntryError
        Naming the year.
    """
    year = int(instant_utc.astype("datetime64[Y]").astype(np.int64)) + 1970
    if not FIRST_YEAR <= year <= LAST_YEAR_OF_RULES:
        raise EntryError(
            f"{year} is no year of a diary: write a date from {FIRST_YEAR} to {LAST_YEAR_OF_RULES}"
        )


def read_value(what: str, text: str) -> str:
    """Return the value of a kind of entry, as files have it.

    Raises
    ------
    EntryError
        If it cannot be one.
    """
    kind = WHATS[what]
    if not text:
        if kind.needs_value:
            raise EntryError(f"{what} says nothing without a value: write {kind.value.value}")
        return ""
    readers: dict[ValueKind, Callable[[str], str]] = {
        ValueKind.COUNT: _count,
        ValueKind.READING: _reading,
        ValueKind.VOLTS: _volts,
        ValueKind.RECORD: _record,
    }
    if kind.value not in readers:
        raise EntryError(f"{what} has no value, and here it is {show_value(text)}: leave it empty")
    return readers[kind.value](text)


def read_within(text: str) -> float:
    """Return how sure a moment is [min].

    Raises
    ------
    EntryError
        If it is no number of minutes.
    """
    number = _number(text)
    if number is None or not 0 <= number <= MOST_STAMP_MIN:
        raise EntryError(
            f"within_min is {show_value(text)}: write minutes, from 0 to {MOST_STAMP_MIN:g}"
        )
    return number


def minutes_text(minutes: float) -> str:
    """Return minutes as a decimal number, as `read_within` reads them."""
    return np.format_float_positional(minutes, precision=9, trim="-")


def _check_text(key: str, text: str, longest: int) -> None:
    try:
        check_text(text)
    except ValueError as error:
        raise EntryError(f"{key}: {error}") from error
    if len(text) > longest:
        raise EntryError(f"{key} has {len(text)} characters: write {longest} at most")


def _number(text: str) -> float | None:
    """Return a decimal number; None for anything else, such as ``nan``."""
    return float(text) if re.fullmatch(r"\d{1,9}(\.\d{1,9})?", text, re.ASCII) else None


def _count(text: str) -> str:
    if not re.fullmatch(r"\d{1,6}", text, re.ASCII) or not 1 <= int(text) <= MOST_BIRDS:
        raise EntryError(
            f"value is {show_value(text)}: write how many birds, from 1 to {MOST_BIRDS}"
        )
    return str(int(text))


def _reading(text: str) -> str:
    try:
        return str(WallTime.parse(text))
    except ValueError:
        raise EntryError(
            f"value is {show_value(text)}: write what the clock said as HH:MM, from 00:00 to 23:59"
        ) from None


def _volts(text: str) -> str:
    number = _number(text)
    if number is None or number > MOST_VOLTS:
        raise EntryError(
            f"value is {show_value(text)}: write volts, such as 12.4, up to {MOST_VOLTS:g}"
        )
    return f"{number:g}"


def _record(text: str) -> str:
    _check_text("value", text, LONGEST_NAME)
    return text
