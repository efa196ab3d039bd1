"""The guests of a house, and the file that holds them."""

from __future__ import annotations

import hashlib
import json
import os
import random
import subprocess
import sys
import time
from pathlib import Path

import filelock
import numpy as np
import pytest

from daylatch.errors import SecretsError, UsageError
from daylatch.home.guests.book import LOOPBACK, Guest, GuestBook, May
from daylatch.home.guests.kept import read_kept
from sites import ID

NOW = np.datetime64("2026-11-26T12:00:00")
DAY = np.timedelta64(1, "D")
HOUR = np.timedelta64(1, "h")
S = np.timedelta64(1, "s")


@pytest.fixture
def book(tmp_path):
    return GuestBook(tmp_path / "hens.guests", ID)


def joined(book, name="Jo's phone", may=May.WRITE, now=NOW):
    return book.join(book.invite(name, may, now), now)


def test_a_link_lets_in_once(book):
    token = book.invite("Jo's phone", May.WRITE, NOW)
    open_link = Guest("Jo's phone", May.WRITE, NOW, ends_utc=NOW + 3 * DAY)
    assert book.invited(token, NOW) == book.invited(token, NOW) == open_link
    assert book.guests(NOW) == [open_link]
    cookie = book.join(token, NOW + DAY)
    assert book.invited(token, NOW + DAY) is None
    assert book.join(token, NOW + DAY) is None
    guest = Guest("Jo's phone", May.WRITE, NOW, NOW + DAY, NOW + DAY)
    assert book.guest_of(cookie, NOW + DAY) == guest
    assert book.guests(NOW + DAY) == [guest]


def test_a_link_ends_after_three_days_and_a_cookie_400_days_after_it_was_seen(book):
    token = book.invite("Jo's phone", May.READ, NOW)
    assert book.invited(token, NOW + 3 * DAY - S)
    for late in (3 * DAY, 300 * DAY):
        assert book.invited(token, NOW + late) is None
        assert book.join(token, NOW + late) is None
        assert book.guests(NOW + late) == []
    cookie = book.join(token, NOW + 3 * DAY - S)
    first, then = NOW + 3 * DAY - S + 400 * DAY - S, 400 * DAY
    assert book.guest_of(cookie, first)
    assert book.guest_of(cookie, first + then - S)
    assert book.guest_of(cookie, first + 2 * then) is None
    assert book.guests(first + 2 * then) == []


def test_a_name_is_given_once(book):
    joined(book)
    with pytest.raises(UsageError, match=r'"Jo.s phone" is invited already'):
        book.invite("JO's PHONE", May.READ, NOW)
    assert [guest.may for guest in book.guests(NOW)] == [May.WRITE]


def test_form_tokens_hold_beyond_a_restart_and_for_their_holder_only(book):
    token = book.form_token(LOOPBACK)
    again = GuestBook(book.path, ID)
    assert again.is_form_token(LOOPBACK, token)
    assert not again.is_form_token("x", token)
    assert not again.is_form_token(LOOPBACK, token[:-1])
    assert not again.is_form_token(LOOPBACK, "\N{SNOWMAN}\ud800")
    assert not GuestBook(book.path.with_name("ducks.guests"), ID).is_form_token(LOOPBACK, token)


def test_when_somebody_came_is_noted_once_a_day(book):
    cookie = joined(book)
    before = book.path.read_bytes()
    assert book.guest_of(cookie, NOW + 11 * HOUR)
    assert book.path.read_bytes() == before
    later = NOW + 13 * HOUR
    assert book.guest_of(cookie, later)
    assert [guest.seen_utc for guest in book.guests(later)] == [later]


def test_only_digests_are_kept(book):
    open_link = book.invite("Gran", May.READ, NOW)
    used = book.invite("Jo", May.READ, NOW)
    cookie = book.join(used, NOW)
    text = book.path.read_text()
    assert not any(secret in text for secret in (open_link, used, cookie))
    kept = json.loads(text)
    shown = [(one["link"], one["cookie"]) for one in kept["guests"]]
    digests = [hashlib.sha256(secret.encode()).hexdigest() for secret in (open_link, cookie)]
    assert shown == [(digests[0], None), (None, digests[1])]
    # Nor is a digest of use to who has read it.
    assert book.guest_of(digests[1], NOW) is None
    assert book.join(digests[0], NOW) is None
    # Whoever prints one prints no secret.
    assert digests[1] not in repr(read_kept(text.encode(), ID))


