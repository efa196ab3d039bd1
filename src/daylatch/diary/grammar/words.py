"""What a keeper's words say, with their date, their time and their note."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN
from daylatch.clock import WallTime
from daylatch.diary.entries import Entry, EntryError, check_year, make_entry, minutes_text
from daylatch.diary.grammar.dates import leading_date, without_date
from daylatch.diary.grammar.phrases import read_phrase
from daylatch.diary.grammar.times import TIME, has_half, has_letters, read_time
from daylatch.diary.moments import instant_shown
from daylatch.site.messages import show_value
from daylatch.wording import FACE_24_HOURS

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.clock import DoorClock, Zone
    from daylatch.wording import ClockFace

_TIME_AT_END = re.compile(rf"(?:^| )(?P<at>at )?(?P<time>{TIME})$", re.ASCII | re.IGNORECASE)
_TIME_AT_BEGIN = re.compile(rf"(?:at )?(?P<time>{TIME}),? ", re.ASCII | re.IGNORECASE)
_CLOCK_OFF = re.compile(
    r"(?:the )?(?:door(?:'s)? )?clock (?:is |was )?(?P<minutes>\d{1,3}) min(?:utes?)? "
    r"(?P<way>slow|fast)",
    re.ASCII | re.IGNORECASE,
)
_NOTE = re.compile(r":\s+|:$|,\s+(?=\D)|\s+[-\N{EN DASH}]\s+")
_NEAR = np.timedelta64(10, "m")
"""A time that is typed so shortly after it is read off a clock, and not remembered."""
_NEARLY_A_DAY = np.timedelta64(20, "h")
"""A time so far ahead that has no date, such as 23:50 at 00:10, is that of the day before."""
_HALF_A_DAY_MIN = DAY_MIN // 2
_NEARLY_MIN = 60
"""A reading that is half a day off, give or take this, is probably one of the other half."""


class GrammarError(EntryError):
    """Words that say nothing that is known here."""


class Typed(NamedTuple):
    """What was given besides the words; empty where nothing was."""

    stamped_by: str = ""
    within: str = ""
    by: str = ""


_NOTHING_TYPED = Typed()
# A day is enough to say of these; their moment is then somewhere in it.
_OF_A_DAY = frozenset({"lost", "gained", "hurt", "note", "in_use", "battery_v", "clock_set"})
_NOON = WallTime(720)


@dataclass(frozen=True)
class At:
    """Where and when something is noted.

    Attributes
    ----------
    zone : Zone
        The site's.
    clock : DoorClock
        What the door's clock should keep.
    now_utc : datetime64[s]
        The instant.
    today : date
        The date at the site.
    face : ClockFace
        How times of day are written there.
    """

    zone: Zone
    clock: DoorClock
    now_utc: np.datetime64
    today: dt.date
    face: ClockFace = FACE_24_HOURS


class _Said(NamedTuple):
    """What words say: a reading of the clock is as it was written, or how far it is off."""

    what: str
    value: str
    note: str
    date: dt.date | None
    time: str


def read_words(
    text: str,
    at: At,
    given_utc: np.datetime64 | None = None,
    typed: Typed = _NOTHING_TYPED,
    instead_of: Entry | None = None,
) -> Entry:
    """Return what a keeper's words say.

    Parameters
    ----------
    text
        The words, with a date and a time of the site's wall clock if it was not just now.
    at
        Where and when it is noted.
    given_utc
        When it was [datetime64[s]], if that is given besides.
    typed
        What else is given.
    instead_of
        What it corrects, whose moment it has if the words have none.

    Raises
    ------
    GrammarError
        If the words are none of those known.
    EntryError
        If what they say cannot be.
    """
    said = _said(text, at.today)
    if given_utc is not None and (said.time or said.date):
        raise EntryError("the moment is given twice, in words and with --at: leave one out")
    stamped_by, within = typed.stamped_by, typed.within
    if instead_of is not None and given_utc is None and not (said.time or said.date):
        given_utc = instead_of.instant_utc
        stamped_by = stamped_by or instead_of.stamped_by
        within = within or minutes_text(instead_of.within_min)
    elif given_utc is None and not said.time and said.date not in {None, at.today}:
        if said.what not in _OF_A_DAY:
            raise EntryError(f"at what time on {said.date}? Write it behind, such as 20:14")
        stamped_by, within = stamped_by or "memory", within or str(_NOON.minutes)
    instant = _instant(said, at, given_utc)
    check_year(instant)
    if not said.date and given_utc is None and instant > at.now_utc + _NEARLY_A_DAY:
        raise EntryError(_yesterdays(instant, at))
    return make_entry(
        instant,
        said.what,
        _value(said, at, instant),
        stamped_by=stamped_by or _stamp(said.what, instant, at),
        within=within,
        by=typed.by,
        note=said.note,
    )


def _said(text: str, today: dt.date) -> _Said:
    words, first_date = leading_date(" ".join(text.split()), today)
    if words.lower().startswith("note "):
        return _Said("note", "", words[5:].strip(), first_date, "")
    parts = _NOTE.split(words, maxsplit=1)
    words, date = without_date(parts[0].strip(), today)
    if first_date and date:
        raise EntryError(f"there are two dates, {first_date} and {date}: write one")
    what, value, time, more = _understood(words)
    note = ": ".join(filter(None, (more, *(part.strip() for part in parts[1:]))))
    return _Said(what, value, note, first_date or date, time)


def _understood(words: str) -> tuple[str, str, str, str]:
    """Return the kind, the value, the time and the note that words without a date say."""
    begins = _TIME_AT_BEGIN.match(words)
    if begins:
        after = _phrase(words[begins.end() :])
        if after is not None:
            return after[0], after[1], begins["time"], after[2]
    found = _TIME_AT_END.search(words)
    if found:
        # "clock said 20:11" ends in the reading, and not in the time.
        before = _phrase(words[: found.start()].strip())
        if before is not None:
            return before[0], before[1], found["time"], before[2]
    whole = _phrase(words)
    if whole is None:
        raise GrammarError(f"{show_value(words)} is not understood" if words else "nothing is said")
    return whole[0], whole[1], "", whole[2]


def _phrase(words: str) -> tuple[str, str, str] | None:
    off = _CLOCK_OFF.fullmatch(words)
    if off:
        return "clock_said", f"{'-' if off['way'].lower() == 'slow' else '+'}{off['minutes']}", ""
    return read_phrase(words)


def _instant(said: _Said, at: At, given_utc: np.datetime64 | None) -> np.datetime64:
    if given_utc is not None:
        return given_utc
    if said.time:
        return instant_shown(at.zone, said.date or at.today, read_time(said.time))
    if said.date in {None, at.today}:
        return at.now_utc
    assert said.date is not None
    return instant_shown(at.zone, said.date, _NOON)


def _value(said: _Said, at: At, instant: np.datetime64) -> str:
    """Return the value as files have it; a reading of the clock is one that can be meant."""
    if said.what not in {"clock_said", "clock_set"} or not said.value:
        return said.value
    right = instant + at.zone.clock_offset(at.clock, np.array([instant]))[0]
    right_min = int((right - right.astype("datetime64[D]")) // np.timedelta64(1, "m"))
    if said.value[0] in "+-":
        return str(WallTime((right_min + int(said.value)) % DAY_MIN))
    reading = read_time(said.value)
    off = abs((reading.minutes - right_min + _HALF_A_DAY_MIN) % DAY_MIN - _HALF_A_DAY_MIN)
    if off <= _HALF_A_DAY_MIN - _NEARLY_MIN or has_half(said.value):
        return str(reading)
    other = WallTime((reading.minutes + _HALF_A_DAY_MIN) % DAY_MIN)
    # Who gives the half of one of two times means it of both.
    if said.time and has_letters(said.time):
        return str(other)
    raise EntryError(
        f"{at.face.time(reading.minutes)} is half a day from {at.face.time(right_min)}, when it "
        f"was read: write {at.face.time(other.minutes)}, or "
        f"{said.value} am or pm if the clock did show that"
    )


def _stamp(what: str, instant: np.datetime64, at: At) -> str:
    return "phone" if at.now_utc - instant < _NEAR or what == "clock_said" else "memory"


def _yesterdays(instant: np.datetime64, at: At) -> str:
    shown = at.face.instant(at.zone, instant)
    return f"{shown} is still to come: if it was yesterday, write yesterday before it"
