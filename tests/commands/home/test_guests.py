"""Inviting, listing and revoking guests by the command line."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import segno

from daylatch.home.guests.book import GuestBook, May
from sites import HOUSE, ID

NOW = "2026-11-26T12:00:00"
URL = 'url = "https://hens.example.org"\n'
OTHER_ID = ID.replace("6f1c", "7f1c")
LINK = r"https://hens\.example\.org/join/([A-Za-z0-9_-]{43})"


@pytest.fixture
def house(tmp_path, set_clock):
    """Return a function that writes a house's file with these keys of [home]."""
    set_clock(np.datetime64(NOW))

    def write(home=URL, file="site.toml", text=HOUSE):
        (tmp_path / file).write_text(f"{text}[home]\n{home}[watch]\nexpects = []\n")

    write()
    return write


def other_house():
    return HOUSE.replace(ID, OTHER_ID).replace("Test house", "Ducks")


def book(name="site", house=ID):
    return GuestBook(Path(f"{name}.guests"), house)


def test_an_invitation_is_printed_with_its_link(daylatch, house):
    ran = daylatch("home", "--invite", "Jo's phone")
    assert ran.status == 0, ran
    text, link = ran.out.split("\n\n")
    assert text == (
        "Jo's phone is invited to Test house: reads and notes.\n"
        "The link works once, until 2026-11-29 13:00. Give it to nobody else: whoever\n"
        "presses the button behind it first comes in."
    )
    token = re.fullmatch(f"{LINK}\n", link)[1]
    guest = book().invited(token, np.datetime64(NOW))
    assert (guest.name, guest.may) == ("Jo's phone", May.WRITE)
    assert token not in Path("site.guests").read_text()
    assert token not in ran.err
    assert Path("site.guests").stat().st_mode & 0o777 == 0o600


def test_it_can_be_for_reading_only(daylatch, house):
    ran = daylatch("home", "site.toml", "--invite", "Gran", "--only-reads")
    assert ran.out.startswith("Gran is invited to Test house: reads.\n")
    token = re.search(LINK, ran.out)[1]
    assert book().invited(token, np.datetime64(NOW)).may is May.READ


@pytest.mark.parametrize(
    ("home", "base"),
    [
        ('address = "192.0.2.7"\n', "http://192.0.2.7:8734"),
        ('address = "2001:db8::7"\nport = 99\n', "http://[2001:db8::7]:99"),
        ('address = "192.0.2.7"\ncertificate = "a"\nkey = "b"\n', "https://192.0.2.7:8734"),
        ('address = "192.0.2.7"\nurl = "https://a.example.org/b/"\n', "https://a.example.org/b"),
    ],
)
def test_the_link_is_where_phones_reach_it(daylatch, house, home, base):
    house(home)
    ran = daylatch("home", "--invite", "Jo")
    assert f"\n{base}/join/" in ran.out
    assert ("whoever is in the same network can read this link" in ran.err) == (
        base.startswith("http:")
    )


@pytest.mark.parametrize("home", ["", 'address = "0.0.0.0"\n', 'address = "::"\n', "port = 0\n"])
def test_where_nobody_knows_how_phones_reach_it_nobody_is_invited(daylatch, house, home):
    house(home)
    ran = daylatch("home", "--invite", "Jo")
    assert (ran.status, ran.out) == (2, "")
    assert "give url under [home]" in ran.err
    assert not Path("site.guests").exists()


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("", "write 1 to 100 characters"),
        ("x" * 101, "write 1 to 100 characters"),
        (" Jo", "take away the blanks around it"),
        ("Jo\n", "take out the invisible character U+000A"),
        ("\x1b[31mJo", "take out the invisible character U+001B"),
        ("Jo\N{RIGHT-TO-LEFT OVERRIDE}oJ", "take out the invisible character U+202E"),
        ("keeper", "somebody else: write another name"),
        ("Keeper", "somebody else: write another name"),
        ("DOOR", "somebody else: write another name"),
    ],
)
def test_a_name_that_nobody_can_have_is_refused(daylatch, house, name, why):
    ran = daylatch("home", "--invite", name)
    assert (ran.status, ran.out) == (2, "")
    assert why in ran.err
    assert "\x1b" not in ran.err
    assert not Path("site.guests").exists()


