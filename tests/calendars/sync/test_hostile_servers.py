"""The calendar sync against servers that break HTTP, or that would hold or fill a machine."""

from __future__ import annotations

import gzip
import itertools
import threading
import tracemalloc
import zlib
from types import SimpleNamespace

import pytest

import daylatch.calendars.sync.connection as connection_module
import daylatch.calendars.sync.session as session_module
from daylatch.calendars.sync.connection import Connection
from daylatch.errors import CalendarServerError
from peers.fake_calendar_server import (
    Answer,
    Wire,
    calendar_at,
    entry_at,
    fake_server,
    multistatus,
)
from sync_sites import ALL, WINDOW, calendar_that, counted, write_site

HEAD = b"HTTP/1.1 207 Multi-Status\r\nContent-Type: application/xml\r\n"
XML = ("Content-Type", "application/xml")
UNREADABLE = "sends an answer that cannot be read"
BROKEN_OFF = "closed the line before its answer was whole"
NOT_CALDAV = "does not answer as a calendar server (CalDAV)"
DIGEST = ("WWW-Authenticate", 'Digest realm="x", nonce="y", qop="auth"')


def located_at(href):
    """Return what names an address as that of the login."""
    return multistatus(
        "<d:response><d:href>/</d:href><d:propstat><d:prop><d:current-user-principal><d:href>"
        f"{href}</d:href></d:current-user-principal></d:prop></d:propstat></d:response>"
    )


def laughs():
    """Return an answer of entities that unfold to 10^12 letters."""
    entities = b"".join(
        b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10 if n else b"ha") for n in range(13)
    )
    return Answer(
        207,
        b"<!DOCTYPE l [" + entities + b"]><d:multistatus xmlns:d='DAV:'><d:response><d:href>&l12;"
        b"</d:href></d:response></d:multistatus>",
    )


