"""A new site file: from options, from answers in a terminal, and never over what is there."""

import errno
import fcntl
import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time
import tomllib
import uuid

import numpy as np
import pytest

import daylatch.commands.begin.new as command
from daylatch.site.reading.site_file import load_site

UTRECHT = ["--latitude", "52.09", "--longitude", "5.12"]
TAMPERE = ["--latitude", "61.5", "--longitude", "23.76"]
NAMED = ["--name", "Willow End"]


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    """Always the same day, so that the texts about the coming years are the same."""
    monkeypatch.setattr(command, "now_utc", lambda: np.datetime64("2027-01-15T12:00:00", "s"))


# --- From options ------------------------------------------------------------------------------


def test_a_file_from_options(daylatch, tmp_path):
    ran = daylatch("new", "house.toml", *NAMED, *UTRECHT)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (
        "wrote house.toml: Willow End, 52.09 N 5.12 E, Europe/Amsterdam\n"
        "Note: as in your country, times like 18:30; metric units; pages of A4 paper; weeks begin "
        "on Monday; norms: rules of the European Union ([writing] and [norms] in the file; change "
        "them to suit).\n"
        "Note: nights here get as short as 5 h 36 min; so the door closes earlier and opens later "
        "then, for nights of 6 h (least_h of [night] in the file; change it to suit).\n"
        "Next: daylatch check house.toml\n"
    )
    site = load_site(tmp_path / "house.toml")
    assert (site.name, site.zone, site.warnings) == ("Willow End", "Europe/Amsterdam", ())
    assert site.settings.open.fallback is site.settings.close.fallback is None
    assert uuid.UUID(site.id).version == 4
    checked = daylatch("check", "house.toml")
    assert (checked.status, checked.err) == (0, "")


def test_a_file_from_a_city(daylatch, tmp_path):
    ran = daylatch("new", "house.toml", *NAMED, "--city", "Utrecht, NL")
    assert ran.status == 0
    assert "Utrecht, The Netherlands (52.0908 N 5.1222 E), Europe/Amsterdam" in ran.out
    text = (tmp_path / "house.toml").read_text()
    assert "latitude = 52.09083 " in text
    assert "Utrecht, The Netherlands (GeoNames)" in text


def test_a_zone_that_is_given_is_taken(daylatch, tmp_path):
    ran = daylatch("new", "h.toml", *NAMED, *UTRECHT, "--zone", "Europe/Brussels")
    assert ran.status == 0
    assert load_site(tmp_path / "h.toml").zone == "Europe/Brussels"


def test_south_and_west_are_negative(daylatch, tmp_path):
    ran = daylatch("new", "h.toml", *NAMED, "--latitude=-33.45", "--longitude", "-70.67")
    assert (ran.status, ran.err) == (0, "")
    assert "33.45 S 70.67 W, America/Santiago" in ran.out
    assert load_site(tmp_path / "h.toml").warnings == ()


def test_the_meridian_and_the_equator_are_places(daylatch, tmp_path):
    ran = daylatch("new", "h.toml", *NAMED, "--latitude", "0", "--longitude", "0", "--zone", "UTC")
    assert (ran.status, ran.err) == (0, "")
    assert load_site(tmp_path / "h.toml").latitude_deg == 0.0


def test_all_writes_every_table_of_the_same_house(daylatch, tmp_path):
    assert daylatch("new", "short.toml", *NAMED, *UTRECHT).status == 0
    ran = daylatch("new", "long.toml", *NAMED, *UTRECHT, "--all")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.endswith("Next: daylatch check long.toml\n")
    texts = [(tmp_path / name).read_text() for name in ("short.toml", "long.toml")]
    assert ["[sync]" in text for text in texts] == [False, True]
    sites = [load_site(tmp_path / name) for name in ("short.toml", "long.toml")]
    assert sites[0].settings.open == sites[1].settings.open
    assert sites[0].warnings == sites[1].warnings == ()


