"""The natural day, and the lamp that keeps it at a length."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.daylength import lamp as lamps
from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.errors import PlanError
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.sun.crossings import sun_position
from sites import (
    APIA,
    FALLBACKS,
    KIRITIMATI,
    LORD_HOWE,
    NY_ALESUND,
    SINGAPORE,
    TAMPERE,
    UTRECHT,
    Spot,
    minutes,
    site,
    wall,
)

MINUTE = np.timedelta64(1, "m")
HOUR = np.timedelta64(1, "h")
ROUNDING = 2 * MINUTE
"""A lamp's two times are each rounded by less than a minute, so that the day is never short."""


def lengths_of(spot, first, last=None, text=""):
    here = site(spot, FALLBACKS + text)
    start = dt.date.fromisoformat(first)
    return make_day_lengths(make_plan(here, start, dt.date.fromisoformat(last) if last else start))


def make_lamp(lengths):
    """Return the lamp of a house whose door moves at the planned minute."""
    return lamps.make_lamp(lengths, exactly(lengths.plan))


def lamp_of(spot, first, last=None, text=""):
    """Return a morning lamp without a least burn, with more keys of its table."""
    laying = f'[laying]\nlamp = "morning"\nleast_burn_min = 0\n{text}'
    return make_lamp(lengths_of(spot, first, last, laying))


# --- The natural day ------------------------------------------------------------------------


@pytest.mark.parametrize(("counts", "altitude_deg"), [("sunrise", -0.8333), ("civil", -6.0)])
@pytest.mark.parametrize("spot", [UTRECHT, NY_ALESUND, KIRITIMATI])
@pytest.mark.parametrize("date", ["2027-02-20", "2027-04-16", "2027-10-21"])
def test_the_natural_day_is_the_time_with_the_sun_above(spot, date, counts, altitude_deg):
    lengths = lengths_of(spot, date)
    plan = lengths.plan
    step = np.timedelta64(10, "s")
    instants = np.arange(plan.day_start_utc[0], plan.day_end_utc[0], step)
    seen = sun_position(spot.latitude, spot.longitude, instants).altitude_deg > altitude_deg
    assert abs(lengths.by[counts].length[0] - seen.sum() * step) <= 2 * step


def test_a_polar_day_is_the_whole_flock_day_and_a_polar_night_none():
    up = lengths_of(NY_ALESUND, "2027-06-20", "2027-06-22")
    assert up.counted.always_up.all()
    np.testing.assert_array_equal(up.counted.length, up.plan.day_end_utc - up.plan.day_start_utc)
    down = lengths_of(NY_ALESUND, "2027-12-20", "2027-12-22")
    for daylight in down.by.values():
        assert daylight.always_down.all()
        assert not daylight.length.any()
        np.testing.assert_array_equal(daylight.light.start, down.plan.sun.transit)


def test_without_a_table_fourteen_hours_from_sunrise_are_wanted_and_no_lamp():
    lengths = lengths_of(UTRECHT, "2027-01-01", "2027-12-31")
    assert lengths.wanted == 14 * HOUR
    assert lengths.counted is lengths.by["sunrise"]
    assert make_lamp(lengths) is None


def test_when_the_day_falls_under_and_reaches_the_wanted_length():
    lengths = lengths_of(UTRECHT, "2027-01-01", "2027-12-31", "[laying]\nwanted_h = 12.0\n")
    dates, length = lengths.plan.dates, lengths.counted.length
    (rises,), (falls,) = lengths.rises, lengths.falls
    for date, before in ((rises, True), (falls, False)):
        row = lengths.plan.index_of(date.item())
        assert bool(length[row - 1] < 12 * HOUR) is before
        assert bool(length[row] < 12 * HOUR) is not before
    # Sunrise to sunset is 12 hours a few days before the equinox of March and after September's.
    assert np.datetime64("2027-03-14") < rises < np.datetime64("2027-03-20")
    assert np.datetime64("2027-09-23") < falls < np.datetime64("2027-09-29")
    assert lengths.under.sum() == ((dates < rises) | (dates >= falls)).sum()
    np.testing.assert_array_equal(lengths.lacking > np.timedelta64(0), lengths.under)


