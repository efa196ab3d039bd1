"""Reports by way of an MQTT broker (MQTT 3.1.1, OASIS).

The session is kept by the broker, so that what the door says while nobody listens here comes later;
a message is only acknowledged once it is noted. What the broker hands out as its last known word
(retained) tells nothing of when it was said: of the door's state it never counts. Of the link it
does, since that is what last wills are for, and stands on a topic of its own.
"""

from __future__ import annotations

import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.console import printable, say
from daylatch.errors import DiaryError
from daylatch.home.broker import new_client, publish
from daylatch.home.limits import REPORTS, Rate
from daylatch.home.report.report import (
    MOST_BYTES,
    ReportError,
    battery_report,
    on_its_way_for,
    read_report,
    state_report,
)
from daylatch.site.choices.entry_kinds import ENTRY_KINDS, MOST_STAMP_MIN
from daylatch.site.table import spoken
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import paho.mqtt.client as paho

    from daylatch.home.report.receiver import Receiver
    from daylatch.home.report.report import Report
    from daylatch.home.secrets import Secrets
    from daylatch.site.mqtt import Mqtt

KEEPALIVE_S = 30
_QUIET_S = 5.0
"""After a connection messages may have waited at the broker, until none comes for so long [s]."""
_LONGEST_S = 60.0
"""And no longer than that [s]."""
_SLOWER_S = 0.5
_SLEPT = np.timedelta64(3, "m")
_BOTH_WAYS = 2
"""How a connection is shut down, SHUT_RDWR of the sockets of POSIX."""
_FLAPS = 3
_FLAP = np.timedelta64(20, "s")
_CALM_S = 60
_MINUTE = np.timedelta64(1, "m")


