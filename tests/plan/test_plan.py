"""The plan's corners, each with a real place and date."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.errors import PlanError, SecondOpinionError
from daylatch.plan.block import next_opening_after
from daylatch.plan.daily.inputs import gather_inputs
from daylatch.plan.daily.rules import Rule
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.plan.summary import summarize
from daylatch.sun.crossings import SkyState, SunPositions
from sites import (
    APIA,
    FALLBACKS,
    KIRITIMATI,
    LONGYEARBYEN,
    LORD_HOWE,
    NY_ALESUND,
    SINGAPORE,
    TAMPERE,
    UTRECHT,
    Spot,
    closes,
    minutes,
    opens,
    plan,
    site,
    wall,
)

SUNRISE = (
    '[open]\nlight = "sunrise"\nfallback = "05:30"\n[close]\nlight = "sunset"\nfallback = "22:30"\n'
)


def test_utrecht_over_the_spring_change_of_clocks():
    found = plan(UTRECHT, "2027-03-27", "2027-03-29")
    assert found.has_clock_change.tolist() == [False, True, False]
    # Wall-clock times jump by an hour, the time shut in does not.
    assert opens(found) == ["2027-03-27T06:08", "2027-03-28T07:06", "2027-03-29T07:03"]
    shut = minutes(exactly(found).lock_in)
    assert max(shut) - min(shut) <= 10


def test_utrecht_over_the_autumn_change_of_clocks():
    found = plan(UTRECHT, "2027-10-30", "2027-11-01")
    (change,) = found.clock_changes
    assert str(change.instant_utc) == "2027-10-31T01:00:00"
    assert change.minutes == -60
    assert max(minutes(exactly(found).lock_in)) - min(minutes(exactly(found).lock_in)) <= 10


def test_singapore_dawn_lies_on_the_utc_day_before():
    found = plan(SINGAPORE, "2027-03-27")
    assert opens(found) == ["2027-03-27T07:01"]
    assert str(found.sun.sunrise[0])[:16] == "2027-03-26T23:06"


def test_tampere_dusk_after_midnight_belongs_to_its_flock_day():
    found = plan(TAMPERE, "2027-05-28", "2027-06-06", FALLBACKS)
    assert closes(found)[0] == "2027-05-29T00:34"
    assert found.dates[0] == np.datetime64("2027-05-28")
    # The offset would carry the closing of 4 June past the lowest Sun.
    assert found.day(7).close.decided_by is Rule.DAY_EDGE
    assert found.day(8).close.decided_by is Rule.FALLBACK
    assert found.day(8).open.decided_by is Rule.LIGHT
    assert found.day(8).close.sky is SkyState.ALWAYS_ABOVE


def test_tampere_without_fallbacks_is_an_error_that_names_the_dates():
    with pytest.raises(PlanError) as raised:
        plan(TAMPERE, "2027-06-01", "2027-07-31")
    text = str(raised.value)
    assert "2027-06-06 to 2027-07-08: " in text
    assert "open.fallback" in text
    assert "close.fallback" in text


def test_ny_alesund_in_december_stays_shut_and_looks_ahead_for_the_next_opening():
    found = plan(NY_ALESUND, "2027-10-20", "2027-12-31")
    last = int(np.flatnonzero(found.is_open)[-1])
    assert found.dates[last] < np.datetime64("2027-11-20")
    assert not found.is_open[found.dates >= np.datetime64("2027-12-01")].any()
    assert {Rule(code) for code in found.decisions.open.decided_by[last + 1 :]} == {Rule.DARK}
    beyond = wall(found, found.next_open_utc)[last]
    assert beyond.startswith("2028-01") or beyond.startswith("2028-02")
    assert found.next_open_utc[last] == next_opening_after(found.site, found.dates[-1])


def test_ny_alesund_opens_on_dark_days_where_the_keeper_says_so():
    settings = '[open]\ndark_fallback = "10:00"\n[close]\ndark_fallback = "13:00"\n'
    found = plan(NY_ALESUND, "2027-12-21", "2027-12-21", settings)
    assert (opens(found), closes(found)) == (["2027-12-21T10:00"], ["2027-12-21T13:00"])
    assert found.day(0).open.decided_by is Rule.DARK_FALLBACK


def test_longyearbyen_2016_spring_sets_after_midnight_before_the_midnight_sun():
    # icepeople.net, 2016-04-14: 17 April rise 01:58 and no sunset on that civil date; 18 April
    # set 00:32, rise 01:20, then up.
    found = plan(LONGYEARBYEN, "2016-04-17", "2016-04-19", SUNRISE)
    rises = wall(found, found.sun.sunrise)
    sets = wall(found, found.sun.sunset)
    for got, printed in (
        (rises[0], "2016-04-17T01:58"),
        (sets[0], "2016-04-18T00:32"),
        (rises[1], "2016-04-18T01:20"),
    ):
        assert abs(np.datetime64(got) - np.datetime64(printed)) <= np.timedelta64(1, "m")
    assert (sets[1], rises[2], sets[2]) == ("NaT", "NaT", "NaT")
    assert [day.close.decided_by for day in found.days] == [
        Rule.LIGHT,
        Rule.FALLBACK,
        Rule.FALLBACK,
    ]


def test_longyearbyen_2020_august_has_two_sunsets_on_one_civil_date():
    # icepeople.net, 2020-08-25: set 00:10, rise 01:50, set 23:45.
    found = plan(LONGYEARBYEN, "2020-08-24", "2020-08-25", SUNRISE)
    sets = wall(found, found.sun.sunset)
    for got, printed in zip(sets, ("2020-08-25T00:10", "2020-08-25T23:45"), strict=True):
        assert abs(np.datetime64(got) - np.datetime64(printed)) <= np.timedelta64(1, "m")
    assert closes(found)[0].startswith("2020-08-25T00:")


def test_kiritimati_keeps_the_other_side_of_the_date_line():
    found = plan(KIRITIMATI, "2027-01-01", "2027-01-02")
    assert [text[:13] for text in opens(found)] == ["2027-01-01T06", "2027-01-02T06"]
    noon = wall(found, found.sun.transit)
    assert [text[:13] for text in noon] == ["2027-01-01T12", "2027-01-02T12"]


def test_apia_has_no_row_for_the_date_it_skipped():
    found = plan(APIA, "2011-12-28", "2012-01-01")
    assert [str(date) for date in found.dates] == [
        "2011-12-28",
        "2011-12-29",
        "2011-12-31",
        "2012-01-01",
    ]
    # The night over the skipped date is as long as any other.
    assert max(minutes(exactly(found).lock_in)) - min(minutes(exactly(found).lock_in)) <= 2
    with pytest.raises(PlanError, match="skipped every date"):
        plan(APIA, "2011-12-30")


def test_a_date_that_was_held_twice_is_an_error():
    kwajalein = Spot(9.0, 167.5, "Pacific/Kwajalein")
    with pytest.raises(PlanError, match="held 1969-09-30 twice"):
        plan(kwajalein, "1969-09-28", "1969-10-02")
    assert len(plan(kwajalein, "1969-10-01", "1969-10-02")) == 2


def test_the_south_pole_needs_a_longitude_that_fits_its_zone():
    with pytest.raises(PlanError, match="more than six hours from 12:00"):
        plan(Spot(-90, 0, "Antarctica/McMurdo"), "2027-01-01", settings=FALLBACKS)
    found = plan(Spot(-90, 170, "Antarctica/McMurdo"), "2027-01-01", "2027-01-03", FALLBACKS)
    assert {day.open.decided_by for day in found.days} == {Rule.FALLBACK}
    assert found.second_opinion.beyond_reach
    dark = plan(Spot(-90, 170, "Antarctica/McMurdo"), "2027-06-01", "2027-06-03", FALLBACKS)
    assert not dark.is_open.any()


def test_lord_howe_moves_its_clocks_by_half_an_hour():
    found = plan(LORD_HOWE, "2027-04-03", "2027-04-05")
    assert [change.minutes for change in found.clock_changes] == [-30]
    # A change that was missed would show as 30 minutes.
    assert max(minutes(exactly(found).lock_in)) - min(minutes(exactly(found).lock_in)) <= 5


def test_the_end_of_the_zone_rules_is_an_error():
    with pytest.raises(PlanError, match="the rules for Europe/Amsterdam end with 2037"):
        plan(UTRECHT, "2037-12-30", "2038-01-01")
    assert len(plan(UTRECHT, "2037-12-30", "2037-12-31")) == 2
    # No clock change is due in Singapore.
    assert len(plan(SINGAPORE, "2038-01-01", "2038-01-02")) == 2


def test_the_first_plans_show_no_clock_change_that_never_was():
    # The zone data begin on 1901-12-13; before it stands local mean time without end.
    new_york = Spot(40.7, -74.0, "America/New_York")
    assert plan(new_york, "1902-01-01", "1902-12-31").clock_changes == []
    with pytest.raises(PlanError, match="plans can be made from 1902-01-01"):
        plan(new_york, "1901-12-31", "1902-01-02")


def test_a_change_at_midnight_shows_on_the_first_day_of_a_plan():
    santiago = Spot(-33.45, -70.67, "America/Santiago")
    assert plan(santiago, "2027-09-05", "2027-09-06").has_clock_change.tolist() == [True, False]


@pytest.mark.parametrize(
    ("first", "last"), [("1899-01-01", "1900-02-01"), ("2101-01-01", "2101-01-02")]
)
def test_dates_beyond_the_sun_are_an_error(first, last):
    with pytest.raises(PlanError, match="plans can be made from"):
        plan(SINGAPORE, first, last)


def test_a_reversed_range_is_an_error():
    with pytest.raises(PlanError, match="swap the dates"):
        plan(SINGAPORE, "2027-02-01", "2027-01-01")


def test_a_limit_in_the_spring_gap_means_the_first_instant_after_it():
    # In New York the clock goes from 02:00 to 03:00 on 2027-03-14: there is no 02:30.
    new_york = Spot(40.7, -74.0, "America/New_York")
    settings = '[open]\nlight = "astronomical"\noffset_min = -300\nnot_before = "02:30"\n'
    found = plan(new_york, "2027-03-13", "2027-03-15", settings)
    assert opens(found) == ["2027-03-13T02:30", "2027-03-14T03:00", "2027-03-15T02:30"]


def test_a_limit_in_the_autumn_fold_gives_the_shorter_open_time():
    # Clocks go back at 03:00 CEST on 2027-10-31: 02:30 comes twice.
    opening = plan(UTRECHT, "2027-10-31", settings='[open]\nlight = "astronomical"\n'
                   'offset_min = -300\nnot_before = "02:30"\n')  # fmt: skip
    assert str(opening.open_utc[0]) == "2027-10-31T01:30"


def test_a_late_limit_after_midnight_is_an_instant_of_the_same_flock_day():
    found = plan(
        TAMPERE, "2027-05-28", "2027-05-28", '[close]\nnot_after = "00:20"\n' + FALLBACKS[:26]
    )
    assert closes(found) == ["2027-05-29T00:20"]
    assert found.day(0).close.decided_by is Rule.NOT_AFTER


def test_shut_days_need_no_fallback_and_run_into_one_lock_in():
    settings = "[[span]]\nfrom = 2027-06-01\nuntil = 2027-07-15\nshut = true\n"
    found = plan(TAMPERE, "2027-05-31", "2027-07-16", settings)
    assert int((~found.is_open).sum()) == 45
    assert found.next_open_utc[0] == found.open_utc[-1]


def test_an_open_ended_lock_in():
    settings = "[[span]]\nfrom = 2027-02-02\nuntil = 2030-01-01\nshut = true\n"
    found = plan(UTRECHT, "2027-02-01", "2027-02-03", settings)
    assert minutes(exactly(found).lock_in) == [None, None, None]
    assert found.is_open.tolist() == [True, False, False]


def test_a_lock_in_before_a_day_that_cannot_be_planned_has_no_known_end():
    # Without fallbacks the plan ends before the white nights; what follows is not known, and the
    # first dawn after them is no answer.
    found = plan(TAMPERE, "2027-06-03", "2027-06-04")
    assert not np.isnat(found.next_open_utc[0])
    assert np.isnat(found.next_open_utc[-1])
    assert next_opening_after(found.site, found.dates[-1]) is None


def test_a_shut_span_up_to_the_end_of_the_zone_rules_ends_within_them():
    settings = "[[span]]\nfrom = 2037-12-02\nuntil = 2037-12-20\nshut = true\n"
    found = plan(UTRECHT, "2037-12-01", "2037-12-05", settings)
    assert wall(found, found.next_open_utc)[0].startswith("2037-12-21T08:")


def test_spans_change_only_what_they_give_and_later_ones_win():
    settings = """