def test_what_counts_as_day_is_the_keepers_choice():
    sunrise = lengths_of(UTRECHT, "2027-01-01", "2027-12-31")
    civil = lengths_of(UTRECHT, "2027-01-01", "2027-12-31", '[laying]\ncounts = "civil"\n')
    assert civil.counted is civil.by["civil"]
    assert civil.under.sum() < sunrise.under.sum() - 30


def test_a_date_that_the_calendar_skipped_has_no_row_and_begins_nothing():
    lengths = lengths_of(APIA, "2011-12-28", "2012-01-02", "[laying]\nwanted_h = 12.9\n")
    assert np.datetime64("2011-12-30") not in lengths.plan.dates
    assert len(lengths.under) == 5
    after = lengths_of(APIA, "2011-12-31", text="[laying]\nwanted_h = 12.9\n")
    assert not after.falls.size
    assert not after.rises.size


# --- The lamp on one day ----------------------------------------------------------------------


def test_a_morning_lamp_burns_from_the_wanted_length_before_sunset_to_sunrise():
    lamp = lamp_of(UTRECHT, "2027-01-10")
    sunrise, sunset = lamp.lengths.plan.sun.sunrise[0], lamp.lengths.plan.sun.sunset[0]
    assert lamp.on_utc[0, 0] == (sunset - 14 * HOUR).astype("datetime64[m]")
    assert lamp.off_utc[0, 0] - sunrise < MINUTE
    assert sunrise <= lamp.off_utc[0, 0]
    assert np.isnat(lamp.on_utc[1, 0])
    assert not lamp.evening[0]


def test_an_evening_lamp_burns_from_sunset_to_the_wanted_length_after_sunrise():
    lamp = make_lamp(lengths_of(UTRECHT, "2027-01-10", text='[laying]\nlamp = "evening"\n'))
    sunrise, sunset = lamp.lengths.plan.sun.sunrise[0], lamp.lengths.plan.sun.sunset[0]
    assert lamp.on_utc[0, 0] == sunset.astype("datetime64[m]")
    assert np.timedelta64(0) <= lamp.off_utc[0, 0] - (sunrise + 14 * HOUR) < MINUTE
    assert np.isnat(lamp.on_utc[1, 0])
    assert lamp.evening[0]


def test_a_lamp_on_both_sides_adds_half_to_each():
    lamp = make_lamp(lengths_of(UTRECHT, "2027-01-10", text='[laying]\nlamp = "both"\n'))
    morning, evening = (lamp.off_utc - lamp.on_utc)[:, 0]
    assert abs(morning - evening) <= 2 * MINUTE
    assert np.timedelta64(0) <= morning + evening - lamp.lengths.lacking[0] < 4 * MINUTE


def test_a_long_day_needs_no_lamp():
    lamp = lamp_of(UTRECHT, "2027-06-10", "2027-06-20")
    assert not lamp.lit.any()
    assert not lamp.burning.any()
    np.testing.assert_array_equal(lamp.length, lamp.lengths.counted.length)


@pytest.mark.parametrize("side", ["morning", "evening", "both"])
def test_in_the_polar_night_the_lamp_stands_around_the_transit(side):
    text = f'[laying]\nlamp = "{side}"\n'
    lamp = make_lamp(lengths_of(NY_ALESUND, "2027-12-20", text=text))
    transit = lamp.lengths.plan.sun.transit[0]
    assert lamp.centred[0]
    assert np.isnat(lamp.on_utc[1, 0])
    assert abs((transit - lamp.on_utc[0, 0]) - 7 * HOUR) <= MINUTE
    assert abs((lamp.off_utc[0, 0] - transit) - 7 * HOUR) <= MINUTE


