"""Crossings against printed tables. Sources of each row: README.md beside this file."""

import csv
import re
from pathlib import Path

import erfa
import numpy as np
import pandas as pd
import pytest
from pvlib.solarposition import sun_rise_set_transit_spa

from daylatch.sun.crossings import SkyState, sun_crossings, sun_position
from daylatch.sun.ephemeris import JULIAN_DATE_OF_1970

HERE = Path(__file__).parent
DAY = np.timedelta64(1, "D")
SECOND = np.timedelta64(1, "s")
SUNRISE_DEG, CIVIL_DEG = -0.8333, -6.0
EVENTS = {
    "sunrise": (SUNRISE_DEG, "rising"),
    "sunset": (SUNRISE_DEG, "setting"),
    "transit": (SUNRISE_DEG, "transit"),
    "civil dawn": (CIVIL_DEG, "rising"),
    "civil dusk": (CIVIL_DEG, "setting"),
    "nautical dawn": (-12.0, "rising"),
    "astronomical dawn": (-18.0, "rising"),
}


def instants_of_dates(latitude_deg, longitude_deg, dates, event, utc_offset_h=0):
    """Return, for each date of a clock, the clock times [datetime64] of one kind of event on it."""
    altitude_deg, side = EVENTS[event]
    days = np.arange(dates[0] - 2, dates[-1] + 3)
    found = sun_crossings(latitude_deg, longitude_deg, days, altitude_deg)
    clock = getattr(found, side) + np.timedelta64(utc_offset_h, "h")
    clock = clock[~np.isnat(clock)]
    return [clock[clock.astype("datetime64[D]") == date] for date in dates]


# --- The US Naval Observatory's tables of whole years ---------------------------------------

# A printed minute is half a minute wide on each side. The source's computation adds a few seconds,
# and where the Sun moves along the horizon its altitude, good to some 10 arc seconds, counts for
# more. (JPL's ephemeris, to which ours is within 0.2 arc seconds, leaves the same rest.)
HALF_MINUTE_S = 30.0
TABLE_MARGIN_S = 4.0
TABLE_MARGIN_DEG = 0.003


class Table:
    """One printed table: its place and, for each date, the cells under its two headings."""

    def __init__(self, name):
        lines = (HERE / f"{name}.txt").read_text("ascii").splitlines()
        place = re.match(
            r"Location: ([EW])(\d{3}) (\d\d), ([NS])(\d\d) (\d\d) .* for (\d{4}) ", lines[1]
        )
        east, degrees, minutes, north, latitude, latitude_minutes, year = place.groups()
        self.longitude_deg = (int(degrees) + int(minutes) / 60.0) * (1 if east == "E" else -1)
        self.latitude_deg = (int(latitude) + int(latitude_minutes) / 60.0) * (
            1 if north == "N" else -1
        )
        start = np.datetime64(f"{year}-01-01")
        self.dates = np.arange(start, np.datetime64(f"{int(year) + 1}-01-01"))
        self.first, self.second = [[] for _ in self.dates], [[] for _ in self.dates]
        for line in lines:
            # A day with two events of a kind has a second line.
            if not re.match(r"\d\d  ", line):
                continue
            for month in range(12):
                for column, cells in ((4, self.first), (9, self.second)):
                    cell = line[column + 11 * month :][:4].strip()
                    if cell:
                        date = np.datetime64(f"{year}-{month + 1:02d}-{line[:2]}")
                        cells[int((date - start).astype(int))].append(cell)


TABLES = [
    (f"usno-{place}{kind}", names)
    for place in ("anchorage", "singapore", "longyearbyen")
    for kind, names in (("", ("sunrise", "sunset")), ("-civil", ("civil dawn", "civil dusk")))
]


