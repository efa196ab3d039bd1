"""Alarms: what stands, who has been told of it, and who must be told now.

An alarm begins with a trouble and lasts until the trouble is over. It is told in rounds: the first,
and one for each reminder. Who could not be told is tried again, and nobody twice in a round. Pure:
what was sent is noted by `delivered`, which returns the alarm as it is then.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.home.watch.kinds import AGAIN_MIN, DAILY_MIN, PACES, Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from daylatch.home.watch.scene import Findings, Trouble

_MINUTE = np.timedelta64(1, "m")
_GIVEN_UP_AFTER = np.timedelta64(24, "h")
"""For how long it is tried to tell somebody that an alarm is over (our choice, no source)."""
_LONGEST_WAIT_MIN = 5
"""How long it is waited at most before somebody who could not be told is tried again [min]."""


class Delivery(NamedTuple):
    """How somebody was told of an alarm.

    Attributes
    ----------
    round : int
        The last round that arrived; 0 for none.
    failures : int
        How often it failed since.
    tried_utc : datetime64[s] or None
        When it failed last.
    knows_over : bool
        Whether word arrived that it is over.
    """

    round: int = 0
    failures: int = 0
    tried_utc: np.datetime64 | None = None
    knows_over: bool = False


@dataclass(frozen=True)
class Alarm:
    """An alarm that stands, or is over and was not yet told so to all.

    Attributes
    ----------
    token : str
        What the link to acknowledge it holds; nobody can guess it.
    key : str
        What it is about.
    kind : Kind
        What is wrong.
    words : str
        In sentences.
    raised_utc : datetime64[s]
        Since when it stands.
    round : int
        Which round of telling it is; 0 while quiet hours keep it back.
    first_round : int
        With which round this kind of trouble began.
    round_utc : datetime64[s] or None
        When that began.
    told : dict
        By its name, how each target was told.
    acknowledged_utc : datetime64[s] or None
        When somebody acknowledged it.
    acknowledged_by : str
        Who; empty if that is not known.
    over_utc : datetime64[s] or None
        Since when it is over.
    over_words : str
        Why; empty if it lapsed: nobody said that it was put right.
    """

    token: str
    key: str
    kind: Kind
    words: str
    raised_utc: np.datetime64
    round: int = 0
    first_round: int = 1
    round_utc: np.datetime64 | None = None
    told: dict[str, Delivery] = field(default_factory=dict)
    acknowledged_utc: np.datetime64 | None = None
    over_utc: np.datetime64 | None = None
    over_words: str = ""
    acknowledged_by: str = ""

    @property
    def stands(self) -> bool:
        """Whether it is not over."""
        return self.over_utc is None

    @property
    def is_urgent(self) -> bool:
        """Whether quiet hours never silence it."""
        return PACES[self.kind].is_urgent

    @property
    def has_lapsed(self) -> bool:
        """Whether it ended though nobody said that it was put right."""
        return not self.stands and not self.over_words

    @property
    def times_said(self) -> int:
        """How often it has been told, this round included."""
        return self.round - self.first_round + 1

    @property
    def is_loud(self) -> bool:
        """Whether a buzzer should sound: it stands, and nobody acknowledged its last round."""
        return self.stands and self.is_urgent and self.round > 0 and not self.is_acknowledged

    @property
    def is_acknowledged(self) -> bool:
        """Whether somebody has acknowledged it since it was last told."""
        if self.acknowledged_utc is None:
            return False
        return self.round_utc is None or bool(self.round_utc <= self.acknowledged_utc)


class Message(NamedTuple):
    """Something that somebody must be told now.

    Attributes
    ----------
    alarm : Alarm
        Of which alarm.
    target : str
        Who.
    is_over : bool
        Whether that it is over, not that it stands.
    """

    alarm: Alarm
    target: str
    is_over: bool


def next_alarms(
    alarms: Sequence[Alarm],
    findings: Findings,
    now_utc: np.datetime64,
    *,
    remind_min: int,
    is_quiet: bool,
    new_token: Callable[[], str],
) -> list[Alarm]:
    """Return the alarms after a look.

    Parameters
    ----------
    alarms
        Those before it.
    findings
        What it found.
    now_utc
        When it was [datetime64[s]].
    remind_min
        After how long an alarm is told again [min].
    is_quiet
        Whether these are quiet hours.
    new_token
        Makes a token that nobody can guess.
    """
    wrong = {trouble.key: trouble for trouble in findings.troubles}
    after = []
    for alarm in alarms:
        if not alarm.stands or alarm.kind is Kind.NOT_LOOKED:
            after.append(alarm)
            continue
        trouble = wrong.pop(alarm.key, None)
        if trouble is None and alarm.kind is not Kind.IN_DOUBT and findings.may_stand(alarm.key):
            # What cannot be looked at is not over.
            after.append(alarm)
        elif trouble is None:
            pace = PACES[alarm.kind]
            words = findings.fine.get(alarm.key, "" if pace.lapses else pace.over)
            after.append(replace(alarm, over_utc=now_utc, over_words=words))
        else:
            after.append(_goes_on(alarm, trouble))
    after += [
        Alarm(new_token(), trouble.key, trouble.kind, trouble.words, now_utc)
        for trouble in wrong.values()
    ]
    return [
        _with_round(alarm, now_utc, remind_min=remind_min, is_quiet=is_quiet) for alarm in after
    ]


def _goes_on(alarm: Alarm, trouble: Trouble) -> Alarm:
    if trouble.kind is alarm.kind:
        return replace(alarm, words=trouble.words)
    # What was acknowledged was something else.
    return replace(
        alarm,
        kind=trouble.kind,
        words=trouble.words,
        first_round=alarm.round + 1,
        round_utc=None,
        acknowledged_utc=None,
    )


def _with_round(alarm: Alarm, now_utc: np.datetime64, *, remind_min: int, is_quiet: bool) -> Alarm:
    """Return an alarm with a new round if one is due."""
    pace = PACES[alarm.kind]
    if not alarm.stands or (is_quiet and not pace.is_urgent):
        return alarm
    if alarm.round_utc is not None:
        if pace.most_rounds is not None and alarm.times_said >= pace.most_rounds:
            return alarm
        if alarm.acknowledged_utc is not None and not pace.is_urgent:
            return alarm
        if alarm.acknowledged_utc is not None and alarm.is_acknowledged:
            # It comes again after a while, and then as if nobody had acknowledged it.
            last, wait_min = alarm.acknowledged_utc, AGAIN_MIN
        else:
            last, wait_min = alarm.round_utc, DAILY_MIN if pace.is_daily else remind_min
        # A clock that was put back must not keep it silent.
        if last <= now_utc < last + wait_min * _MINUTE:
            return alarm
    return replace(alarm, round=alarm.round + 1, round_utc=now_utc)


def acknowledged(
    alarms: Sequence[Alarm], token: str, now_utc: np.datetime64, by: str = ""
) -> list[Alarm]:
    """Return the alarms after somebody acknowledged that with a token."""
    return [
        replace(alarm, acknowledged_utc=now_utc, acknowledged_by=by)
        if alarm.token == token
        else alarm
        for alarm in alarms
    ]


def owed(
    alarms: Sequence[Alarm], targets: Sequence[str], now_utc: np.datetime64, *, is_quiet: bool
) -> Iterator[Message]:
    """Yield what must be said now, to whom.

    Parameters
    ----------
    alarms
        After the look.
    targets
        Who is told.
    now_utc
        When it is [datetime64[s]].
    is_quiet
        Whether these are quiet hours.
    """
    for alarm in alarms:
        if is_quiet and not alarm.is_urgent:
            continue
        for target in _listeners(alarm, targets):
            told = alarm.told.get(target, Delivery())
            if _waits(told, now_utc):
                continue
            if not alarm.stands:
                if _must_be_heard(alarm) and not told.knows_over:
                    yield Message(alarm, target, is_over=True)
            elif target in targets and told.round < alarm.round:
                yield Message(alarm, target, is_over=False)


def _must_be_heard(alarm: Alarm) -> bool:
    """Return whether one that is over must be told even to those who never heard of it.

    That is so if it could not be sent while it stood, and also if quiet hours kept it back until it
    lapsed. What was put right meanwhile is nobody's business any more.
    """
    return bool(alarm.round) or alarm.has_lapsed


def _listeners(alarm: Alarm, targets: Sequence[str]) -> list[str]:
    """Return who is told now, and who has been told before."""
    return sorted({*targets, *(name for name, told in alarm.told.items() if told.round)})


def _waits(told: Delivery, now_utc: np.datetime64) -> bool:
    """Return whether somebody who could not be told is not yet tried again."""
    if told.tried_utc is None or not told.failures:
        return False
    wait = min(2 ** (told.failures - 1), _LONGEST_WAIT_MIN) * _MINUTE
    # Looks that come a minute after each other do so to the second.
    return bool(told.tried_utc <= now_utc < told.tried_utc + wait - np.timedelta64(10, "s"))


def delivered(
    alarms: Sequence[Alarm], message: Message, now_utc: np.datetime64, *, arrived: bool
) -> list[Alarm]:
    """Return the alarms after a message was sent, or could not be."""
    return [
        _delivered(alarm, message, now_utc, arrived=arrived)
        if alarm.token == message.alarm.token
        else alarm
        for alarm in alarms
    ]


def _delivered(alarm: Alarm, message: Message, now_utc: np.datetime64, *, arrived: bool) -> Alarm:
    before = alarm.told.get(message.target, Delivery())
    if not arrived:
        after = before._replace(failures=before.failures + 1, tried_utc=now_utc)
    else:
        after = Delivery(message.alarm.round, knows_over=message.is_over)
    return replace(alarm, told={**alarm.told, message.target: after})


def still_wanted(
    alarms: Sequence[Alarm], targets: Sequence[str], now_utc: np.datetime64
) -> list[Alarm]:
    """Return the alarms without those of which nobody need be told any more."""
    return [alarm for alarm in alarms if not _is_done(alarm, targets, now_utc)]


def _is_done(alarm: Alarm, targets: Sequence[str], now_utc: np.datetime64) -> bool:
    listeners = [alarm.told.get(name, Delivery()) for name in _listeners(alarm, targets)]
    if alarm.kind is Kind.NOT_LOOKED:
        since = alarm.raised_utc
        done = bool(alarm.round) and all(told.round for told in listeners)
    elif alarm.over_utc is None:
        return False
    else:
        since = alarm.over_utc
        done = not _must_be_heard(alarm) or all(told.knows_over for told in listeners)
    return done or bool(now_utc - since > _GIVEN_UP_AFTER)


def nobody_knows(alarms: Sequence[Alarm]) -> list[Alarm]:
    """Return the alarms of whose last round nobody has been told."""
    return [
        alarm
        for alarm in alarms
        if alarm.stands
        and alarm.round
        and not any(told.round >= alarm.round for told in alarm.told.values())
    ]
