"""The skeleton of a door's controller, compiled and run on a made-up door."""

from __future__ import annotations

import ctypes
import datetime as dt
from importlib import resources

import pytest

from daylatch.door.reader.compiled import _Reader
from daylatch.door.table.encode import encode
from daylatch.plan.plan import make_plan
from door.reader.test_reader import C99, EPOCH, run
from programs import needs
from sites import UTRECHT, site

STOP, TO_OPEN, TO_SHUT = range(3)
WELL, UNKNOWN, NO_TABLE, IN_THE_WAY, GAVE_UP, RAN_TOO_LONG, BOTH_END_STOPS, ENDS = range(8)
DATE = dt.date(2027, 5, 5)
NOON, MIDNIGHT = 12 * 60, 0

READ_CLOCK = ctypes.CFUNCTYPE(
    ctypes.c_uint8,
    ctypes.c_void_p,
    ctypes.POINTER(ctypes.c_uint16),
    ctypes.POINTER(ctypes.c_uint16),
)
MILLISECONDS = ctypes.CFUNCTYPE(ctypes.c_uint32, ctypes.c_void_p)
ASK = ctypes.CFUNCTYPE(ctypes.c_uint8, ctypes.c_void_p)
DO = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_uint8)


class Board(ctypes.Structure):
    _fields_ = (
        ("board", ctypes.c_void_p),
        ("read_clock", READ_CLOCK),
        ("milliseconds", MILLISECONDS),
        ("is_open", ASK),
        ("is_shut", ASK),
        ("in_the_way", ASK),
        ("motor", DO),
        ("tell", DO),
    )


class State(ctypes.Structure):
    _fields_ = (
        ("reader", _Reader),
        ("board", Board),
        ("since_ms", ctypes.c_uint32),
        ("asked_ms", ctypes.c_uint32),
        ("ticked_ms", ctypes.c_uint32),
        ("clock_minute", ctypes.c_uint16),
        *((name, ctypes.c_uint8) for name in ("direction", "wanted", "told", "tries", "latched")),
        ("well", ctypes.c_uint8),
    )


@pytest.fixture(scope="module")
def control(tmp_path_factory):
    target = tmp_path_factory.mktemp("control") / "control.so"
    source = resources.files("daylatch.door.reader")
    names = [str(source / name) for name in ("door_control.c", "daylatch_reader.c")]
    run("gcc", *C99, "-g", "-shared", "-fPIC", *names, "-o", str(target))
    return ctypes.CDLL(str(target))


def table_until(last):
    return encode(make_plan(site(UTRECHT), DATE - dt.timedelta(days=1), last))


@pytest.fixture(scope="module")
def table():
    return table_until(DATE + dt.timedelta(days=60))


class Door:
    """A door that takes ten seconds from end to end, with a clock and a motor."""

    def __init__(self, control, table, *, minute=NOON, height=0.0, milliseconds=0):
        self.control = control
        self.seconds = minute * 60.0
        self.ms = milliseconds
        self.height = height
        self.direction = STOP
        self.told = []
        self.clock_answers = self.clock_runs = self.switches_work = True
        self.obstacle = self.stuck_open = False
        self.state = State()
        self.directions = []
        self.board = Board(
            None,
            READ_CLOCK(self.read_clock),
            MILLISECONDS(lambda _: self.ms & 0xFFFFFFFF),
            ASK(lambda _: self.stuck_open or (self.switches_work and self.height >= 100)),
            ASK(lambda _: self.switches_work and self.height <= 0),
            ASK(lambda _: self.obstacle),
            DO(self.motor),
            DO(lambda _, what: self.told.append(what)),
        )
        self.table = ctypes.create_string_buffer(table, len(table))
        control.door_start(
            ctypes.byref(self.state), ctypes.byref(self.board), self.table, len(table)
        )

    def read_clock(self, _, date, minute):
        days, seconds = divmod(int(self.seconds), 86400)
        date[0] = (DATE - EPOCH).days + days
        minute[0] = seconds // 60
        return self.clock_answers

    def motor(self, _, direction):
        self.direction = direction
        self.directions.append(direction)

    def run(self, seconds):
        for _ in range(int(seconds * 10)):
            self.ms += 100
            if self.clock_runs:
                self.seconds += 0.1
            step = {STOP: 0, TO_OPEN: 1, TO_SHUT: -1}[self.direction]
            self.height = min(max(self.height + step, 0), 100)
            self.control.door_step(ctypes.byref(self.state))


pytestmark = needs("gcc")


def test_it_opens_by_day_and_shuts_by_night(control, table):
    door = Door(control, table)
    door.run(15)
    assert (door.height, door.direction, door.told) == (100, STOP, [])
    door.seconds = 23 * 3600
    door.run(15)
    assert (door.height, door.direction) == (0, STOP)
    assert door.directions == [STOP, TO_OPEN, STOP, TO_SHUT, STOP]


def test_a_power_cut_half_way_heals_itself(control, table):
    assert Door(control, table, height=40).height == 40
    for minute, height in ((NOON, 100), (MIDNIGHT + 60, 0)):
        door = Door(control, table, minute=minute, height=40)
        door.run(15)
        assert (door.height, door.direction) == (height, STOP)


def test_it_turns_back_from_what_is_in_the_way_and_tries_again(control, table):
    door = Door(control, table, minute=60, height=100)
    door.run(4)
    assert door.direction == TO_SHUT
    door.obstacle = True
    door.run(0.2)
    assert door.direction == STOP
    door.obstacle = False
    door.run(20)
    assert (door.height, door.direction) == (100, STOP)
    assert door.told == [IN_THE_WAY]
    door.run(60)
    assert (door.height, door.direction) == (0, STOP)
    assert door.told[-1] == WELL


