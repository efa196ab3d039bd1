"""The server as a door, a phone and a stranger see it, in a process of its own."""

from __future__ import annotations

import contextlib
import json
import socket
import ssl
import time
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from peers.certificate import make_certificate
from peers.home_process import SITE, TOKEN, Home, running_home
from peers.receivers import running_post

NOON = "2026-11-26T12:00:00"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """A home in which the clock stands still enough."""
    made = Home(tmp_path_factory.mktemp("home"))
    made.clock.set(NOON)
    with running_home(made):
        yield made


def port_of(home):
    return urlsplit(home.url).port


def bearer(token=TOKEN):
    return {"Authorization": f"Bearer {token}"}


def raw(home, request, *, source="127.0.0.1", wait=True):
    """Send bytes from an address of this machine; return the answer, or the open connection."""
    made = socket.create_connection(("127.0.0.1", port_of(home)), 10, (source, 0))
    made.sendall(request)
    if not wait:
        return made
    with made:
        content = b""
        with contextlib.suppress(ConnectionError):
            while part := made.recv(65536):
                content += part
        return content.decode()


def test_a_report_is_noted_with_the_moment_of_its_receipt(home):
    status, answer = home.report(41, "shut")
    assert (status, answer["new"]) == (200, True)
    (entry,) = [one for one in home.entries() if one.what == "shut"]
    assert str(entry.instant_utc).startswith("2026-11-26T12:0")
    assert (entry.stamped_by, entry.by) == ("server", "door")


def test_a_repeat_is_harmless_and_another_report_of_that_number_is_not_lost(home):
    first = home.report(50, "opened")[1]
    assert home.report(50, "opened") == (200, {"entry": first["entry"], "new": False})
    # It began to count anew after a restart.
    assert home.report(50, "shut")[1]["new"]
    at = "2026-11-26T08:00:00+01:00"
    first = home.report(51, "opened", at=at)[1]
    assert home.report(51, "opened", at=at) == (200, {"entry": first["entry"], "new": False})
    assert home.report(51, "opened", at="2026-11-26T08:00:01+01:00")[1]["new"]
    kept = [one for one in home.entries() if str(one.instant_utc) == "2026-11-26T07:00:00"]
    assert [one.stamped_by for one in kept] == ["door"]


@pytest.mark.parametrize(
    "at", ["2026-11-26T13:00:00Z", "2000-01-01T13:00:00Z", "0001-01-01T00:00:00+23:59"]
)
def test_a_door_whose_clock_is_wrong_is_heard_and_its_moment_not_believed(home, at):
    number = 900 + len(home.entries())
    status, answer = home.report(number, "shut", at=at)
    assert (status, answer["new"]) == (200, True)
    (entry,) = [one for one in home.entries() if one.note == f"the door said that it was at {at}"]
    assert (entry.stamped_by, entry.within_min) == ("server", 720)


@pytest.mark.parametrize("given", [12.4, "12.4"])
def test_a_value_may_be_a_number_or_a_text(home, given):
    assert home.report(60 + len(str(type(given))), "battery_v", value=given)[0] == 200


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "write JSON"),
        (b"\xff\xfe", "write JSON"),
        (b"[" * 4000, "write JSON"),
        (b"[]", "write one JSON object"),
        (b'{"number": 1}', "what: write one of last_in"),
        (b'{"number": 1, "what": "ajar"}', "what: write one of"),
        (b'{"what": "shut"}', "number: give the door's own number"),
        (b'{"number": -1, "what": "shut"}', "number: give"),
        (b'{"number": true, "what": "shut"}', "number: give"),
        (b'{"number": 1e3, "what": "shut"}', "number: give"),
        (b'{"number": 9007199254740993, "what": "shut"}', "number: give"),
        (b'{"number": 1, "what": "shut", "value": "x"}', "shut has no value"),
        (b'{"number": 1, "what": "battery_v"}', "says nothing without a value"),
        (b'{"number": 1, "what": "battery_v", "value": NaN}', "value is"),
        (b'{"number": 1, "what": "battery_v", "value": true}', "write a text or a number"),
        (b'{"number": 1, "what": "battery_v", "value": [1]}', "write a text or a number"),
        (b'{"number": 1, "what": "note"}', "what: write one of"),
        (b'{"number": 1, "what": "in_use", "value": "x"}', "what: write one of"),
        (b'{"number": 1, "what": "shut", "house": "x"}', "none of number, what, at, value"),
        (b'{"number": 1, "what": "shut", "at": "20:14"}', "with its distance from UTC"),
        (b'{"number": 1, "what": "shut", "at": 7}', "with its distance from UTC"),
        (b'{"number": 1, "what": "shut", "at": "2026-11-26T12:00:00"}', "its distance from UTC"),
    ],
)
def test_what_is_no_report_is_refused_with_what_would_be_right(home, content, why):
    before = home.entries()
    status, text = home.ask("/report", content, bearer())
    assert status == 422
    assert why in json.loads(text)["error"]
    assert home.entries() == before


