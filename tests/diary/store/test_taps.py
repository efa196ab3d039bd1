"""What is tapped on the page at home: once, whatever is sent again, and undone once."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary
from daylatch.errors import DiaryError
from sites import ID

NOW = np.datetime64("2027-01-10T17:00:00")
KEY = "0123456789abcdef" * 2
OTHER = "f" * 32


@pytest.fixture
def diary(tmp_path):
    return Diary(tmp_path / "hens.diary", ID)


def entry(what="all_in", **more):
    return make_entry(NOW, what, by="Jo", **more)


def test_a_tap_that_is_sent_again_is_noted_once_also_by_another_process(diary):
    first = diary.tap(entry(), NOW, KEY)
    again = Diary(diary.path, ID).tap(entry(), NOW + np.timedelta64(9, "D"), KEY)
    assert (first.is_new, again.is_new) == (True, False)
    assert again.noted.number == first.noted.number
    assert len(diary.entries()) == 1
    (noted,) = diary.entries()
    assert noted.is_tap
    assert not noted.is_report


def test_the_same_words_tapped_twice_are_two_entries(diary):
    numbers = [diary.tap(entry(), NOW, key).noted.number for key in (KEY, OTHER)]
    assert [one.number for one in diary.entries()] == numbers


def test_what_was_undone_stays_undone_when_it_is_sent_again(diary):
    number = diary.tap(entry(), NOW, KEY).noted.number
    assert diary.untap(number, NOW).is_new
    assert not diary.untap(number, NOW).is_new
    again = diary.tap(entry(), NOW, KEY)
    assert (again.is_new, again.noted.is_live) == (False, False)
    assert diary.entries() == []
    assert diary.tapped(number).number == number


def test_a_key_that_comes_with_something_else_is_another_tap(diary):
    diary.tap(entry("still_out", value="5"), NOW, KEY)
    other = diary.tap(entry("still_out", value="7"), NOW, KEY)
    assert other.is_new
    assert [one.entry.value for one in diary.entries()] == ["5", "7"]
    assert diary.last_act() == 2


def test_only_what_was_tapped_is_undone_so(diary):
    (number,) = diary.add([entry()], NOW).numbers
    reported = diary.report(entry("shut"), NOW, 1).number
    for one in (number, reported, 999, 10**15):
        assert diary.untap(one, NOW) is None
        assert diary.tapped(one) is None
    assert len(diary.entries()) == 2


def test_the_last_command_is_undone_and_not_what_a_phone_tapped_meanwhile(diary):
    (number,) = diary.add([entry()], NOW).numbers
    diary.tap(entry(), NOW, KEY)
    assert [one.number for one in diary.undo(NOW)] == [number]
    assert len(diary.entries()) == 1


def test_a_diary_that_is_being_written_to_is_waited_for_as_long_as_was_said(diary):
    from contextlib import closing  # noqa: PLC0415
    from sqlite3 import connect  # noqa: PLC0415
    from time import monotonic  # noqa: PLC0415

    diary.tap(entry(), NOW, KEY)
    with closing(connect(diary.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        began = monotonic()
        with pytest.raises(DiaryError, match="another program keeps writing to it"):
            Diary(diary.path, ID, wait_s=0.2).tap(entry(), NOW, OTHER)
        assert monotonic() - began < 10
        # Reading does not wait.
        assert len(Diary(diary.path, ID, wait_s=0.2).entries()) == 1
