"""The table of the site file that says on which topics of a broker the door reports.

A file of its own because most runs of the program need none of it. Logins have no key here: a site
file is lent and copied.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import AfterValidator, Field, model_validator

from daylatch.console import printable
from daylatch.site.messages import told_text
from daylatch.site.table import ONE_LINE, KindsByWord, Table, is_host, spoken, words_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

PORT, PORT_TLS = 1883, 8883
SYSTEM = "system"
_LONGEST = 200


def _host(text: str) -> str:
    if not is_host(text):
        raise ValueError(
            'write the name or the address of the broker, like "192.168.1.5", without mqtt:// and '
            "without a port"
        )
    return text


def _topic(text: str) -> str:
    if any(character in "+#\0" for character in text):
        raise ValueError("write one whole topic, without + and #")
    if text.startswith("$"):
        raise ValueError("topics that begin with $ are the broker's own: write another")
    return text


Topic = Annotated[str, Field(min_length=1, max_length=_LONGEST), ONE_LINE, AfterValidator(_topic)]
Word = Annotated[str, Field(min_length=1, max_length=_LONGEST), ONE_LINE]
Words = Annotated[KindsByWord, words_of("door", 50, _LONGEST)]
_TOPICS = ("state", "link", "battery", "report", "alarm", "times", "table")


class Mqtt(Table):
    """On which topics of a broker the door reports and is told."""

    ABOUT: ClassVar[str] = (
        "On which topics of an MQTT broker the door reports and is told, for `daylatch home`. The "
        "login does not stand here but in the environment, the keyring or the file of secrets."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "host": "192.168.1.5",
        "port": PORT_TLS,
        "tls": "broker.pem",
        "client": "daylatch-hens",
        "state": "hens/door/state",
        "words": {"OPEN": "opened", "SHUT": "shut", "MOVING": ""},
        "link": "hens/door/link",
        "battery": "hens/door/volts",
        "report": "hens/door/report",
        "alarm": "hens/house/alarm",
        "times": "hens/door/times",
        "table": "hens/door/table",
    }

    host: Annotated[str, Field(max_length=253), AfterValidator(_host)] | None = Field(
        None, description="The broker's name or address."
    )
    port: Annotated[int, Field(ge=1, le=65535)] | None = Field(
        None, description=f"Its port; {PORT}, or {PORT_TLS} with TLS, if left out."
    )
    tls: Annotated[str, Field(min_length=1, max_length=400), ONE_LINE] | None = Field(
        None,
        description="Whose certificates are believed, so that the way is encrypted: a file (PEM) "
        f'beside the site file, or "{SYSTEM}" for those that this computer trusts; without it the '
        "way is not encrypted.",
    )
    client: Annotated[str, Field(min_length=1, max_length=60), ONE_LINE] | None = Field(
        None,
        description="The name by which the broker knows daylatch, its client id, which no other "
        "client may have; made from the house's id if left out.",
    )
    state: Topic | None = Field(None, description="Topic on which the door says what it did.")
    words: Words | None = Field(
        None,
        description="What the words on that topic mean, each a kind of entry of the diary, or "
        "nothing for those to pass over; case and blanks around do not count. The names of the "
        "kinds themselves if left out.",
    )
    link: Topic | None = Field(
        None, description="Topic that says whether the door is connected; its last will goes here."
    )
    link_up: Word = Field("online", description="The word there for a door that is connected.")
    link_lost: Word = Field(
        "offline", description="The word there, and in its last will, for lost."
    )
    battery: Topic | None = Field(None, description="Topic with the battery's volts, a number.")
    report: Topic | None = Field(
        None, description="Topic with whole reports, as JSON, like those of POST /report."
    )
    alarm: Topic | None = Field(
        None,
        description="Topic on which daylatch says whether there is an alarm, for a buzzer: alarm, "
        "quiet or clear, retained.",
    )
    times: Topic | None = Field(
        None,
        description="Topic on which daylatch tells a networked door its times, retained: the bytes "
        "of GET /times.json.",
    )
    table: Topic | None = Field(
        None,
        description="Topic on which daylatch gives a networked door its controller table, "
        "retained: the bytes of GET /table.bin.",
    )

    @property
    def port_used(self) -> int:
        """The broker's port."""
        return self.port or (PORT_TLS if self.tls else PORT)

    @property
    def topics(self) -> list[str]:
        """Those that daylatch listens to."""
        return [topic for topic in (self.state, self.link, self.battery, self.report) if topic]

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        host = "no broker" if self.host is None else f"broker {printable(self.host)}"
        yield f"{host}, port {self.port_used}"
        if self.tls is not None:
            yield f"encrypted, trusting {told_text(self.tls)}"
        if self.client is not None:
            yield f'known there as "{told_text(self.client)}"'
        for key in _TOPICS:
            topic = getattr(self, key)
            if topic is not None:
                yield f'{key} on "{told_text(topic)}"'
        yield f'"{told_text(self.link_up)}" for connected, "{told_text(self.link_lost)}" for lost'
        for word, kind in (self.words or {}).items():
            yield f'"{told_text(word)}" is {kind or "passed over"}'

    @model_validator(mode="after")
    def _whole(self) -> Mqtt:
        given = [topic for topic in (getattr(self, key) for key in _TOPICS) if topic]
        if len(set(given)) < len(given):
            raise ValueError("two keys have the same topic: give each its own")
        if spoken(self.link_up) == spoken(self.link_lost):
            raise ValueError("link_up and link_lost are the same word")
        return self
