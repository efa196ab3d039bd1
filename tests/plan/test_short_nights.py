"""A new file makes sense of short nights: held against the plans that it gives."""

import datetime as dt
import re
import tempfile
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import daylatch.commands.begin.new as command
from daylatch.clock import zone_at
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.plan.short_nights import Remedy, find_short_nights, has_long_nights
from daylatch.site.reading.site_file import load_site
from daylatch.site.told.contradictions import contradictions
from sites import Spot, site

MINUTE = np.timedelta64(1, "m")
PLACES = {
    "Tromsø": Spot(69.65, 18.96, "Europe/Oslo"),
    "Tampere": Spot(61.5, 23.76, "Europe/Helsinki"),
    "Anchorage": Spot(61.22, -149.9, "America/Anchorage"),
    "Fairbanks": Spot(64.84, -147.72, "America/Anchorage"),
    "Nome": Spot(64.5, -165.4, "America/Nome"),
    "Utqiagvik": Spot(71.29, -156.79, "America/Anchorage"),
    "Reykjavik": Spot(64.15, -21.94, "Atlantic/Reykjavik"),
    "Nuuk": Spot(64.18, -51.74, "America/Nuuk"),
    "Ittoqqortoormiit": Spot(70.48, -21.97, "America/Scoresbysund"),
    "Murmansk": Spot(68.97, 33.09, "Europe/Moscow"),
    "Tiksi": Spot(71.64, 128.87, "Asia/Yakutsk"),
    "Ola, Magadan": Spot(60.1, 151.3, "Asia/Magadan"),
    "Palana, Kamchatka's north": Spot(60.5, 160.4, "Asia/Kamchatka"),
    "Provideniya": Spot(64.42, -173.23, "Asia/Anadyr"),
    "off Svalbard's longitude": Spot(71.9, 15.6, "Etc/GMT-1"),
    "Casey": Spot(-66.28, 110.53, "Antarctica/Casey"),
    "Mawson": Spot(-67.6, 62.87, "Antarctica/Mawson"),
    "Rothera": Spot(-67.57, -68.13, "Antarctica/Rothera"),
    # Just past 72 degrees, and its clock goes by two hours amid the short nights.
    "Troll": Spot(-72.01, 2.53, "Antarctica/Troll"),
}


def new_file(latitude, longitude, zone, today, everything=False):
    """Return the site that `daylatch new` writes there on a day."""
    place = (f"{latitude!r}", f"{longitude!r}")
    answers = command.Answers("Long Day House", *place, None, zone, None, None)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "site.toml"
        with patch.object(command, "now_utc", lambda: np.datetime64(f"{today}T12:00:00", "s")):
            command.run([file], answers, like=None, everything=everything, force=False)
        return load_site(file)


def faults(made, first, days=400):
    """Return what does not make sense of a year and more of due times."""
    last = first + dt.timedelta(days=days - 1)
    plan = make_plan(made, first, last, with_second_opinion=False)
    due = exactly(plan)
    found = [f"in daylight {date}" for date in plan.dates[due.closes_in_daylight]]
    for name, instants in (("open", due.open_utc), ("close", due.close_utc)):
        local = plan.on_wall(instants)
        of_day = local.wall - plan.dates.astype("datetime64[m]")
        same_clock = ~plan.has_clock_change[1:] & ~plan.has_clock_change[:-1]
        same_clock &= local.offset[1:] == local.offset[:-1]
        # A day that the door stays shut has no time: NaT is never greater.
        jumps = (np.abs(np.diff(of_day)) > 15 * MINUTE) & same_clock
        found += [f"{name} jumps {date}" for date in plan.dates[1:][jumps]]
    short = due.lock_in < 6 * 60 * MINUTE
    return found + [f"short night {date}" for date in plan.dates[short]]


# --- What must hold ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", PLACES)
def test_a_new_file_makes_sense_at_real_places(name):
    made = new_file(*PLACES[name], "2027-01-15")
    assert faults(made, dt.date(2027, 1, 15), 800) == []
    assert list(contradictions(made, dt.date(2027, 1, 15))) == []
    assert made.settings.open.not_before == made.settings.open.fallback
    assert made.settings.close.not_after == made.settings.close.fallback


