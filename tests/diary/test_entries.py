"""What can be an entry, and what an entry says."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.diary.entries import SURE_MIN, WHATS, EntryError, make_entry
from daylatch.diary.words import told
from daylatch.site.choices.entry_kinds import ENTRY_KINDS, STAMPS
from daylatch.wording import FACE_24_HOURS

NOW = np.datetime64("2027-03-01T18:00:00")


def test_the_site_file_names_the_same_kinds_and_stamps():
    assert tuple(WHATS) == ENTRY_KINDS
    assert tuple(SURE_MIN) == STAMPS


@pytest.mark.parametrize(
    ("what", "value", "stands"),
    [
        ("still_out", "02", "2"),
        ("all_in", "", ""),
        ("all_in", "12", "12"),
        ("clock_said", "7:05", "07:05"),
        ("clock_set", "", ""),
        ("battery_v", "11.90", "11.9"),
        ("in_use", "door 2027.bin", "door 2027.bin"),
    ],
)
def test_values_are_written_one_way(what, value, stands):
    assert make_entry(NOW, what, value).value == stands


@pytest.mark.parametrize(
    ("what", "value", "why"),
    [
        ("gone", "", 'what is "gone": write one of last_in'),
        ("lost", "", "says nothing without a value"),
        ("still_out", "0", "how many birds"),
        ("still_out", "-1", "how many birds"),
        ("still_out", "1.5", "how many birds"),
        ("still_out", "\u0661", "how many birds"),
        ("lost", "1000000", "how many birds"),
        ("last_in", "3", "last_in has no value"),
        ("clock_said", "24:00", "HH:MM"),
        ("battery_v", "nan", "write volts"),
        ("battery_v", "240", "write volts"),
        ("in_use", "a\x1bb", "invisible character"),
        ("note", "", "a note without a text"),
    ],
)
def test_what_cannot_be_is_refused_with_what_would_be_right(what, value, why):
    with pytest.raises(EntryError, match=why):
        make_entry(NOW, what, value)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"stamped_by": "sun"}, "phone, server, door, memory"),
        ({"within": "-1"}, "write minutes"),
        ({"within": "inf"}, "write minutes"),
        ({"within": "721"}, "write minutes"),
        ({"by": "x" * 101}, "write 100 at most"),
        ({"note": "a\nb"}, "invisible character"),
        ({"note": "x" * 2001}, "write 2000 at most"),
    ],
)
def test_so_is_what_stands_beside(more, why):
    with pytest.raises(EntryError, match=why):
        make_entry(NOW, "last_in", **more)


def test_only_what_is_special_is_told_of_how_sure_an_entry_is():
    assert told(make_entry(NOW, "last_in"), FACE_24_HOURS) == "last bird in"
    by_memory = make_entry(NOW, "still_out", "2", stamped_by="memory", note="by the oak")
    assert told(by_memory, FACE_24_HOURS) == "2 still out: by the oak (by memory, within 5 min)"
    by_door = make_entry(NOW, "shut", stamped_by="door", within="0.5", by="logger")
    assert (
        told(by_door, FACE_24_HOURS, ", on time")
        == "door shut, on time (door, within 0.5 min, told by logger)"
    )
    of_a_day = make_entry(NOW, "lost", "1", stamped_by="memory", within="720")
    assert told(of_a_day, FACE_24_HOURS) == "1 lost (by memory, at some time of the day)"