def test_it_gives_up_open_when_something_stays_in_the_way(control, table):
    door = Door(control, table, minute=60, height=100)
    for _ in range(3000):
        door.run(0.1)
        door.obstacle = door.direction == TO_SHUT and door.height < 60
    assert door.told == [IN_THE_WAY, WELL, IN_THE_WAY, WELL, IN_THE_WAY, GAVE_UP]
    assert door.directions.count(TO_SHUT) == 3
    assert (door.height, door.direction) == (100, STOP)
    door.obstacle = False
    door.run(200)
    assert door.direction == STOP


def test_it_does_not_start_to_shut_on_what_stands_in_the_doorway(control, table):
    door = Door(control, table, minute=60, height=100)
    door.obstacle = True
    door.run(100)
    assert (door.height, door.directions, door.told) == (100, [STOP], [IN_THE_WAY])
    door.obstacle = False
    door.run(15)
    assert door.height == 0


def test_the_motor_is_off_for_good_when_no_end_stop_comes(control, table):
    door = Door(control, table)
    door.switches_work = False
    door.run(29)
    assert door.direction == TO_OPEN
    door.run(5)
    assert (door.direction, door.told) == (STOP, [RAN_TOO_LONG])
    door.run(500)
    assert door.directions == [STOP, TO_OPEN, STOP]


def test_both_end_stops_at_once_stop_the_motor(control, table):
    door = Door(control, table)
    door.stuck_open = True
    door.run(1)
    assert (door.direction, door.told) == (STOP, [BOTH_END_STOPS])
    assert TO_OPEN not in door.directions


@pytest.mark.parametrize("height", [0, 100])
def test_it_holds_without_a_clock(control, table, height):
    door = Door(control, table, minute=60 if height else NOON, height=height)
    door.clock_answers = False
    door.run(300)
    assert (door.height, door.directions, door.told) == (height, [STOP], [UNKNOWN])
    door.clock_answers = True
    door.run(15)
    assert door.height == 100 - height
    assert door.told[-1] == WELL


def test_a_clock_that_stands_still_is_no_clock(control, table):
    door = Door(control, table, minute=60)
    door.clock_runs = False
    door.run(100)
    assert door.told == []
    door.run(60)
    assert door.told == [UNKNOWN]
    door.clock_runs = True
    door.run(70)
    assert door.told == [UNKNOWN, WELL]


def test_a_broken_table_moves_nothing(control, table):
    door = Door(control, table[:-1] + b"\0")
    door.run(300)
    assert (door.height, door.directions, door.told) == (0, [STOP, STOP], [NO_TABLE])


def test_milliseconds_may_wrap_round(control, table):
    door = Door(control, table, milliseconds=2**32 - 3000)
    door.run(15)
    assert (door.height, door.direction, door.told) == (100, STOP, [])


def test_it_holds_on_dates_outside_the_table(control, table):
    door = Door(control, table, height=100)
    door.seconds += 70 * 86400
    door.run(30)
    assert (door.directions, door.told) == ([STOP], [UNKNOWN])


@pytest.mark.parametrize(
    ("days_left", "told"), [(31, []), (30, [ENDS]), (29, [ENDS]), (1, [ENDS]), (0, [ENDS])]
)
@pytest.mark.parametrize("minute", [MIDNIGHT, NOON, 1439])
def test_it_tells_from_thirty_days_before_the_last_date_that_the_table_ends(
    control, days_left, told, minute
):
    door = Door(control, table_until(DATE + dt.timedelta(days=days_left)), minute=minute)
    door.run(20)
    assert door.told == told
    # The door works all the same.
    assert door.height == (100 if minute == NOON else 0)


def test_the_signal_begins_at_midnight_thirty_days_before_and_the_door_is_held_after_the_end(
    control, table
):
    door = Door(control, table)
    door.seconds = 30 * 86400 - 20
    door.run(15)
    assert door.told == []
    door.run(15)
    assert door.told == [ENDS]
    door.seconds = 61 * 86400 - 20
    door.run(15)
    assert door.told == [ENDS]
    directions = list(door.directions)
    door.run(15)
    assert door.told == [ENDS, UNKNOWN]
    door.seconds += 12 * 3600
    door.run(30)
    assert (door.told, door.directions) == ([ENDS, UNKNOWN], directions)


def test_a_table_for_every_year_ends_with_its_last_year(control):
    years = make_plan(site(UTRECHT), dt.date(2027, 1, 1), dt.date(2028, 12, 31))
    content = encode(years, every_year=True)
    for date, told in (
        (dt.date(2027, 12, 31), []),
        (dt.date(2028, 11, 30), []),
        (dt.date(2028, 12, 1), [ENDS]),
        (dt.date(2029, 1, 1), [UNKNOWN]),
    ):
        door = Door(control, content)
        door.seconds += (date - DATE).days * 86400
        door.run(20)
        assert door.told == told, date


def test_what_is_in_the_way_is_told_before_that_the_table_ends(control):
    ends = table_until(DATE + dt.timedelta(days=3))
    door = Door(control, ends, minute=60, height=100)
    door.obstacle = True
    door.run(20)
    assert door.told == [IN_THE_WAY]
    door.obstacle = False
    door.run(15)
    assert (door.height, door.told) == (0, [IN_THE_WAY, ENDS])
    door.clock_answers = False
    door.run(5)
    door.clock_answers = True
    door.run(5)
    assert door.told == [IN_THE_WAY, ENDS, UNKNOWN, ENDS]