@pytest.mark.parametrize("given", ["", "x", "\0", "\udcff", "\N{SNOWMAN}" * 5000])
def test_what_is_no_secret_lets_nobody_in(book, given):
    joined(book)
    book.invite("Gran", May.READ, NOW)
    assert book.invited(given, NOW) is book.join(given, NOW) is book.guest_of(given, NOW) is None


def test_a_guest_who_is_revoked_is_out_at_once_also_where_the_file_was_read_before(book):
    cookie = joined(book)
    other = GuestBook(book.path, ID)
    assert other.guest_of(cookie, NOW)
    book.revoke("Jo's phone")
    assert other.guest_of(cookie, NOW) is None
    assert other.guests(NOW) == []
    # And with the file goes everybody.
    cookie = joined(book, "Gran")
    assert other.guest_of(cookie, NOW)
    book.path.unlink()
    assert other.guest_of(cookie, NOW) is None


def test_a_clock_that_was_put_back_keeps_nobody_out(book):
    cookie = joined(book, now=NOW + 1000 * DAY)
    assert book.guest_of(cookie, NOW)
    assert book.guest_of(cookie, NOW + 399 * DAY)


def test_what_has_ended_leaves_its_name_to_others(book):
    book.invite("Jo", May.READ, NOW)
    book.invite("Jo", May.WRITE, NOW + 3 * DAY)
    assert [guest.may for guest in book.guests(NOW + 3 * DAY)] == [May.WRITE]
    assert book.path.read_text().count('"name"') == 1


def test_there_are_a_hundred_guests_at_most(book):
    for number in range(100):
        book.invite(f"{number}", May.READ, NOW)
    with pytest.raises(UsageError, match="no more can be: revoke one"):
        book.invite("Jo", May.READ, NOW)
    book.revoke("7")
    book.invite("Jo", May.READ, NOW)


@pytest.mark.parametrize(
    "change",
    [
        lambda data: "",
        lambda data: "[]",
        lambda data: "[" * 100_000,
        lambda data: json.dumps(data)[:-20],
        lambda data: json.dumps(data | {"form_key": "ab"}),
        lambda data: json.dumps(data | {"form_key": 7}),
        lambda data: json.dumps(data | {"guests": [7]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"name": "a\x1bb"}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"name": "keeper"}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"name": 7}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"may": "all"}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"link": "ab"}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"invited_utc": None}]}),
        lambda data: json.dumps(data | {"guests": [data["guests"][0] | {"ends_utc": "NaT"}]}),
        lambda data: json.dumps(data | {"daylatch_guests": 2}),
        lambda data: json.dumps(data | {"house": "another"}),
        lambda data: " " * 2_000_000,
    ],
)
def test_a_file_that_is_none_lets_nobody_in_and_is_left_as_it_is(book, change):
    cookie = joined(book)
    book.path.write_text(change(json.loads(book.path.read_text())))
    before = book.path.read_bytes()
    for ask in (
        lambda: book.guest_of(cookie, NOW),
        lambda: book.guests(NOW),
        lambda: book.invite("Gran", May.READ, NOW),
        lambda: book.revoke("Jo's phone"),
        lambda: book.invited("x", NOW),
        lambda: book.join("x", NOW),
    ):
        with pytest.raises(SecretsError, match=r"hens\.guests: ") as raised:
            ask()
        assert "\x1b" not in str(raised.value)
    assert book.path.read_bytes() == before
    # The keeper at the computer itself needs no file.
    token = book.form_token(LOOPBACK)
    assert book.is_form_token(LOOPBACK, token)
    assert book.path.read_bytes() == before


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o666])
def test_a_file_that_others_may_read_lets_nobody_in(book, mode):
    cookie = joined(book)
    assert book.guest_of(cookie, NOW)
    book.path.chmod(mode)
    with pytest.raises(SecretsError, match=f"others may read it .mode {mode:o}.*delete it"):
        book.guest_of(cookie, NOW)
    book.path.chmod(0o600)
    assert book.guest_of(cookie, NOW)


def test_what_is_no_plain_file_is_not_waited_for(book):
    os.mkfifo(book.path, 0o600)
    with pytest.raises(SecretsError, match="is no plain file"):
        book.guests(NOW)


