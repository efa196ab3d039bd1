"""Who is let in: the rules by themselves, and a home in a process of its own as phones see it."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import json
import re
import sqlite3
import ssl
import time
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace
from urllib.parse import urljoin, urlsplit

import numpy as np
import pytest
from starlette.applications import Starlette
from starlette.responses import JSONResponse
from starlette.routing import Route
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from daylatch.home.guests.book import GuestBook, May
from daylatch.home.limits import STRANGERS, Rate
from daylatch.home.server.access import Access, Renewing
from daylatch.home.server.house import House
from daylatch.site.home import Home as Settings
from peers.browser import needs_chromium, running
from peers.certificate import make_certificate
from peers.home_process import SITE, Home, running_home
from sites import ID

NOON = "2026-11-26T12:00:00"
NOW = np.datetime64(NOON)
COOKIE = f"daylatch-{ID}"
LAN = "192.0.2.33"
URL = "https://hens.example.org"


def run(work):
    """Return what a coroutine returns; in a thread, since a browser may hold this one's loop."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


class Place:
    """A house, and a page of it that says who asks; nothing but the rules."""

    def __init__(self, folder, **settings):
        self.now = NOW
        self.book = GuestBook(folder / "hens.guests", ID)
        self.house = House(
            lambda: "Test house",
            lambda: None,
            SimpleNamespace(clock=lambda: self.now),
            SimpleNamespace(house=ID),
            self.book,
            None,
            None,
        )
        self.settings = Settings(**settings)
        self.access = Access(self.settings, [self.house], Rate(STRANGERS))
        routes = [
            Route("/who", self.who, methods=["GET", "POST"]),
            Route("/join/{token}", self.access.join, methods=["GET", "POST"]),
        ]
        self.app = Renewing(Starlette(routes=routes))
        if self.settings.proxies:
            self.app = ProxyHeadersMiddleware(self.app, trusted_hosts=self.settings.proxies)

    async def who(self, request):
        visitor = self.access.visitor_of(request, self.house)
        if visitor is None:
            return self.access.refusal(request)
        given = request.headers.get("x-given", visitor.form_token)
        return JSONResponse(
            {
                "name": visitor.name,
                "writes": visitor.may_write,
                "here": visitor.is_loopback,
                "token": visitor.form_token,
                "genuine": self.access.is_genuine(request, self.house, visitor, given),
            }
        )

    def ask(self, path="/who", *, peer="127.0.0.1", method="GET", scheme="http", **headers):
        """Return status, headers and text of an answer; of names of headers _ stands for -."""
        headers = {"host": "localhost:8734"} | {
            name.replace("_", "-"): value for name, value in headers.items()
        }
        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": method,
            "scheme": scheme,
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "root_path": "",
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
            "client": (peer, 5),
            "server": ("127.0.0.1", 8734),
        }
        sent = []

        async def receive():
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message):
            sent.append(message)

        run(self.app(scope, receive, send))
        start, *bodies = sent
        text = b"".join(one.get("body", b"") for one in bodies).decode()
        return start["status"], [(k.decode(), v.decode()) for k, v in start["headers"]], text

    def name(self, **asked):
        """Return who somebody is taken for; None if they may see nothing."""
        status, _, text = self.ask(**asked)
        assert status in (200, 403), (status, text)
        return json.loads(text)["name"] if status == 200 else None

    def cookie(self, name="Jo's phone", may=May.WRITE):
        return self.book.join(self.book.invite(name, may, self.now), self.now)


def shown(cookie, house=ID):
    return f"other=1; daylatch-{house}={cookie}; more=2"


@pytest.mark.parametrize(
    ("peer", "host"),
    [
        ("127.0.0.1", "localhost:8734"),
        ("127.8.8.8", "127.0.0.1"),
        ("::1", "[::1]:8734"),
        ("::ffff:127.0.0.1", "LOCALHOST"),
    ],
)
def test_at_the_computer_itself_all_is_allowed(tmp_path, peer, host):
    status, _, text = Place(tmp_path).ask(peer=peer, host=host)
    told = json.loads(text)
    assert (status, told.pop("token") != "") == (200, True)
    assert told == {"name": "keeper", "writes": True, "here": True, "genuine": True}


