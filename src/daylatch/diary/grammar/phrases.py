"""The phrases by which a keeper says what was seen, without their date, time and note."""

from __future__ import annotations

import re

from daylatch.diary.grammar.times import TIME

EXAMPLES = (
    ("last in 20:14", "the last bird is in (or: 8:14 pm, at 20.14)"),
    ("yesterday last in 20:14", "or a date in front, such as 2027-03-04, 4 Mar, Sunday"),
    ("first out 7:05", "the first bird is out"),
    ("all in, or: all 12 in", "you counted, and none is missing"),
    ("2 still out, or: 2 missing", "you counted, and two are missing"),
    ("not all in, or: still out", "the same without a number"),
    ("3 waiting, or: none waiting", "you looked before the door opened"),
    ("did not shut, did not open", "you saw the door as it should not be"),
    ("seen open, seen shut", "you saw the door so"),
    ("opened 7:02, shut 20:31", "the door moved by itself"),
    ("opened by hand, shut by hand", "you moved it"),
    ("clock said 20:11 at 20:14", "what the door's clock showed, and your phone"),
    ("clock 3 min slow", "the same; or fast"),
    ("clock set", "you set the door's clock right"),
    ("in use door-2027.bin", "you put that table or list into the door"),
    ("battery 11.9 V", ""),
    ("lost 1: a fox", "also gained, hurt; what follows a colon is a note"),
    ("note the latch sticks", ""),
)
"""What is shown to somebody whose words were not understood."""
_NUMBERS = (
    *("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve"),
)
_COUNT = rf"(?:\d+|{'|'.join(_NUMBERS)})"
_HOW_MANY = rf"(?P<value>{_COUNT})"
_DOOR = "(?:the )?(?:door )?"
_BIRDS = "(?: birds?| hens?| pullets?| chicks?)?"
_SHUT = "(?:shut|closed)"
_READS = "(?:said|says|showed|shows)"
_PHRASES: dict[str, tuple[str, ...]] = {
    "last_in": ("(?:the )?last(?: bird| hen| one)? (?:is |was )?in",),
    "first_out": ("(?:the )?first(?: bird| hen| one)? (?:is |was )?out",),
    "all_in": (
        rf"all(?: {_HOW_MANY})?{_BIRDS}(?: are| were)? in",
        r"(?:none|no birds?|0)(?: are| is)?(?: still)? (?:out|missing)",
    ),
    "still_out": (
        rf"{_HOW_MANY}{_BIRDS}(?: are| is| were| was)?(?: still)? (?:out|missing)",
        rf"still out {_HOW_MANY}",
        rf"(?:some{_BIRDS}(?: are| were)? )?still out",
        rf"not all{_BIRDS}(?: are| were)?(?: yet)? in(?: yet)?",
    ),
    "none_waiting": (
        r"(?:none|no birds?|no hens?|nobody|0)(?: are| is| were| was)?(?: yet)? waiting(?: yet)?",
    ),
    "waiting": (
        rf"{_HOW_MANY}{_BIRDS}(?: are| is| were| was)?(?: already)? waiting",
        r"(?:the )?(?:birds?|hens?|they)(?: are| is| were| was)?(?: already)? waiting",
    ),
    "seen_open": (
        rf"{_DOOR}(?:seen|is|was|stands|stood) open",
        rf"{_DOOR}(?:did not|didn't|would not) (?:shut|close)",
        rf"{_DOOR}stuck open",
    ),
    "seen_shut": (
        rf"{_DOOR}(?:seen|is|was) {_SHUT}",
        rf"{_DOOR}(?:did not|didn't|would not) open",
        rf"{_DOOR}stuck shut",
    ),
    "opened": (f"{_DOOR}opened(?: by itself)?",),
    "shut": (f"{_DOOR}{_SHUT}(?: by itself)?",),
    "opened_by_hand": (f"{_DOOR}opened by hand", "i opened (?:it|the door)"),
    "shut_by_hand": (f"{_DOOR}{_SHUT} by hand", f"i {_SHUT} (?:it|the door)"),
    "clock_said": (rf"{_DOOR}clock {_READS} (?P<value>{TIME})",),
    "clock_set": (
        rf"{_DOOR}clock (?:was )?set(?: right)?(?: to (?P<value>{TIME}))?",
        r"(?:i )?set (?:the )?(?:door's )?clock",
    ),
    "in_use": (r"in use (?P<value>.+)",),
    "battery_v": (
        r"battery(?: at)? (?P<value>\d+(?:[.,]\d+)?)(?: ?v(?:olts?)?)?",
        r"(?:battery )?(?P<value>\d+(?:[.,]\d+)?) ?v(?:olts?)?",
    ),
    "lost": (
        rf"(?:lost|dead) {_HOW_MANY}{_BIRDS}",
        rf"{_HOW_MANY}{_BIRDS} (?:lost|dead|died)",
    ),
    "gained": (
        rf"(?:gained|bought|hatched) {_HOW_MANY}{_BIRDS}",
        rf"{_HOW_MANY}{_BIRDS} (?:gained|bought|hatched)",
    ),
    "hurt": (rf"hurt {_HOW_MANY}{_BIRDS}", rf"{_HOW_MANY}{_BIRDS} hurt"),
}
_SOME_IN = re.compile(
    rf"(?:only )?({_COUNT}) of (?:the )?({_COUNT}){_BIRDS}(?: are| were)? in", re.I | re.A
)
_TOOK = re.compile(rf"(?P<who>.+) took {_HOW_MANY}{_BIRDS}", re.I | re.A)
_LOST_TO = re.compile(rf"lost {_HOW_MANY}{_BIRDS} (?P<who>to .+)", re.I | re.A)


def read_phrase(words: str) -> tuple[str, str, str] | None:
    """Return the kind of entry, its value and its note that words say; None for any other words."""
    some = _SOME_IN.fullmatch(words)
    if some:
        inside, of = (int(_number(count)) for count in some.groups())
        missing = of - inside
        if missing >= 0:
            return ("still_out", str(missing), "") if missing else ("all_in", str(of), "")
    for pattern in (_TOOK, _LOST_TO):
        lost = pattern.fullmatch(words)
        if lost:
            note = words if pattern is _TOOK else lost["who"]
            return "lost", _number(lost["value"]), note
    for what, patterns in _PHRASES.items():
        for form in patterns:
            found = re.fullmatch(form, words, re.ASCII | re.IGNORECASE)
            if found:
                return what, _value(what, found.groupdict().get("value") or ""), ""
    return None


def _value(what: str, text: str) -> str:
    # A reading of the clock stays as it is written, since am or pm may be meant.
    return text.replace(",", ".") if what == "battery_v" else _number(text)


def _number(text: str) -> str:
    """Return a count in digits; other words as they are."""
    return str(_NUMBERS.index(text.lower()) + 1) if text.lower() in _NUMBERS else text
