"""Reports by a real broker: words, wills, what it kept, logins, and what goes wrong there."""

from __future__ import annotations

import resource
import time

import pytest

from daylatch.diary.store.store import Diary
from peers.certificate import make_certificate
from peers.home_process import SITE, Home, running_home
from peers.mosquitto import PASSWORD, USER, running_broker, say
from peers.receivers import running_post
from programs import needs
from sites import ID

pytestmark = needs("mosquitto")
NOON = "2026-11-26T12:00:00"
LOGIN = f'[mqtt]\nuser = "{USER}"\npassword = "{PASSWORD}"\n'
TOPICS = """\
state = "hens/state"
words = { AUF = "opened", zu = "shut", moving = "" }
link = "hens/link"
battery = "hens/volts"
report = "hens/report"
alarm = "hens/alarm"
"""


def home_at(broker, folder, *, more="", login=LOGIN, tell=None):
    home = Home(folder, f'{SITE}[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n{TOPICS}{more}')
    home.secrets(tell or {}, login)
    home.clock.set(NOON)
    return home


@pytest.fixture(scope="module")
def broker(tmp_path_factory):
    with running_broker(tmp_path_factory.mktemp("broker")) as running:
        yield running


def whats(home):
    return [(one.what, one.value) for one in home.entries()]


def connected(home, times=1):
    home.until(lambda: home.log.count("connected to the broker") >= times)


def test_what_comes_on_each_topic(broker, tmp_path):
    home = home_at(broker, tmp_path)
    door = broker.client("door-1")
    # What the broker hands out as the last word tells nothing of when it was.
    say(door, "hens/state", "zu", retain=True)
    with running_home(home):
        connected(home)
        for topic, word in (
            ("hens/state", "Auf "),
            ("hens/state", "moving"),
            ("hens/state", "ajar"),
            ("hens/volts", "12.4"),
            ("hens/volts", "full"),
            ("hens/report", '{"number": 7, "what": "shut"}'),
            ("hens/report", '{"number": 7, "what": "shut"}'),
            ("hens/report", "no JSON"),
            ("hens/other", "zu"),
            ("hens/state", "zu"),
        ):
            say(door, topic, word)
        home.until(lambda: len(whats(home)) == 4)
        home.until(lambda: "value is" in home.log and "write JSON" in home.log)
        assert sorted(whats(home)) == [
            ("battery_v", "12.4"),
            ("opened", ""),
            ("shut", ""),
            ("shut", ""),
        ]
        assert '"ajar" came on "hens/state": add the word to words under [mqtt]' in home.log
        assert home.stop() == 0
    say(door, "hens/state", "", retain=True)


def test_a_link_that_is_lost_and_comes_back(broker, tmp_path):
    with running_post() as post:
        home = home_at(broker, tmp_path, tell={"phone": post.address})
        home.clock.set("2026-11-26T07:00:00")
        with running_home(home):
            connected(home)
            door = broker.client("door-2", ("hens/link", "offline"), keepalive=2)
            say(door, "hens/link", "online", retain=True)
            say(door, "hens/state", "auf")
            home.until(lambda: whats(home) == [("opened", "")])
            # It hangs: the broker says so for it after one and a half keepalives.
            door.loop_stop()
            home.until(lambda: home.state()["link_lost_utc"] is not None)
            home.clock.set("2026-11-26T07:20:00")
            home.until(lambda: post.titles == ["Test house: the door is not connected"])
            door = broker.client("door-2", ("hens/link", "offline"))
            say(door, "hens/link", "online", retain=True)
            home.until(lambda: "Test house: over: the door is not connected" in post.titles)
            # Its last will stays at the broker, and holds for who comes later.
            assert home.stop() == 0
        door.loop_stop()