@pytest.mark.parametrize("peer", [LAN, "::2", "::ffff:192.0.2.33", "", "unix"])
def test_from_elsewhere_nothing_is(tmp_path, peer):
    assert Place(tmp_path, address="0.0.0.0").name(peer=peer) is None


@pytest.mark.parametrize(
    "header",
    [
        "forwarded",
        "via",
        "x_real_ip",
        "x_forwarded_for",
        "x_forwarded_host",
        "x_forwarded_proto",
        "x_forwarded_whatever",
    ],
)
def test_whoever_passes_requests_on_does_not_sit_there(tmp_path, header):
    place = Place(tmp_path)
    assert place.name(**{header: "127.0.0.1"}) is None
    assert place.name(**{header: ""}) is None
    assert place.name() == "keeper"


@pytest.mark.parametrize(
    "host", ["hens.example.org", "evil.example.org", "localhost.evil.example.org", "", LAN]
)
def test_whoever_asks_by_another_name_does_not_either(tmp_path, host):
    place = Place(tmp_path, address="0.0.0.0", hosts=["hens.example.org"])
    assert place.name(host=host) is None


def test_a_proxy_that_is_named_does_not_either(tmp_path):
    place = Place(tmp_path, address="0.0.0.0", proxies=["127.0.0.1", "::1"])
    for peer in ("127.0.0.1", "::ffff:127.0.0.1", "::1"):
        assert place.name(peer=peer) is None
        assert place.name(peer=peer, x_forwarded_for="127.0.0.1") is None
        assert place.name(peer=peer, x_forwarded_for=LAN) is None
    # Another program of this computer is none.
    assert place.name(peer="127.0.0.2") == "keeper"
    assert place.name(peer="127.0.0.2", x_forwarded_for="127.0.0.1") is None


@pytest.mark.parametrize(
    ("settings", "is_believed"),
    [
        # It listens to its own computer, and yet phones reach it: by what is not named.
        ({"url": URL}, False),
        ({"url": "http://192.0.2.7:8734"}, False),
        ({"url": "http://localhost:8734"}, True),
        ({"url": "http://127.0.0.1:8734"}, True),
        ({}, True),
        ({"address": "0.0.0.0"}, True),
        ({"address": "0.0.0.0", "url": "http://192.0.2.7:8734"}, True),
        # Somebody else encrypts.
        ({"address": "0.0.0.0", "url": URL}, False),
        ({"address": "0.0.0.0", "url": URL, "certificate": "a", "key": "b"}, True),
        ({"address": "0.0.0.0", "url": URL, "proxies": ["192.0.2.9"]}, True),
        ({"url": URL, "proxies": ["192.0.2.9"]}, False),
    ],
)
def test_where_an_unnamed_proxy_must_stand_before_it_its_own_address_says_nothing(
    tmp_path, settings, is_believed
):
    assert (Place(tmp_path, **settings).name() == "keeper") == is_believed


def test_a_guest_is_known_by_the_cookie(tmp_path):
    place = Place(tmp_path, address="0.0.0.0")
    writes, reads = place.cookie(), place.cookie("Gran", May.READ)
    for cookie, name, may in ((writes, "Jo's phone", True), (reads, "Gran", False)):
        told = json.loads(place.ask(peer=LAN, host=LAN, cookie=shown(cookie))[2])
        assert (told["name"], told["writes"], told["here"]) == (name, may, False)
    assert place.name(peer=LAN, cookie=shown(writes[:-1])) is None
    assert place.name(peer=LAN, cookie=shown(writes, house="another")) is None
    assert place.name(peer=LAN, cookie=shown("")) is None
    place.now = NOW + np.timedelta64(400, "D")
    assert place.name(peer=LAN, cookie=shown(writes)) is None


