"""Time zones: against pytz's own tables, its own localising, and a second reader of the rules.

The transitions written out below were computed from IANA's rule text as published with version
2026f; a new version of pytz may change them, so its version is asked first.
"""

import datetime as dt
import itertools
import zoneinfo

import numpy as np
import pytest
import pytz
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from daylatch import clock
from daylatch.clock import (
    Fold,
    UnknownZoneError,
    WallTime,
    get_zone,
    zone_at,
    zone_landmark,
    zone_names,
    zone_rules_date,
    zone_rules_version,
)
from daylatch.errors import PlanError

FIRST, END = dt.datetime(1900, 1, 1), dt.datetime(2038, 1, 1)  # noqa: DTZ001 - UTC, as pytz has it
MINUTE = np.timedelta64(1, "m")
# The first use of a zone's year computes its changes, which must not count as slowness.
untimed = settings(deadline=None)


def days(*texts):
    return np.array(texts, "datetime64[D]")


def minutes(*texts):
    return np.array(texts, "datetime64[m]")


def changes(zone, first, last):
    """Return the changes of a zone as naive UTC, before [min] and after [min]."""
    found = get_zone(zone).changes(np.datetime64(first, "s"), np.datetime64(last, "s"))
    return [(c.instant_utc.item(), int(c.before // MINUTE), int(c.after // MINUTE)) for c in found]


def dumped(zone):
    """Return the same from the lists that pytz reads out of its zone files."""
    rules = pytz.timezone(zone)
    times = getattr(rules, "_utc_transition_times", [])
    offsets = [
        int(info[0].total_seconds() // 60) for info in getattr(rules, "_transition_info", [])
    ]
    rows = zip(times[1:], offsets[:-1], offsets[1:], strict=True)
    return tuple(row for row in rows if row[1] != row[2])


@pytest.fixture(scope="module")
def rule_sets():
    """One zone's name for each set of changes: half of all names are other names of a zone."""
    sets = {}
    for name in pytz.all_timezones:
        sets.setdefault(dumped(name), name)
    return {name: rows for rows, name in sets.items()}


# --- Transitions known from IANA's rules -------------------------------------------------------


@pytest.fixture
def rules_2026f():
    found = zone_rules_version()
    assert found == "2026f", (
        f"pytz now carries the rules of {found}: look through IANA's NEWS since 2026f, bring the "
        "transitions in this file up to date, and then this version"
    )


def at(text):
    return dt.datetime.fromisoformat(text)


TRANSITIONS = {
    # Second Sunday of March, first Sunday of November.
    "America/New_York": [
        ("2026-03-08 07:00", -300, -240),
        ("2026-11-01 06:00", -240, -300),
        ("2027-03-14 07:00", -300, -240),
        ("2027-11-07 06:00", -240, -300),
    ],
    # Last Sundays of March and October, 01:00 UTC.
    "Europe/London": [
        ("2026-03-29 01:00", 0, 60),
        ("2026-10-25 01:00", 60, 0),
        ("2027-03-28 01:00", 0, 60),
        ("2027-10-31 01:00", 60, 0),
    ],
    "Europe/Berlin": [
        ("2026-03-29 01:00", 60, 120),
        ("2026-10-25 01:00", 120, 60),
        ("2027-03-28 01:00", 60, 120),
        ("2027-10-31 01:00", 120, 60),
    ],
    # Irish law calls summer time the standard; the clocks do the same.
    "Europe/Dublin": [
        ("2026-03-29 01:00", 0, 60),
        ("2026-10-25 01:00", 60, 0),
        ("2027-03-28 01:00", 0, 60),
        ("2027-10-31 01:00", 60, 0),
    ],
    # Half an hour.
    "Australia/Lord_Howe": [
        ("2026-04-04 15:00", 660, 630),
        ("2026-10-03 15:30", 630, 660),
        ("2027-04-03 15:00", 660, 630),
        ("2027-10-02 15:30", 630, 660),
    ],
    # Two hours.
    "Antarctica/Troll": [
        ("2026-03-29 01:00", 0, 120),
        ("2026-10-25 01:00", 120, 0),
        ("2027-03-28 01:00", 0, 120),
        ("2027-10-31 01:00", 120, 0),
    ],
    # An hour back for Ramadan, and in September 2026 for good, by decree.
    "Africa/Casablanca": [
        ("2026-02-15 02:00", 60, 0),
        ("2026-03-22 02:00", 0, 60),
        ("2026-09-20 01:00", 60, 0),
    ],
    "Africa/El_Aaiun": [
        ("2026-02-15 02:00", 60, 0),
        ("2026-03-22 02:00", 0, 60),
        ("2026-09-20 01:00", 60, 0),
    ],
    # Daylight saving for good from 2026.
    "America/Vancouver": [("2026-03-08 10:00", -480, -420)],
    "America/St_Johns": [
        ("2026-03-08 05:30", -210, -150),
        ("2026-11-01 04:30", -150, -210),
        ("2027-03-14 05:30", -210, -150),
        ("2027-11-07 04:30", -150, -210),
    ],
    "Pacific/Chatham": [
        ("2026-04-04 14:00", 825, 765),
        ("2026-09-26 14:00", 765, 825),
        ("2027-04-03 14:00", 825, 765),
        ("2027-09-25 14:00", 765, 825),
    ],
    # At local midnight: that date has no 00:00 in spring.
    "America/Santiago": [
        ("2026-04-05 03:00", -180, -240),
        ("2026-09-06 04:00", -240, -180),
        ("2027-04-04 03:00", -180, -240),
        ("2027-09-05 04:00", -240, -180),
    ],
    "Africa/Cairo": [
        ("2026-04-23 22:00", 120, 180),
        ("2026-10-29 21:00", 180, 120),
        ("2027-04-29 22:00", 120, 180),
        ("2027-10-28 21:00", 180, 120),
    ],
    "America/Phoenix": [],
    "Asia/Kathmandu": [],
}


@pytest.mark.usefixtures("rules_2026f")
@pytest.mark.parametrize("zone", TRANSITIONS)
def test_transitions_of_2026_and_2027(zone):
    expected = [(at(text), before, after) for text, before, after in TRANSITIONS[zone]]
    assert changes(zone, "2026-01-01", "2028-01-01") == expected


@pytest.mark.parametrize(("zone", "offset"), [("America/Phoenix", -420), ("Asia/Kathmandu", 345)])
def test_zones_that_never_change_keep_their_offset(zone, offset):
    year = np.arange("2026-01-01T00:00", "2028-01-01T00:00", 360, dtype="datetime64[m]")
    assert set(get_zone(zone).offset_at(year).astype(int)) == {offset}


def test_a_change_tells_by_how_much_clocks_are_put_on():
    found = get_zone("Australia/Lord_Howe").changes(
        np.datetime64("2026-01-01", "s"), np.datetime64("2026-12-31", "s")
    )
    assert [change.minutes for change in found] == [-30, 30]


def test_changes_leave_out_the_first_instant_and_take_the_last():
    before, change = "2026-03-29T00:59:59", "2026-03-29T01:00:00"
    assert len(changes("Europe/London", before, change)) == 1
    assert changes("Europe/London", change, "2026-03-30") == []
    assert changes("Europe/London", "2026-03-28", before) == []


def test_a_change_at_the_very_turn_of_a_utc_year_is_found_once(rule_sets):
    """Each year's changes are looked for by themselves, so that one could fall between two."""
    turns = [
        (name, row)
        for name, rows in rule_sets.items()
        for row in rows
        if row[0] >= FIRST and (row[0].month, row[0].day, row[0].time()) == (1, 1, dt.time())
    ]
    assert len(turns) >= 3
    for name, row in turns:
        around = (row[0] - dt.timedelta(days=3), row[0] + dt.timedelta(days=3))
        assert changes(name, *around) == [row], name


# --- Every zone against pytz's own lists -------------------------------------------------------


def test_changes_are_never_so_close_that_one_could_be_missed(rule_sets):
    """The offset is asked every five days, so that two changes within them could cancel out."""
    nearest = {
        name: min((b[0] - a[0] for a, b in itertools.pairwise(rows)), default=dt.timedelta.max)
        for name, rows in rule_sets.items()
    }
    assert len(nearest) > 300
    assert min(nearest.values()) > dt.timedelta(days=5)


def test_recent_changes_of_every_zone(rule_sets):
    first, last = dt.datetime(2025, 1, 1), END  # noqa: DTZ001
    wrong = [
        name
        for name, rows in rule_sets.items()
        if changes(name, first, last) != [row for row in rows if first < row[0] <= last]
    ]
    assert wrong == []


def test_changes_less_than_ten_days_apart(rule_sets):
    pairs = 0
    for name, rows in rule_sets.items():
        for one, other in itertools.pairwise(rows):
            if one[0] >= FIRST and other[0] - one[0] < dt.timedelta(days=10):
                window = (one[0] - dt.timedelta(days=90), other[0] + dt.timedelta(days=90))
                expected = [row for row in rows if window[0] < row[0] <= window[1]]
                assert changes(name, *window) == expected, name
                pairs += 1
    assert pairs >= 5


def test_changes_since_1900_of_a_sample_of_zones(rule_sets):
    # Those with the most changes, and every twentieth of the others.
    busy = sorted(rule_sets, key=lambda name: -len(rule_sets[name]))
    for name in busy[:4] + busy[4::20]:
        expected = [row for row in rule_sets[name] if FIRST < row[0] <= END]
        assert changes(name, FIRST, END) == expected, name


# --- Wall-clock times against pytz's explicit errors -------------------------------------------

zones = st.sampled_from(pytz.common_timezones)
walls = st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2037, 12, 30)).map(  # noqa: DTZ001
    lambda wall: wall.replace(second=0, microsecond=0)
)


@st.composite
def walls_at_changes(draw):
    """Return a zone and a wall-clock time within a few hours of one of its changes."""
    zone = draw(zones)
    rows = [row for row in dumped(zone) if 1990 <= row[0].year <= 2037]
    assume(rows)
    instant, before, _ = draw(st.sampled_from(rows))
    wall = instant + dt.timedelta(minutes=before + draw(st.integers(-300, 300)))
    return zone, wall.replace(second=0)


def read_by_pytz(zone, wall):
    """Return what a wall-clock time is to pytz, and the instants that it can mean."""
    rules = pytz.timezone(zone)
    try:
        instant = rules.localize(wall, is_dst=None).astimezone(pytz.utc).replace(tzinfo=None)
    except (pytz.NonExistentTimeError, pytz.AmbiguousTimeError) as error:
        for instant, before, after in dumped(zone):
            old, new = (instant + dt.timedelta(minutes=m) for m in (before, after))
            if isinstance(error, pytz.NonExistentTimeError) and old <= wall < new:
                return "gap", instant, instant
            if isinstance(error, pytz.AmbiguousTimeError) and new <= wall < old:
                return "fold", instant - (old - wall), instant + (wall - new)
        raise
    return "exists", instant, instant


def check_against_pytz(zone, wall):
    kind, earlier, later = read_by_pytz(zone, wall)
    asked = np.array([wall], "datetime64[m]")
    assert get_zone(zone).to_instants(asked, Fold.EARLIER)[0].item() == earlier
    assert get_zone(zone).to_instants(asked, Fold.LATER)[0].item() == later
    return kind


@settings(untimed, max_examples=300)
@given(zones, walls)
def test_any_wall_clock_time_is_read_as_pytz_reads_it(zone, wall):
    check_against_pytz(zone, wall)


@settings(untimed, max_examples=400)
@given(walls_at_changes())
def test_wall_clock_times_around_changes(case):
    check_against_pytz(*case)


@pytest.mark.parametrize(
    ("zone", "wall", "kind"),
    [
        ("Europe/Amsterdam", "2027-03-28 02:30", "gap"),
        ("Europe/Amsterdam", "2027-03-28 02:00", "gap"),
        ("Europe/Amsterdam", "2027-03-28 03:00", "exists"),
        ("Europe/Amsterdam", "2027-10-31 02:30", "fold"),
        ("Europe/Amsterdam", "2027-10-31 03:00", "exists"),
        ("Europe/Dublin", "2027-10-31 01:30", "fold"),
        ("Australia/Lord_Howe", "2027-10-03 02:15", "gap"),
        ("Australia/Lord_Howe", "2027-04-04 01:45", "fold"),
        ("Antarctica/Troll", "2027-03-28 02:59", "gap"),
        ("Antarctica/Troll", "2027-10-31 01:00", "fold"),
        # Local midnight does not exist (IANA, southamerica: Chile, 2019 Sep 8).
        ("America/Santiago", "2019-09-08 00:00", "gap"),
        ("Africa/Cairo", "2027-04-30 00:30", "gap"),
        ("Pacific/Apia", "2011-12-30 12:00", "gap"),
    ],
)
def test_gaps_and_folds_by_name(zone, wall, kind):
    assert check_against_pytz(zone, at(wall)) == kind


def test_a_time_in_a_gap_is_the_first_instant_after_it():
    asked = minutes("2027-03-28T02:00", "2027-03-28T02:30", "2027-03-28T02:59", "2027-03-28T03:00")
    for fold in Fold:
        found = get_zone("Europe/Amsterdam").to_instants(asked, fold)
        assert found.tolist() == minutes(*["2027-03-28T01:00"] * 4).tolist()


def test_a_time_in_a_fold_is_the_instant_that_was_asked_for():
    asked = minutes("2027-10-31T01:59", "2027-10-31T02:30", "2027-10-31T03:00")
    zone = get_zone("Europe/Amsterdam")
    assert np.array_equal(
        zone.to_instants(asked, Fold.EARLIER),
        minutes("2027-10-30T23:59", "2027-10-31T00:30", "2027-10-31T02:00"),
    )
    assert np.array_equal(
        zone.to_instants(asked, Fold.LATER),
        minutes("2027-10-30T23:59", "2027-10-31T01:30", "2027-10-31T02:00"),
    )


@settings(untimed, max_examples=200)
@given(zones, walls)
def test_instants_come_back_through_the_wall_clock(zone, instant):
    asked = np.array([instant], "datetime64[m]")
    local = get_zone(zone).to_local(asked)
    assert local.wall - local.offset == asked
    back = {get_zone(zone).to_instants(local.wall, fold)[0] for fold in Fold}
    assert asked[0] in back


def test_missing_times_stay_missing_and_nothing_gives_nothing():
    zone = get_zone("Europe/Oslo")
    times = minutes("2027-06-01T12:00", "NaT")
    assert np.isnat(zone.to_local(times).wall).tolist() == [False, True]
    assert np.isnat(zone.offset_at(times)).tolist() == [False, True]
    for fold in Fold:
        assert np.isnat(zone.to_instants(times, fold)).tolist() == [False, True]
        assert zone.to_instants(minutes(), fold).shape == (0,)
        assert np.isnat(zone.to_instants(minutes("NaT"), fold)).all()
    assert zone.to_local(minutes()).wall.shape == (0,)


def test_arrays_keep_their_shape():
    zone = get_zone("America/St_Johns")
    times = minutes("2027-01-01T12:00", "2027-07-01T12:00", "NaT", "2027-03-14T02:30")
    flat = zone.to_instants(times, Fold.EARLIER)
    assert np.array_equal(
        zone.to_instants(times.reshape(2, 2), Fold.EARLIER), flat.reshape(2, 2), equal_nan=True
    )


# --- A second reader of the rules --------------------------------------------------------------


@pytest.fixture(scope="module")
def second_reader():
    """zoneinfo on the package tzdata, never on the system's own zone files."""
    import tzdata  # noqa: PLC0415 - its version belongs to the comparison

    assert zone_rules_version() == tzdata.IANA_VERSION, (
        "pytz and tzdata carry different rules: install matching versions to compare them"
    )
    kept = zoneinfo.TZPATH
    zoneinfo.reset_tzpath(())
    zoneinfo.ZoneInfo.clear_cache()
    yield zoneinfo.ZoneInfo
    zoneinfo.reset_tzpath(kept)
    zoneinfo.ZoneInfo.clear_cache()


def test_offsets_equal_those_of_zoneinfo(second_reader):
    generator = np.random.default_rng(2027)
    first, last = (int(np.datetime64(d, "m").astype(int)) for d in ("1990-01-01", "2037-12-31"))
    for name in generator.choice(pytz.all_timezones, 60, replace=False):
        times = generator.integers(first, last, 200).astype("datetime64[m]")
        zone = second_reader(str(name))
        expected = [
            t.replace(tzinfo=dt.UTC).astimezone(zone).utcoffset().total_seconds() / 60
            for t in times.tolist()
        ]
        assert get_zone(str(name)).offset_at(times).astype(int).tolist() == expected, name


# --- The occurrence nearest to an instant ------------------------------------------------------


def test_a_closing_after_midnight_is_the_nearest_occurrence():
    zone = get_zone("Europe/Helsinki")
    found = zone.occurrence_nearest(
        np.array([30, 22 * 60, 0], "timedelta64[m]"),
        days("2027-06-20", "2027-06-20", "NaT"),
        minutes("2027-06-20T16:00", "2027-06-20T16:00", "NaT"),
        Fold.EARLIER,
    )
    assert found[:2].tolist() == minutes("2027-06-20T21:30", "2027-06-20T19:00").tolist()
    assert np.isnat(found[2])
    nothing = zone.occurrence_nearest(
        np.array(["NaT"], "timedelta64[m]"),
        days("2027-06-20"),
        minutes("2027-06-20T16:00"),
        Fold.EARLIER,
    )
    assert np.isnat(nothing).all()


@settings(untimed, max_examples=200)
@given(
    st.one_of(st.tuples(zones, walls), walls_at_changes()),
    st.integers(0, 1439),
    st.integers(-720, 720),
    st.sampled_from(Fold),
)
def test_the_nearest_occurrence_is_taken(case, minute, shift, fold):
    zone, target = case
    date = (target + dt.timedelta(minutes=shift)).date()
    options = []
    for days_away in (-1, 0, 1):
        midnight = dt.datetime.combine(date + dt.timedelta(days=days_away), dt.time())
        _, earlier, later = read_by_pytz(zone, midnight + dt.timedelta(minutes=minute))
        options.append(earlier if fold is Fold.EARLIER else later)
    found = get_zone(zone).occurrence_nearest(
        np.array([minute], "timedelta64[m]"),
        np.array([date], "datetime64[D]"),
        np.array([target], "datetime64[m]"),
        fold,
    )
    assert found[0].item() in options
    assert abs(found[0].item() - target) == min(abs(option - target) for option in options)


# --- Noons -------------------------------------------------------------------------------------


def noon(zone, *dates):
    found, twice = get_zone(zone).noons(days(*dates))
    return found.tolist(), twice.tolist()


def test_noons_through_a_clock_change():
    assert noon("Europe/Amsterdam", "2027-03-27", "2027-03-28", "2027-10-31") == (
        minutes("2027-03-27T11:00", "2027-03-28T10:00", "2027-10-31T11:00").tolist(),
        [False, False, False],
    )


@pytest.mark.parametrize(
    ("zone", "skipped"),
    [
        ("Pacific/Apia", "2011-12-30"),
        ("Pacific/Fakaofo", "2011-12-30"),
        ("Pacific/Kwajalein", "1993-08-21"),
        ("Pacific/Kiritimati", "1994-12-31"),
    ],
)
def test_a_date_that_the_calendar_skipped_has_no_noon(zone, skipped):
    """IANA, australasia: the dates on which islands crossed the date line westwards."""
    day = np.datetime64(skipped)
    found, twice = noon(zone, day - 1, day, day + 1)
    assert found[1] is None
    assert found[2] - found[0] == dt.timedelta(days=1)
    assert twice == [False] * 3


def test_a_date_held_twice_is_told_with_its_first_noon():
    """IANA, australasia: Kwajalein went from UTC+11 to UTC-12 as 1969-09-30 ended."""
    found, twice = noon("Pacific/Kwajalein", "1969-09-29", "1969-09-30", "1969-10-01")
    assert twice == [False, True, False]
    assert found == minutes("1969-09-29T01:00", "1969-09-30T01:00", "1969-10-02T00:00").tolist()


@pytest.mark.parametrize(
    ("zone", "noon_utc"),
    [
        ("Pacific/Kiritimati", "2026-12-31T22:00"),  # UTC+14
        ("Pacific/Pago_Pago", "2027-01-01T23:00"),  # UTC-11
        ("Pacific/Chatham", "2026-12-31T22:15"),  # UTC+13:45 in summer
        ("UTC", "2027-01-01T12:00"),
    ],
)
def test_noon_at_the_ends_of_the_world(zone, noon_utc):
    assert noon(zone, "2027-01-01") == (minutes(noon_utc).tolist(), [False])


# --- Standard time, the end of the rules -------------------------------------------------------


@pytest.mark.usefixtures("rules_2026f")
@pytest.mark.parametrize(
    ("zone", "year", "offset"),
    [
        # Winter time, though Irish law calls summer time the standard.
        ("Europe/Dublin", 2027, 0),
        # Ramadan's clock is the lowest until the decree makes it the only one.
        ("Africa/Casablanca", 2025, 0),
        ("Africa/Casablanca", 2026, 0),
        ("Africa/Casablanca", 2027, 0),
        ("Australia/Lord_Howe", 2027, 630),
        # The year begins on the old winter time; the next one knows only the new time.
        ("America/Vancouver", 2026, -480),
        ("America/Vancouver", 2027, -420),
        ("Asia/Kathmandu", 2027, 345),
        ("Antarctica/Troll", 2027, 0),
    ],
)
def test_standard_time_is_the_lowest_of_the_year(zone, year, offset):
    dates = days(f"{year}-01-01", f"{year}-07-01", f"{year}-12-31")
    assert get_zone(zone).standard_offset(dates).astype(int).tolist() == [offset] * 3


def test_standard_time_of_dates_in_several_years():
    dates = days("2027-07-01", "2026-07-01").reshape(2, 1)
    found = get_zone("America/Vancouver").standard_offset(dates)
    assert found.shape == (2, 1)
    assert found.astype(int).ravel().tolist() == [-420, -480]


def test_dates_past_the_rules_are_refused_where_clocks_change():
    zone = get_zone("Europe/Amsterdam")
    zone.require_rules(dt.date.fromisoformat("2037-12-31"))
    with pytest.raises(PlanError) as caught:
        zone.require_rules(dt.date.fromisoformat("2038-01-01"))
    assert str(caught.value) == (
        "the rules for Europe/Amsterdam end with 2037 and the plan would reach 2038-01-01, where "
        "its clock changes are not known: end it by 2037-12-31"
    )


@pytest.mark.parametrize("zone", ["America/Phoenix", "Asia/Kathmandu", "UTC", "Asia/Shanghai"])
def test_dates_past_the_rules_are_fine_where_clocks_never_change(zone):
    get_zone(zone).require_rules(dt.date.fromisoformat("2060-01-01"))


def test_every_zone_that_changes_clocks_in_2037_ends_with_the_rules(rule_sets):
    for name, rows in rule_sets.items():
        changing = any(row[0].year == 2037 for row in rows)
        assert get_zone(name).rules_end == (dt.date(2037, 12, 31) if changing else None), name
        try:
            get_zone(name).require_rules(dt.date.fromisoformat("2038-06-01"))
        except PlanError:
            assert changing, name
        else:
            assert not changing, name


# --- Names and places --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        ".",
        "..",
        "../etc",
        "../../../../etc/passwd",
        "/etc/localtime",
        "Europe",
        "Europe/",
        "Europe/../Europe/Oslo",
        "europe/amsterdam",
        "EUROPE/AMSTERDAM",
        "Europe/Amsterdam ",
        "Europe/Amsterdam\0",
        "Europe\\Amsterdam",
        "zone.tab",
        "local",
        "CEST",
        "UTC+1",
        "Åland",
        "x" * 100_000,
    ],
)
def test_names_that_are_no_zone_are_refused(name):
    with pytest.raises(UnknownZoneError):
        get_zone(name)


