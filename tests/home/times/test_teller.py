"""A networked door that is told its times by a real broker, which keeps them."""

from __future__ import annotations

import time

import pytest

from daylatch.door.table.decode import decode
from daylatch.home.times import teller as teller_module
from daylatch.home.times.days import NoTimesError
from daylatch.home.times.teller import Teller
from home.server.test_door_times import get
from home.times.test_answer import read
from peers.home_process import SITE, Home, running_home
from peers.mosquitto import PASSWORD, USER, running_broker
from programs import needs

NOON = "2026-11-26T12:00:00"
LOGIN = f'[mqtt]\nuser = "{USER}"\npassword = "{PASSWORD}"\n'


class Speaker:
    """A broker that keeps what it is told, and can be away."""

    def __init__(self) -> None:
        self.connection = 1
        self.works = True
        self.told: list[tuple[str, bytes]] = []

    def keep(self, topic: str, content: bytes) -> bool:
        if self.works:
            self.told.append((topic, content))
        return self.works


def test_what_has_changed_is_told_and_all_after_each_connection():
    speaker, contents = Speaker(), {"a": b"1", "b": b"2"}
    made = {topic: lambda topic=topic: contents[topic] for topic in contents}
    teller = Teller(made, speaker, lambda: "Hens")
    teller.tell()
    teller.tell()
    assert speaker.told == [("a", b"1"), ("b", b"2")]
    contents["b"] = b"3"
    speaker.works = False
    teller.tell()
    speaker.works = True
    teller.tell()
    assert speaker.told[2:] == [("b", b"3")]
    speaker.connection = 0
    contents["a"] = b"4"
    teller.tell()
    assert len(speaker.told) == 3
    speaker.connection = 2
    teller.tell()
    assert speaker.told[3:] == [("a", b"4"), ("b", b"3")]


def test_what_cannot_be_known_is_told_to_nobody_and_said_once(capsys):
    def unknown():
        raise NoTimesError("words for the door", "why, for the keeper")

    speaker = Speaker()
    teller = Teller({"a": unknown, "b": lambda: b"2"}, speaker, lambda: "Hens")
    for _ in range(3):
        teller.tell()
    assert speaker.told == [("b", b"2")]
    said = "warning: Hens: the door is told nothing new by the broker: why, for the keeper\n"
    assert capsys.readouterr().err == said


def test_a_broker_that_never_takes_something_is_left_alone_for_an_hour(capsys):
    speaker = Speaker()
    tries = []
    keep = speaker.keep
    speaker.keep = lambda topic, content: (
        keep(topic, content) if topic == "b" else tries.append(topic) or False
    )
    teller = Teller({"a": lambda: b"1", "b": lambda: b"2"}, speaker, lambda: "Hens")
    for look in range(teller_module.PAUSE_LOOKS):
        # It drops whoever tries.
        speaker.connection = look + 1
        teller.tell()
    assert tries == ["a"] * teller_module.MOST_TRIES
    assert len(speaker.told) == teller_module.PAUSE_LOOKS
    assert capsys.readouterr().err.count('on "a" it takes nothing') == 1
    for _ in range(10):
        teller.tell()
    assert len(tries) == 2 * teller_module.MOST_TRIES


class Ear:
    """Hears what a broker has on two topics, and whether it had kept that."""

    def __init__(self, broker, name):
        self.heard = {}
        self.client = broker.client(name)
        self.client.on_message = lambda _, __, message: self.heard.setdefault(
            message.topic.rpartition("/")[2], []
        ).append((message.payload, message.retain, message.qos))
        self.client.subscribe([("hens/times", 1), ("hens/table", 1)])


@pytest.fixture
def broker(tmp_path):
    with running_broker(tmp_path / "broker") as running:
        yield running


def home_at(broker, folder):
    topics = 'times = "hens/times"\ntable = "hens/table"\nalarm = "hens/alarm"\n'
    home = Home(
        folder / "home", f'{SITE}[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n{topics}'
    )
    home.secrets({}, LOGIN)
    home.clock.set(NOON)
    return home


@needs("mosquitto")
def test_the_broker_keeps_the_bytes_of_both_answers(broker, tmp_path):
    home = home_at(broker, tmp_path)
    ear = Ear(broker, "door")
    with running_home(home):
        home.until(lambda: ear.heard.keys() == {"times", "table"})
        assert ear.heard["times"] == [(get(home, "/times.json")[2], False, 1)]
        assert ear.heard["table"] == [(get(home, "/table.bin")[2], False, 1)]
        assert decode(ear.heard["table"][0][0])
        # The door shuts at 16:30, and what it hears says so.
        home.clock.set("2026-11-26T16:35:00")
        home.until(lambda: read(ear.heard["times"][-1][0])["state"] == "shut")
        # Once by each connection: this one was begun anew, as after a sleep.
        assert len({content for content, *_ in ear.heard["table"]}) == 1
        # A report and the rest go on as ever.
        assert home.report(1, "shut")[0] == 200
        assert home.stop() == 0
    later = Ear(broker, "later")
    end = time.monotonic() + 5
    while later.heard.keys() != {"times", "table"} and time.monotonic() < end:
        time.sleep(0.02)
    assert later.heard["times"] == [(ear.heard["times"][-1][0], True, 1)]
    assert later.heard["table"] == [(ear.heard["table"][0][0], True, 1)]


@needs("mosquitto")
def test_after_each_connection_the_broker_is_told_again(broker, tmp_path):
    home = home_at(broker, tmp_path)
    with running_home(home):
        home.until(lambda: home.log.count("connected to the broker") == 1)
        first = Ear(broker, "first")
        home.until(lambda: first.heard.keys() == {"times", "table"})
        broker.stop()
        # It has lost what it kept.
        (tmp_path / "broker" / "mosquitto.db").unlink(missing_ok=True)
        broker.start()
        home.until(lambda: home.log.count("connected to the broker") == 2)
        again = Ear(broker, "again")
        home.until(lambda: again.heard.keys() == {"times", "table"})
        assert again.heard["times"][0][0] == first.heard["times"][0][0]


@needs("mosquitto")
def test_a_broker_that_refuses_large_messages_is_not_left_for_that(broker, tmp_path):
    conf = tmp_path / "broker" / "mosquitto.conf"
    conf.write_text(f"{conf.read_text()}message_size_limit 4096\n")
    broker.stop()
    broker.start()
    home = home_at(broker, tmp_path)
    ear = Ear(broker, "door")
    with running_home(home):
        home.until(lambda: "table" in ear.heard)
        time.sleep(1)
        assert "times" not in ear.heard
        assert home.log.count("connected to the broker") == 1
        assert "lost the broker" not in home.log