def test_a_cookie_that_is_seen_is_renewed(tmp_path):
    place = Place(tmp_path, address="0.0.0.0")
    cookie = place.cookie()
    _, headers, _ = place.ask(peer=LAN, cookie=shown(cookie))
    given = f"{COOKIE}={cookie}; Path=/; Max-Age=34560000; HttpOnly; SameSite=Lax"
    assert [value for name, value in headers if name == "set-cookie"] == [given]
    # Whoever needs none gets none.
    assert "set-cookie" not in dict(place.ask()[1])
    assert "set-cookie" not in dict(place.ask(peer=LAN, cookie=shown("x"))[1])


def test_a_form_is_only_genuine_with_the_token_of_its_sender(tmp_path):
    place = Place(tmp_path, address="0.0.0.0")
    tokens = {}
    for name in ("Jo", "Gran"):
        asked = {"peer": LAN, "host": LAN, "cookie": shown(place.cookie(name))}
        tokens[name] = asked, json.loads(place.ask(**asked)[2])["token"]
    tokens["keeper"] = {}, json.loads(place.ask()[2])["token"]
    for name, (asked, _) in tokens.items():
        for other, (_, given) in tokens.items():
            told = json.loads(place.ask(**asked, x_given=given)[2])
            assert told["genuine"] == (name == other)
        for given in ("", "x", tokens[name][1][:-1], tokens[name][1].upper()):
            assert not json.loads(place.ask(**asked, x_given=given)[2])["genuine"]


@pytest.mark.parametrize(
    ("headers", "is_own"),
    [
        ({}, True),
        ({"sec_fetch_site": "same-origin"}, True),
        ({"sec_fetch_site": "none"}, True),
        ({"sec_fetch_site": "same-site"}, False),
        ({"sec_fetch_site": "cross-site"}, False),
        ({"sec_fetch_site": "cross-site", "origin": "null"}, False),
        ({"sec_fetch_site": ""}, False),
        # What a page says that tells nobody its address.
        ({"origin": "null"}, True),
        ({"origin": "http://192.0.2.7:8734"}, True),
        ({"origin": "http://192.0.2.7"}, False),
        ({"origin": "http://192.0.2.7:8735"}, False),
        ({"origin": URL}, True),
        ({"origin": "https://hens.example.org:443"}, True),
        ({"origin": "https://hens.example.org.evil.org"}, False),
        ({"origin": "https://evil.example.org"}, False),
        ({"origin": "ftp://192.0.2.7:8734"}, False),
        ({"origin": "x"}, False),
        ({"origin": ""}, False),
    ],
)
def test_a_form_of_another_site_is_not_genuine(tmp_path, headers, is_own):
    settings = {"address": "192.0.2.7", "url": URL, "certificate": "a", "key": "b"}
    place = Place(tmp_path, **settings)
    asked = {"peer": LAN, "host": "192.0.2.7:8734", "cookie": shown(place.cookie())}
    assert json.loads(place.ask(**asked, **headers)[2])["genuine"] == is_own
    # A link is not used up by one either.
    token = place.book.invite("Gran", May.READ, NOW)
    status, _, _ = place.ask(
        f"/join/{token}", peer=LAN, host=asked["host"], method="POST", **headers
    )
    assert status == (303 if is_own else 200)
    assert (place.book.invited(token, NOW) is None) == is_own