def test_every_listed_zone_can_be_had():
    names = zone_names()
    assert len(names) > 500
    for name in names:
        assert get_zone(name).name == name


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (52.37, 4.9, "Europe/Amsterdam"),
        (-33.45, -70.67, "America/Santiago"),
        (1.87, -157.4, "Pacific/Kiritimati"),
        (-31.55, 159.08, "Australia/Lord_Howe"),
        (-43.95, -176.55, "Pacific/Chatham"),
        (27.7, 85.32, "Asia/Kathmandu"),
        (78.22, 15.65, "Arctic/Longyearbyen"),
        (0.0, -30.0, "Etc/GMT+2"),
    ],
)
def test_zone_of_a_place(latitude, longitude, zone):
    assert zone_at(latitude, longitude) == zone


def test_every_zone_of_a_place_is_one_that_can_be_had():
    generator = np.random.default_rng(7)
    for latitude, longitude in zip(
        generator.uniform(-90, 90, 300), generator.uniform(-180, 180, 300), strict=True
    ):
        zone = zone_at(float(latitude), float(longitude))
        assert zone is None or get_zone(zone).name == zone


@pytest.mark.parametrize(
    ("zone", "latitude", "longitude"),
    # ISO 6709 in IANA's zone.tab: +5222+00454, -3327-07040, +643/N and so on.
    [
        ("Europe/Amsterdam", 52 + 22 / 60, 4 + 54 / 60),
        ("America/Santiago", -33 - 27 / 60, -70 - 40 / 60),
        ("Pacific/Chatham", -43 - 57 / 60, -176 - 33 / 60),
        ("Atlantic/Reykjavik", 64 + 9 / 60, -21 - 51 / 60),
        # With seconds: -720041+0023206, of which whole minutes are enough.
        ("Antarctica/Troll", -72.0, 2 + 32 / 60),
    ],
)
def test_landmark_of_a_zone(zone, latitude, longitude):
    assert zone_landmark(zone) == pytest.approx((latitude, longitude), abs=1e-9)