def test_too_large_a_report_is_refused_whether_its_size_is_told_or_not(home):
    assert home.ask("/report", b" " * 5000, bearer())[0] == 413
    head = f"POST /report HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\n"
    parts = b"".join(b"400\r\n" + b" " * 1024 + b"\r\n" for _ in range(5)) + b"0\r\n\r\n"
    answer = raw(home, f"{head}Transfer-Encoding: chunked\r\n\r\n".encode() + parts)
    assert answer.startswith("HTTP/1.1 413")


def test_without_its_token_nobody_reports_and_guesses_are_few(home):
    statuses = []
    request = (
        "POST /report HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {}\r\n"
        "Content-Length: 2\r\nConnection: close\r\n\r\n{{}}"
    )
    for number in range(14):
        answer = raw(home, request.format(f"guess{number}").encode(), source="127.0.0.7")
        statuses.append(answer.split()[1])
    assert statuses[:10] == ["401"] * 10
    assert statuses[-1] == "429"
    # That keeps nobody else from it, nor the door at the same address.
    assert raw(home, request.format("x").encode(), source="127.0.0.8").split()[1] == "401"
    assert raw(home, request.format(TOKEN).encode(), source="127.0.0.7").split()[1] == "422"


@pytest.mark.parametrize(
    "given", ["", "Basic eDp5", "Bearer", f"Bearer {TOKEN[:-1]}", f"x {TOKEN}"]
)
def test_what_is_not_the_token_is_refused(home, given):
    status, text = home.ask("/report", b"{}", {"Authorization": given} if given else {})
    assert (status, json.loads(text)) == (
        401,
        {"error": "give the door's token as Authorization: Bearer ..."},
    )


@pytest.mark.parametrize(
    "hosts",
    ["Host: evil.example.org\r\n", "Host: localhost.evil.org\r\n", "Host: \r\n", ""],
)
def test_by_a_name_that_is_not_its_own_it_does_not_answer(home, hosts):
    answer = raw(home, f"GET /report HTTP/1.1\r\n{hosts}Connection: close\r\n\r\n".encode())
    assert answer.split()[1] in ("421", "400")
    assert "daylatch" not in answer.lower()


@pytest.mark.parametrize("name", ["localhost", "LOCALHOST:80", "127.0.0.1", "hens.example.org"])
def test_by_its_own_names_it_does(home, name):
    request = f"GET /report HTTP/1.1\r\nHost: {name}\r\nConnection: close\r\n\r\n"
    assert raw(home, request.encode()).split()[1] == "405"


def test_a_slow_client_is_dropped_and_holds_up_nobody(home):
    slow = raw(home, b"POST /report HT", wait=False)
    began = time.monotonic()
    assert home.report(70, "opened")[0] == 200
    with slow, contextlib.suppress(ConnectionError):
        while time.monotonic() < began + 10:
            slow.sendall(b"T")
            time.sleep(0.2)
            slow.setblocking(False)
            with contextlib.suppress(BlockingIOError):
                if not slow.recv(100):
                    break
            slow.setblocking(True)
    assert time.monotonic() < began + 6


