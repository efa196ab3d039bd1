"""The networked door as a program, against a real home and against peers that go wrong."""

from __future__ import annotations

import contextlib
import socket
import subprocess
import threading
import time
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

from daylatch.door.reader import PROGRAMS
from door.reader.test_door_times import DAY, HOUR, NOON, unix
from door.reader.test_reader import C99, SOURCE
from home.server.test_door_times import get
from peers.home_process import SITE, TOKEN, Home, running_home
from programs import needs
from sites import ID

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


pytestmark = needs("gcc")
SANITIZERS = ("-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
CLOSING = unix("2026-11-26T16:29:00")
OTHER = ID.replace("6f1c", "7f1c")
UNKNOWN = "unknown, leave it where it is"
DIFFER = "the own clock and the home's differ"
UNSURE = "the own clock was never compared with the home's"
WAYS = ("times", "table", "door", "by", "clock", "time", "next")


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    made = tmp_path_factory.mktemp("program") / "networked_door"
    (name,) = [name for name in PROGRAMS if name == "networked_door.c"]
    sources = [str(SOURCE / one) for one in (name, *PROGRAMS[name])]
    done = subprocess.run(
        ["gcc", *C99, *SANITIZERS, *sources, "-o", str(made)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return made


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    made = Home(tmp_path_factory.mktemp("home"))
    made.clock.set("2026-11-26T12:00:00")
    with running_home(made):
        # Nobody waits for the first table.
        assert get(made, "/table.bin")[0] == 200
        yield made


class Door:
    """A board's storage, and the program that runs on it."""

    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.kept = folder / "kept"
        self.kept.mkdir()
        self.token = folder / "token.txt"
        self.token.write_text(TOKEN + "\n")

    def run(self, port, *, clock=None, rounds=1, house=None, trusts=False, host="127.0.0.1"):
        """Return what each round said, and the status."""
        options = ["-n", str(rounds)]
        options += ["-s"] if trusts else []
        options += [] if clock is None else ["-c", str(clock)]
        options += [] if house is None else ["-i", house]
        done = subprocess.run(
            [self.program, *options, host, str(port), self.token, self.kept],
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        assert done.stderr == "", done.stderr
        found: list[dict[str, str]] = []
        for line in done.stdout.splitlines():
            way, _, words = line.partition(": ")
            assert way in WAYS
            if way == "times":
                found.append({})
            found[-1][way] = words
        assert len(found) == rounds
        return found, done.returncode

    def once(self, port, **more):
        (said,), status = self.run(port, **more)
        assert status == said["door"].startswith("unknown")
        return said


@pytest.fixture
def door(program, tmp_path):
    return Door(program, tmp_path)


def port_of(home):
    return urlsplit(home.url).port


@pytest.fixture
def nobody():
    """Return a port at which nobody answers."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        yield taken.getsockname()[1]


def shown(at):
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(at))


def go_to(home, instant):
    """Put the home's clock on, and wait until its answers say so."""
    home.clock.set(instant)
    wanted = shown(unix(instant))[11:16]
    home.until(lambda: get(home, "/times.json")[1]["Date"][17:22] == wanted)


def test_a_good_answer_and_then_the_same(home, door):
    first = door.once(port_of(home), clock=NOON, house=ID)
    assert first["time"][:15] == "2026-11-26T12:0"
    del first["time"]
    assert first == {
        "times": "new",
        "table": "new",
        "door": "open",
        "by": "the answer",
        "clock": "well",
        "next": shown(CLOSING),
    }
    again = door.once(port_of(home), clock=NOON)
    assert (again["times"], again["table"]) == ("the same", "the same")
    assert (again["door"], again["by"]) == ("open", "the answer")
    assert sorted(path.name for path in door.kept.iterdir()) == [
        "clocks",
        "table.answer",
        "times.answer",
    ]


def test_it_says_when_the_door_shuts(tmp_path, door):
    home = Home(tmp_path / "home")
    home.clock.set("2026-11-26T16:20:00")
    with running_home(home):
        assert door.once(port_of(home), clock=CLOSING - 9 * 60)["door"] == "open"
        go_to(home, "2026-11-26T16:35:00")
        said = door.once(port_of(home), clock=CLOSING + 6 * 60)
        assert (said["times"], said["door"], said["by"]) == ("new", "shut", "the answer")


def test_an_outage_of_weeks_of_months_and_of_years(home, door, nobody):
    door.once(port_of(home), clock=NOON)
    for at, wanted, by in (
        (CLOSING - 1, "open", "the answer"),
        (CLOSING, "shut", "the answer"),
        (NOON + DAY, "open", "the answer"),
        (NOON + 21 * DAY, "open", "the answer"),
        (NOON + 21 * DAY + 10 * HOUR, "shut", "the answer"),
        (NOON + 70 * DAY, "open", "the table"),
        (NOON + 70 * DAY + 10 * HOUR, "shut", "the table"),
        (unix("2027-07-01T04:30:00"), "open", "the table"),
        (unix("2027-11-30T22:00:00"), "shut", "the table"),
        (unix("2027-12-02T12:00:00"), "unknown, leave it where it is", "nothing"),
        (unix("2036-01-01T12:00:00"), "unknown, leave it where it is", "nothing"),
    ):
        said = door.once(nobody, clock=at)
        assert (said["times"], said["table"]) == ("cut short, or none", "not asked for")
        assert (said["door"], said["by"], said["clock"]) == (wanted, by, "well"), at


def test_wrong_clocks(home, door, nobody):
    port = port_of(home)
    # None, and one that lost its time: the home's is gone by.
    for clock in (0, unix("2000-01-01T00:00:00")):
        said = door.once(port, clock=clock)
        assert (said["door"], said["by"], said["clock"]) == ("open", "the answer", "well")
        # Without the home nothing tells the time.
        said = door.once(nobody, clock=clock)
        assert (said["door"], said["clock"]) == ("unknown, leave it where it is", "none")
    # An hour off, at noon: whichever is right, the door should be open.
    for off in (-HOUR, HOUR):
        said = door.once(port, clock=NOON + off)
        assert (said["door"], said["clock"]) == ("open", "the own clock and the home's differ")
    # So far off that the door would be shut by one of them: it is left where it is.
    for off in (6 * HOUR, -8 * HOUR, 300 * DAY + 12 * HOUR):
        said = door.once(port, clock=NOON + off)
        assert said["door"].startswith("unknown")
        assert said["clock"] == "the own clock and the home's differ"
    # Behind what was answered, when the home is away.
    assert door.once(port, clock=NOON)["clock"] == "well"
    said = door.once(nobody, clock=NOON - 12 * HOUR)
    assert (said["door"], said["clock"]) == (
        "unknown, leave it where it is",
        "earlier than what is kept",
    )


def test_a_clock_that_stands_while_the_homes_goes_on(tmp_path, door):
    home = Home(tmp_path / "home")
    home.clock.set("2026-11-26T16:20:00")
    stopped = unix("2026-11-26T16:20:00")
    with running_home(home):
        assert door.once(port_of(home), clock=stopped)["door"] == "open"
        go_to(home, "2026-11-26T16:50:00")
        said = door.once(port_of(home), clock=stopped)
        assert said["clock"] == "the own clock and the home's differ"
        assert said["door"].startswith("unknown")


def test_another_houses_answer_a_wrong_token_and_a_home_that_cannot_tell(tmp_path, door, home):
    said = door.once(port_of(home), clock=NOON, house=OTHER)
    assert (said["times"], said["table"]) == ("another house's", "not asked for")
    assert (said["by"], said["door"]) == ("nothing", UNKNOWN)
    door.once(port_of(home), clock=NOON)
    door.token.write_text("another-token-0123456789")
    said = door.once(port_of(home), clock=NOON)
    assert (said["times"], said["table"], said["door"]) == (
        "refused",
        "not asked for",
        "open",
    )
    door.token.write_text(TOKEN)
    lost = Home(tmp_path / "lost")
    lost.clock.set("1970-01-01T00:05:00")
    with running_home(lost):
        said = door.once(port_of(lost), clock=NOON)
        assert (said["times"], said["table"]) == ("later", "not asked for")
        assert (said["door"], said["by"], said["clock"]) == ("open", "the answer", "well")


def test_clocks_that_differed_in_one_run_do_in_the_next(tmp_path, door, nobody):
    """At 22:00 the own clock shows nine in the morning, and then the home is away."""
    home = Home(tmp_path / "home")
    night = unix("2026-11-26T22:00:00")
    home.clock.set("2026-11-26T22:00:00")
    with running_home(home):
        said = door.once(port_of(home), clock=night + 11 * HOUR)
        assert (said["times"], said["door"], said["clock"]) == ("new", UNKNOWN, DIFFER)
        answers = {"/times.json": b"HTTP/1.1 503 Later\r\nContent-Length: 0\r\n\r\n"}
        with contextlib.closing((later := Peer(answers, lambda _, one: one)).socket):
            for port, why in ((later.port, "later"), (nobody, "cut short, or none")):
                said = door.once(port, clock=night + 11 * HOUR)
                assert (said["times"], said["table"]) == (why, "not asked for")
                assert (said["door"], said["clock"]) == (UNKNOWN, DIFFER)
        # Damaged, cut short, or gone: nothing is known of the own clock.
        kept = door.kept / "clocks"
        content = kept.read_bytes()
        for bad in (content[:-1], content + b"x", content[:3] + b"\1" + content[4:], b"", None):
            kept.unlink(missing_ok=True)
            if bad is not None:
                kept.write_bytes(bad)
            said = door.once(nobody, clock=night + 11 * HOUR)
            assert (said["door"], said["clock"]) == (UNKNOWN, UNSURE)
        # Somebody has put it right, and looked.
        said = door.once(nobody, clock=night, trusts=True)
        assert (said["door"], said["by"], said["clock"]) == ("shut", "the answer", "well")
        said = door.once(nobody, clock=night + 11 * HOUR)
        assert (said["door"], said["clock"]) == ("open", "well")
        # The home says once more that it is wrong, and then that it is right.
        assert door.once(port_of(home), clock=night + 11 * HOUR)["clock"] == DIFFER
        assert door.once(nobody, clock=night + 11 * HOUR)["door"] == UNKNOWN
        assert door.once(port_of(home), clock=night)["door"] == "shut"
        assert door.once(nobody, clock=night)["clock"] == "well"


def test_what_is_known_of_the_clocks_is_forgotten_rather_than_left_as_it_was(home, door, nobody):
    assert door.once(port_of(home), clock=NOON)["clock"] == "well"
    # Nothing can be written.
    (door.kept / "part").mkdir()
    done = subprocess.run(
        [
            door.program,
            "-c",
            str(NOON + HOUR),
            "127.0.0.1",
            str(port_of(home)),
            door.token,
            door.kept,
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "clocks: cannot be written" in done.stderr
    assert DIFFER in done.stdout
    (door.kept / "part").rmdir()
    said = door.once(nobody, clock=NOON + HOUR)
    assert (said["door"], said["clock"]) == (UNKNOWN, UNSURE)


def test_the_table_of_another_house_is_not_asked_for_nor_kept(home, door, nobody):
    port = port_of(home)
    assert door.once(port, clock=NOON, house=ID)["table"] == "new"
    table = door.kept / "table.answer"
    mine = table.read_bytes()
    asked = []

    def of_other(_, answer):
        asked.append(b"application/json" in answer)
        return answer

    with peer(home, of_other) as other:
        said = door.once(other, clock=NOON, house=OTHER)
    assert (said["times"], said["table"]) == ("another house's", "not asked for")
    assert asked == [True]
    assert table.read_bytes() == mine
    # What was kept of another house is not gone by either.
    late = NOON + 70 * DAY
    assert door.once(nobody, clock=late, house=OTHER)["by"] == "nothing"
    assert door.once(nobody, clock=late, house=ID)["by"] == "the table"
    # The times are this house's, the table's head names another, or none.
    for head in (b"Daylatch-House: " + OTHER.encode(), b"Another-Line: " + ID.encode()):

        def change(_, answer, head=head):
            if b"application/json" in answer:
                return answer
            start, middle, end = answer.lower().partition(b"daylatch-house: " + ID.encode())
            assert middle
            return answer[: len(start)] + head + answer[len(answer) - len(end) :]

        with peer(home, change) as other:
            said = door.once(other, clock=NOON, house=ID)
            assert (said["times"], said["table"]) == ("new", "another house's")
            assert table.read_bytes() == mine
            # Whoever names no house takes any.
            assert door.once(other, clock=NOON)["table"] == "new"
            assert door.once(nobody, clock=late, house=ID)["by"] == "nothing"
        assert door.once(port, clock=NOON, house=ID)["table"] == "new"
        mine = table.read_bytes()


def test_a_tag_that_could_do_harm_is_not_sent_back(home, door):
    for tag in (b'"' + b"t" * 2500 + b'"', b'"t"\nX-Line: "'):
        with peer(home, lambda _, answer, tag=tag: tagged(answer, tag)) as port:
            said = door.once(port, clock=NOON)
            assert (said["times"], said["table"]) == ("new", "new")
        with recorded(home) as (port, requests):
            said = door.once(port, clock=NOON)
        assert (said["times"], said["table"]) == ("new", "new")
        assert [b"if-none-match" in one.lower() or b"X-Line" in one for one in requests] == [
            False
        ] * 2


def tagged(answer, tag):
    head, _, body = answer.partition(b"\r\n\r\n")
    lines = [line for line in head.split(b"\r\n") if not line.lower().startswith(b"etag")]
    return b"\r\n".join([*lines, b"ETag: " + tag]) + b"\r\n\r\n" + body


@contextlib.contextmanager
def recorded(home, change=lambda _, answer: answer, host="127.0.0.1"):
    """Run a peer that has the true answers; give its port, and the requests that come."""
    answers = {path: raw(home, path) for path in ("/times.json", "/table.bin")}
    running = Peer(answers, change, host)
    try:
        yield running.port, running.requests
    finally:
        running.socket.close()


def test_an_address_by_ipv6(tmp_path, door, home):
    here = Home(tmp_path / "home", SITE.replace("port = 0\n", 'port = 0\naddress = "::1"\n'))
    here.clock.set("2026-11-26T12:00:00")
    with running_home(here):
        said = door.once(port_of(here), clock=NOON, host="::1")
        assert (said["times"], said["door"]) == ("new", "open")
    for host, wanted in (
        ("::1", b"[::1]"),
        ("::1%1", b"[::1]"),
        ("0:0:0:0:0:0:0:1", b"[0:0:0:0:0:0:0:1]"),
    ):
        with recorded(home, host="::1") as (port, requests):
            assert door.once(port, clock=NOON, host=host)["times"] == "new"
        assert b"\r\nHost: " + wanted + b"\r\n" in requests[0]


def test_what_is_kept_and_damaged_is_as_nothing(home, door, nobody):
    door.once(port_of(home), clock=NOON)
    for name in ("times.answer", "table.answer"):
        path = door.kept / name
        content = path.read_bytes()
        path.write_bytes(content[:-20] + b"#" + content[-19:])
    said = door.once(nobody, clock=NOON)
    assert (said["door"], said["by"]) == ("unknown, leave it where it is", "nothing")
    said = door.once(port_of(home), clock=NOON)
    assert (said["times"], said["table"], said["door"]) == ("new", "new", "open")


class Peer:
    """Answers each question with what a test makes of the true answer, and hangs up."""

    def __init__(
        self,
        answers: dict[str, bytes],
        change: Callable[[int, bytes], bytes],
        host: str = "127.0.0.1",
    ) -> None:
        self.answers, self.change = answers, change
        self.rounds = -1
        self.requests: list[bytes] = []
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self.socket = socket.create_server((host, 0), family=family, backlog=16)
        self.port = self.socket.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                with self.socket.accept()[0] as asked:
                    request = b""
                    while b"\r\n\r\n" not in request:
                        request += asked.recv(4096)
                    self.requests.append(request)
                    path = request.split()[1].decode()
                    self.rounds += path == "/times.json"
                    asked.sendall(self.change(self.rounds, self.answers[path]))


@contextlib.contextmanager
def peer(home, change) -> Iterator[int]:
    """Run a peer that has the true answers; give its port."""
    with recorded(home, change) as (port, _):
        yield port


def raw(home, path):
    """Return the bytes of an answer as they come; on a fast computer there is a wait for it."""
    content = asked(home, path)
    if content.startswith(b"HTTP/1.1 429"):
        # A door may ask once a second in the long run: some answers' worth.
        time.sleep(15)
        content = asked(home, path)
    assert content.startswith(b"HTTP/1.1 200")
    return content


def asked(home, path):
    """Return the bytes of what comes, be it an answer or a refusal."""
    head = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\n"
    with socket.create_connection(("127.0.0.1", port_of(home)), 10) as made:
        made.sendall(f"{head}Connection: close\r\n\r\n".encode())
        content = b""
        while part := made.recv(65536):
            content += part
    return content


def test_answers_that_are_cut_at_every_byte(home, door):
    times, table = (len(raw(home, path)) for path in ("/times.json", "/table.bin"))
    assert times > 6000
    door.once(port_of(home), clock=NOON)
    kept = {path.name: path.read_bytes() for path in door.kept.iterdir()}
    with peer(home, lambda number, answer: answer[:number]) as port:
        found, status = door.run(port, clock=NOON, rounds=times + 1)
    assert status == 0
    assert {said["times"] for said in found[:-1]} == {"cut short, or none"}
    assert {said["table"] for said in found[:-1]} == {"not asked for"}
    assert (found[-1]["times"], found[-1]["table"]) == ("new", "new")

    def cut_table(number, answer):
        return answer if b"application/json" in answer else answer[:number]

    with peer(home, cut_table) as port:
        tables, status = door.run(port, clock=NOON, rounds=table + 1)
    assert status == 0
    assert {said["times"] for said in tables} == {"new"}
    assert {said["table"] for said in tables[:-1]} == {"cut short, or none"}
    assert tables[-1]["table"] == "new"
    for said in found + tables:
        assert (said["door"], said["by"], said["clock"]) == ("open", "the answer", "well")
    assert {path.name: path.read_bytes() for path in door.kept.iterdir()}.keys() == kept.keys()


def test_answers_with_a_flipped_byte(home, door):
    size = len(raw(home, "/times.json"))
    head = raw(home, "/times.json").index(b"\r\n\r\n") + 4

    def flip(number, answer):
        if number >= size and b"application/json" in answer:
            return answer
        place = number % len(answer)
        return answer[:place] + bytes([answer[place] ^ 0x11]) + answer[place + 1 :]

    with peer(home, flip) as port:
        found, _ = door.run(port, clock=NOON, rounds=size + len(raw(home, "/table.bin")))
    assert {said["times"] for said in found[head:size]} == {"damaged"}
    assert {said["table"] for said in found[head:size]} == {"not asked for"}
    assert {said["table"] for said in found[size:]} >= {"damaged", "new"}
    for said in found:
        assert said["door"] in ("open", "unknown, leave it where it is")
    # A table with a flipped byte in it is never taken, nor kept.
    table = raw(home, "/table.bin")
    kept = (door.kept / "table.answer").read_bytes()
    assert kept.partition(b"\r\n\r\n")[2] == table.partition(b"\r\n\r\n")[2]


def test_a_peer_that_hangs_or_floods_ends(home, door):
    with peer(home, lambda _, __: b"x" * 1_000_000) as port:
        said = door.once(port, clock=NOON)
        assert (said["times"], said["table"]) == ("cut short, or none", "not asked for")
    silent = socket.create_server(("127.0.0.1", 0))
    with silent:
        began = time.monotonic()
        said = door.once(silent.getsockname()[1], clock=NOON)
        assert said["times"] == "cut short, or none"
        assert 4 < time.monotonic() - began < 30


def test_what_was_typed_wrongly_is_said(program, tmp_path):
    done = subprocess.run([program], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "HOST PORT TOKEN-FILE FOLDER" in done.stderr
    done = subprocess.run(
        [program, "127.0.0.1", "9", tmp_path / "none", tmp_path],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "write the door's token into it" in done.stderr
