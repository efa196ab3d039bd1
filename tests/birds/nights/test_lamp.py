"""Lamp light in lock-ins: what of the waking part is the lamp's, by due times."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.birds.nights import csv as nights_csv
from daylatch.birds.nights import json as nights_json
from daylatch.birds.nights import text as nights_text
from daylatch.birds.nights.nights import make_nights
from daylatch.birds.nights.summary import summarize_nights
from daylatch.birds.nights.waking_causes import Cause, waking_by_cause
from daylatch.commands.birds.shut_in import nights_of
from daylatch.commands.due import due_of
from daylatch.paper.pictures.nights import draw_nights
from daylatch.plan.due import exactly
from daylatch.sun.crossings import sun_position
from sites import FALLBACKS, LONGYEARBYEN, LORD_HOWE, TAMPERE, UTRECHT, Spot, plan

MINUTE = np.timedelta64(1, "m")
HOUR = np.timedelta64(1, "h")
NONE = np.timedelta64(0)
LONG = np.timedelta64(14, "h")
SHUT = "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-10\nshut = true\n"
LATE = '[open]\nfallback = "06:00"\nnot_before = "08:30"\n[close]\nfallback = "21:00"\n'
TIMER = '[door]\nworks = "timer"\n[timer]\ntolerance_min = 20\n'
DARK = '[open]\ndark_fallback = "10:00"\n[close]\ndark_fallback = "13:00"\n'


def laying(side="morning", more=""):
    return f'[laying]\nlamp = "{side}"\n{more}'


def nights(spot, first, last=None, text=""):
    return nights_of(plan(spot, first, last, text))


def burns_of(made):
    lengths = make_day_lengths(made)
    lamp = make_lamp(lengths, exactly(made))
    return lamp.on_utc, lamp.off_utc


def sampled(spot, start, end, burns, step_s=20):
    """Return how long in a lock-in it is light or a lamp burns, and how long a lamp alone does."""
    step = np.timedelta64(step_s, "s")
    instants = np.arange(start, end, step)
    day = sun_position(spot.latitude, spot.longitude, instants).altitude_deg > -6.0
    burning = np.zeros(len(instants), bool)
    for on, off in zip(*map(np.ravel, burns), strict=True):
        burning |= (on <= instants) & (instants < off)
    return (day | burning).sum() * step, (burning & ~day).sum() * step, burning.sum() * step


@pytest.mark.parametrize(
    ("spot", "first", "last", "text"),
    [
        (UTRECHT, "2027-01-10", "2027-01-12", laying()),
        (UTRECHT, "2027-01-10", "2027-01-12", laying("both") + TIMER),
        # From before the due closing on, and after it.
        (LORD_HOWE, "2027-06-10", "2027-06-12", laying("evening")),
        (UTRECHT, "2027-02-06", "2027-02-09", laying() + SHUT),
        (LONGYEARBYEN, "2027-12-20", "2027-12-22", DARK + laying()),
        (TAMPERE, "2027-10-01", "2027-10-03", LATE + laying("both", 'counts = "civil"\n')),
    ],
)
def test_the_waking_part_is_day_or_lamp_by_the_sun_and_the_lamps_own_times(spot, first, last, text):
    made = plan(spot, first, last, text)
    found = nights_of(made)
    # The lamp's times far around the range, from a plan of its own.
    around = [str(made.dates[0] - 3), str(made.dates[-1] + 6)]
    burns = burns_of(plan(spot, *around, text))
    assert len(found)
    for row in range(len(found)):
        parts = sampled(spot, found.start_utc[row], found.end_utc[row], burns)
        for part, told in zip(
            parts, (found.waking[row], found.lamp_lit[row], found.lamp_burns[row]), strict=True
        ):
            assert abs(told - part) <= 20 * np.timedelta64(20, "s")
    assert (found.waking + found.dark == found.length).all()
    assert (found.lamp_lit > NONE).all()


def test_a_lamp_over_closing_and_over_opening_counts_behind_the_door_alone():
    """In the evening it goes on before the door shuts, in the morning off after it has opened."""
    text = laying("both", "wanted_h = 16.0\n")
    made = plan(UTRECHT, "2027-01-10", "2027-01-12", text)
    found = nights_of(made)
    on, off = burns_of(plan(UTRECHT, "2027-01-10", "2027-01-13", text))
    opens = plan(UTRECHT, "2027-01-10", "2027-01-13", text).open_utc
    assert (on[1][:3] < made.close_utc).all()
    assert (off[0] > opens).all()
    evening = off[1][:3] - made.close_utc
    morning = opens[1:] - on[0][1:]
    np.testing.assert_array_equal(found.lamp_burns, (evening + morning).astype("m8[us]"))
    # Flock day by flock day: its own morning before opening, its own evening after closing.
    np.testing.assert_array_equal(
        found.day_burns, (opens[:3] - on[0][:3] + evening).astype("m8[us]")
    )


@st.composite
def houses(draw):
    """Return a place and a site's tables with a lamp, and perhaps rules, shut days or a timer."""
    spot = Spot(draw(st.floats(-68, 68)), 25.0, "Europe/Helsinki")
    side = draw(st.sampled_from(["morning", "evening", "both"]))
    counts = draw(st.sampled_from(["sunrise", "civil"]))
    more = f'counts = "{counts}"\nwanted_h = {draw(st.sampled_from([14.0, 16.0]))}\n'
    if draw(st.booleans()):
        more += f"lamp_from = 2027-02-{draw(st.integers(1, 28)):02}\n"
    rules = draw(st.sampled_from([FALLBACKS, LATE]))
    return spot, rules + laying(side, more) + draw(st.sampled_from(["", SHUT]))


