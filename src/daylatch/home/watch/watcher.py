"""Watching a house: looking, telling, and remembering what was told.

What is decided is in `look` and `alarms`; here it is done. What was sent is put down at once, so
that a process that is killed says at most once more what it had just sent.
"""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import get_zone
from daylatch.console import say
from daylatch.errors import OutputError
from daylatch.home.telling.targets import Errand, deliver
from daylatch.home.watch.alarms import (
    Alarm,
    acknowledged,
    delivered,
    next_alarms,
    nobody_knows,
    owed,
    still_wanted,
)
from daylatch.home.watch.kinds import PACES, Kind
from daylatch.home.watch.look import LONGEST_GAP, in_doubt, is_quiet, look, unforeseen, unwatched
from daylatch.home.watch.scene import Findings, Trouble
from daylatch.home.watch.state import MOST_PAST, State, StateError, load_state, save_state
from daylatch.home.watch.words import message_text
from daylatch.site.watch import Watch

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from daylatch.clock import Zone
    from daylatch.home.telling.targets import Target, Text
    from daylatch.home.watch.alarms import Message
    from daylatch.home.watch.scene import Scene

SOUNDS, IS_QUIETED, IS_CLEAR = "alarm", "quiet", "clear"
"""What is said on the topic of a buzzer."""
_BACK = np.timedelta64(2, "m")
"""How far a clock is put right now and then without anybody being told."""
_DISTRUST = np.timedelta64(60, "m")
"""How long a clock that was put back is not trusted (our choice, no source)."""


@dataclass(frozen=True)
class View:
    """A house as it is found for a look.

    Attributes
    ----------
    name : str
        What the keeper calls it.
    zone : Zone
        Its wall clock.
    scene : Scene or None
        What there is to look at; None if nothing can be.
    doubts : dict
        What keeps from looking, by what it concerns; it stands in the scene too.
    watch : Watch
        The settings.
    names : sequence of str
        Who is told now.
    targets : dict
        Everybody who can be told, by name: who was told before hears the end, too.
    has_reported, has_diary : bool
        Whether the door has ever reported, and there is a diary.
    base : str or None
        Where phones reach the page of an alarm.
    """

    name: str
    zone: Zone
    scene: Scene | None
    doubts: dict[str, str] = field(default_factory=dict)
    watch: Watch = field(default_factory=Watch.model_construct)
    names: Sequence[str] = ()
    targets: Mapping[str, Target] = field(default_factory=dict)
    has_reported: bool = False
    has_diary: bool = False
    base: str | None = None

    def found(self, now_utc: np.datetime64) -> Findings:
        """Return what is wrong."""
        if self.scene is not None:
            return look(self.scene, now_utc)
        return in_doubt(self.doubts)


class Looked(NamedTuple):
    """What came of a look.

    Attributes
    ----------
    told : int
        How many messages arrived.
    unheard : list of Alarm
        Those that nobody has been told of.
    is_well : bool
        Whether it could look, and nothing is unheard.
    """

    told: int
    unheard: list[Alarm]
    is_well: bool


