"""What a keeper may write to note something."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.clock import DoorClock, get_zone
from daylatch.diary.entries import WHATS, EntryError, make_entry
from daylatch.diary.grammar.phrases import EXAMPLES
from daylatch.diary.grammar.words import At, GrammarError, Typed, read_words

ZONE = get_zone("Europe/Amsterdam")
NOW = np.datetime64("2027-11-26T19:20:00")  # a Friday
TODAY = dt.date(2027, 11, 26)


def read(text, clock=DoorClock.WALL, **more):
    return read_words(text, At(ZONE, clock, NOW, TODAY), **more)


def at(text):
    return np.datetime64(text, "s")


@pytest.mark.parametrize(
    ("text", "what", "value"),
    [
        ("last in", "last_in", ""),
        ("Last bird in", "last_in", ""),
        ("first out", "first_out", ""),
        ("not all in", "still_out", ""),
        ("some still out", "still_out", ""),
        ("still out", "still_out", ""),
        ("not all hens are in yet", "still_out", ""),
        ("3 waiting", "waiting", "3"),
        ("two hens are waiting", "waiting", "2"),
        ("birds waiting", "waiting", ""),
        ("none waiting", "none_waiting", ""),
        ("0 waiting", "none_waiting", ""),
        ("no birds waiting yet", "none_waiting", ""),
        ("all in", "all_in", ""),
        ("all 12 in", "all_in", "12"),
        ("all twelve hens are in", "all_in", "12"),
        ("11 of 12 in", "still_out", "1"),
        ("only 9 of the twelve hens are in", "still_out", "3"),
        ("12 of 12 in", "all_in", "12"),
        ("13 of 12 in", None, None),
        ("12 in", None, None),
        ("0 still out", "all_in", ""),
        ("none missing", "all_in", ""),
        ("1 missing", "still_out", "1"),
        ("all ten hens are in", "all_in", "10"),
        ("2 out", "still_out", "2"),
        ("two hens are still out", "still_out", "2"),
        ("still out 3", "still_out", "3"),
        ("seen open", "seen_open", ""),
        ("the door is shut", "seen_shut", ""),
        ("opened", "opened", ""),
        ("closed", "shut", ""),
        ("door did not shut", "seen_open", ""),
        ("the door didn't open", "seen_shut", ""),
        ("I shut it", "shut_by_hand", ""),
        ("I opened the door", "opened_by_hand", ""),
        ("door shut by itself", "shut", ""),
        ("shut by hand", "shut_by_hand", ""),
        ("opened by hand", "opened_by_hand", ""),
        ("clock said 20:11", "clock_said", "20:11"),
        ("the door clock shows 8:11 pm", "clock_said", "20:11"),
        ("clock 3 min slow", "clock_said", "20:17"),
        ("the clock is 12 minutes fast", "clock_said", "20:32"),
        ("clock set", "clock_set", ""),
        ("clock was set to 20:14", "clock_set", "20:14"),
        ("in use Door 2027.bin", "in_use", "Door 2027.bin"),
        ("battery 11.9 V", "battery_v", "11.9"),
        ("battery at 12", "battery_v", "12"),
        ("battery 11,9 volts", "battery_v", "11.9"),
        ("12.4V", "battery_v", "12.4"),
        ("set the clock", "clock_set", ""),
        ("dead 1", "lost", "1"),
        ("bought 3 pullets", "gained", "3"),
        ("lost 1", "lost", "1"),
        ("three hens lost", "lost", "3"),
        ("gained 2", "gained", "2"),
        ("1 hurt", "hurt", "1"),
        ("note the latch sticks", "note", ""),
        ("yes", None, None),
        ("", None, None),
        ("note", None, None),
    ],
)
def test_phrases(text, what, value):
    if what is None:
        with pytest.raises(GrammarError):
            read(text)
        return
    entry = read(text)
    assert (entry.what, entry.value) == (what, value)
    assert (entry.instant_utc, entry.stamped_by, entry.within_min) == (NOW, "phone", 1)


def test_every_kind_can_be_written_and_every_example_is_understood():
    texts = [text.replace("or: ", "").strip() for words, _ in EXAMPLES for text in words.split(",")]
    kinds = {read(text).what for text in texts}
    assert kinds | {"gained", "hurt"} == set(WHATS)


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("last in 19:14", "2027-11-26T18:14"),
        ("last in at 7:14 PM", "2027-11-26T18:14"),
        ("last in 19.14", "2027-11-26T18:14"),
        ("last in 8 pm", "2027-11-26T19:00"),
        ("8 pm last in", "2027-11-26T19:00"),
        ("Sunday 9.50 pm fox took one", "2027-11-21T20:50"),
        ("set the clock 18:30", "2027-11-26T17:30"),
        ("in use door-2026.bin 6:00 pm", "2027-11-26T17:00"),
        ("clock 3 min slow at 18:30", "2027-11-26T17:30"),
        ("2027-11-24: last in 19:40", "2027-11-24T18:40"),
        ("2027-11-5 last in 19:40", "2027-11-05T18:40"),
        ("2027/11/20 last in 19:40", "2027-11-20T18:40"),
        ("24.11.2027 last in 19:40", "2027-11-24T18:40"),
        ("24 Nov last in 19:40", "2027-11-24T18:40"),
        ("last in 19:40 on December 24", "2026-12-24T18:40"),
        ("Nov 24, 2027 last in 19:40", "2027-11-24T18:40"),
        ("Sunday last in 19:40", "2027-11-21T18:40"),
        ("Friday last in 19:40", "2027-11-26T18:40"),
        ("last Sunday last in 19:40", "2027-11-21T18:40"),
        ("last night 2 out 21:40", "2027-11-25T20:40"),
        ("tonight last in 19:40", "2027-11-26T18:40"),
        ("last in 7:14 p.m.", "2027-11-26T18:14"),
        ("last in 12:05 am", "2027-11-25T23:05"),
        ("last in 12:05 pm", "2027-11-26T11:05"),
        ("yesterday last in 20:14", "2027-11-25T19:14"),
        ("last in yesterday 20:14", "2027-11-25T19:14"),
        ("on 2027-06-03 last in 22:14", "2027-06-03T20:14"),
        ("last in 22:14 on 2027-06-03", "2027-06-03T20:14"),
        ("today last in", "2027-11-26T19:20"),
        ("clock said 20:11 at 20:14", "2027-11-26T19:14"),
        ("clock set to 20:14 at 20:15", "2027-11-26T19:15"),
        # A day is enough for what has no moment of its own: noon stands for it.
        ("2027-06-03 lost 2: a fox", "2027-06-03T10:00"),
    ],
)
def test_moments_are_those_of_the_wall_clock_at_the_site(text, instant):
    assert read(text).instant_utc == at(instant)


def test_what_is_remembered_is_less_sure():
    assert read("last in 20:14").stamped_by == "phone"  # six minutes ago
    early = read("last in 19:14")
    assert (early.stamped_by, early.within_min) == ("memory", 5)
    # Who says what two clocks showed has read both.
    assert read("clock said 19:11 at 19:14").stamped_by == "phone"
    day = read("yesterday lost 1")
    assert (day.stamped_by, day.within_min) == ("memory", 720)
    typed = read("last in 19:14", typed=Typed("server", "2", "Ida"))
    assert (typed.stamped_by, typed.within_min, typed.by) == ("server", 2, "Ida")


def test_a_note_follows_a_colon_and_keeps_its_words():
    assert read("lost 1: A fox: red").note == "A fox: red"
    assert read("note Yesterday at 20:14: the latch").note == "Yesterday at 20:14: the latch"
    assert read("last in 20:14: by the oak, 2 minutes").note == "by the oak, 2 minutes"
    assert read("lost 1, a fox").note == "a fox"
    assert read("last in 20:14 - by the oak").note == "by the oak"
    fox = read("a fox took one")
    assert (fox.what, fox.value, fox.note) == ("lost", "1", "a fox took one")
    assert read("lost 2 to a fox: by the oak").note == "to a fox: by the oak"
    assert read("yesterday note the latch, again").note == "the latch, again"


def test_a_reading_half_a_day_off_is_not_taken_silently():
    assert read("clock said 6:11 at 6:14 pm").value == "18:11"
    assert read("clock said 6:11 am at 6:14 pm").value == "06:11"
    with pytest.raises(EntryError, match=r"half a day from 18:14.*write 18:11, or 6:11 am"):
        read("clock said 6:11 at 18:14")
    # A door that keeps standard time is no hour off in summer.
    assert read("2027-07-01 clock 2 min fast at 18:14", clock=DoorClock.STANDARD).value == "17:16"


def test_a_correction_has_the_moment_of_what_it_corrects_unless_it_says_another():
    old = make_entry(at("2027-11-20T18:00"), "still_out", "2", stamped_by="memory", within="9")
    new = read("3 still out", instead_of=old)
    assert (new.instant_utc, new.stamped_by, new.within_min) == (old.instant_utc, "memory", 9)
    assert read("3 still out 18:00", instead_of=old).instant_utc == at("2027-11-26T17:00")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("shut 25:10", '"25:10" is no time of day'),
        ("shut 13:10 pm", "no time of day"),
        ("shut 0:10 am", "no time of day"),
        ("2027-03-28 shut 2:30", "does not exist in Europe/Amsterdam"),
        ("2027-10-31 shut 2:30", r"twice.*--at 2027-10-31T02:30\+02:00 or --at.*\+01:00"),
        ("2027-02-30 shut 2:30", "no date of the calendar"),
        ("yesterday 2027-11-03 shut 2:30", "two dates"),
        ("yesterday last in", "at what time on 2027-11-25"),
        ("lost 0", "how many birds"),
    ],
)
def test_what_cannot_be_is_refused(text, why):
    with pytest.raises(EntryError, match=why):
        read(text)


def test_a_moment_is_given_once():
    given = at("2027-10-31T01:30")
    assert read("shut", given_utc=given).instant_utc == given
    with pytest.raises(EntryError, match="given twice"):
        read("shut 2:30", given_utc=given)


def test_a_time_shortly_after_midnight_is_not_that_of_the_coming_evening():
    night = At(ZONE, DoorClock.WALL, at("2027-11-26T23:10"), dt.date(2027, 11, 27))
    with pytest.raises(EntryError, match="2027-11-27 23:50 is still to come: if it was yesterday"):
        read_words("last in 23:50", night)
    assert read_words("yesterday last in 23:50", night).instant_utc == at("2027-11-26T22:50")
    # One that is less far ahead is today's, as is said.
    assert read("shut 21:00").instant_utc == at("2027-11-26T20:00")