HOSTILE = {
    "illegal chunk": (Wire([HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz!!\r\n"]), UNREADABLE),
    "negative chunk": (Wire([HEAD + b"Transfer-Encoding: chunked\r\n\r\n-5\r\n"]), UNREADABLE),
    "cut in a chunk": (Wire([HEAD + b"Transfer-Encoding: chunked\r\n\r\n50\r\n<a>"]), BROKEN_OFF),
    "cut short": (Wire([HEAD + b"Content-Length: 5000\r\n\r\n<a>"]), BROKEN_OFF),
    "cut in the head": (Wire([b"HTTP/1.1 207 Mul"]), BROKEN_OFF),
    "closed at once": (Wire([]), BROKEN_OFF),
    "no HTTP": (Wire([b"\0\xff\x16\x03\r\n\r\n"]), UNREADABLE),
    "many headers": (Wire([HEAD, *(b"X-%d: y\r\n" % n for n in range(10_000))]), UNREADABLE),
    "two lengths": (Wire([HEAD + b"Content-Length: 3, 4\r\n\r\n<a/>"]), UNREADABLE),
    "no length": (Wire([HEAD + b"Content-Length: abc\r\n\r\n<a/>"]), UNREADABLE),
    "continue for ever": (Wire([b"HTTP/1.1 100 Continue\r\n\r\n" * 1000]), UNREADABLE),
    "badly packed": (Answer(207, b"no gzip", (XML, ("Content-Encoding", "gzip"))), UNREADABLE),
    "packed too often": (
        Answer(207, b"-", (XML, ("Content-Encoding", ", ".join(["gzip"] * 6)))),
        UNREADABLE,
    ),
    "packed otherwise": (Answer(207, b"-", (XML, ("Content-Encoding", "br"))), "not asked for"),
    "unknown letters": (Answer(207, b"<?xml version='1.0' encoding='no'?><a/>"), NOT_CALDAV),
    "broken letters": (
        Answer(207, b"\xff<\xe9>", (("Content-Type", "text/html; charset=no-such"),)),
        NOT_CALDAV,
    ),
    "entities": (laughs(), NOT_CALDAV),
    "depth": (Answer(207, b"<a>" * 100_000 + b"</a>" * 100_000), NOT_CALDAV),
    "an endless pause": (Answer(429, headers=(("Retry-After", "9" * 400),)), UNREADABLE),
    "a redirect to nonsense": (Answer(302, headers=(("Location", "http://[x/"),)), UNREADABLE),
    "an unknown digest": (
        Answer(401, headers=((DIGEST[0], f"{DIGEST[1]}, algorithm=XYZ"),)),
        UNREADABLE,
    ),
    "an address of nonsense": (
        multistatus("<d:response><d:href>http://[x</d:href></d:response>"),
        NOT_CALDAV,
    ),
    "a principal of nonsense": (located_at("http://[x"), NOT_CALDAV),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_an_answer_that_breaks_the_rules_is_told_in_one_line(daylatch, login, name):
    answer, words = HOSTILE[name]
    with fake_server(lambda asked: answer) as fake:
        login(fake.url)
        write_site(fake.url, sync=f'calendar = "Hens"\n{WINDOW}')
        ran = daylatch("sync")
        assert (ran.status, ran.out) == (7, "")
        assert ran.err.startswith(f"daylatch: {fake.url.rstrip('/')}: ")
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize("name", ["illegal chunk", "cut short", "no HTTP", "badly packed"])
def test_an_answer_that_breaks_the_rules_while_sending(daylatch, name):
    answer, words = HOSTILE[name]

    def third(asked):
        return Answer(201) if fake.methods().count("PUT") < 4 else answer

    with fake_server(calendar_that(third)) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert ran.status == 7
    first, second = ran.err.splitlines()
    assert words in first
    assert "before that: 3 added, 0 changed" in second
    assert f"{ALL - 3} of {ALL} are left to send" in second
    assert "run it again" in second


def test_a_calendar_that_cannot_be_made_leaves_all_to_send(daylatch):
    def answer(asked):
        return Answer(507) if asked.method == "MKCALENDAR" else multistatus()

    def decide(asked):
        return located_at("/") if asked.headers.get("Depth") == "0" else answer(asked)

    with fake_server(decide) as fake:
        write_site(fake.url, sync=f'calendar = "Hens"\n{WINDOW}')
        ran = daylatch("sync")
    assert ran.status == 7
    assert "has no room left (507)" in ran.err
    assert f"{ALL} of {ALL} are left to send" in ran.err


def test_a_name_that_a_digest_cannot_carry(daylatch, login):
    with fake_server(lambda asked: Answer(401, headers=(DIGEST,))) as fake:
        login(fake.url, user="jo\N{EURO SIGN}", password="secret")
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, ran.out) == (7, "")
    assert "takes letters of Western Europe only" in ran.err
    assert "secret" not in ran.err


def test_the_memory_of_the_machine_may_be_too_small(daylatch, monkeypatch):
    def full(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr("caldav.response.etree.XML", full)
    with fake_server(calendar_that(lambda asked: Answer(201))) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, ran.out) == (7, "")
    assert "sends more than the memory of this machine holds" in ran.err


@pytest.mark.parametrize(
    "answer",
    [
        Answer(207, b"<html><body/></html>"),
        Answer(207, b"<html><body/></html>", (("Content-Type", "text/html"),)),
        Answer(207, multistatus().body[:-9], (("Content-Type", "text/plain"),)),
        Answer(207, b"", (("Content-Type", "text/plain"),)),
    ],
)
def test_what_is_no_list_is_not_taken_for_an_empty_one(daylatch, answer):
    def decide(asked):
        return multistatus(calendar_at("/hens/")) if asked.method == "PROPFIND" else answer

    with fake_server(decide) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, ran.out) == (7, "")
    assert NOT_CALDAV in ran.err
    assert set(fake.methods()) == {"PROPFIND", "REPORT"}


def test_words_beside_a_success_are_not_read(daylatch):
    page = Answer(201, b"\xff\xfe <done>", (("Content-Type", "text/html"),))
    with fake_server(calendar_that(lambda asked: page)) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, counted(ran)[0]) == (0, ALL)


# Size.

_LARGE = b" " * (64 * 2**20)
_PACKED = gzip.compress(_LARGE, 9)


@pytest.mark.parametrize(
    ("body", "packing"),
    [
        (_PACKED, "gzip"),
        (zlib.compress(_LARGE), "deflate"),
        (gzip.compress(_PACKED), "gzip, gzip"),
        (_LARGE[: 4 * 2**20], "identity"),
    ],
)
@pytest.mark.parametrize(
    ("status", "header"),
    [(207, XML), (302, ("Location", "/x/")), (401, DIGEST), (500, XML)],
)
def test_an_answer_without_measure_is_not_held(
    daylatch, login, monkeypatch, body, packing, status, header
):
    monkeypatch.setattr(session_module, "MOST_BYTES", 2**20)
    answer = Answer(status, body, (header, ("Content-Encoding", packing)))
    with fake_server(lambda asked: answer) as fake:
        login(fake.url)
        write_site(f"{fake.url}hens/")
        daylatch("check")
        tracemalloc.start()
        ran = daylatch("sync")
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert (ran.status, ran.out) == (7, "")
    assert "sends more than 1 MB at once" in ran.err
    # A plan and the libraries take some of it.
    assert most < 32 * 2**20


def test_a_calendar_of_thousands_of_entries_is_read(daylatch):
    text = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:{}\r\n"
        "DTSTAMP:20270101T000000Z\r\nDTSTART:20270320T100000Z\r\nSUMMARY:Vet\r\n"
        f"DESCRIPTION:{'x' * 1000}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    entries = [entry_at(f"/hens/{n}.ics", '"1"', text.format(n).encode()) for n in range(1500)]

    def decide(asked):
        if asked.method == "REPORT" and b"calendar-query" in asked.body:
            return multistatus(*entries)
        return calendar_that(lambda asked: Answer(201))(asked)

    with fake_server(decide) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync", "--dry-run")
    assert (ran.status, counted(ran)) == (0, (ALL, 0, 0, 0, 0))


# Time.


def drip(head, piece):
    """Return a head, and then bytes without end."""
    return Wire(itertools.chain([head], itertools.repeat(piece)), pause_s=0.05)


@pytest.mark.parametrize(
    ("head", "piece"),
    [
        (HEAD + b"Content-Length: 100000\r\n\r\n", b" "),
        (HEAD + b"X: ", b"y"),
        (b"", b"HTTP/1.1 100 Continue\r\n\r\n"),
    ],
)
def test_a_server_that_drips_is_given_up(daylatch, monkeypatch, head, piece):
    monkeypatch.setattr(connection_module, "MOST_REQUEST_S", 0.4)
    with fake_server(lambda asked: drip(head, piece)) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, ran.out) == (7, "")
    assert "was not done with its answer after 0.4 s; try again later" in ran.err