class Watcher:
    """Watches one house.

    Parameters
    ----------
    path
        Where it remembers.
    house
        The id of the house.
    view
        Returns the house as it is at an instant, by the state so far.
    clock
        Returns this instant [datetime64[s]].
    who
        Who watches, for others who would.
    listens
        Whether the same process listens to the door all the time.
    buzzer
        Says a word on the topic of a buzzer, and returns whether that arrived; None without one.
    """

    def __init__(
        self,
        path: Path,
        house: str,
        view: Callable[[np.datetime64, State], View],
        clock: Callable[[], np.datetime64],
        who: str,
        buzzer: Callable[[str], bool] | None = None,
        *,
        listens: bool = False,
    ) -> None:
        self.path = path
        self.house = house
        self.view = view
        self.clock = clock
        self.who = who
        self.buzzer = buzzer
        self.listens = listens
        self.hears: Callable[[], bool] = lambda: False
        """Whether a broker is heard at this moment."""
        # Who acknowledges, the broker's thread and the look change it.
        self._lock = threading.RLock()
        self._sounding = threading.Lock()
        self._cannot_remember = ""
        # What is known of a house that was never seen.
        self._view = View(path.stem, get_zone("UTC"), None)
        try:
            self.state = load_state(path, house)
            if self.state == State():
                self.state = replace(self.state, began_utc=clock())
        except StateError as error:
            # Better an alarm twice than none.
            say(f"warning: {path}: {error}: what was told before is not known, and is told again")
            self.state = State()

    def look(self) -> Looked:
        """Look, and tell what must be told."""
        now = self.clock()
        view, quiet, is_blind = self._decide(now)
        names = sorted(name for name in view.names if name in view.targets)
        messages = [
            message
            for message in owed(self.state.alarms, names, now, is_quiet=quiet)
            if message.target in view.targets
        ]
        # What is urgent waits for nothing else.
        messages.sort(key=lambda message: not message.alarm.is_urgent)
        errands = [
            Errand(
                view.targets[message.target],
                self._text(view, message),
                is_good_news=message.is_over and not message.alarm.has_lapsed,
            )
            for message in messages
        ]
        told = 0
        for place, arrived in deliver(errands):
            told += arrived
            self._note(view, messages[place], now, arrived=arrived)
        self._sound()
        with self._lock:
            self._let_go(still_wanted(self.state.alarms, names, now))
        unheard = [
            alarm
            for alarm in nobody_knows(self.state.alarms)
            if not (alarm.is_urgent and self._is_buzzing())
        ]
        return Looked(told, unheard, not is_blind and not unheard)

    def acknowledge(self, token: str, by: str = "") -> Alarm | None:
        """Note that somebody acknowledged an alarm; return it, None if none has that token.

        Parameters
        ----------
        token
            That of the alarm.
        by
            Who; empty if that is not known.
        """
        with self._lock:
            found = self.alarm(token)
            if found is not None:
                now = self.clock()
                self._change(tuple(acknowledged(self.state.alarms, token, now, by)))
                say(f"{now}Z acknowledged: {PACES[found.kind].title}")
        self._sound()
        return self.alarm(token)

    @property
    def last_view(self) -> View:
        """The house as the last look found it."""
        return self._view

    def alarm(self, token: str) -> Alarm | None:
        """Return the alarm that stands with a token; None if there is none."""
        for alarm in self.state.alarms:
            if alarm.stands and secrets.compare_digest(alarm.token.encode(), token.encode()):
                return alarm
        return None

    def link(self, *, is_lost: bool) -> None:
        """Note whether the door's link is lost."""
        with self._lock:
            since = _since(self.state.link_lost_utc, self.clock(), is_lost=is_lost)
            self._keep_if_new(replace(self.state, link_lost_utc=since))

    def broker(self, *, is_lost: bool) -> None:
        """Note whether the broker cannot be reached."""
        with self._lock:
            before = self.state.broker_lost_utc
            since = _since(before, self.clock(), is_lost=is_lost)
            # A broker that comes back may have forgotten what was said there.
            said = self.state.topic_said if is_lost == (before is not None) else ""
            self._keep_if_new(replace(self.state, broker_lost_utc=since, topic_said=said))

    def _decide(self, now: np.datetime64) -> tuple[View, bool, bool]:
        """Look, and put down what stands; return also whether it is quiet, and nothing is seen."""
        with self._lock:
            since, put_back_until = self._listening_since(now), self._put_back_until(now)
            view, quiet, findings = self._see(now, since, is_put_back=put_back_until is not None)
            is_believed = view.scene is not None and put_back_until is None
            before = replace(
                _not_ahead(self.state, now, all_of_it=is_believed),
                ran_utc=now,
                heard_utc=now if self.hears() else self.state.heard_utc,
                listening_since_utc=since,
                has_reported=self.state.has_reported or view.has_reported,
                had_diary=self.state.had_diary or view.has_diary,
                put_back_until_utc=put_back_until,
            )
            known = {alarm.token for alarm in before.alarms}
            if not self._keep(self._after(before, view, findings, now, is_quiet=quiet)):
                key = "doubt memory"
                findings.take(key, Trouble(key, Kind.IN_DOUBT, self._cannot_remember))
                self.state = self._after(before, view, findings, now, is_quiet=quiet)
            for alarm in self.state.alarms:
                if alarm.token not in known:
                    # What is told leaves the house; this says it to whoever reads the log.
                    say(f"{now}Z {view.name}: {PACES[alarm.kind].title}. {alarm.words}")
            return view, quiet, findings.is_blind

    def _listening_since(self, now: np.datetime64) -> np.datetime64 | None:
        """Return since when somebody listens without a gap; None if nobody here does."""
        if not self.listens:
            return None
        last, since = self.state.ran_utc, self.state.listening_since_utc
        if last is None or since is None or not last - _BACK <= now <= last + LONGEST_GAP:
            return now
        return since

    def _see(
        self, now: np.datetime64, listening_since: np.datetime64 | None, *, is_put_back: bool
    ) -> tuple[View, bool, Findings]:
        """Return the house, whether it is quiet there, and what is wrong."""
        quiet = False
        try:
            state = _not_ahead(self.state, now, all_of_it=True)
            state = replace(state, listening_since_utc=listening_since)
            view = self._view = self.view(now, state)
            quiet = is_quiet(view.watch, view.zone, now)
            findings = view.found(now)
            for trouble in self._meanwhile(view, now, is_put_back=is_put_back):
                findings.take(trouble.key, trouble)
        except Exception as error:
            # Whatever it is, it must not keep the watch silent.
            return replace(self._view, scene=None), quiet, in_doubt({"watch": unforeseen(error)})
        return view, quiet, findings

    def _meanwhile(self, view: View, now: np.datetime64, *, is_put_back: bool) -> Iterator[Trouble]:
        """Yield what became of the time since the last look."""
        last = self.state.looked_utc
        if is_put_back:
            back = "" if last is None else f", at the last look from {last} to {now} UTC"
            words = (
                f"The clock of this computer was put back{back}: if it is wrong now, the watch is "
                "too. Look at it."
            )
            yield Trouble("doubt put back", Kind.IN_DOUBT, words)
        elif last is not None and view.scene is not None:
            missed = unwatched(view.scene, last, now)
            if missed is not None:
                yield missed

    def _put_back_until(self, now: np.datetime64) -> np.datetime64 | None:
        """Return until when a clock that was put back is not trusted; None if it is."""
        last, until = self.state.looked_utc, self.state.put_back_until_utc
        if last is not None and now < last - _BACK:
            return now + _DISTRUST
        return until if until is not None and until - _DISTRUST - _BACK <= now < until else None

    def _after(
        self,
        state: State,
        view: View,
        findings: Findings,
        now: np.datetime64,
        *,
        is_quiet: bool,
    ) -> State:
        alarms = next_alarms(
            state.alarms,
            findings,
            now,
            remind_min=view.watch.remind_min,
            is_quiet=is_quiet,
            new_token=lambda: secrets.token_urlsafe(16),
        )
        # One that saw nothing was none.
        looked = state.looked_utc if view.scene is None else now
        return replace(state, looked_utc=looked, alarms=tuple(alarms), watcher=self.who)

    def _let_go(self, wanted: Sequence[Alarm]) -> None:
        """Keep the alarms that are wanted, and of the others that they were."""
        kept = {alarm.token for alarm in wanted}
        over = [alarm for alarm in self.state.alarms if alarm.token not in kept]
        past = (*self.state.past, *over)[-MOST_PAST:]
        self._keep_if_new(replace(self.state, alarms=tuple(wanted), past=past))

    def _change(self, alarms: tuple[Alarm, ...]) -> None:
        self._keep_if_new(replace(self.state, alarms=alarms))

    def _keep_if_new(self, state: State) -> None:
        if state != self.state:
            self._keep(state)

    def _keep(self, state: State) -> bool:
        """Remember a state, at least until the end of the process; return whether also beyond."""
        self.state = state
        try:
            save_state(self.path, self.house, state)
        except OutputError as error:
            self._cannot_remember = f"{error}: what was told is told again after a restart."
            return False
        return True

    def _text(self, view: View, message: Message) -> Text:
        base = view.base
        link = None if base is None else f"{base}/alarm/{message.alarm.token}"
        return message_text(message, view.name, link)

    def _note(self, view: View, message: Message, now: np.datetime64, *, arrived: bool) -> None:
        """Put down at once how a message went, and tell whoever reads the log."""
        with self._lock:
            self._change(tuple(delivered(self.state.alarms, message, now, arrived=arrived)))
        said = "told" if arrived else "could not tell"
        say(f"{self.clock()}Z {said} {message.target}: {self._text(view, message).title}")

    def _sound(self) -> None:
        """Say on the topic of the buzzer what it should do, if that has changed."""
        if self.buzzer is None:
            return
        # Two who say something at once must not end with the older word.
        with self._sounding:
            self._sound_by(self.buzzer)

    def _sound_by(self, buzzer: Callable[[str], bool]) -> None:
        urgent = [alarm for alarm in self.state.alarms if alarm.stands and alarm.is_urgent]
        word = IS_CLEAR if not urgent else IS_QUIETED
        if any(alarm.is_loud for alarm in urgent):
            word = SOUNDS
        if word != self.state.topic_said:
            arrived = buzzer(word)
            with self._lock:
                self._keep_if_new(replace(self.state, topic_said=word if arrived else ""))

    def _is_buzzing(self) -> bool:
        return self.state.topic_said == SOUNDS


