"""What a keeper may write to note something."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.diary.entries import WHATS, EntryError
from daylatch.diary.grammar import EXAMPLES, GrammarError, Now, Typed, read_words

ZONE = get_zone("Europe/Amsterdam")
NOW = Now(np.datetime64("2027-11-26T19:20:00"), dt.date(2027, 11, 26))


def read(text, now=NOW, **more):
    return read_words(text, ZONE, now, **more)


def at(text):
    return np.datetime64(text, "s")


@pytest.mark.parametrize(
    ("text", "what", "value"),
    [
        ("last in", "last_in", ""),
        ("Last bird in", "last_in", ""),
        ("first out", "first_out", ""),
        ("all in", "all_in", ""),
        ("all 12 in", "all_in", "12"),
        ("all twelve hens are in", None, None),
        ("all ten hens are in", "all_in", "10"),
        ("2 out", "still_out", "2"),
        ("two hens are still out", "still_out", "2"),
        ("still out 3", "still_out", "3"),
        ("seen open", "seen_open", ""),
        ("the door is shut", "seen_shut", ""),
        ("opened", "opened", ""),
        ("closed", "shut", ""),
        ("door shut by itself", "shut", ""),
        ("shut by hand", "shut_by_hand", ""),
        ("opened by hand", "opened_by_hand", ""),
        ("clock said 20:11", "clock_said", "20:11"),
        ("the door clock shows 8:11 pm", "clock_said", "20:11"),
        ("clock set", "clock_set", ""),
        ("clock was set to 20:14", "clock_set", "20:14"),
        ("in use Door 2027.bin", "in_use", "Door 2027.bin"),
        ("battery 11.9 V", "battery_v", "11.9"),
        ("battery at 12", "battery_v", "12"),
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
    assert (entry.instant_utc, entry.stamped_by, entry.within_min) == (NOW.instant_utc, "phone", 1)


def test_every_kind_can_be_written_and_every_example_is_understood():
    texts = [text.replace("or: ", "").strip() for words, _ in EXAMPLES for text in words.split(",")]
    kinds = {read(f"yesterday {text}" if ":" in text else text).what for text in texts}
    assert kinds | {"gained", "hurt"} == set(WHATS)


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("last in 19:14", "2027-11-26T18:14"),
        ("last in at 7:14 PM", "2027-11-26T18:14"),
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


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("shut 21:00", "2027-11-26 21:00 is still to come.*yesterday"),
        ("2027-11-27 shut 10:00", "still to come: write what has been$"),
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
    assert read("shut", at_utc=given).instant_utc == given
    with pytest.raises(EntryError, match="given twice"):
        read("shut 2:30", at_utc=given)
    with pytest.raises(EntryError, match="still to come"):
        read("shut", at_utc=at("2028-01-01T00:00"))