class Listener:
    """Listens to one house's door at a broker, and speaks to it and to a buzzer.

    Parameters
    ----------
    settings
        Where, and what the words mean.
    house
        The id of the house.
    secrets
        With the login.
    folder
        Where the file of certificates lies.
    receiver
        Takes in the reports.
    on_link, on_broker
        Called with whether the door's link, or the broker, is lost.
    seconds
        Returns what a clock shows that only goes on [s].
    heard_until_utc
        Until when reports were taken in before [datetime64[s]]; None if that is not known.

    Raises
    ------
    HomeError
        If the file of certificates cannot be used.
    """

    def __init__(
        self,
        settings: Mqtt,
        house: str,
        secrets: Secrets,
        folder: Path,
        receiver: Receiver,
        *,
        on_link: Callable[[bool], None],
        on_broker: Callable[[bool], None],
        seconds: Callable[[], float],
        heard_until_utc: np.datetime64 | None = None,
    ) -> None:
        self.settings = settings
        self.receiver = receiver
        self.on_link = on_link
        self.on_broker = on_broker
        self.seconds = seconds
        self._away_since = heard_until_utc
        self._connected_utc: np.datetime64 | None = None
        self._hears = False
        self._alive_utc: np.datetime64 | None = None
        self._away_min = 0.0
        self._connected_s = 0.0
        self._connections = 0
        self._caught_up_s: float | None = None
        self._lock = threading.Lock()
        self._rate = Rate(REPORTS)
        self._flaps = 0
        self._said: set[str] = set()
        self._unnoted: list[tuple[Report, paho.MQTTMessage]] = []
        words = settings.words or {kind: kind for kind in ENTRY_KINDS}
        self._words = {spoken(word): kind for word, kind in words.items()}
        self.client = self._client(house, secrets, folder)

    @property
    def hears(self) -> bool:
        """Whether everything that the door says now is heard."""
        return self._hears

    @property
    def where(self) -> str:
        """The broker, in words."""
        return f"the broker at {printable(str(self.settings.host))}:{self.settings.port_used}"

    def start(self) -> None:
        """Begin to listen; where there is no broker yet, it is waited for."""
        self.client.connect_async(
            str(self.settings.host), self.settings.port_used, keepalive=KEEPALIVE_S
        )
        self.client.loop_start()

    def stop(self) -> None:
        """Leave; the broker keeps what the door says until the next start."""
        self.client.disconnect()
        self.client.loop_stop()

    def say(self, word: str) -> bool:
        """Say a word on the topic of the buzzer, and return whether the broker has it."""
        if self.settings.alarm is None or not self.client.is_connected():
            return False
        return publish(self.client, self.settings.alarm, word)

    @property
    def connection(self) -> int:
        """The number of the connection that there is, counted from 1; 0 without one."""
        return self._connections if self.client.is_connected() else 0

    def keep(self, topic: str, content: bytes) -> bool:
        """Let the broker keep something for who comes later, and return whether it has it."""
        return publish(self.client, topic, content)

    def look_after(self) -> None:
        """Note what could not be noted when it came, and see that the computer did not sleep.

        Called about twice a minute. What comes on a connection from before a sleep may be of any
        moment of it, so another connection is begun, for which that is reckoned with.
        """
        now = self.receiver.clock()
        if self._hears and self._alive_utc is not None:
            if not self._alive_utc - _SLEPT <= now <= self._alive_utc + _SLEPT:
                self._away_since, self._hears = self._alive_utc, False
                connection = self.client.socket()
                if connection is not None:
                    with suppress(OSError):
                        connection.shutdown(_BOTH_WAYS)  # type: ignore[attr-defined]
            else:
                self._alive_utc = now
        with self._lock:
            self._note_all()

    def _client(self, house: str, secrets: Secrets, folder: Path) -> paho.Client:
        name = self.settings.client or f"daylatch-{house}"
        client = new_client(self.settings, name, secrets, folder, is_kept=True)
        client.reconnect_delay_set(1, _CALM_S)
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        return client

    def _on_connect(
        self, client: paho.Client, _: Any, flags: paho.ConnectFlags, reason: Any, __: Any
    ) -> None:
        if reason.is_failure:
            self._once(f"{self.where} refuses: {str(reason).lower()}")
            self.on_broker(True)
            return
        now = self.receiver.clock()
        self._connected_utc = now
        self._connections += 1
        self._away_min = self._may_have_waited(now) if flags.session_present else 0.0
        self._connected_s = self.seconds()
        self._caught_up_s = self._connected_s + _QUIET_S
        self._said.discard(self._no_broker)
        if self.settings.topics:
            client.subscribe([(topic, 1) for topic in self.settings.topics])
        else:
            self._listens()

    def _on_subscribe(self, _: paho.Client, __: Any, ___: int, reasons: Any, ____: Any) -> None:
        refused = [
            topic
            for topic, reason in zip(self.settings.topics, reasons, strict=False)
            if reason.is_failure
        ]
        if refused:
            self._once(f"{self.where} does not let this client hear {listed(refused)}")
            self.on_broker(True)
        else:
            self._listens()

    def _may_have_waited(self, now: np.datetime64) -> float:
        """Return for how long a message of a session that was kept may have waited [min]."""
        since = self._away_since
        if since is None or now < since:
            # Nobody knows, or a clock was put back.
            return float(MOST_STAMP_MIN)
        return float((now - since) / _MINUTE)

    def _listens(self) -> None:
        self._hears, self._alive_utc = True, self.receiver.clock()
        say(f"{self.receiver.clock()}Z {self.receiver.name()}: connected to {self.where}")
        self.on_broker(False)

    @property
    def _no_broker(self) -> str:
        return f"{self.where} cannot be reached; it is tried again"

    def _on_connect_fail(self, _: paho.Client, __: Any) -> None:
        self._once(self._no_broker)
        self.on_broker(True)

    def _on_disconnect(self, client: paho.Client, _: Any, __: Any, reason: Any, ___: Any) -> None:
        now = self.receiver.clock()
        brief = self._connected_utc is not None and now - self._connected_utc < _FLAP
        if self._hears:
            # Since the last sign of life nobody knows what was heard.
            self._away_since, self._hears = self._alive_utc, False
        if self._connected_utc is None:
            return
        self._connected_utc = None
        if not reason.is_failure:
            return
        self._flaps = self._flaps + 1 if brief else 0
        if not brief:
            client.reconnect_delay_set(1, _CALM_S)
        if self._flaps >= _FLAPS:
            # Two clients of one name drop each other for ever, and each comes back.
            self._once(
                f"{self.where} drops the connection again and again: another client may have the "
                "same name there; give this one its own as client under [mqtt]"
            )
            client.reconnect_delay_set(_CALM_S, _CALM_S)
        say(f"{now}Z {self.receiver.name()}: lost {self.where}")
        self.on_broker(True)

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        try:
            self._take(client, message)
        except Exception as error:
            # One message must not end the listening.
            self.receiver.trouble = (
                f"a message could not be read ({type(error).__name__}: {error}); please report it"
            )

    def _take(self, client: paho.Client, message: paho.MQTTMessage) -> None:
        now = self.receiver.clock()
        try:
            report = self._read(message, now)
        except ReportError as error:
            self._once(f'on "{printable(message.topic)}": {error}')
            report = None
        if report is None:
            client.ack(message.mid, message.qos)
            return
        if self._is_catching_up():
            report = on_its_way_for(report, self._away_min)
        if not self._rate.allows("", self.seconds()):
            # Whoever floods is slowed down: the broker waits for its acknowledgement.
            time.sleep(_SLOWER_S)
        with self._lock:
            self._unnoted.append((report, message))
            self._note_all()

    def _is_catching_up(self) -> bool:
        """Return whether a message may have waited at the broker."""
        now_s = self.seconds()
        if (
            self._caught_up_s is None
            or now_s >= self._caught_up_s
            or now_s >= self._connected_s + _LONGEST_S
        ):
            self._caught_up_s = None
            return False
        self._caught_up_s = now_s + _QUIET_S
        return True

    def _note_all(self) -> None:
        """Note what waits, in the order in which it came; stop at what cannot be noted."""
        while self._unnoted:
            report, message = self._unnoted[0]
            try:
                self.receiver.take(report)
            except DiaryError as error:
                self._once(f"a report could not be noted, and is tried again: {error}")
                return
            except Exception as error:
                # It must not keep those behind it back.
                self._once(f"a report was lost ({type(error).__name__}: {error}); please report it")
            del self._unnoted[0]
            self.client.ack(message.mid, message.qos)

    def _read(self, message: paho.MQTTMessage, now: np.datetime64) -> Report | None:
        """Return the report in a message; None if it holds none."""
        content = bytes(message.payload)
        if len(content) > MOST_BYTES:
            raise ReportError(f"a message has {MOST_BYTES} bytes at most")
        text = content.decode(errors="replace")
        if message.topic == self.settings.link:
            self._link(text)
            return None
        if message.retain:
            return None
        if message.topic == self.settings.report:
            return read_report(content, now)
        if message.topic == self.settings.battery:
            return battery_report(text, now)
        kind = self._words.get(spoken(text))
        if kind is None:
            self._once(
                f'"{printable(text[:60])}" came on "{printable(message.topic)}": add the word to '
                "words under [mqtt], with nothing as its kind to pass it over",
                about=f"words of {message.topic}",
            )
        return state_report(kind, now) if kind else None

    def _link(self, text: str) -> None:
        word = spoken(text)
        if word in (spoken(self.settings.link_up), spoken(self.settings.link_lost)):
            self.on_link(word == spoken(self.settings.link_lost))
        elif word:
            self._once(
                f'"{printable(text[:60])}" came on the topic of the link: it is neither link_up '
                "nor link_lost under [mqtt]",
                about="words of the link",
            )

    def _once(self, text: str, about: str = "") -> None:
        """Say something that would otherwise be said every minute, once for what it is about."""
        key = about or text
        if key not in self._said:
            if len(self._said) > 100:
                self._said.clear()
            self._said.add(key)
            say(f"warning: {self.receiver.name()}: {text}")