def _not_ahead(state: State, now: np.datetime64, *, all_of_it: bool) -> State:
    """Return what is remembered without what lies ahead: a clock was put back since.

    Left there, it would keep silent until that instant had come. While a clock is not believed,
    only the pace of telling goes by it.
    """
    state = replace(
        state,
        alarms=tuple(
            replace(
                alarm,
                round_utc=_until(alarm.round_utc, now),
                acknowledged_utc=_until(alarm.acknowledged_utc, now),
                told={
                    name: told._replace(tried_utc=_until(told.tried_utc, now))
                    for name, told in alarm.told.items()
                },
            )
            for alarm in state.alarms
        ),
    )
    if not all_of_it:
        return state
    return replace(
        state,
        heard_utc=_until(state.heard_utc, now),
        began_utc=_until(state.began_utc, now),
        link_lost_utc=_until(state.link_lost_utc, now),
        broker_lost_utc=_until(state.broker_lost_utc, now),
        alarms=tuple(
            replace(
                alarm, raised_utc=min(alarm.raised_utc, now), over_utc=_until(alarm.over_utc, now)
            )
            for alarm in state.alarms
        ),
    )


def _until(instant_utc: np.datetime64 | None, now: np.datetime64) -> np.datetime64 | None:
    return None if instant_utc is None else min(instant_utc, now)


def _since(
    before: np.datetime64 | None, now: np.datetime64, *, is_lost: bool
) -> np.datetime64 | None:
    """Return since when something is lost; None if it is not."""
    if not is_lost:
        return None
    return now if before is None else before