@pytest.mark.parametrize(("name", "names"), TABLES, ids=[name for name, _ in TABLES])
def test_every_printed_minute_and_sky(name, names):
    table = Table(name)
    altitude_deg, _ = EVENTS[names[0]]
    quarter_hours = np.arange(96) * np.timedelta64(15, "m")
    compared = 0
    for event, cells_of_dates in zip(names, (table.first, table.second), strict=True):
        found = instants_of_dates(table.latitude_deg, table.longitude_deg, table.dates, event)
        for date, cells, instants in zip(table.dates, cells_of_dates, found, strict=True):
            compared += len(cells)
            if any(not cell.isdigit() for cell in cells):
                assert len(cells) == 1
                assert instants.size == 0, (date, event)
                seen = sun_position(table.latitude_deg, table.longitude_deg, date + quarter_hours)
                if cells[0] in ("****", "////"):
                    assert seen.altitude_deg.min() > altitude_deg, (date, event)
                else:
                    assert cells[0] in ("----", "====")
                    assert seen.altitude_deg.max() < altitude_deg, (date, event)
                continue
            assert len(cells) == instants.size, (date, event, cells)
            for cell, instant in zip(cells, instants, strict=True):
                printed = date + np.timedelta64(int(cell[:2]) * 60 + int(cell[2:]), "m")
                off_s = abs((instant - printed) / SECOND)
                assert abs((instant + 30 * SECOND).astype("datetime64[m]") - printed) <= 60 * SECOND
                nearby = instant + np.array([-60, 60]) * SECOND
                low, high = sun_position(
                    table.latitude_deg, table.longitude_deg, nearby
                ).altitude_deg
                rate_deg_per_s = abs(high - low) / 120.0
                margin_s = max(TABLE_MARGIN_S, TABLE_MARGIN_DEG / rate_deg_per_s)
                assert off_s <= HALF_MINUTE_S + margin_s, (date, event, cell, instant)
    # A blank cell is a day without an event beside one that had it; no table has more than four.
    assert compared >= 2 * table.dates.size - 4


def test_the_tables_hold_days_with_two_events_and_with_none():
    counts = {0: 0, 1: 0, 2: 0}
    for name, _ in TABLES:
        table = Table(name)
        for cells in table.first + table.second:
            counts[len(cells)] += 1
    assert counts[0] >= 2
    assert counts[2] >= 2


# --- Single rows --------------------------------------------------------------------------

# How far the exact time may be from the printed one [s], by source.
ROW_LIMITS_S = {
    # Whole minutes of the US Naval Observatory: half a minute, and what its computation adds.
    "usno-atlanta": 34.0,
    "usno-fredonia": 34.0,
    "usno-san-francisco": 34.0,
    "usno-60n": 34.0,
    "usno-golden": 34.0,
    "usno-39n-105w": 34.0,
    "usno-beijing": 34.0,
    "usno-greenwich": 34.0,
    "usno-2026": 34.0,
    "usno-2026-september": 34.0,
    # Whole minutes at the publisher's own coordinates, which are not printed; 0.1 deg of
    # longitude is 24 s.
    "london-2015": 90.0,
    # Tenths of a second, but without the Sun's parallax: 8.8 arc seconds, 0.8 s at these places.
    "spa-greenwich": 1.0,
    "nrel-spa": 1.0,
    # A newspaper's whole minutes without coordinates, on days when the Sun passes the horizon at
    # 1 to 3 deg/h: the town's width of 0.02 deg is a minute of time.
    "longyearbyen": 120.0,
    # Whole minutes; within 2 deg of a pole the altitude changes by less than 0.5 deg/h, so that
    # the 4 arc seconds between a constant and a true radius of the Sun are half a minute and more.
    "near-pole-2022": 90.0,
}


def published_rows():
    with (HERE / "published-rows.csv").open(encoding="ascii", newline="") as file:
        yield from csv.DictReader(file)


@pytest.mark.parametrize("source", ROW_LIMITS_S)
def test_published_rows(source):
    rows = [row for row in published_rows() if row["source"] == source]
    assert rows
    for row in rows:
        date = np.datetime64(row["date"])
        (clock,) = instants_of_dates(
            float(row["latitude_deg"]),
            float(row["longitude_deg"]),
            np.array([date]),
            row["event"],
            int(row["utc_offset_h"]),
        )
        printed = [np.datetime64(f"{date}T{time}", "us") for time in row["times"].split()]
        assert clock.size == len(printed), row
        for ours, theirs in zip(clock, sorted(printed), strict=True):
            assert abs((ours - theirs) / SECOND) <= ROW_LIMITS_S[source], (row, ours)


def test_every_row_is_used():
    assert {row["source"] for row in published_rows()} == set(ROW_LIMITS_S)