@pytest.mark.parametrize("side", ["morning", "evening", "both"])
def test_the_lamp_moves_gradually_into_the_polar_night(side):
    text = f'[laying]\nlamp = "{side}"\n'
    lamp = make_lamp(lengths_of(NY_ALESUND, "2027-09-20", "2027-11-20", text))
    plan = lamp.lengths.plan
    begin = np.fmin(lamp.on_utc[0], lamp.lengths.counted.light.start) - plan.sun.transit
    lit = lamp.lit
    # The natural day itself ends within a few days there, by more than an hour on the last.
    assert np.abs(np.diff(begin[lit])).max() < np.timedelta64(150, "m")
    # A lamp that stayed on its side until then would jump by half the wanted length.
    assert lamp.centred.any()
    assert not lamp.centred.all()


@pytest.mark.parametrize(("side", "turn"), [("morning", 0), ("evening", 1)])
def test_the_lamp_never_burns_beyond_the_lowest_sun(side, turn):
    """With 16 h wanted and less than 6 h of day, one side would reach over midnight."""
    text = f'[laying]\nlamp = "{side}"\nwanted_h = 16.0\n'
    lamp = make_lamp(lengths_of(TAMPERE, "2027-12-20", text=text))
    plan = lamp.lengths.plan
    bound = (plan.day_start_utc, plan.day_end_utc)[turn][0]
    time = (lamp.on_utc[0, 0], lamp.off_utc[1, 0])[turn]
    # The whole minutes of a flock day lie within it.
    assert np.timedelta64(0) <= (time - bound) * (1, -1)[turn] < MINUTE
    assert not np.isnat(lamp.on_utc[:, 0]).any()


def test_the_birds_are_awake_inside_from_lamp_on_to_opening():
    lamp = lamp_of(UTRECHT, "2027-01-10", "2027-01-20")
    plan = lamp.lengths.plan
    np.testing.assert_array_equal(lamp.before_opening, plan.open_utc - lamp.on_utc[0])
    assert not lamp.after_closing.any()
    late = make_lamp(lengths_of(UTRECHT, "2027-01-10", text='[laying]\nlamp = "evening"\n'))
    assert late.after_closing[0] == late.off_utc[0, 0] - late.lengths.plan.close_utc[0]
    assert late.before_opening[0] == np.timedelta64(0)


def test_a_day_with_the_door_shut_has_no_opening_to_wait_for():
    shut = "[[span]]\nfrom = 2027-01-11\nuntil = 2027-01-12\nshut = true\n"
    lamp = lamp_of(UTRECHT, "2027-01-10", "2027-01-13", shut)
    assert lamp.lit.all()
    assert [bool(wait) for wait in lamp.before_opening] == [True, False, False, True]


def test_on_the_wall_the_lamp_moves_with_the_clock():
    lamp = lamp_of(UTRECHT, "2027-10-30", "2027-11-01")
    plan = lamp.lengths.plan
    assert wall(plan, lamp.on_utc[0]) == [
        "2027-10-30T04:15",
        "2027-10-31T03:13",
        "2027-11-01T03:11",
    ]
    assert np.all(np.abs(np.diff(lamp.on_utc[0]) - np.timedelta64(24, "h")) < 3 * MINUTE)


# --- The lamp's first and last date -------------------------------------------------------------

FIRST = "lamp_from = 2027-11-01\n"
LAST = "lamp_until = 2028-02-28\n"


def test_from_its_first_date_the_length_steps_up_once_a_week():
    lamp = lamp_of(UTRECHT, "2027-10-25", "2028-03-31", FIRST)
    dates, target = lamp.lengths.plan.dates, lamp.target
    begin = lamp.lengths.plan.index_of(dt.date(2027, 11, 1))
    assert not lamp.lit[:begin].any()
    natural = lamp.lengths.counted.length[begin - 1]
    assert target[begin] == natural + 30 * MINUTE
    changes = np.flatnonzero(np.diff(target)) + 1
    assert np.all((dates[changes] - dates[begin]).astype(int) % 7 == 0)
    assert set(minutes(np.diff(target)[changes[1:-1] - 1])) == {30}
    assert target[-1] == 14 * HOUR
    assert lamp.up.days_under(14 * HOUR) == (dates[changes[-1]] - dates[begin]).astype(int)