[[span]]
from = 2027-03-01
until = 2027-03-10
close.offset_min = 30
open.offset_min = 0
[[span]]
from = 2027-03-05
until = 2027-03-06
close.offset_min = 60
"""
    plain = plan(UTRECHT, "2027-03-01", "2027-03-10")
    found = plan(UTRECHT, "2027-03-01", "2027-03-10", settings)
    later = [int(d // np.timedelta64(1, "m")) for d in found.close_utc - plain.close_utc]
    assert later == [15, 15, 15, 15, 45, 45, 15, 15, 15, 15]
    assert {int(d // np.timedelta64(1, "m")) for d in found.open_utc - plain.open_utc} == {-15}


def test_conflicting_settings_are_errors_that_name_the_dates():
    settings = """
[[span]]
from = 2027-03-05
until = 2027-03-06
open.fixed = "12:00"
close.fixed = "11:00"
"""
    with pytest.raises(PlanError, match="2027-03-05 to 2027-03-06: the fixed opening"):
        plan(UTRECHT, "2027-03-01", "2027-03-10", settings)


def test_the_door_clock_is_shown_beside_the_wall():
    found = plan(UTRECHT, "2027-07-01", settings='[door]\nclock = "standard"\n')
    assert opens(found)[0][11:] > str(found.on_door(found.open_utc).wall[0])[11:]
    assert str(found.on_door(found.open_utc).offset[0]) == "60 minutes"
    utc = plan(UTRECHT, "2027-07-01", settings='[door]\nclock = "utc"\n')
    assert (utc.on_door(utc.open_utc).wall == utc.open_utc).all()


def test_a_row_carries_its_whole_trace():
    day = plan(UTRECHT, "2027-06-21", settings='[open]\nnot_before = "06:30"\n').day(0)
    assert day.date == dt.date(2027, 6, 21)
    assert day.open.started_by is Rule.LIGHT
    assert [step.rule for step in day.open.steps] == [Rule.NOT_BEFORE]
    assert day.open.start_utc + np.timedelta64(day.open.steps[0].minutes, "m") == day.open.time_utc
    assert day.open.event_utc < day.open.start_utc


def test_the_second_opinion_stops_a_plan_whose_sun_is_wrong(monkeypatch):
    # A Sun 1 degree off, as a slip in the engine might give it.
    true = gather_inputs.__globals__["sun_crossings"]

    def wrong(latitude, longitude, dates, altitude):
        return true(latitude, longitude, dates, np.asarray(altitude) + 1.0)

    monkeypatch.setitem(gather_inputs.__globals__, "sun_crossings", wrong)
    found = plan(UTRECHT, "2027-03-01", "2027-03-10")
    # Events are only 6 minutes off then, and matched; astral's own stand at the right altitude.
    assert found.second_opinion.worst_s > 200
    import daylatch.sun.second_opinion as module  # noqa: PLC0415

    def wrong_place(latitude, longitude, instants):
        right = module.__dict__["true_position"](latitude, longitude, instants)
        return SunPositions(right.altitude_deg + 1.0, right.azimuth_deg)

    monkeypatch.setattr(module, "true_position", module.sun_position, raising=False)
    monkeypatch.setattr(module, "sun_position", wrong_place)
    with pytest.raises(SecondOpinionError, match="disagrees"):
        plan(UTRECHT, "2027-03-01", "2027-03-10")


def test_planning_the_same_site_object_twice_gives_the_same():
    here = site(UTRECHT)
    one, two = (make_plan(here, dt.date(2027, 1, 1), dt.date(2027, 1, 5)) for _ in range(2))
    assert (one.open_utc == two.open_utc).all()


def test_an_opening_in_the_dark_of_the_evening_is_said():
    found = plan(
        UTRECHT,
        "2027-01-05",
        "2027-01-08",
        "[open]\noffset_min = 720\n[close]\noffset_min = 400\n",
    )
    text = " ".join(" ".join(summarize(exactly(found))).split())
    assert (
        "Beyond the guard 4 days: 2027-01-05 to 2027-01-08; it opens in the dark of the evening on "
        "4 days" in text
    )


def test_several_plans_of_a_place_ask_for_the_second_opinion_once(monkeypatch):
    import daylatch.sun.second_opinion as module  # noqa: PLC0415

    # Places that no other test asks about.
    here, elsewhere = (Spot(41.2345, east, "Europe/Madrid") for east in (1.2345, 1.2346))
    first = plan(here, "2027-03-01", "2027-03-10")

    def asked_again(*arguments, **options):
        raise AssertionError("astral was asked again")

    for name in ("sunrise", "sunset", "time_at_elevation"):
        monkeypatch.setattr(module, name, asked_again)
    later = plan(here, "2027-03-01", "2027-03-10", "[close]\noffset_min = 40\n")
    assert later.second_opinion == first.second_opinion
    assert later.second_opinion.checked == 20
    with pytest.raises(AssertionError, match="asked again"):
        plan(elsewhere, "2027-03-01", "2027-03-10")
