"""What a board does with the answers of a home, by a compiler with both sanitizers."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import random
import re
import struct
import subprocess
from email.utils import formatdate
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from daylatch.door.table.encode import encode
from daylatch.door.table.format import check_of
from daylatch.door.works.due import make_due
from daylatch.home.times.answer import CHECK_LENGTH, answer_at, sealed
from daylatch.plan.moment import days_around, moment_at
from daylatch.plan.plan import make_plan
from door.reader.test_reader import C99, HARNESS, SOURCE, run
from programs import needs
from sites import ID, LORD_HOWE, SINGAPORE, TAMPERE, UTRECHT, Spot, site

pytestmark = needs("gcc")
UNKNOWN, SHUT, OPEN = range(3)
NOTHING, ANSWER, TABLE = range(3)
WELL, NONE, STOPPED, DIFFERS, BEHIND, UNSURE = range(6)
NEW, SAME, CUT, REFUSED, LATER, DAMAGED, WRONG, OTHER_HOUSE, TOO_LONG = range(9)
ROOM = 12288
CLOCKS = 10
STATES = {"open": OPEN, "shut": SHUT}
SYDNEY = Spot(-33.87, 151.21, "Australia/Sydney")
NUUK = Spot(64.18, -51.72, "America/Nuuk")
SHUT_SPAN = "[[span]]\nfrom = 2027-01-10\nuntil = 2027-02-10\nshut = true\n"
MINUTE, HOUR, DAY = 60, 3600, 86400


def unix(text):
    return int(dt.datetime.fromisoformat(f"{text}+00:00").timestamp())


NOON = unix("2026-11-26T12:00:00")


class Said(NamedTuple):
    door: int
    by: int
    clock: int
    planned: int
    time: int
    next: int


class Board:
    """The program that holds what a board would."""

    def __init__(self, program):
        self.process = subprocess.Popen(
            [program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        self.begin()

    def _ask(self, question, size):
        self.process.stdin.write(question)
        self.process.stdin.flush()
        answer = self.process.stdout.read(size)
        assert len(answer) == size, self.process.stderr.read().decode(errors="replace")
        return answer

    def begin(self, house=ID, room=ROOM, *, trusted=True):
        self._ask(b"B" + struct.pack("<HH", room, len(house)) + house.encode(), 0)
        if trusted:
            self.trust_clock()

    def trust_clock(self):
        """Somebody has looked at its own clock."""
        self._ask(b"W", 0)

    def clocks(self):
        """Return whether it is to be put into storage what is known of the clocks, and that."""
        answer = self._ask(b"K", 1 + CLOCKS)
        return bool(answer[0]), answer[1:]

    def recall_clocks(self, kept):
        return self._ask(b"C" + struct.pack("<H", len(kept)) + kept, 1)[0]

    def table(self, content):
        return self._ask(b"T" + struct.pack("<H", len(content)) + content, 1)[0]

    def take(self, answer, counter=0):
        return self._ask(b"A" + struct.pack("<IH", counter, len(answer)) + answer, 1)[0]

    def recall(self, answer):
        return self._ask(b"R" + struct.pack("<H", len(answer)) + answer, 1)[0]

    def door(self, clock, counter=0):
        return Said(
            *struct.unpack("<BBBBII", self._ask(b"D" + struct.pack("<II", clock, counter), 12))
        )

    def tag(self):
        (size,) = struct.unpack("<H", self._ask(b"G", 2))
        return self._ask(b"", size)


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    made = tmp_path_factory.mktemp("times") / "host"
    sanitizers = ("-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
    sources = [SOURCE / "door_times.c", SOURCE / "daylatch_reader.c", HARNESS / "door_times_host.c"]
    run("gcc", *C99, *sanitizers, f"-I{SOURCE}", *map(str, sources), "-o", str(made))
    return str(made)


@pytest.fixture
def board(program):
    made = Board(program)
    with contextlib.closing(made.process.stdin), made.process.stdout, made.process.stderr:
        yield made
        assert made.process.poll() is None
        made.process.stdin.close()
        assert made.process.wait(10) == 0, made.process.stderr.read()


def http(content=b"", at=NOON, status="200 OK", *, tag='"abc"', more=""):
    head = f"HTTP/1.1 {status}\r\ndate: {formatdate(at, usegmt=True)}\r\netag: {tag}\r\n{more}"
    return f"{head}content-length: {len(content)}\r\n\r\n".encode() + content


def told(here, at=NOON):
    return answer_at(here, np.datetime64(at, "s"), make_due).content


def today(here, at):
    instant = np.datetime64(at, "s")
    return STATES[moment_at(make_due(days_around(here, instant)), instant).state]


HOUSE = site(UTRECHT)
TABLE_DATES = dt.date(2026, 10, 31), dt.date(2027, 11, 30)


@cache
def years():
    plan = make_plan(HOUSE, dt.date(2026, 11, 1), dt.date(2028, 6, 30))
    return plan.open_utc.astype("datetime64[s]"), plan.close_utc.astype("datetime64[s]")


def planned(at):
    """Return what the door of the house should be: as `today`, in less time."""
    opens, closes = years()
    instant = np.datetime64(at, "s")
    return OPEN if np.any((opens <= instant) & (instant < closes)) else SHUT


@cache
def house_table():
    return encode(make_plan(HOUSE, *TABLE_DATES))


TOLD = told(HOUSE)
GOOD = http(TOLD)
UNTIL = json.loads(TOLD)["holds_until_unix"]
CLOSING = unix("2026-11-26T16:30:00")


def resealed(change):
    """Return an answer whose members were changed, with a check that fits."""
    members = json.loads(TOLD)
    del members["check"]
    change(members)
    return http(sealed(members))


@pytest.mark.parametrize(
    ("spot", "settings", "first"),
    [
        (UTRECHT, "", "2026-11-26T12:00:00"),
        (UTRECHT, "", "2027-03-20T02:00:00"),
        (
            TAMPERE,
            '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n',
            "2027-06-14T23:00:00",
        ),
        (SYDNEY, "", "2027-03-20T02:00:00"),
        (
            UTRECHT,
            "[[span]]\nfrom=2027-01-10\nuntil=2027-02-10\nshut=true\n",
            "2027-01-20T02:00:00",
        ),
    ],
)
def test_while_it_holds_the_door_is_as_today_has_it(board, spot, settings, first):
    here, begin = site(spot, settings), unix(first)
    content = told(here, begin)
    assert board.take(http(content, begin)) == NEW
    members = json.loads(content)
    moves = [move["unix"] for move in members["movements"]]
    for at in range(begin, members["holds_until_unix"], 7 * HOUR + 11 * MINUTE):
        said = board.door(at, at - begin)
        assert said[:4] == (today(here, at), ANSWER, WELL, 0)
        assert said.next == min((move for move in moves if move > at), default=0)
    # To the second.
    for move in members["movements"][1:5]:
        now = STATES[move["to"]]
        assert board.door(move["unix"], move["unix"] - begin).door == now
        assert board.door(move["unix"] - 1, move["unix"] - 1 - begin).door == OPEN + SHUT - now
    assert board.door(members["holds_until_unix"], members["holds_until_unix"] - begin)[:2] == (
        UNKNOWN,
        NOTHING,
    )


def test_an_answer_that_is_cut_at_any_byte_changes_nothing(board):
    assert board.take(http(told(HOUSE, NOON - DAY), NOON - DAY)) == NEW
    before = board.door(NOON, DAY)
    for length in range(len(GOOD)):
        assert board.take(GOOD[:length], DAY) == CUT
    assert board.door(NOON, DAY) == before
    assert board.take(GOOD + b"x") == CUT
    assert board.take(GOOD, DAY) == NEW


def test_an_answer_with_any_bit_of_its_body_flipped_is_refused(board):
    body = len(GOOD) - len(TOLD)
    rng = random.Random(7)
    for place in range(body, len(GOOD)):
        bad = bytearray(GOOD)
        bad[place] ^= 1 << rng.randrange(8)
        assert board.take(bytes(bad)) == DAMAGED
    for _ in range(2000):
        # The check finds every stretch of errors of up to 16 bits.
        bad = bytearray(GOOD)
        place = rng.randrange(body, len(GOOD) - 1)
        bad[place] ^= rng.randrange(256)
        bad[place + 1] ^= rng.randrange(256)
        assert board.take(bytes(bad)) in ((DAMAGED,) if bad != GOOD else (NEW,))


def test_a_flipped_bit_of_its_head_never_moves_the_door_wrongly(board):
    """The check does not cover the head: a wrong date there is found by the board's own clock.

    Clocks that differ by up to five minutes agree, so that it can be off by so much.
    """
    table = house_table()
    body = len(GOOD) - len(TOLD)
    taken = 0
    for place in range(body):
        for bit in range(8):
            bad = bytearray(GOOD)
            bad[place] ^= 1 << bit
            board.begin()
            assert board.table(table) == 0
            taken += board.take(bytes(bad)) == NEW
            for at in (NOON, CLOSING - 301, CLOSING + 301, CLOSING + 5 * HOUR):
                said = board.door(at, at - NOON)
                assert said.door in (UNKNOWN, planned(at)), (place, bit, at)
    assert taken > 100


def test_what_is_not_taken_and_what_then_is_to_be_done(board):
    assert board.take(http(status="304 Not Modified")) == WRONG
    assert board.take(b"") == CUT
    assert board.take(b"SSH-2.0\r\n\r\n") == CUT
    for status, found in (
        ("401 Unauthorized", REFUSED),
        ("404 Not Found", REFUSED),
        ("307 Temporary Redirect", REFUSED),
        ("421 Misdirected Request", REFUSED),
        ("429 Too Many Requests", LATER),
        ("503 Service Unavailable", LATER),
        ("500 Internal Server Error", LATER),
        ("2000 OK", CUT),
        ("x OK", CUT),
    ):
        assert board.take(http(TOLD, status=status)) == found, status
    assert board.take(http(TOLD, more="Transfer-Encoding: chunked\r\n")) == CUT
    assert board.take(http(TOLD, more="Content-Length: 7\r\n")) == CUT
    assert board.take(GOOD.replace(b"content-length", b"content-size")) == CUT
    assert board.take(GOOD.replace(b"content-length: ", b"content-length: 9999999999")) == CUT
    assert board.door(NOON).by == NOTHING
    board.begin(house=ID.replace("6", "7"))
    assert board.take(GOOD) == OTHER_HOUSE
    assert board.take(http(TOLD, status="200")) == OTHER_HOUSE
    board.begin(room=len(GOOD) - 1)
    assert board.take(GOOD) == TOO_LONG
    assert board.recall(GOOD) == TOO_LONG
    board.begin(house="", room=len(GOOD))
    assert board.take(GOOD) == NEW
    assert board.take(http(status="304 Not Modified")) == SAME


@pytest.mark.parametrize(
    "change",
    [
        lambda one: one.update(daylatch_times=2),
        lambda one: one.update(daylatch_times="1"),
        lambda one: one.update(state="ajar"),
        lambda one: one.pop("state"),
        lambda one: one.update(holds_from_unix=one["holds_until_unix"]),
        lambda one: one.update(holds_from_unix=-1),
        lambda one: one.update(holds_until_unix=2**32),
        lambda one: one.update(holds_until_unix=one["holds_from_unix"] + 1000),
        lambda one: one.update(holds_from_unix=one["holds_from_unix"] + 1000),
        lambda one: one.pop("movements"),
        lambda one: one["movements"].reverse(),
        lambda one: one["movements"].append(one["movements"][0]),
        lambda one: one["movements"].insert(1, one["movements"][1]),
        lambda one: one["movements"].append({}),
        lambda one: one["movements"].append([]),
        lambda one: one["movements"][3].pop("unix"),
        lambda one: one["movements"][3].pop("to"),
        lambda one: one["movements"][3].pop("known"),
        lambda one: one["movements"][3].update(to="ajar"),
        lambda one: one["movements"][3].update(unix="soon"),
        lambda one: one["movements"][3].update(known=None),
    ],
)
def test_what_cannot_be_is_refused_though_its_check_fits(board, change):
    assert board.take(resealed(lambda _: None)) == NEW
    board.begin()
    assert board.take(resealed(change)) == WRONG
    assert board.door(NOON).by == NOTHING


def test_members_that_are_added_later_are_passed_over(board):
    def add(members):
        members["movements"][0]["more"] = 'a "to":"ajar" in words'
        members["note"] = '"holds_until_unix":1 and "movements":[ in words'

    assert board.take(resealed(add)) == NEW
    assert board.door(NOON)[:2] == (OPEN, ANSWER)


INSIDE = {
    "daylatch_times": 2,
    "house": "another",
    "state": "shut",
    "holds_from_unix": 1,
    "holds_until_unix": 2,
    "movements": [],
    "more": ["}", {"to": "shut", "unix": 3, "known": False}, '\\"]}'],
    "to": "ajar",
    "unix": 4,
    "known": None,
}


@pytest.mark.parametrize("more", [INSIDE, [INSIDE], [[INSIDE, "}"], '"{['], 200 * "[" + 'x"'])
def test_members_of_what_is_added_inside_or_before_are_passed_over(board, more):
    assert board.take(GOOD) == NEW
    wanted = board.door(NOON), board.door(CLOSING), board.door(NOON + 5 * DAY)

    def add(members):
        true = dict(members)
        members.clear()
        true["movements"] = [{"more": more} | move for move in true["movements"]]
        members.update({"more": more} | true)

    board.begin(room=60000)
    assert board.take(resealed(add)) == NEW
    assert (board.door(NOON), board.door(CLOSING), board.door(NOON + 5 * DAY)) == wanted


@pytest.mark.parametrize("name", ["house", "state", "holds_until_unix", "movements"])
def test_a_member_that_is_only_inside_another_is_not_there(board, name):
    answer = resealed(lambda one: one.update(more={name: one.pop(name)}))
    assert board.take(answer) == (OTHER_HOUSE if name == "house" else WRONG)


def test_hostile_answers_end_in_a_status(board):
    rng = random.Random(11)
    words = [b'"movements":[', b"]", b"{", b"}", b'"unix":', b'"to":"open"', b",", b'"known":true']
    found = set()
    for _ in range(4000):
        body = bytearray(TOLD[:-CHECK_LENGTH])
        for _ in range(rng.randint(1, 4)):
            at = rng.randrange(len(body))
            match rng.randrange(3):
                case 0:
                    del body[at : at + rng.randint(1, 200)]
                case 1:
                    body[at:at] = rng.choice(words)
                case _:
                    body[at] = rng.randrange(256)
        before = bytes(body)
        answer = http(before + b',"check":"%04x"}' % check_of(before))
        status = board.take(answer)
        found.add(status)
        said = board.door(NOON)
        assert said.door in (UNKNOWN, SHUT, OPEN)
        for _ in range(3):
            head = bytearray(answer[:200])
            head[rng.randrange(200)] = rng.randrange(256)
            board.take(bytes(head) + answer[200:])
    assert {NEW, WRONG} <= found <= {NEW, WRONG, OTHER_HOUSE, CUT}


def test_after_a_restart_it_goes_by_what_was_kept(board):
    assert board.recall(GOOD) == NEW
    assert board.tag() == b'"abc"'
    assert board.door(NOON, 5)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(CLOSING, 9)[:3] == (SHUT, ANSWER, WELL)
    # Three weeks on, and after the end of the answer.
    at = NOON + 21 * DAY
    assert board.door(at, 9)[:3] == (planned(at), ANSWER, WELL)
    assert board.door(UNTIL, 9)[:3] == (UNKNOWN, NOTHING, WELL)
    # The date of what was kept is no time.
    assert board.door(0, 9)[:3] == (UNKNOWN, NOTHING, NONE)
    for bad in (GOOD[:-1], GOOD[:-5] + b"0" + GOOD[-4:], b"", http(status="304 Not Modified")):
        board.begin()
        assert board.recall(bad) in (CUT, DAMAGED, WRONG)
        assert board.tag() == b""
        assert board.door(NOON, 5).by == NOTHING


def test_the_tag_is_sent_as_it_came(board):
    assert board.tag() == b""
    for tag in ('W/"x-y"', '""', f'"{78 * "t"}"'):
        assert board.take(http(TOLD, tag=tag)) == NEW
        assert board.tag() == tag.encode()
    assert board.take(GOOD) == NEW
    assert board.tag() == b'"abc"'
    without = re.sub(rb"etag.*?\r\n", b"", GOOD)
    assert board.take(without) == NEW
    assert board.tag() == b""


@pytest.mark.parametrize(
    "tag",
    [
        f'"{79 * "t"}"',
        f'"{2500 * "t"}"',
        '"a\nX-Line: of its own"',
        '"a\rb"',
        '"a b"',
        '"a\tb"',
        '"a\0b"',
        '"a\x7fb"',
        '"\u00e9"',
        "*",
        '"a',
        'a"',
        '"',
        "abc",
        'w/"a"',
        '"a"b"',
        '"a",*',
        "",
    ],
)
def test_a_tag_that_could_do_harm_is_dropped_and_its_answer_is_good(board, tag):
    for give in (board.take, board.recall):
        board.begin()
        assert give(http(TOLD, tag=tag)) == NEW
        assert board.tag() == b""
    # Nor does one before it stand in its place.
    assert board.take(http(TOLD, more=f"ETag: {tag}\r\n")) == NEW
    assert board.tag() == b""


# ---- clocks ----


def test_without_a_clock_the_time_of_the_answer_is_counted_on_for_a_week(board):
    assert board.door(0, 1).clock == NONE
    assert board.take(GOOD, 1000) == NEW
    assert board.door(0, 1000)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(0, 1000 + CLOSING - NOON).door == SHUT
    assert board.door(0, 1000 + 7 * DAY).time == NOON + 7 * DAY
    assert board.door(0, 1000 + 7 * DAY + 1)[:3] == (UNKNOWN, NOTHING, NONE)
    # Each answer tells the time anew, also one that says that nothing has changed.
    later = http(at=NOON + 10 * DAY, status="304 Not Modified")
    assert board.take(later, 1000 + 10 * DAY) == SAME
    assert board.door(0, 1000 + 10 * DAY)[:3] == (planned(NOON + 10 * DAY), ANSWER, WELL)


@pytest.mark.parametrize("clock", [0, 1, unix("2000-01-01T00:00:00"), unix("2025-12-31T23:59:59")])
def test_a_clock_that_lost_its_time_is_none(board, clock):
    assert board.take(GOOD, 1000) == NEW
    assert board.door(clock, 1000)[:3] == (OPEN, ANSWER, WELL)
    board.begin()
    assert board.recall(GOOD) == NEW
    assert board.door(clock, 1000)[:3] == (UNKNOWN, NOTHING, NONE)


def test_a_clock_that_has_stopped_is_none(board):
    assert board.recall(GOOD) == NEW
    stopped = CLOSING - MINUTE
    assert board.door(stopped, 0)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(stopped, 149)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(stopped, 150)[:3] == (UNKNOWN, NOTHING, STOPPED)
    assert board.door(stopped, 15000)[:3] == (UNKNOWN, NOTHING, STOPPED)
    # The home's time is gone by instead.
    assert board.take(http(status="304 Not Modified", at=CLOSING + 600), 15000) == SAME
    assert board.door(stopped, 15000)[:3] == (SHUT, ANSWER, STOPPED)
    # It goes on, and is right.
    assert board.door(CLOSING + 700, 15100)[:3] == (SHUT, ANSWER, WELL)


@pytest.mark.parametrize("off", [-11 * HOUR, -2 * HOUR, -301, 301, HOUR, 5 * HOUR, 400 * DAY])
def test_two_clocks_that_differ_move_the_door_only_where_both_say_the_same(board, off):
    table = encode(make_plan(HOUSE, dt.date(2026, 10, 31), dt.date(2028, 11, 30)))
    board.table(table)
    assert board.take(GOOD, 0) == NEW
    states = set()
    for gone in range(0, 3 * DAY, 13 * MINUTE):
        at = NOON + gone
        said = board.door(at + off, gone)
        assert said.clock == DIFFERS
        assert said.door in (UNKNOWN, planned(at))
        if planned(at + off) == planned(at) and at + off >= unix("2026-11-26T06:54:00"):
            assert said.door == planned(at)
        states.add(said.door)
    assert states >= {SHUT, UNKNOWN}
    # Once the time of the answer is too old, the own clock is not trusted alone either.
    for gone in range(9 * DAY, 10 * DAY, 17 * MINUTE):
        said = board.door(NOON + gone + off, gone)
        assert said.clock == DIFFERS
        assert said.door in (UNKNOWN, planned(NOON + gone))
        if planned(NOON + gone + off) == planned(NOON + gone):
            assert said.door == planned(NOON + gone)
    # Somebody sets it right, and an answer says so.
    assert board.take(http(status="304 Not Modified", at=NOON + 10 * DAY), 10 * DAY) == SAME
    at = NOON + 10 * DAY
    assert board.door(at + 10, 10 * DAY)[:3] == (planned(at), ANSWER, WELL)
    at = NOON + 20 * DAY
    assert board.door(at, 20 * DAY)[:3] == (planned(at), ANSWER, WELL)


@pytest.mark.parametrize("off", [-300, -60, 60, 300])
def test_a_few_minutes_are_no_difference(board, off):
    assert board.take(GOOD, 0) == NEW
    for gone in range(0, 2 * DAY, 17 * MINUTE):
        said = board.door(NOON + gone + off, gone)
        assert said[:3] == (planned(NOON + gone), ANSWER, WELL)


def test_a_home_whose_clock_went_back_moves_nothing_wrongly(board):
    """A computer without a battery for its clock may begin where it ended."""
    assert board.take(GOOD, 0) == NEW
    content = told(HOUSE, NOON)
    late = CLOSING + 30 * MINUTE
    assert board.door(late, late - NOON).door == SHUT
    assert board.take(http(content, NOON), late - NOON) == NEW
    assert board.door(late, late - NOON)[:3] == (UNKNOWN, NOTHING, DIFFERS)


def test_a_clock_that_is_earlier_than_what_is_kept_is_wrong(board):
    table = house_table()
    board.table(table)
    kept = http(told(HOUSE, CLOSING + HOUR), CLOSING + HOUR)
    assert board.recall(kept) == NEW
    assert board.door(CLOSING - HOUR)[:3] == (UNKNOWN, NOTHING, BEHIND)
    assert board.door(CLOSING - 301, 1)[:3] == (UNKNOWN, NOTHING, BEHIND)
    # A few minutes slow is not: that movement was past, whatever it shows.
    assert board.door(CLOSING - 300, 2)[:3] == (SHUT, ANSWER, WELL)
    assert board.door(CLOSING, 3)[:3] == (SHUT, ANSWER, WELL)


@pytest.mark.parametrize(
    "text",
    [
        "Thu, 26 Nov 2026 12:00:00 GMT",
        "thu, 26 nov 2026 12:00:00 gmt",
    ],
)
def test_dates_that_are_read(board, text):
    answer = re.sub(rb"date: .*?\r\n", f"date: {text}\r\n".encode(), GOOD)
    assert board.take(answer) == NEW
    assert board.door(0).time == NOON


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Fri, 26 Nov 2026 12:00:00 GMT",
        "Thu, 26 Nov 2026 24:00:00 GMT",
        "Thu, 26 Nov 2026 12:60:00 GMT",
        "Thu, 26 Nov 2026 12:00:00 CET",
        "Thu, 26 Nov 2026 12:00:00 GMTx",
        "Thu, 31 Nov 2026 12:00:00 GMT",
        "Thu, 26 Xov 2026 12:00:00 GMT",
        "Xxx, 26 Nov 2026 12:00:00 GMT",
        "Thursday, 26-Nov-26 12:00:00 GMT",
        "Thu Nov 26 12:00:00 2026",
        "Thu, 26 Nov 9999 12:00:00 GMT",
        "Wed, 26 Nov 1997 12:00:00 GMT",
        "Wed, 26 Nov 2025 12:00:00 GMT",
    ],
)
def test_dates_that_are_none(board, text):
    answer = re.sub(rb"date: .*?\r\n", f"date: {text}\r\n".encode(), GOOD)
    assert board.take(answer) == NEW
    assert board.door(0)[:3] == (UNKNOWN, NOTHING, NONE)
    assert board.door(NOON)[:3] == (OPEN, ANSWER, WELL)


def test_dates_of_all_years_are_read_as_they_are(board):
    rng = random.Random(5)
    for _ in range(500):
        at = rng.randrange(unix("2026-01-01T00:00:00"), unix("2099-12-31T23:59:59"))
        assert board.take(http(TOLD, at)) == NEW
        assert board.door(0).time == at


def test_clocks_that_differed_do_after_a_restart_too(board):
    """The own clock is 11 hours ahead: at 22:00 it shows the next morning, and the home is away."""
    night = unix("2026-11-26T22:00:00")
    off = 11 * HOUR
    content = told(HOUSE, night)
    board.begin(trusted=False)
    assert board.take(http(content, night)) == NEW
    assert board.door(night + off)[:3] == (UNKNOWN, NOTHING, DIFFERS)
    changed, kept = board.clocks()
    assert changed
    for gone in range(0, 3 * DAY, 29 * MINUTE):
        board.begin(trusted=False)
        assert board.recall(http(content, night)) == NEW
        assert board.recall_clocks(kept) == 1
        said = board.door(night + gone + off, 5)
        assert said.clock == DIFFERS
        assert said.door in (UNKNOWN, planned(night + gone))
        assert (said.door == UNKNOWN) == (planned(night + gone) != planned(night + gone + off))
        # Nothing new is known.
        assert board.clocks() == (False, kept)
    # It was put right, and the home says so: after that it is gone by alone.
    at = night + 3 * DAY
    assert board.take(http(status="304 Not Modified", at=at), 9) == SAME
    assert board.door(at + 20, 9)[:3] == (planned(at), ANSWER, WELL)
    changed, kept = board.clocks()
    assert changed
    board.begin(trusted=False)
    assert board.recall(http(content, night)) == NEW
    assert board.recall_clocks(kept) == 1
    assert board.door(CLOSING + DAY, 5)[:3] == (SHUT, ANSWER, WELL)


def test_an_own_clock_that_was_never_compared_moves_nothing_alone(board):
    board.begin(trusted=False)
    assert board.table(house_table()) == 0
    assert board.recall(GOOD) == NEW
    for at in (NOON, CLOSING, NOON + 70 * DAY):
        assert board.door(at, 5)[:3] == (UNKNOWN, NOTHING, UNSURE)
    assert board.door(0, 5).clock == NONE
    # By the home's time alone nothing is said of it, until both are there.
    at = NOON + HOUR
    assert board.take(http(TOLD, at), 6) == NEW
    assert board.door(0, 6)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(at + 8 * DAY, 6 + 8 * DAY).clock == UNSURE
    assert board.take(http(TOLD, at), 7 + 8 * DAY) == NEW
    assert board.door(at, 7 + 8 * DAY)[:3] == (OPEN, ANSWER, WELL)
    assert board.door(at + 8 * DAY, 7 + 16 * DAY)[:3] == (planned(at + 8 * DAY), ANSWER, WELL)


def test_a_clock_that_somebody_looked_at_is_trusted_until_it_differs(board):
    board.begin(trusted=False)
    assert board.recall(GOOD) == NEW
    assert board.door(CLOSING, 5).clock == UNSURE
    board.trust_clock()
    assert board.door(CLOSING, 6)[:3] == (SHUT, ANSWER, WELL)
    kept = board.clocks()[1]
    board.begin(trusted=False)
    assert board.recall(GOOD) == NEW
    assert board.recall_clocks(kept) == 1
    assert board.door(CLOSING, 7)[:3] == (SHUT, ANSWER, WELL)
    assert board.take(http(TOLD, CLOSING - HOUR), 8) == NEW
    assert board.door(CLOSING, 8)[:3] == (UNKNOWN, NOTHING, DIFFERS)
    # Looked at once more, when the home's time is too old to tell.
    board.trust_clock()
    assert board.door(CLOSING + 8 * DAY, 8 + 8 * DAY)[:3] == (SHUT, ANSWER, WELL)


@pytest.mark.parametrize("off", [0, 11 * HOUR, -HOUR])
def test_what_is_kept_of_the_clocks_is_verified(board, off):
    board.begin(trusted=False)
    assert board.take(GOOD) == NEW
    board.door(NOON + off)
    _, kept = board.clocks()
    assert kept[:4] == bytes([*b"DC", 1, 2 if off else 1])
    assert struct.unpack("<I", kept[4:8])[0] == off % 2**32
    board.begin(trusted=False)
    assert board.recall(GOOD) == NEW
    bad = [bytes(CLOCKS), b"\xff" * CLOCKS]
    for place in range(CLOCKS):
        bad += [
            bytes([*kept[:place], kept[place] ^ 1 << bit, *kept[place + 1 :]]) for bit in range(8)
        ]
        # Cut while it was written, over nothing or over what empty storage holds.
        bad += [kept[:place] + empty * (CLOCKS - place) for empty in (b"\0", b"\xff")]
    # Of another layout, and what cannot be, with a check that fits.
    bad += [
        sealed_clocks(bytes([*b"DC", 2, *kept[3:8]])),
        sealed_clocks(bytes([*b"DC", 1, 3]) + bytes(4)),
    ]
    for one in bad:
        assert board.recall_clocks(kept) == 1
        assert board.recall_clocks(one) == 0
        assert board.door(NOON, 5)[:3] == (UNKNOWN, NOTHING, UNSURE)
    assert board.recall_clocks(sealed_clocks(kept[:8])) == 1


def sealed_clocks(content):
    return content + struct.pack("<H", check_of(content))


def test_what_is_known_of_the_clocks_is_seldom_written(board):
    """Once a second would wear out what it is kept in."""
    board.begin(trusted=False)
    assert board.clocks()[0]
    for off, wanted in ((HOUR, 2), (20, 1)):
        written = 0
        for gone in range(0, DAY, 7 * MINUTE):
            # The other clock drifts by 20 s a day, and a second is there or not.
            assert board.take(http(TOLD, NOON + gone), gone) == NEW
            board.door(NOON + gone + off + gone // 4320 + gone % 2, gone)
            changed, kept = board.clocks()
            written += changed
        assert (written, kept[3]) == (1, wanted)
    # One that goes half an hour a day too fast is followed.
    written = 0
    for gone in range(0, DAY, 7 * MINUTE):
        assert board.take(http(TOLD, NOON + gone), gone) == NEW
        own = NOON + gone + HOUR + gone // 48
        board.door(own, gone)
        changed, kept = board.clocks()
        written += changed
        assert abs(struct.unpack("<I", kept[4:8])[0] - (own - NOON - gone)) <= 60
    assert 20 < written < 40


# ---- the house ----


def test_an_answer_whose_head_names_another_house_is_refused(board):
    other = ID.replace("6", "7")
    for name in (other, ID + "x", ID[:-1], ""):
        for give in (board.take, board.recall):
            assert give(http(TOLD, more=f"Daylatch-House: {name}\r\n")) == OTHER_HOUSE
    assert board.take(http(TOLD, more=f"daylatch-house:{ID}\r\nDaylatch-House: {ID}\r\n")) == CUT
    assert board.take(http(TOLD, more=f"daylatch-house:  {ID} \r\n")) == NEW
    # Nor does it say that nothing has changed, or which time it is.
    same = http(status="304 Not Modified", at=NOON + HOUR, more=f"Daylatch-House: {other}\r\n")
    assert board.take(same) == OTHER_HOUSE
    assert board.door(0).time == NOON
    assert board.take(same.replace(other.encode(), ID.encode())) == SAME
    assert board.door(0).time == NOON + HOUR
    board.begin(house="")
    assert board.take(GOOD) == NEW
    assert board.take(same) == SAME


# ---- the table ----


@pytest.mark.parametrize("clock", ["wall", "standard", "utc"])
@pytest.mark.parametrize(
    "spot", [UTRECHT, SYDNEY, LORD_HOWE, SINGAPORE, NUUK], ids=lambda spot: spot.zone
)
def test_behind_the_answer_the_table_says_what_is_planned(board, spot, clock):
    fallbacks = '[open]\nfallback = "04:30"\n[close]\nfallback = "23:30"\n'
    here = site(spot, f'{fallbacks}[door]\nclock = "{clock}"\n')
    plan = make_plan(here, *TABLE_DATES)
    assert board.table(encode(plan)) == 0
    opens, closes = (times.astype("datetime64[s]") for times in (plan.open_utc, plan.close_utc))
    changes = [
        int(change.instant_utc.astype(np.int64))
        for change in plan.zone.changes(opens[0], closes[-1])
    ]
    unknown = 0
    begin, end = (int(ends.astype(np.int64)) for ends in (opens[0], closes[-1]))
    for at in range(begin, end, 13 * MINUTE):
        instant = np.datetime64(at, "s")
        wanted = OPEN if np.any((opens <= instant) & (instant < closes)) else SHUT
        said = board.door(at, at - begin)
        if said.door == UNKNOWN:
            # Only in a night in which this clock changes, and within an hour of a movement.
            unknown += 1
            assert clock == "wall"
            assert min(abs(at - change) for change in changes) < 12 * HOUR
            moves = np.concatenate([opens, closes])
            assert np.abs(moves - instant).min() <= np.timedelta64(1, "h")
        else:
            assert said[:3] == (wanted, TABLE, WELL), instant
    assert unknown <= 15


def test_in_the_night_of_a_clock_change_the_table_is_never_taken_for_sure(board):
    """With movements from late evening to early morning, on both sides of the change."""
    fixed = 'open.fixed = "01:55"\nclose.fixed = "23:00"\n'
    here = site(UTRECHT, f"[[span]]\nfrom = 2026-10-01\nuntil = 2028-01-31\n{fixed}")
    plan = make_plan(here, *TABLE_DATES)
    assert board.table(encode(plan)) == 0
    opens, closes = (times.astype("datetime64[s]") for times in (plan.open_utc, plan.close_utc))
    seen = set()
    for change in ("2027-03-28T01:00:00", "2027-10-31T01:00:00"):
        for at in range(unix(change) - 30 * HOUR, unix(change) + 30 * HOUR, 5 * MINUTE):
            instant = np.datetime64(at, "s")
            wanted = OPEN if np.any((opens <= instant) & (instant < closes)) else SHUT
            door = board.door(at, at).door
            assert door in (wanted, UNKNOWN), instant
            seen.add((door, abs(at - unix(change)) < 8 * HOUR))
    assert seen == {(OPEN, True), (SHUT, True), (UNKNOWN, True), (OPEN, False), (SHUT, False)}


def test_a_table_that_cannot_be_used_is_none(board):
    table = house_table()
    assert board.table(table) == 0
    assert board.door(NOON)[:2] == (OPEN, TABLE)
    for bad in (b"", table[:-1], table[:20] + b"x" + table[21:]):
        assert board.table(bad) != 0
        assert board.door(NOON)[:2] == (UNKNOWN, NOTHING)


def test_what_is_only_planned_is_said(board):
    members = json.loads(TOLD)
    del members["check"]
    for move in members["movements"][1:]:
        move["known"] = False
    assert board.take(http(sealed(members))) == NEW
    assert board.door(NOON)[:4] == (OPEN, ANSWER, WELL, 0)
    assert board.door(CLOSING, CLOSING - NOON)[:4] == (SHUT, ANSWER, WELL, 1)