def test_before_its_last_date_the_length_steps_down_as_far_as_the_natural_day():
    lamp = lamp_of(UTRECHT, "2027-12-01", "2028-03-31", LAST)
    plan, target = lamp.lengths.plan, lamp.target
    last = plan.index_of(dt.date(2028, 2, 28))
    assert target[last] == lamp.lengths.counted.length[last + 1] + 30 * MINUTE
    assert not lamp.lit[last + 1 :].any()
    assert not target[last + 1 :].any()
    assert target[0] == 14 * HOUR
    assert str(lamp.until) == "2028-04-16"
    assert not lamp.lengths.under[plan.dates > np.datetime64("2028-04-16")].any()


def test_no_steps_where_the_natural_day_is_long_enough():
    text = "lamp_from = 2027-07-01\nlamp_until = 2028-05-20\n"
    lamp = lamp_of(UTRECHT, "2027-06-20", "2028-05-30", text)
    without = lamp_of(UTRECHT, "2027-06-20", "2028-05-30")
    assert len(lamp.up.levels) == len(lamp.down.levels) == 1
    np.testing.assert_array_equal(lamp.on_utc, without.on_utc)
    assert lamp.until is None


def test_dates_too_near_each_other_leave_the_length_short_and_say_by_how_much():
    lamp = lamp_of(UTRECHT, "2027-10-25", "2028-02-10", f"{FIRST}lamp_until = 2028-01-31\n")
    assert 12 * HOUR < lamp.most < 14 * HOUR
    assert lamp.target.max() == lamp.most
    # Steps up and down do not meet within days: the longest day is kept for a week.
    assert (lamp.target == lamp.most).sum() >= 7


def test_a_lamp_of_a_few_days_is_one_step_long():
    lamp = lamp_of(
        UTRECHT, "2027-12-01", "2027-12-20", "lamp_from = 2027-12-05\nlamp_until = 2027-12-08\n"
    )
    assert lamp.lit.sum() == 4
    natural = lamp.lengths.counted.length
    assert (lamp.length - natural).max() < 40 * MINUTE


def test_a_natural_day_that_grows_faster_is_followed():
    """The lamp takes up the length that the spring has brought, and steps on from there."""
    text = "wanted_h = 16.0\nweekly_step_min = 10\nlamp_from = 2027-02-01\n"
    lamp = lamp_of(TAMPERE, "2027-02-01", "2027-04-30", text)
    assert np.all(np.diff(lamp.target) >= np.timedelta64(0))
    assert not lamp.lit[40:60].all()
    natural = lamp.lengths.counted.length
    assert np.all(lamp.target[14:] >= np.minimum(natural[6:-8], 16 * HOUR))


def test_a_natural_day_that_shrinks_faster_does_not_call_the_lamp_back():
    """What the natural day has lost before a week begins is not given back at once."""
    text = "weekly_step_min = 7\nlamp_from = 2027-10-01\n"
    lamp = lamp_of(UTRECHT, "2027-09-20", "2027-12-31", text)
    assert minutes(np.diff(lamp.up.levels[:15])) == [7] * 14


def test_where_the_lamp_season_began_is_looked_for_before_the_range():
    lamp = lamp_of(UTRECHT, "2027-12-01", "2027-12-05")
    whole = lengths_of(UTRECHT, "2027-08-01", "2027-12-05")
    assert [lamp.since] == list(whole.falls)
    assert lamp_of(UTRECHT, "2027-06-01", "2027-12-05").since is None
    assert lamp_of(UTRECHT, "2027-12-01", "2027-12-05", FIRST).since is None