def test_examples_are_of_the_coming_year(daylatch, tmp_path):
    assert daylatch("new", "house.toml", *NAMED, *UTRECHT, "--all").status == 0
    dates = re.findall(r"^# \w+ = (\d{4})-\d\d-\d\d", (tmp_path / "house.toml").read_text(), re.M)
    assert set(dates) == {"2027", "2028", "2029"}
    # The end of a northern winter; and a clock was set and birds were counted in the past.
    assert (dates.count("2029"), dates.count("2027")) == (1, 2)


def test_two_new_files_are_two_houses(daylatch, tmp_path):
    ids = set()
    for number in range(5):
        assert daylatch("new", f"{number}.toml", *NAMED, *UTRECHT).status == 0
        ids.add(load_site(tmp_path / f"{number}.toml").id)
    assert len(ids) == 5
    assert daylatch("check", "0.toml").status == 0


# --- Days without the light --------------------------------------------------------------------


def test_fallbacks_are_put_in_where_civil_twilight_lasts_all_night(daylatch, tmp_path):
    ran = daylatch("new", "house.toml", *NAMED, *TAMPERE)
    assert (ran.status, ran.err) == (0, "")
    note = ran.out.splitlines()[2]
    days = re.fullmatch(
        r"Note: nights here get as short as (\d+) min, and on about (\d+) days a year \(next on "
        r"(2027-\d\d-\d\d)\) it never gets as dark as civil dusk; so the door shuts by 23:15 and "
        r"opens from 06:15 then \(not_after, not_before and fallback in the file; change them to "
        r"suit\)\.",
        note,
    )
    # The Sun's altitude at midnight at 61.5 N is declination - 28.5 degrees: above -6 from
    # declination 22.5 on, which the almanac gives for 5 June to 8 July, give or take two days.
    assert 30 <= int(days[2]) <= 38
    assert "2027-06-02" <= days[3] <= "2027-06-08"
    # A dusk just before the lowest Sun, and a dawn just after it.
    assert int(days[1]) < 60
    found = load_site(tmp_path / "house.toml").settings
    assert (str(found.open.fallback), str(found.close.fallback)) == ("06:15", "23:15")
    assert (str(found.open.not_before), str(found.close.not_after)) == ("06:15", "23:15")
    assert found.night.least_h == 0
    assert daylatch("check", "house.toml").status == 0


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (["--fallback-open", "06:00", "--fallback-close", "21:45"], ("06:00", "21:45")),
        (["--fallback-open", "6:00"], ("06:00", None)),
        (["--fallback-close", "00:30"], (None, "00:30")),
    ],
)
@pytest.mark.parametrize(
    ("place", "counted"),
    [(TAMPERE, ("06:15", "23:15")), (UTRECHT, ("06:30", "23:30"))],
    ids=["Tampere", "Utrecht"],
)
def test_fallbacks_that_are_given_are_put_in_anywhere(
    daylatch, tmp_path, place, counted, given, expected
):
    assert daylatch("new", "house.toml", *NAMED, *place, *given).status == 0
    found = load_site(tmp_path / "house.toml").settings
    expected = tuple(one or other for one, other in zip(expected, counted, strict=True))
    assert (str(found.open.fallback), str(found.close.fallback)) == expected
    # The limits meet them where nights are short, and are not there where they are not.
    limits = (found.open.not_before, found.close.not_after)
    assert limits == (
        (found.open.fallback, found.close.fallback) if place is TAMPERE else (None,) * 2
    )


@pytest.mark.parametrize("latitude", ["54", "-54", "0", "48.9"])
def test_no_fallbacks_where_every_night_is_dark_enough(daylatch, tmp_path, latitude):
    ran = daylatch("new", "h.toml", *NAMED, f"--latitude={latitude}", "--longitude=0", "--zone=UTC")
    assert ran.status == 0
    assert "fallback" not in ran.out
    settings = load_site(tmp_path / "h.toml").settings
    assert settings.open.fallback is settings.open.not_before is settings.close.not_after is None


def test_days_that_stay_dark_are_noted(daylatch, tmp_path):
    ran = daylatch("new", "h.toml", *NAMED, "--latitude", "78.22", "--longitude", "15.65")
    assert ran.status == 0
    assert "it never gets as dark as civil dusk" in ran.out
    assert "it never gets as light as civil dawn; then the door stays shut" in ran.out
    assert load_site(tmp_path / "h.toml").settings.open.dark_fallback is None
    assert daylatch("check", "h.toml").status == 0


