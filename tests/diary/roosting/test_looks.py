"""What the entries of an evening and a morning come to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.clock import get_zone
from daylatch.diary.entries import Entry
from daylatch.diary.roosting.instants import depression_of, progress_deg
from daylatch.diary.roosting.looks import Half, find_looks
from sites import KIRITIMATI, LONGYEARBYEN, TAMPERE, UTRECHT, site

NEVER = "NaT"
HERE = site(UTRECHT)


def looks(half, *said, openings=(), here=HERE):
    made = [Entry(np.datetime64(at, "s"), what) for what, at in said]
    opened = np.array(list(openings), "datetime64[m]")
    return find_looks(half, made, here, get_zone(here.zone), opened)


def evening(*said):
    """Return what entries of one evening, in UTC, come to."""
    found = looks(Half.EVENING, *((what, f"2026-10-05T{at}") for what, at in said))
    assert found.dates.tolist() == [np.datetime64("2026-10-05").item()]
    return clocks(found)


def morning(*said, openings=()):
    days = [(what, f"2026-10-05T{at}") for what, at in said]
    found = looks(Half.MORNING, *days, openings=[f"2026-10-05T{at}" for at in openings])
    return clocks(found)


def clocks(found):
    columns = (found.exact_utc, found.after_utc, found.until_utc)
    return tuple(NEVER if np.isnat(column[0]) else str(column[0])[11:16] for column in columns)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ([("last_in", "17:20")], ("17:20", NEVER, NEVER)),
        ([("last_in", "17:20"), ("last_in", "17:31")], ("17:31", NEVER, NEVER)),
        ([("all_in", "17:20")], (NEVER, NEVER, "17:20")),
        ([("still_out", "17:20")], (NEVER, "17:20", NEVER)),
        ([("still_out", "17:10"), ("all_in", "17:30")], (NEVER, "17:10", "17:30")),
        (
            [("still_out", "17:10"), ("still_out", "17:20"), ("all_in", "17:30")],
            ("17:25", "17:20", "17:30"),
        ),
        ([("all_in", "17:30"), ("all_in", "17:50")], (NEVER, NEVER, "17:30")),
        ([("all_in", "17:10"), ("still_out", "17:30")], (NEVER, "17:30", NEVER)),
        ([("all_in", "17:10"), ("last_in", "17:20")], ("17:20", NEVER, NEVER)),
        ([("last_in", "17:20"), ("still_out", "17:40")], (NEVER, "17:40", NEVER)),
        (
            [("last_in", "17:20"), ("still_out", "17:40"), ("all_in", "18:00")],
            (NEVER, "17:40", "18:00"),
        ),
        ([("last_in", "17:20"), ("still_out", "17:10")], ("17:20", NEVER, NEVER)),
        ([("still_out", "17:10"), ("all_in", "17:16")], ("17:13", "17:10", "17:16")),
    ],
)
def test_who_counts_later_knows_better(said, expected):
    assert evening(*said) == expected
    assert evening(*reversed(said)) == expected


@pytest.mark.parametrize(
    ("said", "openings", "expected"),
    [
        ([("first_out", "05:20")], [], ("05:20", NEVER, NEVER)),
        ([("first_out", "05:20")], ["04:30"], ("05:20", NEVER, NEVER)),
        ([("first_out", "05:20"), ("first_out", "05:10")], [], ("05:10", NEVER, NEVER)),
        ([("first_out", "05:20")], ["05:18"], (NEVER, NEVER, "05:20")),
        ([("first_out", "05:20"), ("opened", "05:18")], [], (NEVER, NEVER, "05:20")),
        ([("first_out", "05:20"), ("opened", "04:30")], ["05:18"], ("05:20", NEVER, NEVER)),
        ([("first_out", "05:20"), ("none_waiting", "05:00")], ["05:18"], (NEVER, "05:00", "05:20")),
        ([("first_out", "05:20"), ("waiting", "05:05")], ["05:10"], (NEVER, NEVER, "05:05")),
        ([("none_waiting", "05:00"), ("waiting", "05:15")], [], (NEVER, "05:00", "05:15")),
        ([("none_waiting", "05:00")], [], (NEVER, "05:00", NEVER)),
        ([("waiting", "05:10"), ("none_waiting", "05:30")], [], (NEVER, NEVER, "05:10")),
    ],
)
def test_who_comes_out_as_the_door_opens_has_waited(said, openings, expected):
    assert morning(*said, openings=openings) == expected


def test_a_last_bird_after_midnight_belongs_to_the_evening_before():
    here = site(TAMPERE)
    found = looks(Half.EVENING, ("last_in", "2026-06-20T21:20"), here=here)
    assert get_zone(here.zone).to_local(found.exact_utc).wall[0] == np.datetime64(
        "2026-06-21T00:20"
    )
    assert found.dates.tolist() == [np.datetime64("2026-06-20").item()]


def test_a_flock_day_is_told_by_its_own_date_beyond_the_date_line():
    found = looks(Half.EVENING, ("last_in", "2026-06-20T05:00"), here=site(KIRITIMATI))
    assert str(found.dates[0]) == "2026-06-20"
    assert str(found.solar_days[0]) == "2026-06-19"


def test_what_fits_no_such_half_is_kept_aside():
    found = looks(Half.EVENING, ("last_in", "2026-10-05T07:00"), ("last_in", "2026-10-05T12:00"))
    assert [str(one.instant_utc) for one in found.aside] == ["2026-10-05T07:00:00"]
    assert len(found) == 1


def test_what_hardly_says_when_it_was_is_counted_only():
    unsure = Entry(np.datetime64("2026-10-05T17:00", "s"), "all_in", within_min=720.0)
    found = find_looks(
        Half.EVENING, [unsure], HERE, get_zone(HERE.zone), np.array([], "datetime64[m]")
    )
    assert (len(found), found.unsure) == (0, 1)


@pytest.mark.parametrize("half", list(Half))
def test_the_sun_moves_on_towards_either_event(half):
    hours = {Half.EVENING: range(13, 23), Half.MORNING: range(1, 11)}[half]
    instants = np.array([f"2026-10-05T{hour:02}:00" for hour in hours], "datetime64[s]")
    places = progress_deg(half, HERE, instants)
    assert (np.diff(places) > 0).all()
    assert depression_of(half, depression_of(half, 3.0)) == 3.0


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["last_in", "still_out", "all_in", "first_out", "waiting", "opened"]),
            st.integers(0, 3 * 24 * 60),
        ),
        max_size=12,
    ),
    st.sampled_from([UTRECHT, LONGYEARBYEN, KIRITIMATI]),
    st.randoms(),
)
def test_any_entries_in_any_order_come_to_the_same(said, spot, random):
    base = np.datetime64("2026-06-20T00:00", "m")
    made = [(what, base + np.timedelta64(minutes, "m")) for what, minutes in said]
    shuffled = random.sample(made, len(made))
    for half in Half:
        one, other = (looks(half, *some, here=site(spot)) for some in (made, shuffled))
        for name in ("dates", "exact_utc", "after_utc", "until_utc"):
            assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        both = ~np.isnat(one.after_utc) & ~np.isnat(one.until_utc)
        assert (one.after_utc[both] < one.until_utc[both]).all()
        some = one.is_exact | ~np.isnat(one.after_utc) | ~np.isnat(one.until_utc)
        assert some.all()