@settings(max_examples=6, deadline=None)
@given(
    st.floats(60, 72),
    st.sampled_from([1, -1]),
    st.floats(-180, 180),
    st.dates(dt.date(2024, 1, 1), dt.date(2032, 12, 31)),
    st.booleans(),
)
def test_a_new_file_makes_sense_anywhere_near_the_polar_circles(
    latitude, side, longitude, today, everything
):
    zone = zone_at(side * latitude, longitude)
    assume(zone is not None)
    made = new_file(side * latitude, longitude, zone, today, everything)
    assert faults(made, today) == []


@settings(max_examples=6, deadline=None)
@given(st.floats(45, 60), st.sampled_from([1, -1]), st.floats(-180, 180))
def test_a_new_file_makes_sense_where_nights_begin_to_be_short(latitude, side, longitude):
    zone = zone_at(side * latitude, longitude)
    assume(zone is not None)
    today = dt.date(2027, 1, 15)
    assert faults(new_file(side * latitude, longitude, zone, today), today) == []


@pytest.mark.parametrize("latitude", [73, 78.22, 83, 89, 90, -74.5, -80])
def test_nearer_the_poles_only_the_rims_of_the_dark_season_jump(latitude):
    made = new_file(latitude, 15.0, "Etc/GMT-1", "2027-01-15")
    found = faults(made, dt.date(2027, 1, 15))
    assert all(" jumps " in one for one in found)
    assert made.settings.open.fallback is not None
    assert made.settings.open.dark_fallback is made.settings.close.dark_fallback is None


# --- What the check finds, so that it can fail -------------------------------------------------

TIMES = '[open]\nnot_before = "05:30"\nfallback = "05:30"\n[close]\n'


def test_fixed_clock_times_shut_birds_out_in_alaska():
    text = TIMES + 'not_after = "22:30"\nfallback = "22:30"\n'
    found = faults(site(PLACES["Nome"], text), dt.date(2027, 1, 15))
    assert sum(one.startswith("in daylight") for one in found) > 80


def test_fallbacks_without_limits_jump_and_leave_short_nights():
    text = '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'
    found = faults(site(PLACES["Tromsø"], text), dt.date(2027, 1, 15))
    assert any(one.startswith("open jumps") for one in found)
    assert any(one.startswith("close jumps") for one in found)
    assert any(one.startswith("short night") for one in found)


# --- How they are counted ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "opening", "closing"),
    [
        # By hand: the lower transit is 12 h from noon by the clock, that is 24:00 plus four minutes
        # a degree that the place lies west of its clock's meridian, less the equation of time,
        # whose greatest value is about +3 min 40 s from May to July (Meeus, Astronomical
        # Algorithms, ch. 28) and +16 min 25 s in early November, for the southern places.
        ("Tromsø", "05:30", "22:30"),  # 24:44.2 - 3.7 = 24:40.5; less 2:15 22:25.5
        ("Tampere", "06:15", "23:15"),  # 25:25.0 - 3.7 = 25:21.3; less 2:15 23:06.3
        ("Nome", "07:45", "00:45"),  # 27:01.6 - 3.7 = 26:57.9; less 2:15 24:42.9
        ("Reykjavik", "06:15", "23:15"),  # 25:27.8 - 3.7 = 25:24.1; less 2:15 23:09.1
        ("Casey", "05:15", "22:15"),  # 24:37.9 - 16.4 = 24:21.5; less 2:15 22:06.5
    ],
)
def test_times_are_counted_from_the_lowest_sun(name, opening, closing):
    (found,) = find_short_nights([site(PLACES[name])], dt.date(2027, 1, 15))
    assert (str(found.open), str(found.close)) == (opening, closing)
    assert found.remedy is Remedy.LIMITS