# --- Slips in options --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (UTRECHT, "--name is needed where nobody can be asked"),
        (NAMED, "--latitude and --longitude, or --city, are needed where nobody can be asked"),
        ([*NAMED, *UTRECHT[:2]], "--longitude is needed where nobody can be asked"),
        (
            [*NAMED, *UTRECHT, "--city", "Utrecht"],
            "give either --city, or --latitude and --longitude",
        ),
        (
            [*NAMED, "--latitude", "95", "--longitude", "5"],
            '--latitude is "95": write degrees between -90 and 90, with a point, like 52.09; '
            "south is negative",
        ),
        *[
            (
                [*NAMED, "--latitude", "52", f"--longitude={text}"],
                f'--longitude is "{text}": write degrees between -180 and 180, with a '
                "point, like 52.09; west is negative",
            )
            for text in ["180.1", "nan", "inf", "-1e9", "5,12", "5 E", "east", ""]
        ],
        (
            [*NAMED, "--city", "Nowhereville"],
            '--city is "Nowhereville": no such city of 15,000 people or more in the list: write '
            'it like "Dunedin, New Zealand", or give latitude and longitude',
        ),
        (
            [*NAMED, *UTRECHT, "--zone", "europe/amsterdam"],
            '--zone is "europe/amsterdam": no such time zone; write one like Europe/Oslo',
        ),
        (
            [*NAMED, *UTRECHT, "--zone", "../etc/passwd"],
            '--zone is "../etc/passwd": no such time zone; write one like Europe/Oslo',
        ),
        (
            [*NAMED, *UTRECHT, "--fallback-open", "25:00"],
            '--fallback-open is "25:00": write a 24-hour time, like 05:30',
        ),
        (
            [*NAMED, *TAMPERE, "--fallback-close", "late"],
            '--fallback-close is "late": write a 24-hour time, like 05:30',
        ),
        (["--name", " ", *UTRECHT], '--name is " ": write 1 to 100 characters'),
        (["--name", "", *UTRECHT], '--name is "": write 1 to 100 characters'),
        (
            ["--name", "x" * 101, *UTRECHT],
            f'--name is "{"x" * 101}": write 1 to 100 characters',
        ),
    ],
)
def test_a_slip_in_an_option_is_named_and_nothing_is_written(daylatch, tmp_path, options, message):
    ran = daylatch("new", "house.toml", *options)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == f"daylatch: {message}\n"
    assert list(tmp_path.iterdir()) == []


# --- Hostile names -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        'The "Coop"',
        "O'Hen \\ sons",
        'x"\\nid = \\"evil',
        'x" # comment',
        '"""',
        "'''",
        "\\u0041",
        "🐔 東京 العربية ÅÄÖ",
        "[[span]]",
        "[red]name[/red]",
        "{0} %s $(touch x) `touch x`",
        "=1+1",
        "-- x",
        "\u00a0a\u200cb\u200d",
    ],
)
def test_any_name_is_written_as_that_name(daylatch, tmp_path, name):
    ran = daylatch("new", "house.toml", f"--name={name}", *UTRECHT)
    assert (ran.status, ran.err) == (0, "")
    assert name.strip() in ran.out
    data = tomllib.loads((tmp_path / "house.toml").read_text("utf-8"))
    assert data["name"] == name.strip()
    assert "span" not in data
    assert uuid.UUID(data["id"])
    assert [path.name for path in tmp_path.iterdir()] == ["house.toml"]


@pytest.mark.parametrize(
    "character",
    [
        "\n",
        "\r",
        "\t",
        "\x1b",
        "\x7f",
        "\x9b",
        "\u202e",
        "\u2028",
        "\u061c",
        "\u200b",
        "\ufeff",
        "\xad",
    ],
)
def test_a_name_with_control_characters_is_refused(daylatch, tmp_path, character):
    ran = daylatch("new", "house.toml", "--name", f'a{character}id = "x"', *UTRECHT)
    assert ran.status == 2
    assert f"take out the invisible character U+{ord(character):04X}" in ran.err
    assert list(tmp_path.iterdir()) == []