@pytest.mark.parametrize(
    ("settings", "asked", "is_secure"),
    [
        ({}, {}, False),
        ({}, {"scheme": "https"}, True),
        ({"url": URL}, {"host": "hens.example.org"}, False),
        ({"url": URL}, {"host": "hens.example.org", "x_forwarded_proto": "https"}, False),
        ({"url": URL, "proxies": [LAN]}, {"host": "hens.example.org:443"}, True),
        ({"url": URL, "proxies": [LAN]}, {"host": "192.0.2.7"}, False),
        ({"proxies": [LAN]}, {"host": "hens.example.org"}, False),
        ({"proxies": [LAN]}, {"x_forwarded_proto": "https"}, True),
        ({"url": "http://a.example.org", "proxies": [LAN]}, {"host": "a.example.org"}, False),
    ],
)
def test_a_cookie_is_for_encrypted_ways_only_if_it_came_by_one(
    tmp_path, settings, asked, is_secure
):
    place = Place(tmp_path, address="0.0.0.0", **settings)
    token = place.book.invite("Jo", May.READ, NOW)
    _, headers, _ = place.ask(f"/join/{token}", peer=LAN, method="POST", **asked)
    (joined,) = [value for name, value in headers if name == "set-cookie"]
    cookie = joined.partition(";")[0].partition("=")[2]
    _, headers, _ = place.ask(peer=LAN, **asked | {"cookie": shown(cookie)})
    (renewed,) = [value for name, value in headers if name == "set-cookie"]
    assert joined == renewed
    assert joined.endswith("; Secure") == is_secure


def test_who_may_see_nothing_is_told_what_to_do_and_guesses_are_few(tmp_path):
    place = Place(tmp_path, address="0.0.0.0")
    good = place.cookie()
    answers = [place.ask(peer=LAN, cookie=shown(f"guess{number}")) for number in range(11)]
    assert [status for status, _, _ in answers] == [403] * 10 + [429]
    assert "Ask the keeper for a link" in answers[0][2]
    assert "Test house" not in answers[0][2]
    # Guesses of links count too, and those of one address keep out nobody.
    assert place.ask("/join/guess", peer=LAN)[0] == 429
    assert place.ask("/join/guess", peer="192.0.2.34")[0] == 404
    assert place.name(peer=LAN, cookie=shown(good)) == "Jo's phone"


def test_a_file_that_cannot_be_used_lets_in_no_guest_and_is_said_once(tmp_path, capsys):
    place = Place(tmp_path, address="0.0.0.0")
    good = place.cookie()
    token = place.book.invite("Gran", May.READ, NOW)
    content = place.book.path.read_bytes()
    place.book.path.write_bytes(b"{")
    for _ in range(3):
        assert place.name(peer=LAN, cookie=shown(good)) is None
        assert place.ask(f"/join/{token}", peer=LAN)[0] == 404
        assert place.name() == "keeper"
    said = capsys.readouterr().err
    assert said.count("no guest can come in") == 1
    assert f"{place.book.path}: is damaged" in said
    place.book.path.write_bytes(content)
    assert place.name(peer=LAN, cookie=shown(good)) == "Jo's phone"
    # And again, once it was of use meanwhile.
    place.book.path.write_bytes(b"{")
    assert place.name(peer=LAN, cookie=shown(good)) is None
    assert capsys.readouterr().err == said
    place.book.path.write_bytes(content)
    place.book.path.chmod(0o644)
    assert place.name(peer=LAN, cookie=shown(good)) is None
    assert "others may read it" in capsys.readouterr().err


class Phone:
    """Asks a home in a process of its own, and keeps no cookie by itself."""

    def __init__(self, home, trusting=None):
        self.place = urlsplit(home.url)
        self.trusting = trusting

    def ask(self, path, method="GET", **headers):
        """Return status, headers and text."""
        if self.trusting is None:
            made = http.client.HTTPConnection(self.place.netloc, timeout=10)
        else:
            made = http.client.HTTPSConnection(self.place.netloc, timeout=10, context=self.trusting)
        with contextlib.closing(made):
            made.request(method, path, headers=headers)
            answer = made.getresponse()
            return answer.status, answer.headers, answer.read().decode()


def invited(home, *options):
    """Invite somebody by the command line while the home runs; return the path of the link."""
    done = home.run("home", "hens.toml", "--invite", *options)
    assert done.returncode == 0, done.stderr
    return re.search(r"https://hens\.example\.org(/join/\S+)", done.stdout)[1]


@pytest.fixture
def home(tmp_path):
    made = Home(tmp_path)
    made.clock.set(NOON)
    with running_home(made):
        yield made


