"""Day length against other computations and printed tables.

Sources: skyfield 1.55, `almanac.find_risings` and `find_settings` with the JPL ephemeris DE421, on
the UT1 scale; the US Naval Observatory's tables and rows (README.md beside this file); University
of Arizona Extension AZ2185 (January 2026), "Lighting schedules for Arizona backyard laying flocks".
"""

import datetime as dt

import numpy as np
import pytest

from daylatch.birds.daylength.daylength import NATURAL_DAYS, make_day_lengths
from daylatch.plan.plan import make_plan
from daylatch.sun.crossings import sun_position
from reference.jpl_sun import crossings
from reference.test_published_tables import (
    HALF_MINUTE_S,
    TABLE_MARGIN_DEG,
    TABLE_MARGIN_S,
    Table,
    published_rows,
)
from sites import FALLBACKS, Spot, site

SECOND = np.timedelta64(1, "s")
HOUR = np.timedelta64(1, "h")


def day_lengths(spot, first, last):
    """Return the natural days of a range, and the plan that they are of."""
    dates = (dt.date.fromisoformat(text) for text in (first, last))
    return make_day_lengths(make_plan(site(spot, FALLBACKS), *dates))


def lengths_between(plan, rising, setting):
    """Return each flock day's span from a rising before its transit to a setting after it; NaT."""

    def within(events, start, end):
        index = np.searchsorted(events, start)
        found = np.append(events, np.datetime64("NaT", "us"))[index]
        return np.where(found < end, found, np.datetime64("NaT", "us"))

    rises = within(rising, plan.day_start_utc, plan.sun.transit)
    return within(setting, plan.sun.transit, plan.day_end_utc) - rises


# Measured: at most 0.010, 0.004 and 0.115 s; the last on a civil day beside the white nights (from
# sunrise to sunset 0.024 s).
SKYFIELD_S = {52.0: 0.05, -36.9: 0.05, 64.0: 0.2}


@pytest.mark.parametrize("key", NATURAL_DAYS)
@pytest.mark.parametrize(
    "spot",
    [
        Spot(52.0, 5.0, "Europe/Amsterdam"),
        Spot(-36.9, 149.9, "Australia/Sydney"),
        Spot(64.0, 24.0, "Europe/Helsinki"),
    ],
    ids=lambda spot: f"{spot.latitude:g}",
)
def test_day_length_is_that_between_skyfields_rise_and_set(spot, key):
    found = day_lengths(spot, "2027-01-01", "2027-12-31")
    rising, setting = crossings(
        spot.latitude, spot.longitude, "2026-12-30", "2028-01-03", NATURAL_DAYS[key].altitude_deg
    )
    expected = lengths_between(found.plan, rising, setting)
    daylight = found.by[key]
    both = ~np.isnat(daylight.rising) & ~np.isnat(daylight.setting)
    np.testing.assert_array_equal(both, ~np.isnat(expected))
    assert both.sum() >= 300
    error_s = np.abs(daylight.length[both] - expected[both]) / SECOND
    assert error_s.max() <= SKYFIELD_S[spot.latitude]


# Two printed minutes, each half a minute wide on each side, and what the printed computation adds.
PRINTED_S = 2 * (HALF_MINUTE_S + TABLE_MARGIN_S)


def printed_s(spot, instants):
    """Return how far two such minutes may be off: more where the Sun moves along the horizon."""
    shifts = np.array([-60, 60])[:, None] * SECOND
    low, high = sun_position(spot.latitude, spot.longitude, instants + shifts).altitude_deg
    rate_deg_per_s = np.abs(high - low) / 120.0
    return 2 * (HALF_MINUTE_S + np.maximum(TABLE_MARGIN_S, TABLE_MARGIN_DEG / rate_deg_per_s))