@pytest.mark.parametrize("zone", ["UTC", "Etc/GMT+2", "US/Eastern", "nowhere", "", "#"])
def test_zones_without_a_landmark(zone):
    assert zone_landmark(zone) is None


def test_landmarks_lie_in_their_own_zones():
    """For nearly all; some islands and borders are coarser in one list than in the other."""
    named = [(name, zone_landmark(name)) for name in pytz.common_timezones[::4]]
    named = [(name, place) for name, place in named if place]
    same = sum(dumped(zone_at(*place) or "UTC")[-2:] == dumped(name)[-2:] for name, place in named)
    assert len(named) > 80
    assert same / len(named) > 0.95


# --- The age of the rules ----------------------------------------------------------------------


@pytest.mark.usefixtures("rules_2026f")
def test_date_of_the_rules():
    """IANA released 2026f in the second half of 2026, after July's leap-second bulletin."""
    assert dt.date(2026, 7, 1) <= zone_rules_date() <= dt.date(2026, 12, 31)


def test_date_of_the_rules_without_a_leap_second_list(monkeypatch):
    def missing(name):
        raise FileNotFoundError(name)

    monkeypatch.setattr(clock.pytz, "open_resource", missing)
    assert zone_rules_date() == dt.date(int(zone_rules_version()[:4]), 1, 1)
    assert zone_landmark("Europe/Amsterdam") is None