def test_one_address_has_a_few_connections_and_leaves_room_for_others(home):
    held = [raw(home, b"POST /rep", source="127.0.0.9", wait=False) for _ in range(30)]
    try:
        assert home.report(71, "shut")[0] == 200
        answered = raw(home, b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n", source="127.0.0.9")
        assert answered == ""
    finally:
        for one in held:
            one.close()


@pytest.fixture(scope="module")
def patient_home(tmp_path_factory):
    """A home in which only the wait for the head of a request is short."""
    made = Home(tmp_path_factory.mktemp("patient"))
    made.clock.set(NOON)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LONGEST_S", "60")
        with running_home(made):
            yield made


ASKED = b"GET /report HTTP/1.1\r\nHost: localhost\r\n\r\n"


@pytest.mark.parametrize(
    "sent",
    [
        pytest.param(b"", id="nothing"),
        pytest.param(b"POST /report HTTP/1.1\r\nHost: local", id="half a head"),
    ],
)
def test_many_silent_connections_keep_the_door_out_for_moments_only(patient_home, sent):
    home = patient_home
    addresses = [f"127.0.1.{number}" for number in range(8)]
    held = [raw(home, sent, source=source, wait=False) for source in addresses for _ in range(8)]
    began = time.monotonic()
    try:
        # There is no place left.
        with pytest.raises(OSError, match=r"reset|closed"):
            home.report(80, "opened")
        number = 80 + len(home.entries())
        heard = False
        while not heard and time.monotonic() < began + 15:
            with contextlib.suppress(OSError):
                heard = home.report(number, "opened")[0] == 200
            time.sleep(0.1)
        assert heard
        # They hang on, and have no place any more.
        assert 1 < time.monotonic() - began < 10
    finally:
        for one in held:
            one.close()


def test_who_has_sent_a_head_has_time_for_the_rest(patient_home):
    """A slow link, and one that is asked something again and again."""
    home = patient_home
    head = f"POST /report HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\n"
    content = b'{"number": 7001, "what": "opened"}'
    slow = raw(home, f"{head}Content-Length: {len(content)}\r\n\r\n".encode(), wait=False)
    with slow:
        for place in range(0, len(content), 6):
            time.sleep(0.7)
            slow.sendall(content[place : place + 6])
        assert slow.recv(100).startswith(b"HTTP/1.1 200")
    often = raw(home, b"", wait=False)
    with often:
        for _ in range(6):
            often.sendall(ASKED)
            assert answer_on(often).startswith(b"HTTP/1.1 405")
            time.sleep(0.7)


def test_half_a_head_after_an_answer_is_not_waited_for_either(patient_home):
    with raw(patient_home, ASKED, wait=False) as made:
        assert answer_on(made).startswith(b"HTTP/1.1 405")
        began = time.monotonic()
        made.sendall(b"GET /")
        made.settimeout(0.3)
        with contextlib.suppress(ConnectionError):
            while time.monotonic() < began + 15:
                with contextlib.suppress(TimeoutError):
                    if not made.recv(1):
                        break
                made.sendall(b"x")
        assert 1 < time.monotonic() - began < 8


def answer_on(made):
    """Return one answer, and leave the connection open."""
    content = b""
    while b"Method Not Allowed" not in content.partition(b"\r\n\r\n")[2]:
        part = made.recv(4096)
        assert part
        content += part
    return content


def test_what_is_no_request_harms_nothing(home):
    for junk in (b"\x16\x03\x01\x02", b"\r\n" * 50, b"GET " + b"a" * 70000, b"\0" * 100):
        raw(home, junk + b"\r\n\r\n")
    assert home.report(72, "opened")[0] == 200
    assert "Traceback" not in home.log


def test_forwarded_addresses_are_not_believed_unless_that_is_said(tmp_path):
    def last_of_many(site, folder):
        house = Home(tmp_path / folder, site)
        house.clock.set(NOON)
        with running_home(house):
            for number in range(12):
                status, _ = house.ask(
                    "/report", b"{}", bearer("guess") | {"X-Forwarded-For": f"10.0.0.{number}"}
                )
            return status

    assert last_of_many(SITE, "alone") == 429
    behind = SITE.replace("port = 0\n", 'port = 0\nproxies = ["127.0.0.1"]\n')
    assert last_of_many(behind, "behind") == 401


def test_encrypted_by_its_certificate(tmp_path):
    certificate, _ = make_certificate(tmp_path)
    site = SITE.replace("port = 0\n", 'port = 0\ncertificate = "hens.pem"\nkey = "hens.key"\n')
    home = Home(tmp_path, site)
    home.clock.set(NOON)
    with running_home(home):
        assert home.url.startswith("https://")
        request = urllib.request.Request(
            f"{home.url}/report", b'{"number": 1, "what": "shut"}', bearer()
        )
        trusting = ssl.create_default_context(cafile=certificate)
        with urllib.request.urlopen(request, timeout=10, context=trusting) as answer:
            assert json.loads(answer.read()) == {"entry": 1, "new": True}
        # One that never speaks is dropped, and one that does not encrypt too.
        assert "HTTP" not in raw(home, b"GET / HTTP/1.1\r\n\r\n")
        # Connections that never begin to encrypt have places like others.
        held = [raw(home, b"", source="127.0.0.9", wait=False) for _ in range(40)]
        time.sleep(0.3)
        assert len(list(Path(f"/proc/{home.process.pid}/fd").iterdir())) < 40
        with urllib.request.urlopen(request, timeout=10, context=trusting) as answer:
            assert answer.status == 200
        for one in held:
            one.close()


def test_an_alarm_is_acknowledged_by_its_button_and_by_nothing_else(tmp_path):
    with running_post() as post:
        home = Home(tmp_path, tell={"phone": post.address})
        home.clock.set("2026-11-26T07:00:00")
        with running_home(home):
            home.report(1, "opened")
            home.go_to("2026-11-26T16:46:00")
            home.until(lambda: any("not known to be shut" in title for title in post.titles))
            link = post.got[post.titles.index("Test house: the door is not known to be shut")][1]
            path = urlsplit(link[link.index("https://") :]).path
            for method in ("GET", "HEAD"):
                status, page = home.ask(path, method=method)
                assert status == 200
                assert home.ask(path, method="OPTIONS")[0] == 405
            assert home.state()["alarms"][0]["acknowledged_utc"] is None
            status, page = home.ask(path)
            assert "<button>I am looking after it</button>" in page
            assert "No word" not in page
            assert "no word has come that it is shut" in page
            other = path[:-2] + ("AA" if path[-2:] != "AA" else "BB")
            assert home.ask(other)[0] == 404
            assert home.ask(other, b"")[0] == 404
            assert home.state()["alarms"][0]["acknowledged_utc"] is None
            status, page = home.ask(path, b"")
            assert status == 200
            assert "Somebody is looking after it. It comes again after 60 minutes" in page
            assert home.state()["alarms"][0]["acknowledged_utc"] is not None
            # It is quieted, and comes again.
            home.clock.set("2026-11-26T17:30:00")
            time.sleep(0.5)
            assert sum("not known to be shut" in title for title in post.titles) == 1
            home.clock.set("2026-11-26T17:50:00")
            home.until(lambda: sum("not known to be shut" in one for one in post.titles) == 2)
            home.report(2, "shut")
            home.until(lambda: any("over: the door" in title for title in post.titles))
            assert home.ask(path)[0] == 404


def test_no_secret_stands_in_the_log_the_state_or_the_diary(home):
    home.ask("/report", b"{}", bearer("another-guess-of-a-token"))
    # It is written with the first look.
    home.until((home.folder / "hens.watch").exists)
    for text in (home.log, (home.folder / "hens.watch").read_text(), str(home.entries())):
        assert TOKEN not in text
        assert "another-guess" not in text
    assert (home.folder / "hens.watch").stat().st_mode & 0o777 == 0o600