def test_where_the_natural_day_never_is_long_enough():
    lamp = lamp_of(SINGAPORE, "2027-12-01", "2027-12-05")
    assert lamp.never_enough
    assert lamp.since is None
    assert not lamp_of(UTRECHT, "2027-12-01", "2027-12-05").never_enough


@pytest.mark.parametrize("key", ["lamp_from", "lamp_until"])
@pytest.mark.parametrize("date", ["1850-01-01", "2199-12-31"])
def test_a_date_beyond_what_is_computed_is_refused_by_its_name(key, date):
    with pytest.raises(PlanError, match=rf"laying\.{key} = {date}: the Sun is computed from"):
        lamp_of(UTRECHT, "2027-01-01", text=f"{key} = {date}\n")


# --- What must hold ---------------------------------------------------------------------------

PLACES = [
    UTRECHT,
    SINGAPORE,
    TAMPERE,
    NY_ALESUND,
    KIRITIMATI,
    LORD_HOWE,
    Spot(69.65, 18.96, "Europe/Oslo"),
    Spot(-36.9, 149.9, "Australia/Sydney"),
    Spot(-54.8, -68.3, "America/Argentina/Ushuaia"),
    Spot(33.57, -7.59, "Africa/Casablanca"),
]
ANCHOR = dt.date(2027, 1, 1)
days = st.integers(0, 1400)


@st.composite
def houses(draw, least_min=0):
    """Return a place, a [laying] table with a lamp, and a day near the lamp's dates, if any."""
    lines = [
        "[laying]",
        f'lamp = "{draw(st.sampled_from(["morning", "evening", "both"]))}"',
        f'counts = "{draw(st.sampled_from(["sunrise", "civil"]))}"',
        f"wanted_h = {draw(st.sampled_from([6.0, 10.5, 13.33, 14.0, 15.0, 16.0]))}",
        f"weekly_step_min = {draw(st.sampled_from([1, 7, 15, 30, 45, 60]))}",
        f"least_burn_min = {least_min}",
    ]
    start = draw(days)
    first = draw(st.none() | st.integers(-120, 60))
    if first is not None:
        lines.append(f"lamp_from = {ANCHOR + dt.timedelta(days=start + first)}")
    last = draw(st.none() | st.integers(0, 250))
    if last is not None:
        lines.append(f"lamp_until = {ANCHOR + dt.timedelta(days=start + (first or 0) + last)}")
    return draw(st.sampled_from(PLACES)), "\n".join(lines) + "\n", start


def planned(spot, text, start, length):
    """Return the lamp from a day on."""
    first = ANCHOR + dt.timedelta(days=start)
    here = site(spot, FALLBACKS + text)
    return make_lamp(make_day_lengths(make_plan(here, first, first + dt.timedelta(days=length))))


@settings(max_examples=80, deadline=None)
@given(houses(), st.integers(0, 250))
def test_the_length_is_never_under_the_target_nor_two_minutes_over(house, length):
    lamp = planned(*house, length)
    natural = lamp.lengths.counted.length
    kept = np.maximum(natural, lamp.target)
    assert np.all(lamp.length >= kept)
    assert np.all(lamp.length < kept + ROUNDING)
    assert np.all(lamp.length[~lamp.lit] == natural[~lamp.lit])
    assert np.all(lamp.target <= lamp.lengths.wanted)
    # No more than 16 hours come of the lamp, whatever is wanted.
    assert np.all((lamp.length <= 16 * HOUR + ROUNDING) | (lamp.length == natural))
    if lamp.up is None and lamp.down is None:
        assert np.all(lamp.length >= lamp.lengths.wanted)