@settings(max_examples=20, deadline=None)
@given(houses(), st.integers(0, 300), st.integers(2, 25), st.integers(1, 24))
def test_pieces_are_the_whole_and_parts_add_up_with_a_lamp(house, first, count, cut):
    spot, text = house
    start = np.datetime64("2027-01-01") + first
    middle, end = start + min(cut, count - 1), start + count
    whole = nights(spot, str(start), str(end), text)
    pieces = [
        nights(spot, str(start), str(middle), text),
        nights(spot, str(middle + 1), str(end), text),
    ]
    names = ("length", "waking", "dark", "lamp_lit", "lamp_burns")
    for name in (*names, "day_waking", "day_lamp", "day_burns"):
        joined = np.concatenate([getattr(piece, name) for piece in pieces])
        np.testing.assert_array_equal(joined, getattr(whole, name), name)
    known = whole.known
    assert (whole.waking + whole.dark)[known].tolist() == whole.length[known].tolist()
    assert (whole.lamp_lit[known] >= NONE).all()
    assert (whole.dark[known] >= NONE).all()
    assert (whole.lamp_lit <= whole.waking)[known].all()
    assert (whole.lamp_lit <= whole.lamp_burns)[known].all()
    assert (whole.day_waking <= whole.day_shut).all()
    parts = waking_by_cause(whole)
    assert (sum(parts.values()) == whole.day_waking).all()
    assert (parts.get(Cause.LAMP, whole.day_lamp) == whole.day_lamp).all()


def test_what_works_the_door_and_the_lamp_answer_for_their_parts():
    text = laying("both") + TIMER + SHUT
    found = nights(UTRECHT, "2027-02-01", "2027-02-28", text)
    parts = waking_by_cause(found)
    assert list(parts)[-2:] == [Cause.WORKS, Cause.LAMP]
    assert (sum(parts.values()) == found.day_waking).all()
    # A timer opens later than planned: light behind a shut door that is the timer's doing.
    assert parts[Cause.WORKS].sum() > NONE
    without = nights(UTRECHT, "2027-02-01", "2027-02-28", text.replace('"both"', '"none"'))
    lamp = parts.pop(Cause.LAMP)
    assert (found.day_waking - lamp == without.day_waking).all()
    assert {cause: part.sum() for cause, part in waking_by_cause(without).items()} == {
        cause: part.sum() for cause, part in parts.items()
    }


def test_without_a_lamp_nothing_is_the_lamps():
    made = plan(UTRECHT, "2027-02-01", "2027-02-05", laying("none"))
    found = nights_of(made)
    assert not found.has_lamp
    assert not found.lamp_lit.any()
    assert Cause.LAMP not in waking_by_cause(found)
    np.testing.assert_array_equal(found.waking, make_nights(due_of(made)).waking)


def test_every_form_tells_how_much_is_the_lamps():
    found = nights(UTRECHT, "2027-01-10", "2027-01-20", laying())
    summary = summarize_nights(found, LONG)
    expected = [round(float(lit / MINUTE)) for lit in found.lamp_lit]
    assert min(expected) > 120
    rows = list(csv.DictReader(io.StringIO(nights_csv.render(summary).decode(), newline="")))
    assert [int(row["lamp_min"]) for row in rows] == expected
    data = json.loads(nights_json.render(summary))
    assert [night["lamp_min"] for night in data["nights"]] == expected
    told = data["summary"]["waking_min_by_rule"]["lamp"]
    assert told == round(float(found.day_lamp.sum() / MINUTE))
    text = " ".join(nights_text.render(summary).decode().split())
    hours = float(found.day_lamp.sum() / HOUR)
    assert f", {hours:.0f} h of that by the lamp alone" in text
    assert "below the horizon, or a lamp on." in text
    assert f"lamp +{hours:.0f} h" in text
    picture = draw_nights(found, dt.date(2027, 1, 15))
    assert "The light part is that of day or lamp." in picture.description
    plain = summarize_nights(nights(UTRECHT, "2027-01-10", "2027-01-20"), LONG)
    assert "lamp" not in nights_text.render(plain).decode()
    assert "lamp" not in draw_nights(plain.nights).description