# USNO's answers for 2026 where a day has no event (same source as usno-2026).
@pytest.mark.parametrize(
    ("place", "date", "altitude_deg", "sky"),
    [
        ("Tromso 69.6489 18.95508", "2026-06-21", SUNRISE_DEG, SkyState.ALWAYS_ABOVE),
        ("Tromso 69.6489 18.95508", "2026-12-21", SUNRISE_DEG, SkyState.ALWAYS_BELOW),
        ("Longyearbyen 78.22334 15.64689", "2026-06-21", SUNRISE_DEG, SkyState.ALWAYS_ABOVE),
        ("Longyearbyen 78.22334 15.64689", "2026-12-21", SUNRISE_DEG, SkyState.ALWAYS_BELOW),
        ("Longyearbyen 78.22334 15.64689", "2026-12-21", CIVIL_DEG, SkyState.ALWAYS_BELOW),
        ("Reykjavik 64.13548 -21.89541", "2026-06-21", CIVIL_DEG, SkyState.ALWAYS_ABOVE),
        ("McMurdo -77.846 166.676", "2026-06-21", SUNRISE_DEG, SkyState.ALWAYS_BELOW),
        ("McMurdo -77.846 166.676", "2026-06-21", CIVIL_DEG, SkyState.ALWAYS_BELOW),
        ("McMurdo -77.846 166.676", "2026-12-21", SUNRISE_DEG, SkyState.ALWAYS_ABOVE),
    ],
)
def test_published_polar_days(place, date, altitude_deg, sky):
    _, latitude_deg, longitude_deg = place.split()
    found = sun_crossings(float(latitude_deg), float(longitude_deg), date, altitude_deg)
    assert found.dawn_sky == found.dusk_sky == sky
    assert np.isnat(found.rising)
    assert np.isnat(found.setting)


# Icepeople, 2016-04-14 and 2020-08-25: Longyearbyen's first sunrise of 2016 on 16 February, the
# last sunset of its spring on 18 April, the last sunrise of 2020 on 25 October.
def test_published_edges_of_the_polar_seasons():
    days = np.arange(np.datetime64("2016-01-01"), np.datetime64("2021-01-01"))
    found = sun_crossings(78.22334, 15.64689, days, SUNRISE_DEG)
    rises = found.rising[~np.isnat(found.rising)].astype("datetime64[D]")
    assert rises[0] == np.datetime64("2016-02-16")
    assert rises[-1] == np.datetime64("2020-10-25")
    # In the zone's summer time, two hours before UTC.
    sets = (found.setting + np.timedelta64(2, "h")).astype("datetime64[D]")
    spring = sets[(sets >= np.datetime64("2016-03-01")) & (sets < np.datetime64("2016-07-01"))]
    assert spring.max() == np.datetime64("2016-04-18")


# USNO's risings and settings of 2022 at the poles, as kept in generate/riseset/riseset.txt of
# cosinekitty/astronomy (MIT). The Sun climbs there by 1 arc second a minute, so that it shows
# what a table takes for the Sun's radius: these take the true one, 959.63 arc seconds over the
# distance (from memory: A. Auwers 1891, the almanacs' value since), and not a constant 16'.
@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "side", "printed"),
    [
        (90.0, -90.0, "rising", "2022-03-18T13:02"),
        (90.0, -90.0, "setting", "2022-09-25T04:13"),
        (-90.0, 0.0, "setting", "2022-03-22T18:07"),
        (-90.0, 180.0, "rising", "2022-09-20T21:52"),
    ],
)
def test_published_rising_and_setting_at_the_poles(latitude_deg, longitude_deg, side, printed):
    instant = np.datetime64(printed, "us")
    heliocentric, _ = erfa.epv00(
        JULIAN_DATE_OF_1970, instant.astype("datetime64[D]").astype(np.int64) + 0.5
    )
    radius_deg = 959.63 / 3600.0 / np.linalg.norm(heliocentric["p"])
    days = instant.astype("datetime64[D]") + np.arange(-60, 61)
    times = {}
    for kind, altitude_deg in (("true", -34.0 / 60.0 - radius_deg), ("fixed", -50.0 / 60.0)):
        found = getattr(sun_crossings(latitude_deg, longitude_deg, days, altitude_deg), side)
        (times[kind],) = found[~np.isnat(found)]
    # Half a minute of rounding, and a minute for each arc second of the source's altitude.
    assert abs(times["true"] - instant) <= 90 * SECOND
    # Our constant radius is up to 4 arc seconds off there.
    assert abs(times["fixed"] - instant) <= 5 * 60 * SECOND


