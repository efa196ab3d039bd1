"""What a keeper may write to note something: ``last in 20:14``, ``2 out``, ``battery 11.9 V``."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import WallTime
from daylatch.diary.entries import Entry, EntryError, make_entry
from daylatch.diary.moments import instant_shown
from daylatch.wording import FACE_24_HOURS

if TYPE_CHECKING:
    from daylatch.clock import Zone

EXAMPLES = (
    ("last in 20:14", "the last bird is in"),
    ("first out 7:05", "the first bird is out"),
    ("all in, or: all 12 in", "you counted, and none is missing"),
    ("2 still out", "you counted, and two are missing"),
    ("seen open, seen shut", "you saw the door so"),
    ("opened 7:02, shut 20:31", "the door moved by itself"),
    ("opened by hand, shut by hand", "you moved it"),
    ("clock said 20:11 at 20:14", "what the door's clock showed, and your phone"),
    ("clock set", "you set the door's clock right"),
    ("in use door-2027.bin", "you put that table or list into the door"),
    ("battery 11.9 V", ""),
    ("lost 1: a fox", "also gained, hurt; what follows a colon is a note"),
    ("note the latch sticks", ""),
)
"""What is shown to somebody whose words were not understood."""
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_HOW_MANY = rf"(?P<value>\d+|{'|'.join(_NUMBERS)})"
_CLOCK = r"\d{1,2}:\d{2}(?: ?[ap]\.?m\.?)?"
_DOOR = "(?:the )?(?:door )?"
_BIRDS = "(?: birds?| hens?)?"
_SHUT = "(?:shut|closed)"
_READS = "(?:said|says|showed|shows)"
_PHRASES: dict[str, tuple[str, ...]] = {
    "last_in": ("(?:the )?last(?: bird| hen)? (?:is )?in",),
    "first_out": ("(?:the )?first(?: bird| hen)? (?:is )?out",),
    "all_in": (rf"all(?: {_HOW_MANY})?{_BIRDS}(?: are)? in",),
    "still_out": (
        rf"{_HOW_MANY}{_BIRDS}(?: are| is)?(?: still)? out",
        rf"still out {_HOW_MANY}",
    ),
    "seen_open": (rf"{_DOOR}(?:seen|is) open",),
    "seen_shut": (rf"{_DOOR}(?:seen|is) {_SHUT}",),
    "opened": (f"{_DOOR}opened(?: by itself)?",),
    "shut": (f"{_DOOR}{_SHUT}(?: by itself)?",),
    "opened_by_hand": (f"{_DOOR}opened by hand",),
    "shut_by_hand": (f"{_DOOR}{_SHUT} by hand",),
    "clock_said": (rf"{_DOOR}clock {_READS} (?P<value>{_CLOCK})",),
    "clock_set": (rf"{_DOOR}clock (?:was )?set(?: to (?P<value>{_CLOCK}))?",),
    "in_use": (r"in use (?P<value>.+)",),
    "battery_v": (r"battery(?: at)? (?P<value>[\d.]+)(?: ?v)?",),
    **{
        what: (
            rf"{what} {_HOW_MANY}{_BIRDS}",
            rf"{_HOW_MANY}{_BIRDS} {what}",
        )
        for what in ("lost", "gained", "hurt")
    },
}
_TIME_AT_END = re.compile(rf"(?:^| )(?P<at>at )?(?P<time>{_CLOCK})$", re.ASCII | re.IGNORECASE)
_DATE = re.compile(r"(?:^| )(?:on )?(\d{4}-\d{2}-\d{2}|today|yesterday)(?= |$)", re.IGNORECASE)
_NEAR = np.timedelta64(10, "m")
"""A time that is typed so shortly after it is read off a clock, and not remembered."""


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
class Now:
    """The moment at which something is noted: the instant, and the date at the site."""

    instant_utc: np.datetime64
    date: dt.date


def read_words(
    text: str,
    zone: Zone,
    now: Now,
    at_utc: np.datetime64 | None = None,
    typed: Typed = _NOTHING_TYPED,
) -> Entry:
    """Return what a keeper's words say.

    Parameters
    ----------
    text
        The words, with a date and a time of the site's wall clock if it was not just now.
    zone
        The site's.
    now
        When it is noted.
    at_utc
        When it was [datetime64[s]], if that is given besides.
    typed
        What else is given.

    Raises
    ------
    GrammarError
        If the words are none of those known.
    EntryError
        If what they say cannot be.
    """
    head, note = _parted(text)
    head, date = _without_date(head, now.date)
    what, value, time = _understood(head)
    if what == "note":
        note = ": ".join(filter(None, (value, note)))
        value = ""
    if at_utc is not None and (time or date):
        raise EntryError("the moment is given twice, in words and with --at: leave one out")
    stamped_by, within = typed.stamped_by, typed.within
    if at_utc is not None:
        instant = at_utc
    elif time is not None:
        instant = instant_shown(zone, date or now.date, time)
        stamped_by = stamped_by or _stamp(what, instant, now)
    elif date in {None, now.date}:
        instant = now.instant_utc
    elif what in _OF_A_DAY:
        assert date is not None
        instant = instant_shown(zone, date, _NOON)
        stamped_by, within = stamped_by or "memory", within or str(_NOON.minutes)
    else:
        raise EntryError(f"at what time on {date}? Write it behind, such as 20:14")
    if instant > now.instant_utc:
        raise EntryError(_in_the_future(instant, zone, date))
    return make_entry(
        instant, what, value, stamped_by=stamped_by, within=within, by=typed.by, note=note
    )


def _parted(text: str) -> tuple[str, str]:
    """Return the words and the note behind a colon."""
    head, _, note = text.strip().partition(": ")
    return " ".join(head.removesuffix(":").split()), note.strip()


def _without_date(head: str, today: dt.date) -> tuple[str, dt.date | None]:
    """Return the words without the date that stands among them; a note may hold any."""
    if head.lower().startswith("note "):
        return head, None
    found = _DATE.findall(head)
    if not found:
        return head, None
    if len(found) > 1:
        raise EntryError(f"there are two dates, {found[0]} and {found[1]}: write one")
    rest = " ".join(_DATE.sub(" ", head).split())
    match found[0].lower():
        case "today":
            return rest, today
        case "yesterday":
            return rest, today - dt.timedelta(days=1)
        case text:
            try:
                return rest, dt.date.fromisoformat(text)
            except ValueError:
                raise EntryError(f"{text} is no date of the calendar") from None


def _understood(head: str) -> tuple[str, str, WallTime | None]:
    """Return the kind, the value and the time that words say."""
    if head.lower().startswith("note "):
        return "note", head[5:].strip(), None
    time = None
    whole = _phrase(head)
    found = _TIME_AT_END.search(head)
    # "clock said 20:11" ends in the reading, and not in the time.
    if found and (whole is None or found["at"]):
        time = read_time(found["time"])
        whole = _phrase(head[: found.start()].strip())
    if whole is None:
        raise GrammarError(f'"{head}" is not understood' if head else "nothing is said")
    what, value = whole
    return what, value, time


def _phrase(words: str) -> tuple[str, str] | None:
    for what, patterns in _PHRASES.items():
        for pattern in patterns:
            found = re.fullmatch(pattern, words, re.ASCII | re.IGNORECASE)
            if found:
                return what, _value(what, found.groupdict().get("value") or "")
    return None


def _value(what: str, text: str) -> str:
    if text.lower() in _NUMBERS:
        return str(_NUMBERS.index(text.lower()) + 1)
    return str(read_time(text)) if what.startswith("clock_") and text else text


def read_time(text: str) -> WallTime:
    """Return a time of day, with 24 hours or with am and pm.

    Raises
    ------
    EntryError
        If there is no such time.
    """
    letters = text.lower().replace(".", "").replace(" ", "")
    half = letters[-2:] if letters.endswith("m") else ""
    try:
        time = WallTime.parse(letters.removesuffix(half) if half else letters)
        if half and not 1 <= time.minutes // 60 <= 12:
            raise ValueError
    except ValueError:
        raise EntryError(f'"{text}" is no time of day: write it like 20:14') from None
    if half:
        return WallTime((time.minutes // 60 % 12 + 12 * (half == "pm")) * 60 + time.minutes % 60)
    return time


def _stamp(what: str, instant: np.datetime64, now: Now) -> str:
    near = now.instant_utc - instant < _NEAR
    return "phone" if near or what == "clock_said" else "memory"


def _in_the_future(instant: np.datetime64, zone: Zone, date: dt.date | None) -> str:
    shown = FACE_24_HOURS.instant(zone, instant)
    more = "" if date else "; if it was yesterday, write yesterday before it"
    return f"{shown} is still to come: write what has been{more}"
