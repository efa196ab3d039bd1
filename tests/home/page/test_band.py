"""The day's band, against the plan and the Sun's crossings."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest

from daylatch.home.page.band import make_band
from daylatch.home.page.present import Present
from daylatch.plan.due import exactly
from daylatch.plan.moment import days_around, moment_at
from daylatch.wording import FACE_12_HOURS
from sites import FALLBACKS, LORD_HOWE, NY_ALESUND, TAMPERE, UTRECHT, site


def band_at(spot, instant, settings="", face=None):
    place = site(spot, settings)
    now = np.datetime64(instant)
    due = exactly(days_around(place, now))
    moment = moment_at(due, now)
    present = Present(now, due.plan.zone, face or place.face)
    return make_band(due, moment.index, present), due, moment.index


def test_what_is_due_stands_where_it_is_due():
    band, due, index = band_at(UTRECHT, "2027-03-10T12:00:00")
    begins = due.plan.day_start_utc[index].astype("datetime64[m]")
    length = due.plan.day_end_utc[index].astype("datetime64[m]") - begins
    marks = {mark.kind: mark for mark in band.marks}
    for kind, times in (
        ("opens", due.open_utc),
        ("shuts", due.close_utc),
        ("count", due.head_count_utc),
    ):
        share = (times[index] - begins) / length * 100
        assert marks[kind].at == pytest.approx(share, abs=0.1)
    assert [mark.kind for mark in band.marks] == ["opens", "now", "shuts", "count"]
    assert marks["now"].words == "now 13:00"
    opens, long = band.open
    assert opens == marks["opens"].at
    assert opens + long == pytest.approx(marks["shuts"].at, abs=0.02)


def test_the_sky_is_whole_and_its_light_lasts_from_sunrise_to_sunset():
    band, due, index = band_at(UTRECHT, "2027-03-10T12:00:00")
    assert band.sky[0].begins == 0
    for one, other in pairwise(band.sky):
        assert one.begins + one.length == pytest.approx(other.begins, abs=0.02)
        assert abs(one.shade - other.shade) == 1
    assert band.sky[-1].begins + band.sky[-1].length == pytest.approx(100, abs=0.02)
    (light,) = [one for one in band.sky if one.shade == 4]
    sun = due.plan.sun
    lasts = (sun.sunset[index] - sun.sunrise[index]) / np.timedelta64(1, "D") * 100
    assert light.length == pytest.approx(lasts, abs=0.2)
    assert [one.name for one in band.sky if one.name] == ["night", "light", "night"]


def test_in_polar_night_and_in_white_nights_it_is_what_it_is():
    dark, _, _ = band_at(NY_ALESUND, "2027-01-05T12:00:00", FALLBACKS)
    assert {one.shade for one in dark.sky} <= {0, 1, 2}
    assert dark.open == ()
    assert [mark.kind for mark in dark.marks] == ["now"]
    white, due, index = band_at(NY_ALESUND, "2027-06-20T12:00:00", FALLBACKS)
    assert [one.shade for one in white.sky] == [4]
    assert "light for about 24 h" in white.words
    assert not np.isnat(due.close_utc[index])


def test_a_count_after_the_lowest_sun_is_on_the_band():
    settings = "[close]\nlight = 2\noffset_min = 15\n"
    band, _, _ = band_at(TAMPERE, "2027-06-20T12:00:00", settings + "[open]\nlight=2\n")
    count = next(mark for mark in band.marks if mark.kind == "count")
    assert 0 < count.at < 100


@pytest.mark.parametrize("instant", ["2027-04-03T20:00:00", "2027-10-02T20:00:00"])
def test_hours_are_those_of_the_wall_clock_also_where_it_jumps_by_half_an_hour(instant):
    band, due, index = band_at(LORD_HOWE, instant)
    begins = due.plan.day_start_utc[index].astype("datetime64[m]")
    length = due.plan.day_end_utc[index].astype("datetime64[m]") + np.timedelta64(1, "m") - begins
    shown = {}
    for tick in band.ticks:
        at = begins + np.timedelta64(round(tick.at / 100 * (length / np.timedelta64(1, "m"))), "m")
        wall = due.plan.zone.to_local(np.array([at])).wall[0]
        assert str(wall)[-2:] == "00", tick
        shown[tick.label] = str(wall)[-5:]
    del shown[""]
    assert shown == {"06:00": "06:00", "12:00": "12:00", "18:00": "18:00"}


def test_it_is_told_in_words():
    band, _, _ = band_at(UTRECHT, "2027-03-10T12:00:00", face=FACE_12_HOURS)
    assert re.match(r"Opens \d:\d\d AM, now 1:00 PM, shuts \d:\d\d PM, count heads", band.words)


@pytest.mark.parametrize(
    ("instant", "anchor"),
    [
        ("2027-03-10T00:00:00", "start"),
        ("2027-03-10T12:00:00", "middle"),
        ("2027-03-10T23:20:00", "end"),
    ],
)
def test_the_label_of_now_stays_on_the_screen(instant, anchor):
    band, _, _ = band_at(UTRECHT, instant)
    assert band.now_anchor == anchor