# --- Times of day ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "minute"), [("00:00", 0), ("6:30", 390), ("06:30", 390), ("23:59", 1439)]
)
def test_times_of_day_are_read(text, minute):
    assert WallTime.parse(text).minutes == minute


@given(st.integers(0, 1439))
def test_times_of_day_come_back_from_their_text(minute):
    assert WallTime.parse(str(WallTime(minute))) == WallTime(minute)


@pytest.mark.parametrize(
    "text",
    [
        *["", "24:00", "6:60", "6.30", "0630", "6:3", "06:30:00", "6:30 am", "-1:00", " 6:30"],
        *["6:30\n", "\u0660\u0666:\u0663\u0660", "06\uff1a30"],
    ],
)
def test_other_texts_are_no_time_of_day(text):
    with pytest.raises(ValueError, match="write a 24-hour time"):
        WallTime.parse(text)


@pytest.mark.parametrize("minute", [-1, 1440])
def test_no_time_of_day_lies_outside_the_day(minute):
    with pytest.raises(ValueError, match="between 00:00 and 23:59"):
        WallTime(minute)


# --- Distances with seconds --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "first", "last", "expected"),
    [
        # Monrovia kept 44 min 30 s behind until 1972-01-07 (tz database, africa).
        ("Africa/Monrovia", "1971-01-01", "1972-12-31", "1972-01-06"),
        ("Africa/Monrovia", "1971-01-01", "1971-06-30", "1971-06-30"),
        ("Africa/Monrovia", "1972-01-08", "2027-12-31", None),
        ("Europe/London", "1902-01-01", "1972-12-31", None),
        ("Pacific/Niue", "1950-01-01", "1960-12-31", "1952-10-15"),
    ],
)
def test_the_last_date_with_seconds_is_found(zone, first, last, expected):
    found = get_zone(zone).last_with_seconds(*map(dt.date.fromisoformat, (first, last)))
    assert found == (expected and dt.date.fromisoformat(expected))


def test_no_zone_has_seconds_after_the_date_up_to_which_they_are_looked_for():
    for name in zone_names():
        with pytz.open_resource(name) as file:
            exact = zoneinfo.ZoneInfo.from_file(file)
        for year in range(1973, 2037, 3):
            for month in (1, 7):
                noon = dt.datetime(year, month, 1, 12, tzinfo=dt.UTC)
                assert not noon.astimezone(exact).utcoffset().seconds % 60, name