def test_where_the_clock_changes_amid_short_nights_the_later_clock_keeps_off_daylight():
    troll = PLACES["Troll"]
    (found,) = find_short_nights([site(troll)], dt.date(2027, 1, 15))
    made = new_file(*troll, "2027-01-15")
    plan = make_plan(made, dt.date(2027, 9, 1), dt.date(2028, 4, 1), with_second_opinion=False)
    to_night = plan.day_end_utc - plan.close_utc
    by_the_clock = plan.on_wall(plan.close_utc).wall.astype("datetime64[m]") - plan.dates.astype(
        "datetime64[m]"
    ) == np.timedelta64(found.close.minutes, "m")
    assert np.ptp(plan.on_wall(plan.close_utc).offset[by_the_clock]) == 120 * MINUTE
    assert to_night[by_the_clock].max() <= np.timedelta64(165, "m")
    assert to_night[by_the_clock].min() > np.timedelta64(15, "m")


@pytest.mark.parametrize(
    ("latitude", "remedy"),
    [
        # The Sun's hour angle H at civil dusk on the longest day, with declination d of 23.44:
        # cos H = (sin -6 - sin lat sin d) / (cos lat cos d); the night is twice 180 degrees less H.
        (0, Remedy.NONE),
        (50.5, Remedy.NONE),  # 6 h 02 min
        (51, Remedy.LEAST_NIGHT),  # 5 h 54 min
        (54, Remedy.LEAST_NIGHT),  # 5 h 02 min
        (54.5, Remedy.LIMITS),  # 4 h 51 min
        (60, Remedy.LIMITS),
        (61, Remedy.LIMITS),
        (90, Remedy.LIMITS),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_what_is_written_goes_by_the_shortest_night(latitude, remedy, side):
    (found,) = find_short_nights([site(Spot(side * latitude, 0.0, "UTC"))], dt.date(2027, 1, 15))
    assert found.remedy is remedy
    assert bool(found.bright.size) == (latitude > 60.6)


def test_a_least_night_says_why(capsys):
    made = new_file(52.09, 5.12, "Europe/Amsterdam", "2027-01-15")
    assert made.settings.night.least_h == 6
    assert made.settings.open.fallback is made.settings.open.not_before is None
    assert re.search(
        r"Note: nights here get as short as 5 h 3\d min; so the door closes earlier and opens "
        r"later then, for nights of 6 h \(least_h of \[night\] in the file; change it to suit\)\.",
        capsys.readouterr().out,
    )


def test_past_the_end_of_a_zones_rules_nothing_is_counted():
    (nearly,) = find_short_nights([site(PLACES["Tromsø"])], dt.date(2036, 6, 1))
    assert nearly.days == 30 * 7 + 4 + 365
    assert (str(nearly.open), str(nearly.close)) == ("05:30", "22:30")


def test_in_a_block_each_site_has_the_nights_that_it_has_alone():
    spots = [Spot(latitude, 18.0, "Europe/Oslo") for latitude in (30.0, 51.0, 58.0, 66.0, 71.0)]
    first = dt.date(2027, 1, 1)
    for spot, found in zip(spots, find_short_nights(list(map(site, spots)), first), strict=True):
        (alone,) = find_short_nights([site(spot)], first)
        assert (found.open, found.close, found.remedy) == (alone.open, alone.close, alone.remedy)
        assert found.shortest == alone.shortest
        assert (found.bright.tolist(), found.dark.tolist()) == (
            alone.bright.tolist(),
            alone.dark.tolist(),
        )


@given(latitude=st.floats(-80, 80), longitude=st.floats(-180, 180))
@settings(max_examples=40, deadline=None)
def test_where_nights_are_surely_long_there_is_no_remedy(latitude, longitude):
    zone = zone_at(latitude, longitude)
    assume(zone is not None)
    (found,) = find_short_nights([site(Spot(latitude, longitude, zone))], dt.date(2027, 1, 1))
    if has_long_nights(latitude):
        assert found.remedy is Remedy.NONE
    else:
        # The bound is no looser than it need be.
        assert abs(latitude) > 49


def test_the_poles_have_no_long_nights():
    assert not has_long_nights(90.0)
    assert not has_long_nights(-90.0)
    assert has_long_nights(0.0)