# --- What is there already ---------------------------------------------------------------------


def test_an_existing_file_is_left_as_it_is(daylatch, tmp_path):
    (tmp_path / "house.toml").write_text("mine")
    ran = daylatch("new", "house.toml", *NAMED, *UTRECHT)
    assert (ran.status, ran.out) == (6, "")
    assert ran.err == (
        "daylatch: house.toml: exists, so it is left as it is; choose another name, or add --force "
        "to replace it\n"
    )
    assert (tmp_path / "house.toml").read_text() == "mine"
    # Nor is a file of its own, whose identity would be lost.
    assert daylatch("new", "own.toml", *NAMED, *UTRECHT).status == 0
    own = (tmp_path / "own.toml").read_bytes()
    assert daylatch("new", "own.toml", *NAMED, *UTRECHT).status == 6
    assert (tmp_path / "own.toml").read_bytes() == own


def test_force_replaces_a_file(daylatch, tmp_path):
    (tmp_path / "house.toml").write_text("mine")
    (tmp_path / "house.toml").chmod(0o600)
    assert daylatch("new", "house.toml", *NAMED, *UTRECHT, "--force").status == 0
    assert load_site(tmp_path / "house.toml").name == "Willow End"
    assert (tmp_path / "house.toml").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_nothing_is_written_through_a_link_or_into_a_folder(daylatch, tmp_path, force):
    (tmp_path / "real").write_text("mine")
    (tmp_path / "link.toml").symlink_to("real")
    (tmp_path / "dangling.toml").symlink_to("nowhere")
    (tmp_path / "folder.toml").mkdir()
    before = sorted(tmp_path.iterdir())
    for name, why in {
        "link.toml": "is a symbolic link",
        "dangling.toml": "is a symbolic link",
        "folder.toml": "is a folder",
        "/dev/null": "is not a plain file",
        "missing/house.toml": "cannot be written: No such file or directory",
        "real/house.toml": "cannot be looked at: Not a directory",
    }.items():
        ran = daylatch("new", name, *NAMED, *UTRECHT, *force)
        assert ran.status == 6
        assert ran.err.startswith(f"daylatch: {name}: {why}")
    assert sorted(tmp_path.iterdir()) == before
    assert (tmp_path / "real").read_text() == "mine"


# --- In a terminal -----------------------------------------------------------------------------