def test_a_name_that_is_there_is_refused_until_it_is_revoked(daylatch, house):
    first = re.search(LINK, daylatch("home", "--invite", "Jo's phone").out)[1]
    before = Path("site.guests").read_bytes()
    ran = daylatch("home", "--invite", "jo's PHONE")
    assert ran.status == 2
    assert '"Jo\'s phone" is invited already' in ran.err
    assert "give another name, or revoke that one first with --guests --revoke" in ran.err
    assert Path("site.guests").read_bytes() == before
    ran = daylatch("home", "--guests", "--revoke", "jo's phone")
    assert (ran.status, ran.out) == (0, "")
    assert "Test house: jo's phone is revoked, and can no longer see anything" in ran.err
    assert book().invited(first, np.datetime64(NOW)) is None
    assert daylatch("home", "--invite", "Jo's phone").status == 0


def test_guests_are_listed_without_a_secret(daylatch, house, set_clock):
    house(file="ducks.toml", text=other_house())
    said = [daylatch("home", "--invite", "Jo's phone").out]
    said.append(daylatch("home", "--invite", "=Gran <b>", "--only-reads").out)
    tokens = [re.search(LINK, text)[1] for text in said]
    cookie = book().join(tokens[0], np.datetime64("2026-11-26T23:30:00"))
    book().guest_of(cookie, np.datetime64("2026-11-27T23:30:00"))
    ran = daylatch("home", "site.toml", "ducks.toml", "--guests")
    assert ran.status == 0
    assert ran.out == (
        "Test house: 2 guests\n"
        "  Jo's phone: reads and notes; invited 2026-11-26 13:00, joined 2026-11-27\n"
        "  00:30, last seen 2026-11-28\n"
        "  =Gran <b>: reads; invited 2026-11-26 13:00, the link is open until 2026-11-29\n"
        "  13:00\n"
        "Ducks: no guests\n"
    )
    kept = json.loads(Path("site.guests").read_text())
    hidden = [kept["form_key"], *tokens, cookie]
    hidden += [one[key] for one in kept["guests"] for key in ("link", "cookie") if one[key]]
    assert not any(secret in ran.out + ran.err for secret in hidden)
    set_clock(np.datetime64("2026-11-29T12:00:00"))
    assert daylatch("home", "--guests").out.startswith("Test house: 1 guest\n  Jo's phone: ")


def test_of_several_houses_the_one_is_found_of_which_somebody_is_a_guest(daylatch, house):
    house(file="ducks.toml", text=other_house())
    both = ("home", "site.toml", "ducks.toml")
    daylatch("home", "ducks.toml", "--invite", "Jo")
    daylatch("home", "site.toml", "--invite", "Gran")
    daylatch("home", "ducks.toml", "--invite", "Gran")
    refused = daylatch(*both, "--guests", "--revoke", "Gran")
    assert (refused.status, "at several of these houses" in refused.err) == (2, True)
    refused = daylatch(*both, "--guests", "--revoke", "Uma")
    assert (refused.status, "at none of these houses" in refused.err) == (2, True)
    assert "Ducks: Jo is revoked" in daylatch(*both, "--guests", "--revoke", "Jo").err
    assert len(book("ducks", OTHER_ID).guests(np.datetime64(NOW))) == 1
    refused = daylatch("home", "--guests", "--revoke", "Uma")
    assert (refused.status, 'no guest is called "Uma"' in refused.err) == (2, True)
    refused = daylatch(*both, "--invite", "Uma")
    assert (refused.status, "for one house: give one site file" in refused.err) == (2, True)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["--guests", "--invite", "Jo"], "give one of --print-unit"),
        (["--guests", "--new-token"], "give one of --print-unit"),
        (["--print-unit", "--invite", "Jo"], "give one of --print-unit"),
        (["--only-reads"], "give it with --invite"),
        (["--guests", "--only-reads"], "give it with --invite"),
        (["--revoke", "Jo"], "give it with --guests"),
        (["--invite", "Jo", "--revoke", "Jo"], "give it with --guests"),
    ],
)
def test_options_that_do_not_belong_together(daylatch, house, options, why):
    ran = daylatch("home", *options)
    assert (ran.status, ran.out) == (2, "")
    assert why in ran.err
    assert not Path("site.guests").exists()


