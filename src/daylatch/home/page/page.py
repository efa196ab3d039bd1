"""All that the page at home says, ready for its template."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.home.page.band import make_band
from daylatch.home.page.sentences import count_sentences, door_sentences, headline
from daylatch.home.page.taps import EVENING, MORNING
from daylatch.home.watch.kinds import PACES, Kind
from daylatch.home.watch.look import look
from daylatch.plan.moment import moment_at
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.diary.store.rows import Noted
    from daylatch.home.page.band import Band
    from daylatch.home.page.present import Present
    from daylatch.home.page.taps import TapKind
    from daylatch.home.page.weeks import DayAhead, DayBehind
    from daylatch.home.watch.alarms import Alarm
    from daylatch.home.watch.scene import Scene
    from daylatch.home.watch.state import State
    from daylatch.plan.moment import Moment

UNTAP_WITHIN = np.timedelta64(48, "h")
"""For how long a tap can be undone on the page (our choice, no source)."""
_MOST_NOTED = 12
_FOR_THE_KEEPER = "The keeper can say why: it was sent to those who are told, and is in the log."
_MOST_PAST = 20
_OLD_LOOK = np.timedelta64(5, "m")


class Reader(NamedTuple):
    """Who looks at the page.

    Attributes
    ----------
    name : str
        Who notes what is tapped.
    may_write : bool
        Whether they may note.
    form_token : str
        What their forms carry.
    is_here : bool
        Whether they sit at the computer itself, and may know its files.
    """

    name: str
    may_write: bool
    form_token: str
    is_here: bool = False


class Notice(NamedTuple):
    """What became of the tap before.

    Attributes
    ----------
    words : str
        In a sentence.
    entry : int or None
        The entry that can be undone.
    """

    words: str
    entry: int | None = None


class Button(NamedTuple):
    """A button that notes something: its entry, its words, and the key of the tap."""

    what: str
    value: str
    words: str
    tap: str


class NotedShown(NamedTuple):
    """An entry of the day: when, what, and its number if the reader can undo it."""

    when: str
    words: str
    entry: int | None


class AlarmShown(NamedTuple):
    """An alarm.

    Attributes
    ----------
    title, words : str
        What is wrong.
    when : str
        Since when, and until when.
    how_it_goes : str
        How it ended, or that somebody looks after it; empty if nobody does.
    address : str
        Where the reader can say that they look after it, from the home's beginning on; empty if
        they cannot.
    is_urgent : bool
        Whether birds may be in danger.
    """

    title: str
    words: str
    when: str
    how_it_goes: str
    address: str
    is_urgent: bool


class Link(NamedTuple):
    """A paper or a file: its address below the page's, its name and what is to be known of it."""

    address: str
    name: str
    words: str


@dataclass(frozen=True)
class Found:
    """What is known of a house besides what the watch sees.

    Attributes
    ----------
    noted : sequence of Noted
        The entries of the last days that hold, in the order of their moments.
    last_act : int
        The number of what was done last in the diary.
    ahead, behind : list
        The weeks.
    audit : list of (str, str)
        What was found, by what it is about.
    links : list of Link
        Papers and files.
    has_year : bool
        Whether there is a picture of the year.
    troubles : list of str
        What could not be made, in sentences.
    """

    noted: Sequence[Noted] = ()
    last_act: int = 0
    ahead: list[DayAhead] = field(default_factory=list)
    behind: list[DayBehind] = field(default_factory=list)
    audit: list[tuple[str, str]] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
    has_year: bool = False
    troubles: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Page:
    """What the page says; `home_page` makes it.

    Attributes
    ----------
    house, name : str
        The id of the house, and what its keeper calls it.
    reader : Reader
        Who looks.
    day, date, time, zone : str
        Today, for programs and for people, and now at the house, and whose clock that is.
    made : int
        When it was made [s since 1970], which goes with each tap.
    state : str
        What the door should be: ``open``, ``shut``, or empty if that is not known.
    headline : str
        The same in a sentence.
    band : Band or None
        The day.
    door, count : list of str
        Sentences.
    evening, morning : list of Button
        What can be tapped.
    more : str
        The key of a tap whose count is typed.
    is_morning : bool
        Whether what happens in the morning comes first.
    noted : list of NotedShown
        The day's entries, the latest first.
    undoable : list of int
        The numbers of all that can be undone.
    standing, past : list of AlarmShown
        The alarms.
    waiting : list of str
        What the watch waits for.
    found : Found
        The rest.
    notice : Notice or None
        What became of the tap before.
    """

    house: str
    name: str
    reader: Reader
    day: str
    date: str
    time: str
    zone: str
    made: int
    state: str
    headline: str
    band: Band | None
    door: list[str]
    count: list[str]
    evening: list[Button]
    morning: list[Button]
    more: str
    is_morning: bool
    noted: list[NotedShown]
    undoable: list[int]
    standing: list[AlarmShown]
    past: list[AlarmShown]
    waiting: list[str]
    found: Found
    notice: Notice | None


