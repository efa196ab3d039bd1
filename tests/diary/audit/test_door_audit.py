"""A whole audit: by what was in the door, what ails its clock and what to do, in every form."""

from __future__ import annotations

import csv
import io
import json
import re

import numpy as np
import pytest

import daylatch.diary.audit.csv
import daylatch.diary.audit.json
import daylatch.diary.audit.text
from daylatch.clock import DoorClock, get_zone
from daylatch.diary.audit.expected import Since, expected_of, judge_by
from daylatch.diary.audit.seen import readings_in
from daylatch.diary.audit.words import clock_sentences, remedies, sources_text
from daylatch.diary.entries import make_entry
from daylatch.plan.due import DueTimes
from diary.audit.doors import audited, due_between, later, moved, on, without

DUE = due_between()
CHANGE = np.datetime64("2027-03-28T01:00", "s")
T0 = np.datetime64("2027-03-10", "s")


def loses(ppm, offset_min=0.0):
    """Return how late a door is whose clock loses."""
    return lambda at: offset_min + (at - T0) / np.timedelta64(1, "m") * ppm / 1e6


def hour_from_change(at):
    return 60 if at >= CHANGE else 0


def verdicts(audit):
    return {one.verdict.value for one in audit.found.movements}


class File:
    """A table that was in the door: it moves a quarter of an hour after the plan."""

    def __init__(self, first, last):
        self.first, self.last = np.datetime64(first), np.datetime64(last)

    def times(self, plan):
        known = (plan.dates >= self.first) & (plan.dates <= self.last)
        late = np.timedelta64(15, "m")
        return DueTimes(plan.open_utc + late, plan.close_utc + late, known)


def test_a_door_is_judged_by_what_was_in_it_on_each_date():
    since = later(on(DUE, "2027-04-01"), -60)
    put_in = [Since(since, "late.bin", File("2027-01-01", "2027-12-31"))]
    entries = moved(DUE, lambda at: 15.0 if at >= since else 0.0)
    audit = audited(DUE, entries, put_in)
    assert verdicts(audit) == {"on_time"}
    assert sources_text(audit) == ('the site file as it is today until 2027-04-01 and "late.bin"')
    assert verdicts(audited(DUE, entries)) == {"on_time", "late"}


def test_what_is_not_kept_is_judged_by_the_site_file_and_said():
    put_in = [Since(on(DUE, "2027-04-01", "open"), "gone.bin", None)]
    audit = audited(DUE, moved(DUE), put_in)
    assert '("gone.bin" is not kept in the diary)' in sources_text(audit)
    assert verdicts(audit) == {"on_time"}


def test_days_that_the_file_does_not_cover_are_judged_as_planned_and_said():
    put_in = [Since(T0 - np.timedelta64(9, "D"), "old.bin", File("2027-01-01", "2027-04-30"))]
    judged = judge_by(DUE, put_in)
    assert [str(judged.uncovered[end]) for end in (0, -1)] == ["2027-05-01", "2027-05-12"]
    late = (judged.due.told_close_utc - DUE.told_close_utc) / np.timedelta64(1, "m")
    assert late.tolist() == [15] * (len(late) - 12) + [0] * 12
    audit = audited(DUE, moved(DUE, lambda _: 15), put_in)
    assert "does not cover 2027-05-01 to 2027-05-10" in sources_text(audit)


def test_only_movements_between_two_instants_are_expected():
    begin, end = on(DUE, "2027-04-01"), on(DUE, "2027-04-03", "open")
    expected = expected_of(DUE, begin, end)
    assert expected.opening.tolist() == [False, True, False, True]
    assert (expected.due_utc[0], expected.due_utc[-1]) == (begin, end)
    assert not expected.up_to_min.any()


def test_a_width_that_is_not_known_to_the_minute_is_allowed_for():
    due = due_between(settings="[door]\nwithin_min = 20\n")
    expected = expected_of(due, on(due, "2027-04-01"), on(due, "2027-04-01"))
    assert expected.up_to_min.tolist() == [20]
    assert verdicts(audited(due, moved(due, lambda _: 15))) == {"on_time"}


def test_a_person_moves_the_door_by_hand_and_that_is_on_time():
    due = due_between(settings='[door]\nworks = "hand"\n')
    entries = [make_entry(one.instant_utc, f"{one.what}_by_hand") for one in moved(due)]
    assert verdicts(audited(due, entries)) == {"on_time"}


@pytest.mark.parametrize(
    ("clock", "said", "minutes"),
    [
        (DoorClock.WALL, "20:11", -3),
        (DoorClock.WALL, "20:14", 0),
        (DoorClock.WALL, "08:14", -720),
        (DoorClock.WALL, "00:01", 227),
        (DoorClock.STANDARD, "19:14", 0),
        (DoorClock.UTC, "18:16", 2),
    ],
)
def test_what_the_clock_said_is_beside_what_it_should_have_said(clock, said, minutes):
    entry = make_entry(np.datetime64("2027-06-01T18:14:00"), "clock_said", said)
    other = make_entry(np.datetime64("2027-06-02T18:14:00"), "clock_said", said, stamped_by="door")
    readings = readings_in([other, entry], get_zone("Europe/Amsterdam"), clock)
    assert readings.error_min.tolist() == [minutes]