def test_a_phone_joins_comes_back_and_is_revoked(home):
    phone = Phone(home)
    path = invited(home, "Jo's <phone>")
    for _ in range(2):
        # A preview in a chat looks as often as it likes.
        status, headers, text = phone.ask(path)
        assert status == 200
        assert "Test house: an invitation for Jo&#39;s &lt;phone&gt;" in text
        assert "see its times and what was seen of it, and note what you see" in text
        assert "It works once" in text
        assert text.count("<button>") == text.count('method="post">') == 1
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "Set-Cookie" not in headers
    status, headers, _ = phone.ask(path, "POST")
    assert (status, urljoin(path, headers["Location"])) == (303, f"/house/{ID}")
    (given,) = headers.get_all("Set-Cookie")
    cookie = re.fullmatch(
        f"{COOKIE}=([A-Za-z0-9_-]{{43}}); Path=/; Max-Age=34560000; HttpOnly; SameSite=Lax", given
    )[1]
    # Used up, for whoever comes without the cookie.
    for method in ("GET", "POST"):
        status, headers, text = phone.ask(path, method)
        assert (status, "Set-Cookie" in headers) == (404, False)
        assert "This link cannot be used" in text
        assert "Ask whoever sent it for another" in text
    mine = {"Cookie": f"{COOKIE}={cookie}"}
    assert phone.ask(path, **mine)[0] == 303
    # Also after a restart.
    home.stop()
    home.start()
    phone = Phone(home)
    assert phone.ask(path, **mine)[0] == 303
    done = home.run("home", "hens.toml", "--guests")
    assert done.stdout == (
        "Test house: 1 guest\n"
        "  Jo's <phone>: reads and notes; invited 2026-11-26 13:00, joined 2026-11-26\n"
        "  13:00, last seen 2026-11-26\n"
    )
    assert home.run("home", "hens.toml", "--guests", "--revoke", "Jo's <phone>").returncode == 0
    assert phone.ask(path, **mine)[0] == 404
    assert "Test house: joined as Jo's <phone>, reads and notes" in home.log
    assert home.log.count("joined as") == 1
    assert "Traceback" not in home.log


def test_no_secret_stands_anywhere_but_its_digest(home):
    phone = Phone(home)
    path = invited(home, "Jo", "--only-reads")
    link = path.rpartition("/")[2]
    assert "With it you can see its times and what was seen of it, on this" in phone.ask(path)[2]
    status, headers, _ = phone.ask(path, "POST")
    assert status == 303
    cookie = headers["Set-Cookie"].partition(";")[0].partition("=")[2]
    home.report(1, "opened")
    phone.ask("/join/a-guess-of-somebody", Cookie=f"{COOKIE}=another-guess")
    home.until(lambda: home.state()["looked_utc"])
    kept = json.loads((home.folder / "hens.guests").read_text())
    assert home.run("diary", "backup", "hens.toml", "-o", "copy.diary").returncode == 0
    assert home.run("diary", "export", "hens.toml", "-o", "log.csv").returncode == 0
    assert home.stop() == 0
    own = {"hens.guests", "hens.guests.lock", "hens.secrets"}
    files = [path for path in home.folder.iterdir() if path.name not in own]
    assert {"hens.watch", "hens.diary", "copy.diary", "log.csv"} <= {path.name for path in files}
    texts = [home.log.encode(), *(path.read_bytes() for path in files)]
    digests = [one[key] for one in kept["guests"] for key in ("link", "cookie") if one[key]]
    assert len(digests) == 1
    guesses = ["a-guess-of-somebody", "another-guess"]
    for secret in (link, cookie, kept["form_key"], *digests, *guesses):
        assert not any(secret.encode() in text for text in texts)
    assert link.encode() not in (home.folder / "hens.guests").read_bytes()
    # Nothing but reports stands in the diary: whoever joins notes nothing by that.
    with contextlib.closing(sqlite3.connect(home.folder / "hens.diary")) as diary:
        assert "Jo" not in "\n".join(diary.iterdump())