def test_a_run_ends_after_its_time_and_the_next_one_goes_on(daylatch, monkeypatch):
    kept = {}
    lock = threading.Lock()
    time_s = 0.0

    def slow(asked):
        nonlocal time_s
        with lock:
            kept[asked.path] = asked.body
            time_s += connection_module.MOST_RUN_S / 6
        return Answer(201)

    def decide(asked):
        if asked.method == "REPORT":
            return multistatus(*(entry_at(path, '"1"', kept[path]) for path in kept))
        return calendar_that(slow)(asked)

    clock = SimpleNamespace(monotonic=lambda: time_s)
    monkeypatch.setattr("daylatch.commands.people.sync.time", clock)
    with fake_server(decide) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
        first, second = ran.err.splitlines()
        there = len(kept)
        assert ran.status == 7
        assert "is so slow that the sync was ended after 30 min; run it again" in first
        assert 6 <= there < ALL
        assert f"before that: {there} added, 0 changed" in second
        assert f"{ALL - there} of {ALL} are left to send" in second
        runs = 1
        while (ran := daylatch("sync")).status == 7:
            runs += 1
        assert runs <= ALL // 6
    assert ran.status == 0
    assert len(kept) == ALL
    assert counted(ran)[:3] == (ALL - counted(ran)[3], 0, 0)


# Retries.


@pytest.mark.parametrize("asked", ["-5", "0", "Wed, 21 Oct 2015 07:28:00 GMT", "soon"])
def test_a_server_that_is_busy_for_ever_is_asked_seldom(asked, monkeypatch):
    monkeypatch.setattr(connection_module, "_FIRST_WAIT_S", 1.0)
    answer = Answer(429, headers=(("Retry-After", asked),))
    pauses = []
    with fake_server(lambda asked: answer) as fake:
        connection = Connection(fake.url, None, lambda: 0.0)
        connection.stop = SimpleNamespace(wait=pauses.append)
        with pytest.raises(CalendarServerError, match="was busy for 63 s and still is"):
            connection.ask("GET", fake.url, lambda answer: None)
        connection.close()
    assert pauses == [1, 2, 4, 8, 16, 32]
    assert len(fake.asked) == 7


def test_a_server_that_asks_for_a_year(daylatch):
    answer = Answer(503, headers=(("Retry-After", str(365 * 86400)),))
    with fake_server(lambda asked: answer) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, ran.out, len(fake.asked)) == (7, "", 1)
    assert "is busy and asks to wait 365 days 0 h 00 min; run again then" in ran.err


def test_an_entry_nested_beyond_reason_is_none_of_ours(daylatch):
    """Its path would else be kept for every line: half a gigabyte for 140 kB."""
    from daylatch.calendars.sync.content import read_found  # noqa: PLC0415

    text = "BEGIN:VCALENDAR\r\n" + "BEGIN:V\r\nX:1\r\n" * 10_000
    tracemalloc.start()
    assert read_found("https://x.example/a.ics", '"1"', text) is None
    assert tracemalloc.get_traced_memory()[1] < 20_000_000
    tracemalloc.stop()


def test_an_answer_of_too_many_tags_is_not_read(daylatch, monkeypatch):
    monkeypatch.setattr("daylatch.calendars.sync.session._MOST_TAGS", 1000)
    body = b'<d:multistatus xmlns:d="DAV:">' + b"<d:x/>" * 1001 + b"</d:multistatus>"
    with fake_server(lambda _: Answer(207, body)) as fake:
        write_site(f"{fake.url}hens/")
        ran = daylatch("sync")
    assert (ran.status, "at once, so the rest was not read" in ran.err) == (7, True)