def test_a_clock_without_seconds_is_taken_in_the_middle_of_its_minute():
    entry = make_entry(np.datetime64("2027-06-01T18:14:50"), "clock_said", "20:14")
    readings = readings_in([entry], get_zone("Europe/Amsterdam"), DoorClock.WALL)
    assert readings.error_min == pytest.approx([0.5 - 50 / 60])


def words(audit):
    return " ".join([*clock_sentences(audit), *remedies(audit)])


def test_a_fine_door_needs_nothing():
    audit = audited(DUE, moved(DUE))
    assert words(audit).startswith("No fault was found: it is less than 0.5 min wrong")
    assert not list(remedies(audit))


def test_a_clock_that_is_slow_and_loses():
    said = words(audited(DUE, moved(DUE, loses(60, 12))))
    assert "On 2027-03-10 it was 12 min slow" in said
    assert re.search(r"It loses 5\.\d s a day \((59|60|61) ppm", said)
    assert "Set the clock 17 min forward, to the wall clock's time." in said
    assert re.search(r"2 min wrong after 11 days, so look again by 2027-05-21", said)
    assert re.search(r"`daylatch drift test.toml --ppm (59|60|61)`", said)


def test_a_clock_is_set_to_the_time_that_it_keeps():
    due = due_between(settings='[door]\nclock = "standard"\n')
    assert "8 min forward, to the zone's standard time" in words(
        audited(due, moved(due, loses(0, 8)))
    )
    due = due_between(settings='[door]\nclock = "utc"\n')
    assert "8 min forward, to UTC" in words(audited(due, moved(due, loses(0, 8))))


SET = later(on(DUE, "2027-05-08"), 60)


def test_a_clock_that_was_set_and_not_looked_at_since_is_not_called_wrong():
    was_set = make_entry(SET, "clock_set")
    before = [one for one in moved(DUE, loses(0, 12)) if one.instant_utc < SET]
    said = words(audited(DUE, [*before, was_set]))
    assert "On 2027-05-08 it was set; nothing was seen since to know" in said
    assert "Set the clock" not in said
    assert "See whether it is right now" in said
    after = [one for one in moved(DUE) if one.instant_utc > SET][:2]
    assert "seen 2 times since, which is too little" in words(
        audited(DUE, [*before, was_set, *after])
    )


def test_one_that_was_set_and_seen_right_since_is_right():
    late = lambda at: 12 if at < SET - np.timedelta64(20, "D") else 0  # noqa: E731
    was_set = make_entry(SET - np.timedelta64(20, "D"), "clock_set")
    said = words(audited(DUE, [*moved(DUE, late), was_set]))
    assert "somebody set it" in said
    assert "On 2027-05-10 it was right." in said
    assert "Set the clock" not in said


def test_a_clock_that_missed_summer_time():
    said = words(audited(DUE, moved(DUE, hour_from_change)))
    assert "it jumped 1 h 00 min back" in said
    assert "it missed the change of the clocks" in said
    assert "Set the clock 1 h 00 min forward, to the wall clock's time. If it cannot" in said
    assert 'write clock = "standard" under [door]' in said


def test_a_clock_that_the_door_itself_stamped_is_not_judged():
    audit = audited(DUE, moved(DUE, stamp="door"))
    assert not audit.found.judged
    assert "agrees with itself" in words(audit)
    assert 'daylatch diary add "clock said' in words(audit)


def test_readings_judge_it_though_the_door_stamped_the_rest():
    entries = moved(DUE, stamp="door")
    for day, reading in ((2, "19:56"), (40, "19:51")):
        at = np.datetime64("2027-03-10T19:00:00") + np.timedelta64(day, "D")
        hour = np.timedelta64(1 if at >= CHANGE else 0, "h")
        entries.append(make_entry(at - hour, "clock_said", reading))
    audit = audited(DUE, entries)
    assert audit.found.judged
    assert audit.found.clock.offset_min == pytest.approx(-3.7, abs=1.5)
    assert "Set the clock" in words(audit)


def test_one_evening_judges_nothing():
    audit = audited(DUE, [make_entry(on(DUE, "2027-04-01"), "shut", stamped_by="server")])
    assert not audit.found.judged
    assert "too few movements" in words(audit)


def test_movements_around_the_log_are_not_called_unreported():
    entries = [
        one
        for one in moved(DUE)
        if on(DUE, "2027-04-01") <= one.instant_utc < on(DUE, "2027-04-20")
    ]
    assert verdicts(audited(DUE, entries)) == {"on_time"}


