"""Settings day by day: the file's own, and what dated spans make of them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.arrays import column_of
from daylatch.plan.daily.settings import LENGTHEN, WIDEN, resolve_settings, spans_on
from daylatch.site.reading.site_file import read_site
from daylatch.site.tables import Lengthen, Widen

HEAD = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Test house"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
"""
DATES = np.arange("2027-03-01", "2027-03-09", dtype="datetime64[D]")


def resolved(text):
    return column_of(resolve_settings([read_site(HEAD + text, "test.toml").settings], DATES), 0)


def numbers(column):
    """Return durations as whole minutes, None where there is none."""
    return [None if np.isnat(x) else int(x // np.timedelta64(1, "m")) for x in column]


def span(first, last, keys):
    return f"[[span]]\nfrom = 2027-03-0{first}\nuntil = 2027-03-0{last}\n{keys}\n"


def test_a_file_that_sets_nothing_has_the_defaults_every_day():
    found = resolved("")
    for side in (found.open, found.close):
        assert side.altitude_deg.tolist() == [-6.0] * 8
        assert numbers(side.offset) == [15] * 8
        for limit in ("not_before", "not_after", "fallback", "dark_fallback", "fixed"):
            assert numbers(getattr(side, limit)) == [None] * 8
    assert numbers(found.least_open) == numbers(found.least_night) == [0] * 8
    assert numbers(found.head_count) == [15] * 8
    assert found.guard_altitude_deg.tolist() == [-12.0] * 8
    assert {WIDEN[i] for i in found.widen} == {Widen.BOTH}
    assert {LENGTHEN[i] for i in found.lengthen} == {Lengthen.BOTH}
    assert not found.shut.any()
    assert not found.second_pass.any()
    assert not found.in_span.any()


def test_every_setting_of_the_file_reaches_its_column():
    found = resolved("""
[open]
light = "sunrise"
offset_min = -20
not_before = "06:30"
not_after = "09:00"
fallback = "05:30"
dark_fallback = "10:00"
[close]
light = 4.5
offset_min = 25
not_before = "17:00"
not_after = "none"
fallback = 22:30:00
dark_fallback = "14:00"
[day]
least_open_h = 9.5
widen = "close later"
guard = "civil"
[night]
least_h = 7.25
lengthen = "open later"
[head_count]
after_close_min = 40
second_pass = true
""")
    assert found.open.altitude_deg[0] == -0.8333
    assert found.close.altitude_deg[0] == -4.5
    assert numbers([found.open.offset[0], found.close.offset[0]]) == [-20, 25]
    assert numbers([found.open.not_before[0], found.open.not_after[0]]) == [390, 540]
    assert numbers([found.open.fallback[0], found.open.dark_fallback[0]]) == [330, 600]
    assert numbers([found.close.not_before[0], found.close.not_after[0]]) == [1020, None]
    assert numbers([found.close.fallback[0], found.close.dark_fallback[0]]) == [1350, 840]
    assert numbers([found.least_open[0], found.least_night[0]]) == [570, 435]
    assert numbers([found.head_count[0]]) == [40]
    assert found.guard_altitude_deg[0] == -6.0
    assert WIDEN[found.widen[0]] is Widen.CLOSE_LATER
    assert LENGTHEN[found.lengthen[0]] is Lengthen.OPEN_LATER
    assert found.second_pass.all()


def test_a_span_holds_from_its_first_to_its_last_date():
    found = resolved(span(3, 5, "shut = true"))
    expected = [False, False, True, True, True, False, False, False]
    assert found.shut.tolist() == found.in_span.tolist() == expected


def test_a_span_of_one_date_and_one_outside_the_range():
    found = resolved(span(2, 2, "close.offset_min = 40") + span(9, 9, "close.offset_min = 50"))
    assert numbers(found.close.offset) == [15, 40, 15, 15, 15, 15, 15, 15]
    assert found.in_span.sum() == 1


def test_a_span_changes_only_the_keys_that_it_gives():
    plain = resolved('[close]\noffset_min = 25\nlight = "sunset"\nfallback = "22:00"\n')
    found = resolved(
        '[close]\noffset_min = 25\nlight = "sunset"\nfallback = "22:00"\n'
        + span(3, 5, 'reason = "late"\nclose.not_after = "21:00"')
    )
    assert numbers(found.close.not_after) == [None, None, 1260, 1260, 1260, None, None, None]
    for key in ("altitude_deg", "offset", "not_before", "fallback", "dark_fallback", "fixed"):
        for side in ("open", "close"):
            before, after = (getattr(getattr(s, side), key) for s in (plain, found))
            assert np.array_equal(before, after, equal_nan=True), (side, key)
    for key in ("shut", "least_open", "least_night", "head_count", "widen", "lengthen"):
        assert np.array_equal(getattr(plain, key), getattr(found, key)), key


def test_none_in_a_span_lifts_a_limit_and_a_default_can_be_given_back():
    found = resolved(
        '[open]\nnot_before = "08:00"\noffset_min = 40\n'
        + span(3, 4, 'open.not_before = "none"\nopen.offset_min = 15')
    )
    assert numbers(found.open.not_before) == [480, 480, None, None, 480, 480, 480, 480]
    assert numbers(found.open.offset) == [40, 40, 15, 15, 40, 40, 40, 40]


def test_overlapping_spans_key_by_key_the_later_in_the_file_wins():
    found = resolved(
        span(2, 6, 'close.offset_min = 30\nopen.fixed = "08:00"\nday.least_open_h = 10')
        + span(4, 8, 'close.offset_min = 45\nopen.fixed = "none"')
        + span(1, 4, "day.least_open_h = 11\nshut = true")
        + span(3, 3, "shut = false")
    )
    assert numbers(found.close.offset) == [15, 30, 30, 45, 45, 45, 45, 45]
    assert numbers(found.open.fixed) == [None, 480, 480, None, None, None, None, None]
    assert numbers(found.least_open) == [660, 660, 660, 660, 600, 600, 0, 0]
    assert found.shut.tolist() == [True, True, False, True, False, False, False, False]
    assert found.in_span.all()


def test_a_span_of_words_alone_changes_nothing_but_touches_its_dates():
    found = resolved(span(2, 3, 'reason = "a visit"'))
    assert numbers(found.close.offset) == [15] * 8
    assert found.in_span.tolist() == [False, True, True, False, False, False, False, False]


def test_hours_become_the_nearest_whole_minutes():
    found = resolved("[day]\nleast_open_h = 9.9999\n[night]\nleast_h = 0.0167\n")
    assert numbers([found.least_open[0], found.least_night[0]]) == [600, 1]


def test_no_dates_give_empty_columns():
    found = resolve_settings([read_site(HEAD, "test.toml").settings], DATES[:0])
    assert found.open.offset.shape == found.shut.shape == (0, 1)


def test_spans_on_a_date_come_in_the_order_of_the_file():
    text = span(2, 6, 'reason = "a"') + span(4, 8, 'reason = "b"') + span(1, 4, 'reason = "c"')
    site = read_site(HEAD + text, "test.toml").settings
    reasons = [[s.reason for s in spans_on(site, date)] for date in DATES.tolist()]
    assert reasons == [["c"], ["a", "c"], ["a", "c"], ["a", "b", "c"]] + [["a", "b"]] * 2 + [
        ["b"],
        ["b"],
    ]


KEYS = {
    "open.offset_min": st.integers(-720, 720),
    "close.offset_min": st.integers(-720, 720),
    "head_count.after_close_min": st.integers(0, 240),
}


@st.composite
def spans_of_numbers(draw):
    first = draw(st.integers(1, 8))
    keys = draw(st.sets(st.sampled_from(sorted(KEYS)), min_size=1))
    return first, draw(st.integers(first, 8)), {key: draw(KEYS[key]) for key in sorted(keys)}


@given(st.lists(spans_of_numbers(), max_size=6))
def test_each_day_has_for_each_key_the_last_span_that_gives_it(spans):
    found = resolved(
        "".join(
            span(first, last, "\n".join(f"{key} = {value}" for key, value in keys.items()))
            for first, last, keys in spans
        )
    )
    columns = {
        "open.offset_min": numbers(found.open.offset),
        "close.offset_min": numbers(found.close.offset),
        "head_count.after_close_min": numbers(found.head_count),
    }
    for key, column in columns.items():
        for day, value in enumerate(column, start=1):
            given = [
                keys[key] for first, last, keys in spans if first <= day <= last and key in keys
            ]
            assert value == (given[-1] if given else 15)


@pytest.mark.parametrize("hours", [0, 23.96, 23])
def test_hours_up_to_the_most_are_taken(hours):
    assert numbers(resolved(f"[day]\nleast_open_h = {hours}\n").least_open)[0] == round(hours * 60)
