"""The least burn: a lamp never flashes, and no day is shorter for it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import lamp_light, make_lamp
from daylatch.birds.daylength.text import describe_lamp
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.wording import FACE_24_HOURS
from sites import FALLBACKS, LORD_HOWE, NY_ALESUND, SINGAPORE, TAMPERE, UTRECHT, minutes, site

MINUTE = np.timedelta64(1, "m")
HOUR = np.timedelta64(1, "h")
NONE = np.timedelta64(0)
SIDES = ("morning", "evening", "both")


def lamp_of(spot, first, days, text):
    start = dt.date.fromisoformat(first) if isinstance(first, str) else first
    here = site(spot, f"{FALLBACKS}[laying]\n{text}")
    lengths = make_day_lengths(make_plan(here, start, start + dt.timedelta(days=days)))
    return make_lamp(lengths, exactly(lengths.plan))


def said(lamp):
    return [text for label, text in describe_lamp(lamp, FACE_24_HOURS) if label == "Least burn"]


@st.composite
def cases(draw):
    """Return a place, a first date, days, and the keys of a lamp without its least burn."""
    lines = [
        f'lamp = "{draw(st.sampled_from(SIDES))}"',
        f'counts = "{draw(st.sampled_from(["sunrise", "civil"]))}"',
        f"wanted_h = {draw(st.sampled_from([6.0, 13.33, 14.0, 15.9, 16.0]))}",
        f"weekly_step_min = {draw(st.sampled_from([1, 15, 60]))}",
    ]
    start = dt.date(2027, 1, 1) + dt.timedelta(days=draw(st.integers(0, 700)))
    if draw(st.booleans()):
        lines.append(f"lamp_from = {start + dt.timedelta(days=draw(st.integers(-60, 30)))}")
    if draw(st.booleans()):
        lines.append(f"lamp_until = {start + dt.timedelta(days=draw(st.integers(31, 120)))}")
    spot = draw(st.sampled_from([UTRECHT, TAMPERE, NY_ALESUND, SINGAPORE, LORD_HOWE]))
    return spot, start, draw(st.integers(0, 120)), "\n".join(lines) + "\n"


@settings(max_examples=15, deadline=None)
@given(cases(), st.sampled_from([0, 3, 15, 60, 240]))
def test_no_burn_is_shorter_than_the_least_and_no_day_shorter_than_before(case, least):
    without = lamp_of(*case[:3], f"{case[3]}least_burn_min = 0\n")
    lamp = lamp_of(*case[:3], f"{case[3]}least_burn_min = {least}\n")
    burns = lamp.off_utc - lamp.on_utc
    plan = lamp.lengths.plan
    assert np.array_equal(np.isnat(lamp.on_utc), np.isnat(without.on_utc))
    short = (burns < least * MINUTE).any(axis=0)
    assert np.array_equal(short, lamp.short)
    # A burn is left short for the dark alone: a minute more would be over 16 h of light.
    assert np.all(lamp.length[short] > 16 * HOUR - MINUTE)
    assert bool(short.any()) == any("stays shorter" in text for text in said(lamp))
    # Only ever earlier on and later off, so that no day is shorter.
    assert not (lamp.on_utc > without.on_utc).any()
    assert not (lamp.off_utc < without.off_utc).any()
    assert np.array_equal(lamp.length - without.length, lamp.lengthened.astype("m8[us]"))
    more = lamp.lengthened > NONE
    assert bool(more.any()) == any("is lengthened" in text for text in said(lamp))
    assert np.all(lamp.length[more] <= 16 * HOUR)
    # Days without a burn that is too short are as they were, and so is the step of their weeks.
    enough = ~(without.off_utc - without.on_utc < least * MINUTE).any(axis=0)
    assert not lamp.lengthened[enough].any()
    # A burn that is lengthened is no longer than the least, each by itself.
    grown = (lamp.off_utc - lamp.on_utc) > (without.off_utc - without.on_utc)
    assert np.all(burns[grown] <= least * MINUTE)
    lit = lamp.lit
    assert np.all(lamp.on_utc[0, lit] >= plan.day_start_utc[lit])
    assert np.all(np.fmax(*lamp.off_utc)[lit] <= plan.day_end_utc[lit])


@pytest.mark.parametrize("side", SIDES)
def test_a_burn_grows_away_from_the_day(side):
    text = f'lamp = "{side}"\nleast_burn_min = '
    flash = lamp_of(UTRECHT, "2027-08-20", 20, f"{text}0\n")
    lamp = lamp_of(UTRECHT, "2027-08-20", 20, f"{text}15\n")
    row = int(np.flatnonzero(lamp.lit)[0])
    assert (flash.off_utc - flash.on_utc)[0, row] < 6 * MINUTE
    for turn in range(1 + (side == "both")):
        on, off = lamp.on_utc[turn, row], lamp.off_utc[turn, row]
        assert off - on == 15 * MINUTE
        evening = on > lamp.lengths.plan.sun.transit[row]
        kept = (flash.off_utc[turn, row], flash.on_utc[turn, row])[int(evening)]
        assert kept == (off, on)[int(evening)]
    assert not lamp.short.any()
    assert "so the day is up to" in said(lamp)[0]
    assert "weekly_step_min" not in said(lamp)[0]


def test_a_step_under_the_least_burn_is_said_to_be_exceeded():
    text = 'lamp = "morning"\nlamp_from = 2027-11-01\nweekly_step_min = 5\n'
    lamp = lamp_of(UTRECHT, "2027-11-01", 60, text)
    first = (lamp.off_utc - lamp.on_utc)[0, 0]
    assert first == 15 * MINUTE
    assert "beyond weekly_step_min (5)" in said(lamp)[0]
    # By the third week the steps have passed the least burn, and it changes nothing any more.
    assert not lamp.lengthened[21:].any()


def test_sixteen_hours_of_light_leave_a_burn_short_and_say_on_which_days():
    lamp = lamp_of(UTRECHT, "2027-07-01", 40, 'lamp = "morning"\nwanted_h = 16.0\n')
    assert lamp.short.any()
    assert "8 h of dark: 2027-07-" in said(lamp)[-1]
    assert lamp.length.max() <= lamp.lengths.counted.length.max() + 2 * MINUTE


def test_in_the_polar_night_it_grows_on_both_sides():
    text = 'lamp = "evening"\nlamp_from = 2027-12-01\nweekly_step_min = 20\nleast_burn_min = 90\n'
    lamp = lamp_of(NY_ALESUND, "2027-12-01", 2, text)
    transit = lamp.lengths.plan.sun.transit
    assert minutes(lamp.off_utc[0] - lamp.on_utc[0]) == [90] * 3
    assert np.all(abs((transit - lamp.on_utc[0]) - 45 * MINUTE) <= 2 * MINUTE)


def test_the_first_days_step_is_kept_where_the_least_burn_allows():
    """A step of half an hour holds a burn of a quarter: the first week is as it was."""
    text = 'lamp = "morning"\nlamp_from = 2027-11-01\nleast_burn_min = '
    np.testing.assert_array_equal(
        lamp_of(UTRECHT, "2027-11-01", 30, f"{text}15\n").on_utc,
        lamp_of(UTRECHT, "2027-11-01", 30, f"{text}0\n").on_utc,
    )


@settings(max_examples=20, deadline=None)
@given(cases())
def test_a_lamps_light_is_what_it_burns_without_the_civil_day(case):
    lamp = lamp_of(*case)
    light = lamp_light(lamp.lengths)
    natural = lamp.lengths.by["civil"].light
    for stretches in light:
        assert np.all(stretches.start < stretches.end)
        assert np.all(stretches.end[:-1] <= stretches.start[1:])
    assert (light.burns.end - light.burns.start).sum() == lamp.burning.sum()
    last = np.array([lamp.lengths.plan.day_end_utc[-1]])
    # The overlap, minute by minute of each flock day: neither more nor less is taken away.
    starts, ends = natural
    overlap = sum(
        np.maximum(np.minimum(off, ends) - np.maximum(on, starts), NONE)[~np.isnat(on)].sum()
        for on, off in zip(lamp.on_utc, lamp.off_utc, strict=True)
    )
    assert (light.burns.before(last) - light.alone.before(last))[0] == overlap
