"""Telling a networked door its times by way of a broker, which keeps them for it."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Protocol

from daylatch.console import printable, say
from daylatch.home.times.days import NoTimesError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

LOOK_EVERY_S = 5.0
"""How often it is looked whether there is something new to tell."""
MOST_TRIES = 3
PAUSE_LOOKS = 720
"""After so many tries of one topic that failed, for how many looks it is left alone: an hour. A
broker may drop whoever sends what is too long for it, and with that the reports."""


class Speaker(Protocol):
    """Speaks to a broker."""

    @property
    def connection(self) -> int:
        """The number of the connection that there is, another each time; 0 without one."""

    def keep(self, topic: str, content: bytes) -> bool:
        """Let the broker keep something, and return whether it has it."""


class Teller:
    """Tells what has changed, and all of it after each connection, since a broker may forget.

    In a thread of its own: a table takes seconds to make, and a broker may not answer.

    Parameters
    ----------
    topics
        By topic, what makes what is told there; it may raise `NoTimesError`.
    speaker
        Who speaks.
    name
        Returns what the keeper calls the house.
    """

    def __init__(
        self,
        topics: Mapping[str, Callable[[], bytes]],
        speaker: Speaker,
        name: Callable[[], str],
    ) -> None:
        self._topics = topics
        self._speaker = speaker
        self._name = name
        self._told: dict[str, tuple[int, bytes]] = {}
        self._failed: dict[str, int] = {}
        self._silent = ""
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._keep_telling, name="teller", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End; what is being made or sent is not waited for."""
        self._ending.set()

    def tell(self) -> None:
        """Tell what the broker does not have yet."""
        for topic, make in self._topics.items():
            connection = self._speaker.connection
            if not connection:
                return
            try:
                content = make()
            except NoTimesError as error:
                # What the broker has says itself until when it holds.
                self._say_silence(error.why)
                continue
            if self._told.get(topic) != (connection, content):
                self._send(topic, connection, content)

    def _send(self, topic: str, connection: int, content: bytes) -> None:
        failed = self._failed.get(topic, 0)
        if failed >= MOST_TRIES:
            self._failed[topic] = failed + 1 if failed < MOST_TRIES + PAUSE_LOOKS else 0
        elif self._speaker.keep(topic, content):
            self._told[topic] = connection, content
            self._failed[topic] = 0
        else:
            self._failed[topic] = failed + 1
            if failed + 1 == MOST_TRIES:
                self._say_silence(
                    f'on "{printable(topic)}" it takes nothing, and is tried again in an hour; it '
                    f"may refuse messages of {len(content)} bytes"
                )

    def _keep_telling(self) -> None:
        while not self._ending.is_set():
            try:
                self.tell()
            except Exception as error:
                # Whatever it is, the next movement must be told.
                self._say_silence(f"{type(error).__name__}: {error}; please report it")
            self._ending.wait(LOOK_EVERY_S)

    def _say_silence(self, why: str) -> None:
        """Say why a door is told nothing, once."""
        if why != self._silent:
            self._silent = why
            say(f"warning: {self._name()}: the door is told nothing new by the broker: {why}")