def home_page(
    house: str,
    name: str,
    scene: Scene | None,
    state: State,
    found: Found,
    reader: Reader,
    present: Present,
    notice: Notice | None = None,
) -> Page:
    """Return what the page says.

    Parameters
    ----------
    house, name
        The id of the house, and what its keeper calls it.
    scene
        What the watch looks at, with the entries of now; None if it cannot look.
    state
        What the watch remembers, with its alarms.
    found
        What else is known.
    reader, present
        Who looks, and when.
    notice
        What became of the tap before.
    """
    moment = None if scene is None else moment_at(scene.due, present.now_utc)
    minute = present.now_utc.astype("datetime64[m]")
    salt = f"{reader.form_token} {minute} {found.last_act}"
    unseen = [one for one in state.past if _is_news(one, present)]
    standing = [*(one for one in state.alarms if one.stands), *unseen]
    return Page(
        house=house,
        name=name,
        reader=reader,
        day=str(present.today),
        date=f"{present.today:%A} {present.today.day} {present.today:%B %Y}",
        time=present.time(present.now_utc),
        zone=present.zone.name,
        made=int(present.now_utc.astype("datetime64[s]").astype(np.int64)),
        state="" if moment is None else moment.state,
        headline=(
            "What the door should be is not known." if moment is None else headline(moment, present)
        ),
        band=None if moment is None else make_band(moment.due, moment.index, present),
        door=[] if scene is None else list(door_sentences(scene, present)),
        count=[] if scene is None else list(count_sentences(scene, present)),
        evening=list(_buttons(EVENING, salt)),
        morning=list(_buttons(MORNING, salt)),
        more=_key(salt, "more"),
        is_morning=moment is not None and _is_morning(moment, present),
        noted=list(_noted(found.noted, reader, present)),
        undoable=[one.number for one in found.noted if _can_undo(one, reader, present)],
        standing=[_alarm(one, reader, present) for one in standing],
        past=[_past_alarm(one, reader, present) for one in _ended(state)],
        waiting=list(_waiting(scene, state, present)),
        found=found,
        notice=notice if reader.may_write else None,
    )


def _is_morning(moment: Moment, present: Present) -> bool:
    """Return whether the Sun has not reached its highest place."""
    begins, ends = (
        times[moment.index] for times in (moment.plan.day_start_utc, moment.plan.day_end_utc)
    )
    return bool(present.now_utc < begins + (ends - begins) // 2)


def _buttons(kinds: Sequence[TapKind], salt: str) -> Iterator[Button]:
    """Yield buttons, each with a key of its own.

    One that is pressed twice on a page is one tap; after an entry the page has other keys.
    """
    for kind in kinds:
        for count in kind.counts or ("",):
            key = _key(salt, f"{kind.what} {count}")
            yield Button(kind.what, str(count), kind.words.format(count), key)


def _key(salt: str, of: str) -> str:
    return hashlib.sha256(f"{salt} {of}".encode()).hexdigest()[:32]


def _noted(noted: Sequence[Noted], reader: Reader, present: Present) -> Iterator[NotedShown]:
    since = present.now_utc - np.timedelta64(24, "h")
    recent = [
        one
        for one in noted
        if one.entry.instant_utc >= since or (one.is_tap and one.entered_utc >= since)
    ]
    for one in reversed(recent[-_MOST_NOTED:]):
        yield NotedShown(
            present.when(one.entry.instant_utc),
            present.said(one),
            one.number if _can_undo(one, reader, present) else None,
        )


def _can_undo(one: Noted, reader: Reader, present: Present) -> bool:
    is_recent = bool(one.entered_utc >= present.now_utc - UNTAP_WITHIN)
    return one.is_tap and reader.may_write and is_recent


def _is_news(alarm: Alarm, present: Present) -> bool:
    """Return whether it tells of a time in which nobody watched, and is of the last day."""
    is_recent = present.now_utc - alarm.raised_utc < np.timedelta64(24, "h")
    return alarm.kind is Kind.NOT_LOOKED and bool(is_recent)


def _ended(state: State) -> Iterator[Alarm]:
    """Yield the alarms that are over, the latest first."""
    over = [*state.past, *(one for one in state.alarms if not one.stands)]
    over.sort(key=lambda one: one.raised_utc)
    yield from reversed(over[-_MOST_PAST:])


def _alarm(alarm: Alarm, reader: Reader, present: Present) -> AlarmShown:
    return AlarmShown(
        capital(PACES[alarm.kind].title),
        _words(alarm, reader),
        f"alarm since {present.when(alarm.raised_utc)}",
        _who_looks(alarm, present),
        f"alarm/{alarm.token}" if reader.may_write and alarm.kind is not Kind.NOT_LOOKED else "",
        alarm.is_urgent,
    )


def _words(alarm: Alarm, reader: Reader) -> str:
    if alarm.kind is Kind.IN_DOUBT and not reader.is_here:
        return _FOR_THE_KEEPER
    return alarm.words


def _who_looks(alarm: Alarm, present: Present) -> str:
    if alarm.acknowledged_utc is None or not alarm.is_acknowledged:
        return ""
    who = alarm.acknowledged_by or "Somebody"
    return f"{who} is looking after it since {present.when(alarm.acknowledged_utc)}."


def _past_alarm(alarm: Alarm, reader: Reader, present: Present) -> AlarmShown:
    raised = present.when(alarm.raised_utc)
    over = raised if alarm.over_utc is None else present.when(alarm.over_utc)
    when = f"alarm at {raised}" if over == raised else f"alarm from {raised} to {over}"
    ended = alarm.over_words
    if alarm.has_lapsed:
        ended = "Nobody said that it was put right."
    return AlarmShown(
        capital(PACES[alarm.kind].title), _words(alarm, reader), when, ended, "", alarm.is_urgent
    )


def _waiting(scene: Scene | None, state: State, present: Present) -> Iterator[str]:
    """Yield what the watch cannot say yet, and that it has not looked lately."""
    if scene is not None:
        yield from look(scene, present.now_utc).waiting.values()
    looked = state.looked_utc
    if looked is None:
        yield "The watch has not looked yet: load this page again in a moment."
    elif present.now_utc - looked > _OLD_LOOK:
        yield (f"The watch last looked at {present.when(looked)}: what it says here is of then.")