# --- A western sunset that falls on the next UT day -----------------------------------------


@pytest.mark.parametrize(
    ("place", "date", "on_the_date", "evening_before"),
    [
        # NREL/TP-560-34302, table A5.1: the algorithm answers with the evening of 16 October.
        ((39.742476, -105.1786), "2003-10-17", "17:18:51", "17:20:19"),
        # The same at Golden in pvlib's tests; the Naval Observatory prints 19:13 for 2 August.
        ((39.742476, -105.1786), "2015-08-02", "19:12:53", "19:13:58"),
    ],
)
def test_sunset_belongs_to_the_asked_evening(place, date, on_the_date, evening_before):
    wanted = pd.DatetimeIndex([date], tz="Etc/GMT+7")
    by_spa = sun_rise_set_transit_spa(wanted, *place, delta_t=67.0)["sunset"].iloc[0]
    spa = np.datetime64(by_spa.tz_localize(None))
    assert abs(spa - np.datetime64(f"{date}T{evening_before}", "us")) <= SECOND
    days = np.datetime64(date) + np.array([-1, 0])
    before, on = sun_crossings(*place, days, SUNRISE_DEG).setting - np.timedelta64(7, "h")
    assert abs(on - np.datetime64(f"{date}T{on_the_date}", "us")) <= 1.5 * SECOND
    # What it labelled as this date is the time of the sunset a day before.
    assert abs(before - (spa - DAY)) <= 1.5 * SECOND


# --- Positions -----------------------------------------------------------------------------


# NREL/TP-560-34302, table A5.1: 2003-10-17 12:30:30 at UTC-7, 1830 m; geocentric and parallax
# as there, refraction apart (e0).
def test_position_of_the_published_spa_example():
    seen = sun_position(39.742476, -105.1786, np.datetime64("2003-10-17T19:30:30"))
    # The report claims 0.0003 deg for itself.
    assert seen.altitude_deg == pytest.approx(39.872046, abs=0.0003)
    assert seen.azimuth_deg == pytest.approx(194.34024, abs=0.0003)


# JPL Horizons, topocentric and refracted, as kept in test/fixtures.json of mourner/suncalc.
# Below the horizon models of refraction part company, so that only the azimuth is held there.
@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "instant", "azimuth_deg", "refracted_deg"),
    [
        (50.45466, 30.5238, "2026-06-21T06:00", 97.278104, 36.856879),
        (50.45466, 30.5238, "2026-06-21T18:00", 307.419846, 1.189617),
        (50.45466, 30.5238, "2026-12-21T06:00", 128.173244, 0.214791),
        (50.45466, 30.5238, "2026-12-21T12:00", 208.803605, 11.263817),
        (69.6489, 18.95508, "2026-12-21T12:00", 197.827324, None),
        (-37.814, 144.96332, "2026-06-21T00:00", 34.574164, 20.316145),
    ],
)
def test_positions_of_jpl_horizons(
    latitude_deg, longitude_deg, instant, azimuth_deg, refracted_deg
):
    seen = sun_position(latitude_deg, longitude_deg, np.datetime64(instant))
    assert seen.azimuth_deg == pytest.approx(azimuth_deg, abs=0.001)
    if refracted_deg is not None:
        assert seen.altitude_deg + refraction_deg(seen.altitude_deg) == pytest.approx(
            refracted_deg, abs=0.003
        )


def refraction_deg(true_altitude_deg):
    """Return refraction at 10 degrees C and 1010 hPa, good to 0.1' (Saemundsson 1986).

    From memory, as in J. Meeus, Astronomical Algorithms, formula 16.4; its published example is
    checked below.
    """
    angle = true_altitude_deg + 10.3 / (true_altitude_deg + 5.11)
    return 1.02 / np.tan(np.radians(angle)) / 60.0


# Meeus, example 16.a as printed by PyMeeus: true 33'14.76" is seen at 57'51.96".
def test_refraction_of_the_published_example():
    true = (33 + 14.76 / 60) / 60
    assert true + refraction_deg(true) == pytest.approx((57 + 51.96 / 60) / 60, abs=0.1 / 60)