@pytest.mark.parametrize(
    ("name", "key", "zone"),
    [
        ("usno-singapore", "sunrise", "Asia/Singapore"),
        ("usno-singapore-civil", "civil", "Asia/Singapore"),
        ("usno-anchorage", "sunrise", "America/Anchorage"),
        ("usno-anchorage-civil", "civil", "America/Anchorage"),
    ],
)
def test_day_length_is_that_between_printed_minutes_of_a_whole_year(name, key, zone):
    table = Table(name)
    spot = Spot(table.latitude_deg, table.longitude_deg, zone)
    # The first and last day may reach beyond the table's year, which is in Universal Time.
    first, last = (str(date) for date in table.dates[[1, -2]])
    found = day_lengths(spot, first, last)

    def printed(cells_of_dates):
        return np.array(
            [
                date + np.timedelta64(int(cell[:2]) * 60 + int(cell[2:]), "m")
                for date, cells in zip(table.dates, cells_of_dates, strict=True)
                for cell in sorted(cells)
                if cell.isdigit()
            ],
            "datetime64[us]",
        )

    expected = lengths_between(found.plan, printed(table.first), printed(table.second))
    known = ~np.isnat(expected)
    off_s = np.abs(found.by[key].length[known] - expected[known]) / SECOND
    # Civil twilight lasts all night at Anchorage for a month.
    assert known.sum() == (335 if name == "usno-anchorage-civil" else len(table.dates) - 2)
    assert np.all(off_s <= printed_s(spot, found.by[key].rising[known]))


def rows_of_days():
    """Yield the published rows of the Observatory that have both ends of a local day."""
    found = {}
    for row in published_rows():
        if row["source"].startswith("usno-") and row["event"] in ("sunrise", "sunset"):
            place = (float(row["latitude_deg"]), float(row["longitude_deg"]))
            key = (row["source"], *place, int(row["utc_offset_h"]), row["date"])
            found.setdefault(key, {})[row["event"]] = row["times"].split()
    for key, times in found.items():
        if len(times.get("sunrise", [])) == len(times.get("sunset", [])) == 1:
            rise, fall = (np.datetime64(f"{key[-1]}T{times[e][0]}") for e in ("sunrise", "sunset"))
            # Where the clock is far from the Sun, or the Sun sets after midnight, a row can hold
            # the end of one day and the beginning of the next.
            if abs(key[2] / 15 - key[3]) < 5 and fall > rise:
                yield (*key, fall - rise)


DAYS = list(rows_of_days())


def test_there_are_enough_printed_days():
    assert len(DAYS) >= 30
    assert len({row[0] for row in DAYS}) >= 6


@pytest.mark.parametrize("row", DAYS, ids=lambda row: f"{row[0]} {row[4]}")
def test_day_length_is_that_of_a_printed_row(row):
    _, latitude, longitude, offset_h, date, length = row
    # Zones with a fixed distance from UTC are named by their sign reversed.
    zone = f"Etc/GMT{-offset_h:+d}" if offset_h else "Etc/GMT"
    found = day_lengths(Spot(latitude, longitude, zone), date, date)
    assert abs(found.by["sunrise"].length[0] - length) / SECOND <= PRINTED_S


# AZ2185: day length "Dec-Jan 9-10 h" and "May-Jul 14-15 h" in Arizona, in whole hours; held
# against the mean of each month, half an hour of rounding allowed. In winter civil twilight
# would make it too long.
@pytest.mark.parametrize("latitude", [33.45, 32.22], ids=["Phoenix", "Tucson"])
@pytest.mark.parametrize(
    ("months", "least", "most"), [((12, 1), 9, 10), ((5, 6, 7), 14, 15)], ids=["winter", "summer"]
)
def test_published_day_length_of_arizona(latitude, months, least, most):
    found = day_lengths(Spot(latitude, -111.5, "America/Phoenix"), "2026-01-01", "2026-12-31")
    hours = found.by["sunrise"].length / HOUR
    with_twilight = found.by["civil"].length / HOUR
    for month in months:
        within = found.plan.dates.astype("datetime64[M]") == np.datetime64(f"2026-{month:02d}", "M")
        assert least - 0.5 <= hours[within].mean() <= most + 0.5
        assert with_twilight[within].mean() > 10.5