def in_process(code, *arguments):
    """Start a process that knows a book and the moment."""
    begin = (
        "import os, sys\nfrom pathlib import Path\nimport numpy as np\n"
        "from daylatch.home.guests.book import GuestBook, May\n"
        f"book = GuestBook(Path(sys.argv[1]), {ID!r})\nnow = np.datetime64({str(NOW)!r})\n"
    )
    return subprocess.Popen(
        [sys.executable, "-c", begin + code, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_of_processes_that_use_one_link_at_once_one_gets_in(book):
    code = "print(flush=True)\nfor token in sys.stdin:\n  print(book.join(token.strip(), now))\n"
    tokens = [book.invite(f"{number}", May.READ, NOW) for number in range(20)]
    others = [in_process(code, book.path) for _ in range(4)]
    for other in others:
        other.stdout.readline()
    for token in tokens:
        for other in others:
            other.stdin.write(f"{token}\n")
        for other in others:
            other.stdin.flush()
    got = []
    for other in others:
        out, err = other.communicate(timeout=60)
        assert other.returncode == 0, err
        got.append(out.split())
    for place, answers in enumerate(zip(*got, strict=True)):
        (cookie,) = [answer for answer in answers if answer != "None"]
        assert book.guest_of(cookie, NOW).name == f"{place}"


def test_two_who_change_the_file_do_not_lose_each_others_change(book):
    code = "for n in range(15):\n  book.invite(f'{sys.argv[2]} {n}', May.READ, now)\n"
    others = [in_process(code, book.path, name) for name in "ab"]
    for other in others:
        _, err = other.communicate(timeout=60)
        assert other.returncode == 0, err
    assert len(book.guests(NOW)) == 30


def test_whoever_is_killed_while_writing_leaves_a_whole_file(book):
    code = (
        "print(flush=True)\nn = 0\nwhile True:\n  n += 1\n"
        "  name = f'{os.getpid()} {n}'\n  book.invite(name, May.READ, now)\n"
        "  print(name, flush=True)\n  book.revoke(name)\n"
    )
    cookie = joined(book)
    moments = random.Random(4)
    for _ in range(15):
        other = in_process(code, book.path)
        other.stdout.readline()
        time.sleep(moments.uniform(0, 0.1))
        other.kill()
        other.communicate()
        assert book.guest_of(cookie, NOW).name == "Jo's phone"
        assert len(book.guests(NOW)) <= 16
        # The lock went with it.
        book.invite("Gran", May.READ, NOW)
        book.revoke("Gran")
    assert sorted(path.name for path in book.path.parent.iterdir() if "part" in path.name) == []


def test_where_nothing_can_be_written_nobody_joins_and_forms_hold_for_this_run(book):
    """As somebody who may do less than an administrator."""
    link = book.invite("Gran", May.READ, NOW)
    code = (
        # Loaded while it still may be read.
        "import filelock\nif not os.getuid():\n  os.setgid(65534); os.setuid(65534)\n"
        "try:\n  print(book.join(sys.argv[2], now))\n"
        "except Exception as error:\n  print(type(error).__name__, error)\n"
        "token = book.form_token('loopback')\n"
        "print(book.is_form_token('loopback', token), len(token))\n"
        "print(book.is_form_token('x', token))\n"
    )
    folder = book.path.parent
    empty = folder / "empty"
    empty.mkdir()
    for path in (folder, *folder.parents):
        if path.stat().st_mode & 0o005 != 0o005 and path != Path("/"):
            path.chmod(path.stat().st_mode | 0o005)
    empty.chmod(0o555)
    out, err = in_process(code, empty / "hens.guests", link).communicate(timeout=60)
    empty.chmod(0o755)
    lines = out.splitlines()
    assert lines[0].startswith("OutputError "), out + err
    assert "cannot be locked" in lines[0]
    assert "nothing was changed" in lines[0]
    assert lines[1:] == ["True 64", "False"]
    assert list(empty.iterdir()) == []


def test_a_note_of_when_somebody_came_waits_for_nobody(book):
    cookie = joined(book)
    with filelock.FileLock(book.path.with_name("hens.guests.lock")):
        begun = time.monotonic()
        assert book.guest_of(cookie, NOW + DAY)
        assert time.monotonic() - begun < 1
    assert [guest.seen_utc for guest in book.guests(NOW)] == [NOW]
    assert book.guest_of(cookie, NOW + DAY)
    assert [guest.seen_utc for guest in book.guests(NOW)] == [NOW + DAY]