@settings(max_examples=80, deadline=None)
@given(houses(), st.integers(14, 250), st.integers(1, 7))
def test_in_a_week_the_lamp_changes_the_length_by_no_more_than_the_step(house, length, width):
    lamp = planned(*house, length)
    step = np.timedelta64(lamp.laying.weekly_step_min, "m")
    natural = lamp.lengths.counted.length
    for kept, slack in (
        (np.maximum(natural, lamp.target), np.timedelta64(0)),
        (lamp.length, ROUNDING),
    ):
        for row in range(len(kept) - width):
            window = slice(row, row + width + 1)
            # What the natural day did by itself within those days, upwards and downwards.
            grown = natural[window].max() - natural[row]
            shrunk = natural[window].max() - natural[row + width]
            change = kept[row + width] - kept[row]
            assert change <= max(step, grown) + slack
            assert -change <= max(step, shrunk) + slack


@settings(max_examples=40, deadline=None)
@given(houses(15), st.integers(1, 120), st.data())
def test_planning_a_lamp_in_pieces_equals_planning_it_whole(house, length, data):
    spot, text, start = house
    whole = planned(*house, length)
    cut = data.draw(st.integers(0, length - 1))
    pieces = [
        planned(spot, text, start, cut),
        planned(spot, text, start + cut + 1, length - cut - 1),
    ]
    for of in (
        lambda lamp: lamp.on_utc,
        lambda lamp: lamp.off_utc,
        lambda lamp: lamp.target,
        lambda lamp: lamp.length,
        lambda lamp: lamp.lengths.under,
        lambda lamp: lamp.lengths.falls,
        lambda lamp: lamp.lengths.rises,
        lambda lamp: lamp.before_opening,
    ):
        joined = np.concatenate([of(piece) for piece in pieces], axis=-1)
        np.testing.assert_array_equal(joined, of(whole))
    assert whole.most == pieces[0].most == pieces[1].most


@settings(max_examples=60, deadline=None)
@given(houses(15), st.integers(1, 120))
def test_the_lamp_burns_in_turn_and_within_its_flock_day(house, length):
    lamp = planned(*house, length)
    plan = lamp.lengths.plan
    times = np.stack([lamp.on_utc[0], lamp.off_utc[0], lamp.on_utc[1], lamp.off_utc[1]]).T.ravel()
    times = times[~np.isnat(times)]
    assert np.all(np.diff(times) > np.timedelta64(0))
    lit = lamp.lit
    assert np.all(lamp.on_utc[0, lit] >= plan.day_start_utc[lit])
    assert np.all(np.fmax(*lamp.off_utc)[lit] <= plan.day_end_utc[lit])
    # It is lit without a gap from one end of the natural day to the other.
    light = lamp.lengths.counted.light
    for turn in (0, 1):
        there = ~np.isnat(lamp.on_utc[turn])
        touches = (lamp.on_utc[turn] <= light.end) & (lamp.off_utc[turn] >= light.start)
        assert np.all(touches[there])


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from([spot for spot in PLACES if abs(spot.latitude) < 55]),
    st.sampled_from(["morning", "evening", "both"]),
    st.sampled_from([14.0, 15.0, 16.0]),
    days,
)
def test_a_wanted_length_leaves_its_dark_below_55_degrees(spot, side, wanted_h, start):
    """The dark lasts 24 hours less the light, but for what the lamp moves in a day."""
    text = f'[laying]\nlamp = "{side}"\nwanted_h = {wanted_h}\n'
    lamp = planned(spot, text, start, 60)
    light = lamp.lengths.counted.light
    begin = np.fmin(lamp.on_utc[0], light.start)
    end = np.fmax(np.fmax(*lamp.off_utc), light.end)
    lit = lamp.lit[1:] & lamp.lit[:-1]
    dark = (begin[1:] - end[:-1])[lit]
    # The least burns may make a day longer than wanted, but never than 16 hours.
    most_h = min(wanted_h + (0.5 if side == "both" else 0.25), 16)
    assert np.all(dark >= np.timedelta64(round((24 - most_h) * 60), "m") - 6 * MINUTE)