def test_what_the_broker_kept_while_nobody_listened(broker, tmp_path):
    home = home_at(broker, tmp_path)
    door = broker.client("door-3")
    with running_home(home):
        connected(home)
        home.until(lambda: (tmp_path / "hens.watch").exists() and home.state()["heard_utc"])
        home.stop()
        say(door, "hens/state", "auf")
        home.start()
        home.until(lambda: whats(home) == [("opened", "")])
        # A minute or less is as sure as ever.
        assert home.entries()[0].within_min == 1
        home.stop()
        say(door, "hens/state", "zu")
        home.clock.set("2026-11-26T20:00:00")
        home.start()
        home.until(lambda: len(whats(home)) == 2)
        late = next(one for one in home.entries() if one.what == "shut")
        assert 470 <= late.within_min <= 490


def test_a_broker_that_stops_and_starts(tmp_path):
    with running_broker(tmp_path / "broker") as broker:
        home = home_at(broker, tmp_path / "home")
        with running_home(home):
            connected(home)
            home.until((tmp_path / "home" / "hens.watch").exists)
            home.until(lambda: home.state()["heard_utc"] is not None)
            broker.stop()
            home.until(lambda: home.state()["broker_lost_utc"] is not None)
            # It looks on, and hears nothing more.
            heard = home.state()["heard_utc"]
            home.clock.set("2026-11-26T12:10:00")
            home.until(lambda: home.state()["looked_utc"] >= "2026-11-26T12:10")
            assert home.state()["heard_utc"] == heard < "2026-11-26T12:05"
            broker.start()
            connected(home, 2)
            home.until(lambda: home.state()["broker_lost_utc"] is None)
            door = broker.client("door")
            say(door, "hens/state", "zu")
            home.until(lambda: whats(home) == [("shut", "")])


def test_without_a_broker_it_goes_on_and_says_so(tmp_path, broker):
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text().replace(f"port = {broker.port}", "port = 9"))
    with running_home(home):
        home.until(lambda: "the broker at 127.0.0.1:9 cannot be reached" in home.log)
        assert home.report(1, "shut")[0] == 200
        assert home.state()["broker_lost_utc"] is not None


def test_a_wrong_login_is_said_without_it(broker, tmp_path):
    home = home_at(broker, tmp_path, login='[mqtt]\nuser = "keeper"\npassword = "wrong-secret"\n')
    with running_home(home):
        home.until(lambda: "refuses: " in home.log)
        assert "not authorized" in home.log.lower() or "bad user" in home.log.lower()
        assert "wrong-secret" not in home.log


def test_the_login_may_come_from_the_environment(broker, tmp_path, monkeypatch):
    monkeypatch.setenv("DAYLATCH_MQTT_USER", USER)
    monkeypatch.setenv("DAYLATCH_MQTT_PASSWORD", PASSWORD)
    home = home_at(broker, tmp_path, login="")
    with running_home(home):
        connected(home)


def test_two_clients_of_one_name(broker, tmp_path):
    home = home_at(broker, tmp_path, more='client = "twin"\n')
    with running_home(home):
        connected(home)
        twin = broker.client("twin")
        home.until(lambda: "another client may have the same name there" in home.log, 30)
        twin.loop_stop()
        twin.disconnect()


def test_encrypted(tmp_path):
    files = make_certificate(tmp_path, name="broker")
    with running_broker(tmp_path / "broker", files) as broker:
        home = home_at(broker, tmp_path / "home", more='tls = "../broker.pem"\n')
        with running_home(home):
            connected(home)
            say(broker.client("door"), "hens/state", "zu")
            home.until(lambda: whats(home) == [("shut", "")])
        # One that nobody vouches for is not believed.
        home = home_at(broker, tmp_path / "other", more='tls = "system"\n')
        with running_home(home):
            home.until(lambda: "cannot be reached" in home.log)


