"""Reports of the door in the diary: once each, and nobody's last command."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from daylatch.diary.entries import make_entry
from daylatch.diary.store import opening, schema
from daylatch.diary.store.backup import back_up, bring_back
from daylatch.diary.store.store import Diary
from sites import ID

NOW = np.datetime64("2027-03-10T18:00:00")
HOUR = np.timedelta64(1, "h")


@pytest.fixture
def diary(tmp_path):
    return Diary(tmp_path / "hens.diary", ID)


def shut(at=NOW, what="shut", stamped_by="server"):
    return make_entry(at, what, by="door", stamped_by=stamped_by)


def test_a_repeat_is_known_by_the_doors_number(diary):
    assert diary.report(shut(), NOW, 7) == (1, True)
    later = NOW + HOUR
    assert diary.report(shut(later), later, 7) == (1, False)
    assert diary.report(shut(later), later, 8) == (2, True)
    assert len(diary.entries()) == 2


def test_the_same_number_with_something_else_is_another_report(diary):
    diary.report(shut(), NOW, 7)
    assert diary.report(shut(what="opened"), NOW, 7).is_new
    assert diary.report(make_entry(NOW, "battery_v", "12.1", by="door"), NOW, 7).is_new
    assert diary.report(make_entry(NOW, "battery_v", "12.2", by="door"), NOW, 7).is_new


@pytest.mark.parametrize(("hours", "is_new"), [(24, False), (25, True)])
def test_a_number_means_the_same_report_for_a_day(diary, hours, is_new):
    diary.report(shut(), NOW, 7)
    later = NOW + hours * HOUR
    assert diary.report(shut(later), later, 7).is_new is is_new


def test_one_that_the_door_stamped_is_known_for_ever(diary):
    diary.report(shut(stamped_by="door"), NOW + HOUR, 7)
    assert not diary.report(shut(stamped_by="door"), NOW + 999 * HOUR, 7).is_new
    assert diary.report(shut(NOW + HOUR, stamped_by="door"), NOW + 999 * HOUR, 7).is_new


def test_a_number_that_comes_again_after_another_report_may_be_a_door_that_began_anew(diary):
    diary.report(shut(what="opened"), NOW, 1)
    diary.report(shut(), NOW + HOUR, 2)
    # That it is open is taken in, and that it is shut is known.
    assert diary.report(shut(what="opened"), NOW + 2 * HOUR, 1).is_new
    assert not diary.report(shut(), NOW + 2 * HOUR, 2).is_new


def test_a_state_that_is_said_again_and_again_is_kept_once_in_ten_minutes(diary):
    def said(minutes, what="seen_shut", within="", by="door", stamped_by="server"):
        at = NOW + np.timedelta64(minutes, "m")
        entry = make_entry(at, what, by=by, stamped_by=stamped_by, within=within)
        return diary.report(entry, at).is_new

    assert [said(minutes) for minutes in range(0, 22, 2)] == [
        *(True, *[False] * 5, True, *[False] * 4)
    ]
    assert said(23, "seen_open")
    # Nor where a person, or the door, has said something else meanwhile.
    diary.add([make_entry(NOW, "all_in")], NOW + np.timedelta64(24, "m"))
    assert said(25, "seen_open")
    assert said(40, within="600")
    assert said(41)
    assert said(42, stamped_by="door")
    assert said(43)


def test_reports_without_a_number_are_all_new(diary):
    assert [diary.report(shut(), NOW).is_new for _ in range(3)] == [True] * 3


def test_entries_say_which_of_them_are_reports(diary):
    assert not diary.has_reports()
    diary.add([shut()], NOW)
    assert not diary.has_reports()
    diary.report(shut(), NOW)
    assert diary.has_reports()
    assert [one.is_report for one in diary.entries()] == [False, True]


def test_undo_takes_back_what_a_person_noted_last(diary):
    diary.add([make_entry(NOW, "all_in")], NOW)
    diary.report(shut(), NOW)
    assert [one.entry.what for one in diary.undo(NOW)] == ["all_in"]
    # A report can be undone by its number.
    assert [one.entry.what for one in diary.undo(NOW, 2)] == ["shut"]


def test_a_backup_brings_reports_back_once(diary, tmp_path):
    diary.add([make_entry(NOW, "all_in")], NOW)
    diary.report(shut(), NOW, 7)
    content = back_up(diary.path, ID)
    other = Diary(tmp_path / "other.diary", ID)
    other.report(shut(what="opened"), NOW, 1)
    for _ in range(2):
        bring_back(content, Path("backup"), other.path, ID)
    assert [(one.entry.what, one.is_report) for one in other.entries()] == [
        ("opened", True),
        ("all_in", False),
        ("shut", True),
    ]
    assert not other.report(shut(), NOW + HOUR, 7).is_new


def test_a_diary_of_the_first_version_takes_reports(diary, monkeypatch):
    first = schema.UPGRADES[:1]
    monkeypatch.setattr(opening, "UPGRADES", first)
    monkeypatch.setattr(schema, "UPGRADES", first)
    with opening.opened_to_write(diary.path, ID) as connection:
        assert schema.version_of(connection) == 1
    monkeypatch.undo()
    assert not diary.has_reports()
    diary.report(shut(), NOW, 7)
    with closing(sqlite3.connect(diary.path)) as connection:
        assert schema.version_of(connection) == 2
        with pytest.raises(sqlite3.IntegrityError, match="nothing in a diary is ever rewritten"):
            connection.execute("DELETE FROM report")
