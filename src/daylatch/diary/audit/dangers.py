"""What cost birds, or could have: nights with an open door, and movements while birds were out."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.audit.audit import ON_TIME_WITHIN_MIN
from daylatch.diary.audit.verdicts import Verdict
from daylatch.wording import FACE_24_HOURS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.diary.audit.verdicts import Movement
    from daylatch.diary.entries import Entry
    from daylatch.plan.due import Due

LATE_IN_THE_DARK_MIN = 30
"""A closing later than this after it was due leaves the door open in the dark (this program's
choice, no source)."""


class DangerKind(Enum):
    """What was dangerous."""

    OPEN_AT_NIGHT = "open_at_night"
    BIRDS_OUT = "birds_out"
    BIRDS_LOST = "birds_lost"


class Danger(NamedTuple):
    """Something dangerous on a flock day.

    Attributes
    ----------
    date : datetime64[D]
        The day.
    kind : DangerKind
        What it was.
    at_utc : datetime64[s]
        When it was seen; NaT if it was not.
    words : str
        What happened; ``{}`` stands for the time of day of that.
    """

    date: np.datetime64
    kind: DangerKind
    at_utc: np.datetime64
    words: str


def find_dangers(
    due: Due, movements: Sequence[Movement], entries: Sequence[Entry]
) -> tuple[Danger, ...]:
    """Return what was dangerous, in the order of days; of what is told twice, the first.

    Parameters
    ----------
    due
        When the door was due on all of the days.
    movements
        Every movement with its verdict.
    entries
        What was seen of the door and the birds.
    """
    # What somebody saw of the birds says more than what the door did.
    found = [
        *_by_entries(due, movements, entries),
        *_by_movements(due, movements, entries),
        *_losses(due, entries),
    ]
    first: dict[tuple[np.datetime64, DangerKind], Danger] = {}
    for danger in found:
        first.setdefault((danger.date, danger.kind), danger)
    return tuple(sorted(first.values(), key=lambda one: (one.date, one.kind.value)))


def _by_movements(
    due: Due, movements: Sequence[Movement], entries: Sequence[Entry]
) -> Iterator[Danger]:
    """Yield closings that did not happen, were late or in daylight, and openings in the dark."""
    index_of = {date: index for index, date in enumerate(due.plan.dates.tolist())}
    for one in movements:
        index = index_of.get(one.date.item())
        if one.verdict is Verdict.UNPLANNED or index is None:
            continue
        late = one.late_min or 0.0
        if one.opening:
            if one.verdict is Verdict.EARLY and one.seen_utc < due.plan.guard.open_utc[index]:
                words = f"the door opened at {{}}, {round(-late)} min early, in the dark"
                yield Danger(one.date, DangerKind.OPEN_AT_NIGHT, one.seen_utc, words)
            continue
        if one.verdict is Verdict.MISSED:
            yield _missed(one, due.next_open_utc[index], entries)
        if one.verdict is Verdict.LATE and late > LATE_IN_THE_DARK_MIN:
            words = f"the door shut at {{}}, {round(late)} min late"
            yield Danger(one.date, DangerKind.OPEN_AT_NIGHT, one.seen_utc, words)
        if one.verdict is Verdict.EARLY and _in_daylight(due, index, one):
            words = f"the door shut at {{}}, {round(-late)} min early, with the Sun up"
            yield Danger(one.date, DangerKind.BIRDS_OUT, one.seen_utc, words)


def _missed(one: Movement, opens: np.datetime64, entries: Sequence[Entry]) -> Danger:
    """Return that a door did not shut, and what is known of when it stood open or was shut."""
    at_utc, words = one.seen_utc, "the door did not shut by itself"
    if not np.isnat(at_utc):
        words += ", and was shut at {}"
    else:
        for entry in entries:
            if entry.what == "seen_open" and one.due_utc < entry.instant_utc < opens:
                at_utc = entry.instant_utc
                words += ", and was seen open at {}"
                break
    return Danger(one.date, DangerKind.OPEN_AT_NIGHT, at_utc, words)


def _in_daylight(due: Due, index: int, one: Movement) -> bool:
    """Return whether the Sun was up at a closing that was due after sunset."""
    sunset = due.plan.sun.sunset[index]
    return bool(one.seen_utc < sunset <= one.due_utc)


def _losses(due: Due, entries: Sequence[Entry]) -> Iterator[Danger]:
    """Yield the birds that were lost or hurt, on the flock day of the entry."""
    for entry in entries:
        if entry.what in {"lost", "hurt"}:
            after = np.searchsorted(due.plan.day_start_utc, entry.instant_utc, side="right")
            date = due.plan.dates[max(int(after) - 1, 0)]
            note = entry.note.replace("{", "{{").replace("}", "}}")
            words = f"{entry.words(FACE_24_HOURS)}{f': {note}' if note else ''}"
            yield Danger(date, DangerKind.BIRDS_LOST, entry.instant_utc, words)


class _Night(NamedTuple):
    """A night of the door: from the closing to the opening, as they were seen, else as due."""

    date: np.datetime64
    begins: np.datetime64
    ends: np.datetime64
    is_seen: bool

    @property
    def shut_words(self) -> str:
        return "had shut" if self.is_seen else "was due to have shut"

    def holds(self, instant_utc: np.datetime64, within_min: float) -> bool:
        """Return whether an instant lies in it for sure."""
        unsure = np.timedelta64(round(60 * (within_min + ON_TIME_WITHIN_MIN)), "s")
        return bool(self.begins + unsure < instant_utc < self.ends - unsure)


def _nights(due: Due, movements: Sequence[Movement]) -> Iterator[_Night]:
    """Yield the nights of days on which the door shut."""
    done = {
        (one.date.item(), one.opening): one
        for one in movements
        if one.verdict is not Verdict.UNPLANNED and not np.isnat(one.seen_utc)
    }
    missed = {
        one.date.item() for one in movements if not one.opening and one.verdict is Verdict.MISSED
    }
    days = zip(due.plan.dates.tolist(), due.told_close_utc, due.next_open_utc, strict=True)
    opening_on = dict(zip(due.told_open_utc.tolist(), due.plan.dates.tolist(), strict=True))
    for date, closes, opens in days:
        if np.isnat(closes) or date in missed:
            continue
        closing = done.get((date, False))
        opening = done.get((opening_on.get(opens.item()), True))
        yield _Night(
            np.datetime64(date, "D"),
            closes if closing is None else closing.seen_utc,
            opens if opening is None else opening.seen_utc,
            closing is not None,
        )


def _by_entries(
    due: Due, movements: Sequence[Movement], entries: Sequence[Entry]
) -> Iterator[Danger]:
    """Yield what was seen in the nights: the door open, and birds that were still out."""
    nights = list(_nights(due, movements))
    told: list[tuple[np.datetime64, float, DangerKind, str]] = [
        (one.seen_utc, 0.0, DangerKind.OPEN_AT_NIGHT, "the door opened at {{}}")
        for one in movements
        if one.opening and one.verdict is Verdict.UNPLANNED
    ]
    for entry in entries:
        match entry.what:
            case "seen_open":
                words = "the door was seen open at {{}}"
                told.append((entry.instant_utc, entry.within_min, DangerKind.OPEN_AT_NIGHT, words))
            case "last_in":
                words = "the last bird went in at {{}}, and the door {shut}"
                told.append((entry.instant_utc, entry.within_min, DangerKind.BIRDS_OUT, words))
            case "still_out":
                words = f"{entry.value or 'some'} still out at {{{{}}}}, and the door {{shut}}"
                told.append((entry.instant_utc, entry.within_min, DangerKind.BIRDS_OUT, words))
    begins = np.array([night.begins for night in nights], "datetime64[s]")
    for at_utc, within_min, kind, words in told:
        place = int(np.searchsorted(begins, at_utc)) - 1
        if place >= 0 and nights[place].holds(at_utc, within_min):
            night = nights[place]
            yield Danger(night.date, kind, at_utc, words.format(shut=night.shut_words))