def test_a_look_from_a_timer_sounds_the_buzzer_too(broker, tmp_path):
    heard = []
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text().replace("hens/alarm", "hens/timer"))
    buzzer = broker.client("buzzer-2")
    buzzer.on_message = lambda *given: heard.append(given[2].payload.decode())
    buzzer.subscribe("hens/timer", 1)
    assert home.run("watch", "--test", "hens.toml").stdout == (
        "Test house: the topic of the buzzer: sent\n"
    )
    assert home.run("watch", "--once", "hens.toml").returncode == 0
    home.run("diary", "add", "hens.toml", "1 still out")
    home.clock.set("2026-11-26T17:00:00")
    home.run("diary", "add", "hens.toml", "1 still out")
    assert home.run("watch", "--once", "hens.toml").returncode == 0
    home.until(lambda: heard == ["test", "clear", "alarm"])
    # Without the broker nobody hears of it.
    home.site.write_text(home.site.read_text().replace(f"port = {broker.port}", "port = 9"))
    home.clock.set("2026-11-26T17:20:00")
    assert home.run("watch", "--test", "hens.toml").returncode == 11


def test_a_buzzer_sounds_is_quieted_and_is_told_the_end(broker, tmp_path):
    heard = []
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text().replace("hens/alarm", "hens/buzzer"))
    home.clock.set("2026-11-26T07:00:00")
    buzzer = broker.client("buzzer")
    buzzer.on_message = lambda _, __, message: heard.append(message.payload.decode())
    buzzer.subscribe("hens/buzzer", 1)
    with running_home(home):
        connected(home)
        home.until(lambda: heard == ["clear"])
        home.report(1, "opened")
        home.go_to("2026-11-26T16:46:00")
        home.until(lambda: heard == ["clear", "alarm"])
        token = next(one for one in home.state()["alarms"] if one["kind"] == "not_shut")["token"]
        assert home.ask(f"/alarm/{token}", b"")[0] == 200
        home.until(lambda: heard == ["clear", "alarm", "quiet"])
        home.report(2, "shut")
        home.until(lambda: heard == ["clear", "alarm", "quiet", "clear"])
    # It is retained: who comes later hears the last word.
    later = broker.client("later")
    found = []
    later.on_message = lambda _, __, message: found.append(
        (message.payload.decode(), message.retain)
    )
    later.subscribe("hens/buzzer", 1)
    end = time.monotonic() + 5
    while not found and time.monotonic() < end:
        time.sleep(0.02)
    assert found == [("clear", True)]


def test_what_the_broker_kept_for_nobody_knows_how_long_proves_nothing(broker, tmp_path):
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text() + 'client = "forgetful"\n')
    door = broker.client("door-4")
    with running_home(home):
        connected(home)
        home.until((tmp_path / "hens.watch").exists)
        home.stop()
        say(door, "hens/state", "zu")
        (tmp_path / "hens.watch").unlink()
        home.start()
        home.until(lambda: whats(home) == [("shut", "")])
        assert home.entries()[0].within_min == 720


def test_reports_are_noted_in_the_order_in_which_they_came_though_the_disk_was_full(
    broker, tmp_path
):
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text() + 'client = "orderly"\n')
    door = broker.client("door-5")
    with running_home(home):
        connected(home)
        say(door, "hens/state", "auf")
        home.until(lambda: whats(home) == [("opened", "")])
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.prlimit(home.process.pid, resource.RLIMIT_FSIZE, (0, hard))
        say(door, "hens/state", "zu")
        home.until(lambda: "a report could not be noted" in home.log)
        say(door, "hens/state", "auf")
        resource.prlimit(home.process.pid, resource.RLIMIT_FSIZE, (hard, hard))
        home.until(lambda: len(whats(home)) == 3)
        noted = Diary(tmp_path / "hens.diary", ID).entries()
        in_order = sorted(noted, key=lambda one: one.number)
        assert [one.entry.what for one in in_order] == ["opened", "shut", "opened"]


def test_after_a_sleep_the_connection_is_begun_anew_and_words_prove_nothing(broker, tmp_path):
    home = home_at(broker, tmp_path)
    home.site.write_text(home.site.read_text() + 'client = "sleeper"\n')
    door = broker.client("door-6")
    with running_home(home):
        connected(home)
        home.until((tmp_path / "hens.watch").exists)
        home.until(lambda: home.state()["heard_utc"] is not None)
        home.clock.set("2026-11-27T13:00:00")
        connected(home, 2)
        say(door, "hens/state", "zu")
        home.until(lambda: whats(home) == [("shut", "")])
        assert home.entries()[0].within_min == 720