def _take_terminal():
    """Make standard input the controlling terminal, so that Ctrl-C typed there interrupts."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    # Where this very run is deaf to interrupts, a child would be too.
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Terminal:
    """A program that runs in a terminal of its own, and what it shows there."""

    def __init__(self, folder, *arguments):
        self._ours, theirs = pty.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "daylatch", *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=folder,
            start_new_session=True,
            preexec_fn=_take_terminal,  # noqa: PLW1509
            env={**os.environ, "TERM": "dumb", "PYTHONWARNINGS": "default"},
        )
        os.close(theirs)
        self.shown = ""

    def _read(self, until):
        """Read on until a text is shown, or to the end; half a minute is far more than needed."""
        last = time.monotonic() + 30
        while until is None or until not in self.shown:
            ready, _, _ = select.select([self._ours], [], [], max(0, last - time.monotonic()))
            assert ready, f"waited in vain for {until!r} after {self.shown!r}"
            try:
                data = os.read(self._ours, 4096)
            except OSError as error:
                # How Linux says that the other side of a terminal is gone.
                if error.errno != errno.EIO:
                    raise
                data = b""
            if not data:
                assert until is None, f"ended without {until!r} after {self.shown!r}"
                return
            self.shown += data.decode()

    def answer(self, question, text):
        """Wait for a question and type a line."""
        self._read(question)
        self.shown = ""
        os.write(self._ours, f"{text}\n".encode())

    def type(self, question, keys):
        self._read(question)
        # A question is shown a moment before its answer is waited for. The interpreter sees an
        # interrupt that falls in between only with the next key.
        time.sleep(0.5)
        os.write(self._ours, keys)

    def end(self):
        """Return the exit status, once all was read."""
        self._read(None)
        return self._process.wait(60)

    def leave(self):
        """Leave nothing running, whatever the test found."""
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait()
        os.close(self._ours)


@pytest.fixture
def terminal(tmp_path):
    """Return a function that runs a command line in a terminal, in an empty folder."""
    opened = []

    def run(*arguments):
        opened.append(Terminal(tmp_path, *arguments))
        return opened[-1]

    yield run
    for one in opened:
        one.leave()


def test_a_terminal_is_asked_for_what_is_needed_and_again_after_a_slip(terminal, tmp_path):
    asked = terminal("new", "house.toml")
    asked.answer("What do you call the house?", "")
    asked.answer("write 1 to 100 characters", "x" * 101)
    asked.answer("write 1 to 100 characters", 'Hen "Palace" 🐔')
    asked.answer("Nearest city", "Nowhereville")
    asked.answer("no such city", "Springfield")
    asked.answer("could be Springfield", "Tampere")
    asked.answer("Open then at [06:15]", "half past six")
    asked.answer("write a 24-hour time", "06:30")
    asked.answer("Close then at [23:15]", "")
    assert asked.end() == 0, asked.shown
    assert "wrote house.toml" in asked.shown
    site = load_site(tmp_path / "house.toml")
    assert (site.name, site.zone, site.warnings) == ('Hen "Palace" 🐔', "Europe/Helsinki", ())
    assert str(site.settings.open.fallback) == str(site.settings.open.not_before) == "06:30"
    assert str(site.settings.close.fallback) == str(site.settings.close.not_after) == "23:15"


def test_a_terminal_is_asked_for_coordinates_where_no_city_is_named(terminal, tmp_path):
    asked = terminal("new", "house.toml", "--name", "Shore House")
    asked.answer("Nearest city (or just Enter", "")
    asked.answer("Latitude in degrees", "92")
    asked.answer("write degrees between -90 and 90", "-45.87")
    asked.answer("Longitude in degrees", "170.5")
    assert asked.end() == 0, asked.shown
    site = load_site(tmp_path / "house.toml")
    assert (site.latitude_deg, site.longitude_deg) == (-45.87, 170.5)
    assert (site.zone, site.settings.open.fallback) == ("Pacific/Auckland", None)


def test_a_terminal_is_asked_nothing_that_options_answer(terminal):
    asked = terminal("new", "house.toml", *NAMED, *UTRECHT)
    assert asked.end() == 0
    assert asked.shown.startswith("wrote house.toml")


def test_a_slip_in_an_option_is_not_asked_for_again(terminal):
    asked = terminal("new", "house.toml", *NAMED, "--latitude", "95")
    assert asked.end() == 2
    assert '--latitude is "95": write degrees' in asked.shown


@pytest.mark.parametrize("keys", [b"\x03", b"\x04"], ids=["interrupt", "end of input"])
def test_leaving_the_questions_changes_nothing(terminal, tmp_path, keys):
    asked = terminal("new", "house.toml")
    asked.type("What do you call the house?", keys)
    status = asked.end()
    assert status == 130
    assert "stopped; nothing was changed" in asked.shown
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_refused_before_any_question(terminal, tmp_path):
    (tmp_path / "house.toml").write_text("mine")
    asked = terminal("new", "house.toml")
    assert asked.end() == 6
    assert "exists, so it is left as it is" in asked.shown
    assert "?" not in asked.shown


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--latitude", "52", "--longitude", "5", "--zone", "Asia/Tokyo"), "six hours from 12:00"),
        (("--latitude", "-89.99", "--longitude", "0"), "six hours from 12:00"),
        (
            ("--latitude", "67.85", "--longitude", "20.2", "--fallback-open", "22:00",
             "--fallback-close", "05:30"),
            "fallback or fixed time",
        ),
    ],
)  # fmt: skip
def test_a_file_that_would_give_no_plan_is_not_written(daylatch, tmp_path, options, message):
    ran = daylatch("new", "house.toml", "--name", "Nowhere", *options)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert not (tmp_path / "house.toml").exists()
