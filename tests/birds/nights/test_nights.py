"""Lock-ins: their parts, the flock days beside them, and which rule keeps the birds in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from daylatch.birds.nights.nights import make_nights
from daylatch.birds.nights.summary import summarize_nights
from daylatch.birds.nights.waking_causes import Cause, waking_by_cause
from daylatch.plan.due import exactly
from daylatch.sun.crossings import sun_position
from sites import APIA, LONGYEARBYEN, LORD_HOWE, TAMPERE, UTRECHT, Spot, minutes, plan

HOUR = np.timedelta64(1, "h")
MINUTE = np.timedelta64(1, "m")
ANY_NIGHT = np.timedelta64(14, "h")
SPAN = '[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-10\nreason = "order"\nshut = true\n'
POLAR = '[open]\nfallback = "05:30"\ndark_fallback = "10:00"\n[close]\nfallback = "22:30"\n'
POLAR += 'dark_fallback = "13:00"\n'


def nights(spot, first, last=None, text=""):
    return make_nights(exactly(plan(spot, first, last, text)))


def summary(spot, first, last=None, text="", long=ANY_NIGHT):
    return summarize_nights(nights(spot, first, last, text), long)


def light_by_sampling(spot, start, end):
    """Return how long the Sun stands above civil depression, sampled every 20 seconds."""
    step = np.timedelta64(20, "s")
    instants = np.arange(start, end, step)
    up = sun_position(spot.latitude, spot.longitude, instants).altitude_deg > -6.0
    return up.sum() * step


@pytest.mark.parametrize(
    ("spot", "date", "text"),
    [
        (UTRECHT, "2027-01-20", ""),
        (UTRECHT, "2027-06-20", '[open]\nnot_before = "08:00"\n'),
        (UTRECHT, "2027-02-07", SPAN),
        (TAMPERE, "2027-06-21", POLAR),
        (LONGYEARBYEN, "2027-05-30", POLAR),
        (LONGYEARBYEN, "2027-12-20", POLAR),
        (LORD_HOWE, "2027-04-03", '[open]\nlight = "sunrise"\noffset_min = 90\n'),
    ],
)
def test_the_waking_part_is_the_time_with_the_sun_above_civil_depression(spot, date, text):
    found = nights(spot, date, text=text)
    sampled = light_by_sampling(spot, found.start_utc[0], found.end_utc[0])
    # A lock-in meets the threshold a few times; each costs at most one step of the sampling.
    assert abs(found.waking[0] - sampled) <= 20 * np.timedelta64(20, "s")
    assert (
        found.waking[0] + found.dark[0] == found.length[0] == found.end_utc[0] - found.start_utc[0]
    )


def test_a_lock_in_over_shut_days_belongs_to_its_closing_and_counts_them():
    found = nights(UTRECHT, "2027-02-06", "2027-02-12", SPAN)
    assert [str(date) for date in found.dates] == [
        "2027-02-06",
        "2027-02-07",
        "2027-02-11",
        "2027-02-12",
    ]
    assert found.shut_days.tolist() == [0, 3, 0, 0]
    assert found.length[1] > 3 * 24 * HOUR
    three_days = np.flatnonzero(~found.plan.is_open)
    light = found.light.end - found.light.start
    assert (found.day_waking[three_days] == light[three_days]).all()
    assert found.waking[1] > light[three_days].sum()


def test_a_range_that_ends_within_a_shut_span_still_knows_its_lock_in():
    within = nights(UTRECHT, "2027-02-06", "2027-02-08", SPAN)
    whole = nights(UTRECHT, "2027-02-06", "2027-02-12", SPAN)
    assert within.length[1] == whole.length[1]
    assert within.waking[1] == whole.waking[1]
    assert within.shut_days.tolist() == whole.shut_days[:2].tolist() == [0, 3]


def test_an_open_ended_lock_in_has_no_length():
    text = SPAN.replace("2027-02-10", "2028-12-31")
    found = nights(UTRECHT, "2027-02-06", "2027-02-07", text)
    assert minutes(found.length)[1] is None
    assert np.isnat(found.waking[1])
    assert found.shut_days.tolist() == [0, 0]
    total = summarize_nights(found, ANY_NIGHT)
    assert total.open_ended.first == np.datetime64("2027-02-07")
    assert total.long_count == 1
    assert total.longest == 0


def test_a_door_that_never_opens_has_no_lock_in():
    found = summary(UTRECHT, "2027-02-08", "2027-02-09", SPAN)
    assert len(found.nights) == 0
    assert found.longest is None
    assert found.shut_runs[0].count == 2
    assert found.shut == found.nights.day_shut.sum() > 47 * HOUR
    assert found.months[0].median is None
    assert (found.running.count, str(found.running.last)) == (2, "2027-02-09")


def test_a_lock_in_that_runs_into_the_range_is_told():
    found = summary(UTRECHT, "2027-02-09", "2027-02-14", SPAN)
    assert (str(found.running.first), str(found.running.last)) == ("2027-02-09", "2027-02-10")
    assert found.running.count == 2
    assert str(found.nights.dates[0]) == "2027-02-11"
    assert summary(UTRECHT, "2027-02-06", "2027-02-14", SPAN).running is None


def test_lock_ins_are_true_hours_across_clock_changes():
    # The wall clock of Lord Howe goes back by half an hour in the night to 2027-04-04.
    found = nights(LORD_HOWE, "2027-04-02", "2027-04-04")
    by_minutes = minutes(found.length)
    assert max(by_minutes) - min(by_minutes) <= 4
    wall = found.plan.on_wall(found.end_utc).wall - found.plan.on_wall(found.start_utc).wall
    assert minutes(wall)[1] == by_minutes[1] - 30


def test_a_skipped_date_leaves_no_hole():
    found = nights(APIA, "2011-12-28", "2012-01-02")
    assert (found.dates != np.datetime64("2011-12-30")).all()
    assert (found.length < 14 * HOUR).all()
    assert (found.start_utc[1:] > found.end_utc[:-1]).all()


def test_months_hold_medians_and_extremes_of_what_begins_in_them():
    found = summary(UTRECHT, "2027-01-30", "2027-03-02")
    assert [str(month.month) for month in found.months] == ["2027-01", "2027-02", "2027-03"]
    assert [month.lock_ins for month in found.months] == [2, 28, 2]
    february = found.nights.length[2:30]
    assert found.months[1].shortest == february.min()
    assert found.months[1].longest == february.max()
    # numpy knows no median of durations, but of numbers.
    assert found.months[1].median == np.timedelta64(int(np.median(february.astype(int))), "us")
    assert found.months[0].median == found.nights.length[:2].mean()
    assert sum(month.shut for month in found.months) == found.shut
    assert sum(month.waking for month in found.months) == found.waking


def test_runs_of_long_nights_follow_the_threshold():
    found = summary(UTRECHT, "2027-01-01", "2027-12-31")
    first, last = found.long_runs
    assert (str(first.first), str(last.last)) == ("2027-01-01", "2027-12-31")
    length = dict(zip(found.nights.dates.tolist(), found.nights.length, strict=True))
    assert length[first.last.item()] > ANY_NIGHT >= length[(first.last + 1).item()]
    assert length[last.first.item()] > ANY_NIGHT >= length[(last.first - 1).item()]
    assert found.long_count == first.count + last.count
    # Over, not from: a threshold that equals the longest is passed by none.
    assert (
        summary(UTRECHT, "2027-01-01", "2027-01-05", long=found.nights.length.max()).long_runs == []
    )


RULES = """
[open]
offset_min = 40
not_before = "07:30"
fallback = "06:00"
[close]
offset_min = -20
not_after = "20:00"
fallback = "21:00"
[day]
least_open_h = 9
guard = 3.0
[night]
least_h = 12
"""
RULES_AND_SPANS = (
    RULES + SPAN + '[[span]]\nfrom = 2027-07-01\nuntil = 2027-07-10\nopen.fixed = "10:00"\n'
)


def test_the_parts_of_all_causes_are_the_waking_lock_in():
    found = nights(TAMPERE, "2027-01-01", "2027-12-31", RULES_AND_SPANS)
    parts = waking_by_cause(found)
    assert set(parts) == set(Cause) - {Cause.WORKS, Cause.LAMP}
    assert (sum(parts.values()) == found.day_waking).all()
    for cause in (Cause.LIGHT, Cause.FALLBACK, Cause.OFFSET, Cause.LIMIT, Cause.LEAST_NIGHT):
        assert parts[cause].sum() > 0 * HOUR, cause
    assert parts[Cause.LEAST_OPEN].sum() < 0 * HOUR
    assert parts[Cause.GUARD].sum() > 0 * HOUR
    assert (parts[Cause.GUARD] >= np.timedelta64(0)).all()


def test_each_cause_answers_for_what_it_does():
    plain = waking_by_cause(nights(UTRECHT, "2027-04-10", "2027-04-20"))
    assert set(plain) == {Cause.LIGHT, Cause.OFFSET}
    # Rounding up gains and loses less than a minute a day on the two sides together.
    assert abs(plain[Cause.LIGHT]).max() < MINUTE
    # In the morning the offset is light; in the evening it is dark already.
    assert (plain[Cause.OFFSET] == 15 * MINUTE).all()
    sunrise = waking_by_cause(
        nights(UTRECHT, "2027-04-10", "2027-04-20", '[open]\nlight = "sunrise"\noffset_min = 0\n')
    )
    assert (sunrise[Cause.LIGHT] > 30 * MINUTE).all()
    limited = waking_by_cause(
        nights(UTRECHT, "2027-04-10", "2027-04-20", '[open]\nnot_before = "09:00"\n')
    )
    assert (limited[Cause.LIMIT] > 2 * HOUR).all()
    shut = waking_by_cause(nights(UTRECHT, "2027-02-07", "2027-02-11", SPAN))
    assert minutes(shut[Cause.SPAN])[0] == minutes(shut[Cause.SPAN])[-1] == 0
    assert (shut[Cause.SPAN][1:-1] > 9 * HOUR).all()


def test_a_day_that_only_a_span_can_plan_is_the_spans():
    text = "[[span]]\nfrom = 2027-06-01\nuntil = 2027-07-20\n"
    text += 'open.fixed = "07:00"\nclose.fixed = "21:00"\n'
    found = nights(TAMPERE, "2027-06-20", "2027-06-22", text)
    parts = waking_by_cause(found)
    assert (parts[Cause.SPAN] == found.day_waking).all()
    assert (parts[Cause.LIGHT] == np.timedelta64(0)).all()


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-75, 75),
    st.integers(0, 364),
    st.integers(1, 40),
    st.sampled_from(["", SPAN, RULES, RULES_AND_SPANS]),
)
def test_open_spans_and_lock_ins_tile_the_range(latitude, first, count, text):
    spot = Spot(latitude, 25.0, "Europe/Helsinki")
    start = np.datetime64("2027-01-01") + first
    if not text.startswith("\n[open]"):
        text = '[open]\nfallback = "06:00"\n[close]\nfallback = "21:00"\n' + text
    found = nights(spot, str(start), str(start + count), text)
    light = found.light
    assert (light.end >= light.start).all()
    assert (light.start[1:] >= light.end[:-1]).all()
    # By flock days: what is shut and what is open fills the range.
    whole = found.plan.day_end_utc[-1] - found.plan.day_start_utc[0]
    assert found.day_shut.sum() + found.open_span.sum() == whole
    assert (found.day_waking >= np.timedelta64(0)).all()
    assert (found.day_waking <= found.day_shut).all()
    assert (found.waking[found.known] >= np.timedelta64(0)).all()
    assert (found.dark[found.known] >= np.timedelta64(0)).all()
    # By lock-ins: between the first closing and the last one they tile the same time.
    if len(found) > 1:
        between = found.start_utc[-1] - found.start_utc[0]
        assert found.length[:-1].sum() + found.open_span[1:].sum() == between


@settings(max_examples=30, deadline=None)
@given(
    st.floats(-68, 68),
    st.integers(0, 300),
    st.integers(2, 30),
    st.integers(1, 29),
    st.sampled_from(["", SPAN, RULES, RULES_AND_SPANS]),
)
# The first piece ends the day before a span begins.
@example(-36.0, 19, 19, 18, RULES_AND_SPANS)
def test_nights_in_pieces_are_the_nights_of_the_whole(latitude, first, count, cut, text):
    spot = Spot(latitude, 25.0, "Europe/Helsinki")
    start = np.datetime64("2027-01-01") + first
    middle, end = start + min(cut, count - 1), start + count
    if not text.startswith("\n[open]"):
        text = '[open]\nfallback = "06:00"\n[close]\nfallback = "21:00"\n' + text
    whole = nights(spot, str(start), str(end), text)
    pieces = [
        nights(spot, str(start), str(middle), text),
        nights(spot, str(middle + 1), str(end), text),
    ]
    for name in (
        "start_utc",
        "end_utc",
        "length",
        "waking",
        "open_span",
        "shut_days",
        "day_waking",
    ):
        joined = np.concatenate([getattr(piece, name) for piece in pieces])
        assert (joined == getattr(whole, name)).all(), name
    parts = [waking_by_cause(piece) for piece in pieces]
    for cause, part in waking_by_cause(whole).items():
        nothing = [np.zeros(len(piece.plan), "timedelta64[us]") for piece in pieces]
        joined = np.concatenate([p.get(cause, n) for p, n in zip(parts, nothing, strict=True)])
        assert (joined == part).all(), cause