SICK = [
    *without(moved(DUE, loses(60, 12)), DUE, "2027-04-02", "2027-04-09"),
    make_entry(later(on(DUE, "2027-04-02"), 40), "seen_open"),
]


def test_the_text_tells_first_what_was_dangerous():
    text = daylatch.diary.audit.text.render(audited(DUE, SICK)).decode()
    assert daylatch.diary.audit.text.wrote(text.encode())
    lines = text.splitlines()
    assert lines[4:7] == [
        "Open at night  1 night",
        "  2027-04-02   the door did not shut by itself, and was seen open at 21:45",
        "Birds out      nothing that is known of",
    ]
    assert "2027-04-02  closing   21:05    21:05                   missed" in lines
    assert "Closings not   reported on 2027-04-09" in lines
    # What the clock explains is counted, and not listed.
    assert not any(line.endswith(" late") for line in lines)
    assert max(map(len, lines)) <= 80
    assert "count heads at dusk" in text


def test_the_csv_tells_first_what_was_dangerous_and_then_every_movement():
    audit = audited(DUE, SICK)
    content = daylatch.diary.audit.csv.render(audit)
    assert daylatch.diary.audit.csv.wrote(content)
    rows = list(csv.DictReader(io.StringIO(content.decode(), newline="")))
    danger = "open_at_night: the door did not shut by itself, and was seen open at 21:45"
    assert rows[0]["danger"] == danger
    assert [bool(row["caution"]) for row in rows] == [True] + [False] * (len(rows) - 1)
    moves = rows[1:]
    assert [row["verdict"] for row in moves] == [one.verdict.value for one in audit.found.movements]
    assert (moves[0]["movement"], moves[0]["late_min"]) == ("open", "12.0")
    assert moves[0]["due_local"].endswith("+01:00")


def test_the_json_has_the_fields_that_programs_rely_on():
    content = daylatch.diary.audit.json.render(audited(DUE, SICK))
    assert daylatch.diary.audit.json.wrote(content)
    data = json.loads(content)
    assert data["judged"] is True
    assert data["why_not"] is None
    clock = data["clock"]
    assert clock["offset_min"] == pytest.approx(-12, abs=0.6)
    assert clock["drift_ppm"] == pytest.approx(-60, abs=2)
    assert 0 < clock["offset_error_min"] < 1.5
    assert 0 < clock["drift_error_ppm"] < 5
    assert data["steps"] == clock["steps"] == []
    counts = data["counts"]
    assert counts["missed"] == counts["not_reported"] == 1
    assert set(counts) == {
        *("on_time", "late", "early", "missed", "unplanned", "by_hand", "not_reported"),
    }
    assert sum(counts.values()) == len(data["movements"])
    missed = next(one for one in data["movements"] if one["verdict"] == "missed")
    assert missed["date"] == "2027-04-02"
    assert missed["movement"] == "close"
    assert missed["planned"] == missed["due"] == "2027-04-02T19:05:00Z"
    assert missed["seen"] is None
    assert data["dangers"][0]["kind"] == "open_at_night"


def test_the_json_of_a_clock_that_jumped_and_of_one_that_is_not_judged():
    jumped = audited(DUE, moved(DUE, hour_from_change))
    (step,) = json.loads(daylatch.diary.audit.json.render(jumped))["steps"]
    assert step["date"] == "2027-03-28"
    assert step["minutes"] == pytest.approx(-60, abs=0.5)
    assert step["cause"] == "summer_time_missed"
    data = json.loads(daylatch.diary.audit.json.render(audited(DUE, moved(DUE, stamp="door"))))
    assert data["judged"] is False
    assert "agrees with itself" in data["why_not"]
    assert data["clock"]["offset_min"] is None
    assert data["clock"]["zone"] == "Europe/Amsterdam"


def test_a_clock_that_keeps_one_time_and_changed_for_summer_time():
    due = due_between(settings='[door]\nclock = "standard"\n')
    audit = audited(due, moved(due, lambda at: -hour_from_change(at)))
    (step,) = json.loads(daylatch.diary.audit.json.render(audit))["steps"]
    assert step["cause"] == "summer_time_twice"
    assert "it changed for summer time, which it should not" in words(audit)
    assert 'write clock = "wall" under [door]' in words(audit)


def test_one_reading_tells_nothing_of_drift_and_every_form_can_say_so():
    at = np.datetime64("2027-03-12T19:00:00")
    audit = audited(DUE, [*moved(DUE, stamp="door"), make_entry(at, "clock_said", "20:00")])
    assert words(audit).startswith("No fault was found: it is less than 1.0 min wrong.")
    data = json.loads(daylatch.diary.audit.json.render(audit), parse_constant=pytest.fail)
    assert data["clock"]["drift_error_ppm"] is None
