"""Clock changes in a log: hours that do not exist, hours that came twice, clocks that go wrong."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.diary.log.log_clock import clock_of
from daylatch.diary.log.read import read_log
from sites import LORD_HOWE, SINGAPORE, UTRECHT, site

MAPPING = '[[diary.log]]\nname = "shed"\ninstant = "When"\nkind = "opened"\n'


def read(walls, *, spot=UTRECHT, keys="", settings=""):
    here = site(spot, f"{settings}{MAPPING}{keys}")
    content = "When\n" + "".join(f"{wall}\n" for wall in walls)
    return read_log(content.encode(), "log.csv", here.settings.diary.log[0], here)


def instants(log):
    return [str(entry.instant_utc) for entry in log.entries]


def reason(log):
    (reject,) = log.rejects
    (only,) = reject.reasons
    return only


# Europe/Amsterdam: 2027-03-28 02:00 -> 03:00, and 2027-10-31 03:00 -> 02:00.


def test_a_time_that_does_not_exist_is_rejected_with_what_would_do():
    assert reason(read(["2027-03-28 02:30", "2027-03-28 03:00"])) == (
        "2027-03-28 02:30 does not exist in Europe/Amsterdam, where clocks go from 02:00 to 03:00 "
        "then: write the time that was right, such as 03:00, or, for a clock that knows no summer "
        'time, clock = "Etc/GMT-1" for the log'
    )


def test_the_clock_that_is_offered_reads_that_time():
    log = read(["2027-03-28 02:30"], keys='clock = "Etc/GMT-1"\n')
    assert instants(log) == ["2027-03-28T01:30:00"]


def test_the_doors_clock_is_offered_where_it_keeps_the_time():
    said = reason(read(["2027-03-28 02:30"], keys='clock = "door"\n'))
    assert said.endswith('clock = "standard" under [door]')
    log = read(
        ["2027-03-28 02:30"], keys='clock = "door"\n', settings='[door]\nclock = "standard"\n'
    )
    assert instants(log) == ["2027-03-28T01:30:00"]


def test_half_an_hour_can_be_left_out_too():
    said = reason(read(["2027-10-03 02:15"], spot=LORD_HOWE))
    assert "clocks go from 02:00 to 02:30" in said
    assert said.endswith("another clock for the log")


@pytest.mark.parametrize("clock", ['"utc"', '"standard"'])
@pytest.mark.parametrize("wall", ["2027-03-28 02:30", "2027-10-31 02:30", "2027-07-01 12:00"])
def test_a_doors_clock_without_summer_time_has_each_time_once(clock, wall):
    (found,) = instants(
        read([wall], keys='clock = "door"\n', settings=f"[door]\nclock = {clock}\n")
    )
    ahead = dt.timedelta(hours=clock == '"standard"')
    assert dt.datetime.fromisoformat(found) == dt.datetime.fromisoformat(wall) - ahead


def test_the_rows_around_settle_a_repeated_hour():
    log = read(["2027-10-31 01:55", "2027-10-31 02:50", "2027-10-31 02:10", "2027-10-31 03:05"])
    assert instants(log) == [
        "2027-10-30T23:55:00",
        "2027-10-31T00:50:00",
        "2027-10-31T01:10:00",
        "2027-10-31T02:05:00",
    ]
    assert log.notes == log.rejects == ()


def test_they_do_so_in_a_log_with_the_newest_row_first():
    walls = ["2027-10-31 03:05", "2027-10-31 02:10", "2027-10-31 02:50", "2027-10-31 01:55"]
    assert instants(read(walls)) == [
        "2027-10-31T02:05:00",
        "2027-10-31T01:10:00",
        "2027-10-31T00:50:00",
        "2027-10-30T23:55:00",
    ]


def test_a_row_whose_distance_is_written_settles_those_beside_it():
    log = read(["2027-10-31T02:20:00+01:00", "2027-10-31 02:40:30"])
    assert instants(log) == ["2027-10-31T01:20:00", "2027-10-31T01:40:30"]
    log = read(["2027-10-31 02:20", "2027-10-31T02:40:00+02:00"])
    assert instants(log) == ["2027-10-31T00:20:00", "2027-10-31T00:40:00"]


@pytest.mark.parametrize(
    "walls",
    [
        ["2027-10-31 02:30"],
        ["2027-10-31 01:30", "2027-10-31 02:30", "2027-10-31 03:30"],
        ["2027-10-31T02:40:00+01:00", "2027-10-31 02:30", "2027-10-31T02:50:00+01:00"],
    ],
)
def test_otherwise_both_readings_are_shown_and_the_row_is_rejected(walls):
    assert reason(read(walls)) == (
        "2027-10-31 02:30 was twice in Europe/Amsterdam, and the rows around do not say which it "
        "is: write 2027-10-31T02:30:00+02:00 or 2027-10-31T02:30:00+01:00"
    )


def test_what_is_offered_for_a_repeated_time_is_read():
    log = read(["2027-10-31T02:30:00+02:00", "2027-10-31T02:30:00+01:00"])
    assert instants(log) == ["2027-10-31T00:30:00", "2027-10-31T01:30:00"]


def test_a_clock_that_goes_backwards_is_told_and_all_rows_are_kept():
    log = read(["2027-05-01 08:00", "2027-05-02 08:00", "2027-05-02 06:30", "2027-05-03 08:00"])
    assert len(log.entries) == 4
    assert log.notes == (
        "line 4 is 1 h 30 min earlier than line 3, which comes before it: did the clock go wrong, "
        "or was it set?",
    )


def test_a_minute_back_is_no_matter_and_many_steps_are_not_all_told():
    assert read(["2027-05-01 08:01", "2027-05-01 08:00", "2027-05-01 08:02"]).notes == ()
    walls = [
        f"2027-05-{day:02} {hour}" for day in range(1, 15) for hour in ("18:00", "17:00", "19:00")
    ]
    notes = read(walls).notes
    assert len(notes) == 6
    assert notes[-1] == "9 more rows are earlier than the row before them"


def test_a_log_with_the_newest_row_first_is_told_of_its_steps_only():
    log = read(["2027-05-03 08:00", "2027-05-02 06:30", "2027-05-02 08:00", "2027-05-01 08:00"])
    (note,) = log.notes
    assert note.startswith("line 3 is 1 h 30 min earlier than line 4,")


def possible(walls, zone):
    """Return every way to take wall-clock times in a zone so that none is before the last one."""
    ways = [[]]
    for wall in walls:
        both = {wall.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1)}
        ways = [
            [*way, instant] for way in ways for instant in both if not way or instant >= way[-1]
        ]
    return ways


@given(st.lists(st.integers(0, 240), min_size=1, max_size=6))
def test_a_repeated_time_is_taken_if_all_ways_to_order_the_rows_agree(minutes):
    """Every way is tried with the standard library's zones, and the ones in order are compared."""
    begin = dt.datetime.fromisoformat("2027-10-31T01:00")
    walls = [begin + dt.timedelta(minutes=one) for one in minutes]
    ways = possible(walls, ZoneInfo("Europe/Amsterdam"))
    here = site(UTRECHT, MAPPING)
    clock = clock_of(here.settings.diary.log[0], here)
    readings = clock.readings(np.array(walls, "datetime64[s]"), np.zeros(len(walls), bool))
    sure = [one for one in minutes if not 60 <= one < 120]
    falls = sum(np.sign(np.diff(sure))) < 0
    if falls or not ways:
        return
    for at, instant in enumerate(readings.settled()):
        found = {way[at].replace(tzinfo=None) for way in ways}
        assert (len(found) == 1) == (not np.isnat(instant))
        if len(found) == 1:
            assert found == {instant.item()}


def test_the_time_that_a_door_takes_is_taken_off_movements_alone():
    here = site(
        SINGAPORE,
        '[[diary.log]]\nname = "shed"\ninstant = "T"\nwhat = "W"\ntakes_s = 45\n',
    )
    content = b"T,W\n2027-05-01 07:00:45,opened\n2027-05-01 07:10,seen_open\n"
    log = read_log(content, "log.csv", here.settings.diary.log[0], here)
    assert instants(log) == ["2027-04-30T23:00:00", "2027-04-30T23:10:00"]