def test_a_link_that_is_too_old_is_none(home):
    path = invited(home, "Jo")
    home.clock.set("2026-11-29T11:59:00")
    assert Phone(home).ask(path)[0] == 200
    home.clock.set("2026-11-29T12:01:00")
    assert [Phone(home).ask(path, method)[0] for method in ("GET", "POST")] == [404, 404]
    assert home.run("home", "hens.toml", "--guests").stdout == "Test house: no guests\n"


def test_two_phones_at_the_same_moment(home):
    path = invited(home, "Jo")
    request = f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Length: 0\r\n"
    answers = run(_at_once(urlsplit(home.url).port, f"{request}Connection: close\r\n\r\n"))
    statuses = sorted(answer.split()[1] for answer in answers)
    assert statuses == ["303"] + ["404"] * 5
    assert sum("set-cookie" in answer.lower() for answer in answers) == 1


async def _at_once(port, request):
    async def one():
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(request.encode())
        answer = await reader.read()
        writer.close()
        return answer.decode()

    return await asyncio.gather(*(one() for _ in range(6)))


def test_a_full_disk_lets_nobody_in_and_the_link_still_works_afterwards(home):
    import resource  # noqa: PLC0415 - not everywhere

    path = invited(home, "Jo")
    hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    resource.prlimit(home.process.pid, resource.RLIMIT_FSIZE, (0, hard))
    status, headers, text = Phone(home).ask(path, "POST")
    assert (status, "Set-Cookie" in headers) == (503, False)
    assert text == "it could not be noted: try again later"
    resource.prlimit(home.process.pid, resource.RLIMIT_FSIZE, (hard, hard))
    assert Phone(home).ask(path, "POST")[0] == 303


def test_over_an_encrypted_way_the_cookie_is_for_such_only(tmp_path):
    certificate, _ = make_certificate(tmp_path)
    site = SITE.replace("port = 0\n", 'port = 0\ncertificate = "hens.pem"\nkey = "hens.key"\n')
    made = Home(tmp_path, site)
    made.clock.set(NOON)
    with running_home(made):
        phone = Phone(made, ssl.create_default_context(cafile=certificate))
        status, headers, _ = phone.ask(invited(made, "Jo"), "POST")
        assert status == 303
        assert headers["Set-Cookie"].endswith("; HttpOnly; SameSite=Lax; Secure")


@needs_chromium
def test_in_a_browser_the_button_joins_and_a_page_of_a_stranger_does_not(home):
    path = invited(home, "Jo")
    with contextlib.closing(running().new_context()) as context:
        page = context.new_page()
        # A stranger who has the link makes somebody's browser send it.
        page.set_content(f'<form method="post" action="{home.url}{path}"><button>x</button></form>')
        page.click("button")
        page.wait_for_url(f"**{path}")
        assert "an invitation for Jo" in page.inner_text("h1")
        assert context.cookies() == []
        sent = []
        # The library keeps notes of its own on what it calls, which a method cannot carry.
        page.on("request", lambda request: sent.append(request))  # noqa: PLW0108
        page.goto(home.url + path)
        page.click("text=Come in")
        page.wait_for_url(f"**/house/{ID}")
        (form,) = [request for request in sent if request.method == "POST"]
        # The page tells nobody its address, so that the browser names no origin.
        headers = form.all_headers()
        assert (headers["origin"], headers["sec-fetch-site"]) == ("null", "same-origin")
        (cookie,) = context.cookies()
        assert (cookie["name"], cookie["path"], cookie["httpOnly"]) == (COOKIE, "/", True)
        assert (cookie["sameSite"], cookie["secure"]) == ("Lax", False)
        # As long as the browser keeps any, by its own clock.
        assert cookie["expires"] - time.time() == pytest.approx(400 * 86400, abs=60)
        page.goto(home.url + path)
        page.wait_for_url(f"**/house/{ID}")
        assert context.new_page().goto(home.url + path).url.endswith(f"/house/{ID}")
    with contextlib.closing(running().new_context()) as another:
        page = another.new_page()
        assert page.goto(home.url + path).status == 404
        assert page.inner_text("h1") == "This link cannot be used"