@pytest.mark.parametrize(
    "option", [["--guests"], ["--invite", "Jo"], ["--guests", "--revoke", "J"]]
)
def test_a_file_that_others_may_read_is_refused(daylatch, house, option):
    daylatch("home", "--invite", "J")
    Path("site.guests").chmod(0o640)
    before = Path("site.guests").read_bytes()
    ran = daylatch("home", *option)
    assert (ran.status, ran.out) == (3, "")
    assert "site.guests: others may read it (mode 640)" in ran.err
    assert "`rm site.guests`" in ran.err
    assert Path("site.guests").read_bytes() == before


def test_a_site_file_cannot_be_called_as_the_file_of_guests(daylatch, house):
    house(file="hens.guests")
    ran = daylatch("home", "hens.guests", "--guests")
    assert (ran.status, "a site file cannot end in .guests" in ran.err) == (2, True)


def test_the_unit_may_write_the_file_of_guests(daylatch, house, tmp_path):
    daylatch("home", "--invite", "Jo")
    folder = Path("site.guests").absolute().parent
    assert f'ReadWritePaths="{folder}"\n' in daylatch("home", "--print-unit").out


def shown_in_terminal(folder, *arguments, term):
    """Return what a command shows in a terminal."""
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": term, "PYTHONIOENCODING": "utf-8", "COLUMNS": "80"}
    process = subprocess.Popen(
        [sys.executable, "-m", "daylatch", *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        cwd=folder,
        env=environment,
    )
    os.close(theirs)
    content = b""
    # How Linux says that the other side of a terminal is gone.
    with contextlib.suppress(OSError):
        while part := os.read(ours, 4096):
            content += part
    os.close(ours)
    assert process.wait(60) == 0, content
    return content.decode().replace("\r\n", "\n")


def test_in_a_terminal_a_code_stands_below_which_is_the_link(house, tmp_path):
    shown = shown_in_terminal(tmp_path, "home", "--invite", "Jo", term="xterm")
    link = re.search(LINK, shown)[0]
    rows = re.findall("\x1b\\[97;40m(.*)\x1b\\[0m\n", shown)
    assert shown.endswith(f"{link}\n\n" + "".join(f"\x1b[97;40m{row}\x1b[0m\n" for row in rows))
    # White is the letter, and black what is behind it.
    halves = {
        "\N{FULL BLOCK}": (0, 0),
        "\N{UPPER HALF BLOCK}": (0, 1),
        "\N{LOWER HALF BLOCK}": (1, 0),
        " ": (1, 1),
    }
    squares = []
    for row in rows:
        squares += map(list, zip(*(halves[letter] for letter in row), strict=True))
    code = segno.make(link, micro=False)
    expected = [list(row) for row in code.matrix_iter(border=2)]
    assert squares[: len(expected)] == expected
    assert len(rows[0]) <= 80


def test_in_a_terminal_that_can_show_no_code_the_link_is_enough(house, tmp_path):
    shown = shown_in_terminal(tmp_path, "home", "--invite", "Jo", term="dumb")
    assert re.search(f"{LINK}\n$", shown)
    assert "\x1b" not in shown
