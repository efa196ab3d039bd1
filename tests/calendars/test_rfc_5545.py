"""Calendar files against the clauses of RFC 5545 and RFC 7986, by their sections.

Every kind of them: the door's in each style, its update file and its feed, the lamp's, the timer's.
"""

import dataclasses
import datetime as dt
import functools
import itertools
import re
from typing import NamedTuple

import icalendar
import numpy as np
import pytest

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.calendars import feed as feed_calendar
from daylatch.calendars import lamp as daylength_calendar
from daylatch.calendars import plan_calendar as calendar
from daylatch.calendars import timer as timer_calendar
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.files.occasion import Occasion
from daylatch.plan.due import exactly
from peers.calendar_reader import (
    FALLBACKS,
    SITE_ID,
    STAMP,
    ZONES,
    make,
    movements,
    offset,
    planned,
    read,
    shipped_zone,
    unescape,
    unfold,
    write,
    zone_of,
)

YEAR = {
    "utc": "",
    "zone": '[calendar]\ntimes = "zone"',
    "days": '[calendar]\nstyle = "days"',
    "all": """
[calendar]
times = "zone"
reminder_min = 30
show = ["reasons", "place", "notes"]
[door]
clock = "standard"
[[span]]
from = 2027-02-03
until = 2027-02-05
shut = true
reason = "Storm, she said; 100 %"
""",
}


YEAR["steps"] = YEAR["all"].replace("[calendar]", '[calendar]\nstyle = "steps"\ncolor = "Gold"')
YEAR["update"] = YEAR["days"]
YEAR["feed"] = """
[feed]
show = ["name", "reasons", "place", "notes"]
"""
YEAR["lamp"] = f'{YEAR["all"]}[laying]\nlamp = "morning"\n'
YEAR["timer"] = f"{YEAR['all']}[timer]\nchanges = 24\n"


class Made(NamedTuple):
    """A year's calendar file, and what it was made of."""

    kind: str
    plan: object
    content: bytes

    @property
    def module(self):
        return {
            "feed": feed_calendar,
            "lamp": daylength_calendar,
            "timer": timer_calendar,
        }.get(self.kind, calendar)

    @property
    def title(self):
        what = {"lamp": "Hen house lamp", "timer": "Hen house timer"}.get(
            self.kind, "Hen house door"
        )
        return f"{what}: {self.plan.site.name}"

    @property
    def zones(self):
        return ["Europe/Amsterdam"] if self.kind in ("zone", "all", "lamp", "timer") else []


@pytest.fixture(scope="module", params=YEAR)
def year(request):
    kind = request.param
    words = {"name": "Hühnerhaus 🐔" * 7, "notes": "Füttern; 🐔, \\n\n" * 9}
    plan = make("2027-01-01", "2027-12-31", YEAR[kind], **words)
    occasion = Occasion(STAMP)
    match kind:
        case "update":
            earlier = write(make("2027-01-01", "2027-12-31", YEAR["all"], **words))
            content = write(plan, earlier, update=True)
        case "feed":
            shown = feed_calendar.public_site(plan.site)
            content = feed_calendar.render(exactly(dataclasses.replace(plan, site=shown)), occasion)
        case "lamp":
            lengths = make_day_lengths(plan)
            content = daylength_calendar.render(
                lengths, make_lamp(lengths, exactly(plan)), occasion
            )
        case "timer":
            found = make_timer_list(plan, plan.site.settings.timer)
            content = timer_calendar.render(found, occasion)
        case _:
            content = write(plan)
    return Made(kind, plan, content)


@pytest.fixture(scope="module")
def year_file(year):
    return year.content


@pytest.fixture(scope="module")
def tree(year_file):
    return read(year_file)


class TestRfc5545:
    def test_3_1_lines_end_with_crlf_and_hold_at_most_75_octets_of_whole_characters(
        self, year_file
    ):
        assert year_file.endswith(b"\r\n")
        lines = year_file.split(b"\r\n")
        assert not any(b"\n" in line or b"\r" in line for line in lines)
        assert max(map(len, lines)) <= 75
        assert any(len(line) > len(line.decode()) for line in lines)
        assert any(line.startswith(b" ") for line in lines)

    def test_3_4_and_3_6_one_calendar_with_its_entries(self, year_file, tree):
        assert tree.of("VEVENT")
        assert year_file.count(b"BEGIN:VCALENDAR") == 1

    def test_3_7_prodid_and_version_stand_once_and_no_method(self, year, tree):
        assert tree.value("PRODID") == year.module.PRODID
        assert year.module.wrote(year.content)
        assert tree.value("VERSION") == "2.0"
        assert tree.value("CALSCALE") == "GREGORIAN"
        assert not tree.has("METHOD")

    def test_3_6_1_required_properties_stand_once_and_no_duration(self, tree):
        for event in tree.of("VEVENT"):
            names = [name for name, _, _ in event.lines]
            assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "SUMMARY"} <= set(names)
            assert {"STATUS", "TRANSP"} <= set(names)
            assert len(names) == len(set(names))
            assert "DURATION" not in names
            assert "RRULE" not in names

    def test_3_8_2_7_entries_leave_their_readers_free(self, tree):
        assert {e.value("TRANSP") for e in tree.of("VEVENT")} == {"TRANSPARENT"}

    def test_3_8_7_2_stamps_are_utc(self, tree):
        assert {e.value("DTSTAMP") for e in tree.of("VEVENT")} == {"20261201T120000Z"}

    def test_3_8_7_4_sequence_begins_with_0_and_a_cancelled_one_has_counted(self, tree):
        for event in tree.of("VEVENT"):
            cancelled = event.value("STATUS") == "CANCELLED"
            assert event.value("SEQUENCE") == ("1" if cancelled else "0")

    def test_3_8_1_11_only_an_update_cancels_and_only_what_is_not_planned(self, year, tree):
        kinds = {
            (event.value("STATUS"), event.value("UID").rpartition("-")[2])
            for event in tree.of("VEVENT")
        }
        cancelled = {kind for status, kind in kinds if status == "CANCELLED"}
        assert cancelled == ({"open", "close", "shut"} if year.kind == "update" else set())
        assert {status for status, _ in kinds} <= {"CONFIRMED", "CANCELLED"}

    def test_3_8_1_2_entries_have_a_category(self, tree):
        for event in tree.of("VEVENT"):
            if event.value("STATUS") == "CONFIRMED":
                assert event.value("CATEGORIES") == "Hen house"

    def test_3_8_4_7_identities_differ_and_are_made_of_site_day_and_movement(self, year, tree):
        uids = [event.value("UID") for event in tree.of("VEVENT")]
        assert len(uids) == len(set(uids)) >= 10
        pattern = rf"{SITE_ID}-2027\d{{4}}-(open|close|day|shut|step|lamp2?|timer)"
        assert all(re.fullmatch(pattern, uid) for uid in uids)

    def test_3_2_19_and_3_6_5_every_named_zone_is_described_once(self, year, tree):
        named = {
            params["TZID"]
            for event in tree.of("VEVENT")
            for _, params, _ in event.lines
            if "TZID" in params
        }
        assert sorted(named) == year.zones
        assert [zone.value("TZID") for zone in tree.of("VTIMEZONE")] == year.zones

    def test_3_3_5_no_time_floats(self, tree):
        for event in tree.of("VEVENT"):
            for name in ("DTSTART", "DTEND"):
                params, value = event.property(name)
                forms = [value.endswith("Z"), "TZID" in params, params.get("VALUE") == "DATE"]
                assert forms.count(True) == 1
                assert forms[2] == bool(re.fullmatch(r"\d{8}", value))

    def test_3_6_1_the_end_of_an_all_day_entry_is_the_date_after(self):
        day = read(write(make("2027-02-28", tables=YEAR["days"]))).of("VEVENT")[0]
        assert day.property("DTSTART") == ({"VALUE": "DATE"}, "20270228")
        assert day.property("DTEND") == ({"VALUE": "DATE"}, "20270301")

    def test_3_6_6_and_3_8_6_3_a_reminder_comes_before_closing_only(self):
        tables = "[calendar]\nreminder_min = 90\n"
        opening, closing = read(write(make("2027-05-01", tables=tables))).of("VEVENT")
        assert opening.of("VALARM") == []
        (alarm,) = closing.of("VALARM")
        assert sorted((name, value) for name, _, value in alarm.lines) == [
            ("ACTION", "DISPLAY"),
            ("DESCRIPTION", "Close the hen house door"),
            ("TRIGGER", "-PT1H30M"),
        ]

    @pytest.mark.parametrize(("minutes", "seconds"), [(0, 0), (1, 60), (1440, 86400)])
    def test_3_8_6_3_a_reminder_is_as_long_before_as_asked(self, minutes, seconds):
        content = write(make("2027-05-01", tables=f"[calendar]\nreminder_min = {minutes}\n"))
        alarm = icalendar.Calendar.from_ical(content).walk("VALARM")[0]
        assert alarm["TRIGGER"].dt == -dt.timedelta(seconds=seconds)

    def test_3_8_6_3_no_reminder_without_a_wish_nor_on_all_day_entries(self):
        days = '[calendar]\nstyle = "days"\nreminder_min = 20\n'
        assert b"VALARM" not in write(make("2027-05-01"))
        assert b"VALARM" not in write(make("2027-05-01", tables=days))

    def test_3_3_7_and_3_8_1_6_coordinates_are_plain_decimals(self):
        tables = '[calendar]\nshow = ["place"]\n'
        plan = make("2027-05-01", tables=tables, zone="UTC", place=("-0.00002", "0.00002"))
        for event in read(write(plan)).of("VEVENT"):
            assert event.value("GEO") == "0.0;0.0"
        plan = make("2027-05-01", tables=tables, place=(52.123456, -0.5), zone="Europe/London")
        for event in read(write(plan)).of("VEVENT"):
            assert event.value("GEO") == "52.1235;-0.5"


class TestRfc7986:
    def test_5_1_the_name_of_the_calendar_names_the_house(self, year, tree):
        assert unescape(tree.value("NAME")) == year.title
        assert tree.value("X-WR-CALNAME") == tree.value("NAME")

    def test_5_2_the_caution_stands_once_with_the_clock_and_the_zone_rules(self, year_file, tree):
        words = unescape(tree.value("DESCRIPTION"))
        assert words.startswith(CAUTION)
        assert f"Time-zone rules: {zone_rules_version()}." in words
        assert "UTC" in words or "Europe/Amsterdam" in words
        assert "\r\n".join(unfold(year_file)).count("A schedule does not see the birds") == 1

    def test_5_9_a_colour_by_its_css_name_where_one_is_wished(self, year, tree):
        assert tree.has("COLOR") == (year.kind == "steps")
        if year.kind == "steps":
            assert tree.value("COLOR") == "gold"

    def test_5_7_a_day_between_refreshes(self, tree):
        assert tree.property("REFRESH-INTERVAL") == ({"VALUE": "DURATION"}, "P1D")
        assert tree.value("X-PUBLISHED-TTL") == "P1D"


@functools.cache
def files_of(zone, place, first, last):
    """Return a plan and its files in both forms of time."""
    plan = make(first, last, FALLBACKS, zone=zone, place=place)
    named = make(first, last, FALLBACKS + YEAR["zone"], zone=zone, place=place)
    return plan, write(plan), write(named)


@pytest.mark.parametrize(("zone", "place", "first", "last"), ZONES, ids=[z[0] for z in ZONES])
class TestZones:
    @pytest.fixture
    def files(self, zone, place, first, last):
        return files_of(zone, place, first, last)

    def test_every_instant_comes_back(self, files, zone, place, first, last):
        """In UTC; by the file's own description of the zone; and by the zone's name."""
        plan, utc, named = files
        assert len(planned(plan)[0]) > 10
        assert movements(utc) == planned(plan)
        assert b"VTIMEZONE" not in utc
        assert movements(named, zone_of(named)) == planned(plan)
        assert movements(named, shipped_zone(zone)) == planned(plan)
        assert f"DTSTART;TZID={zone}:".encode() in named

    def test_3_6_5_the_description_covers_the_range_and_nothing_else(
        self, files, zone, place, first, last
    ):
        """Each onset, read as RFC 5545 3.6.5 has it, is one of the zone's own changes."""
        plan, _, named = files
        (described,) = read(named).of("VTIMEZONE")
        true_zone = shipped_zone(zone)

        def offset_at(time):
            return true_zone.fromutc(time.replace(tzinfo=true_zone)).utcoffset()

        onsets = []
        for observance in described.parts:
            assert observance.kind in {"STANDARD", "DAYLIGHT"}
            assert sorted(name for name, _, _ in observance.lines) == [
                "DTSTART",
                "TZOFFSETFROM",
                "TZOFFSETTO",
            ]
            before, after = (offset(observance.value(f"TZOFFSET{end}")) for end in ("FROM", "TO"))
            # The onset is written in the time that held before it.
            wall = dt.datetime.strptime(observance.value("DTSTART"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
            onset = wall - before
            assert offset_at(onset) == after
            assert offset_at(onset - dt.timedelta(seconds=1)) == before
            onsets.append((onset, before, after))
        assert onsets == sorted(onsets)
        start, before, after = onsets[0]
        assert before == after
        starts, _ = planned(plan)
        assert start < min(starts.values()).item()
        # No change of the zone between the first day and the last is missing.
        hours = np.arange(min(starts.values()), max(starts.values()), np.timedelta64(30, "m"))
        offsets = [offset_at(time) for time in hours.tolist()]
        changes = sum(a != b for a, b in itertools.pairwise(offsets))
        assert len(onsets) - 1 == changes

    def test_all_day_entries_say_what_the_wall_clock_shows(self, files, zone, place, first, last):
        plan = files[0]
        days = make(first, last, FALLBACKS + YEAR["days"], zone=zone, place=place)
        true_zone = shipped_zone(zone)
        events = read(write(days)).of("VEVENT")
        assert len(events) == len(plan)
        for event, date, opens, closes in zip(
            events, plan.dates, plan.open_utc, plan.close_utc, strict=True
        ):
            assert event.value("DTSTART") == str(date).replace("-", "")
            if np.isnat(opens):
                assert event.value("SUMMARY") == "Door stays shut"
                continue
            walls = [
                time.item().replace(tzinfo=dt.UTC).astimezone(true_zone) for time in (opens, closes)
            ]
            times = re.findall(r"\d\d:\d\d", event.value("SUMMARY"))
            assert times == [f"{wall:%H:%M}" for wall in walls]
            next_day = walls[1].date() > date.item()
            assert ("(next day)" in event.value("SUMMARY")) == next_day


def test_summer_time_is_daylight_also_where_the_law_calls_it_standard():
    plan = make("2027-01-01", "2027-12-31", YEAR["zone"], zone="Europe/Dublin", place=(53.3, -6.3))
    (zone,) = read(write(plan)).of("VTIMEZONE")
    kinds = [
        (part.kind, part.value("DTSTART")[:8], part.value("TZOFFSETTO")) for part in zone.parts
    ]
    assert kinds[1:] == [
        ("DAYLIGHT", "20270328", "+0100"),
        ("STANDARD", "20271031", "+0000"),
    ]


def test_3_3_5_a_repeated_time_is_written_in_utc():
    """In the far west of a zone, where the Sun's midnight falls into the repeated hour."""
    tables = """
[calendar]
times = "zone"
[[span]]
from = 2027-10-30
until = 2027-10-30
close.fixed = "02:10"
[[span]]
from = 2027-10-31
until = 2027-10-31
open.fixed = "02:50"
"""
    plan = make("2027-10-29", "2027-11-01", tables, zone="Europe/Madrid", place=(43.0, -9.2))
    content = write(plan)
    # Closing takes the first 02:10, opening the second 02:50: the shorter open time.
    by_uid = {e.value("UID"): e.property("DTSTART") for e in read(content).of("VEVENT")}
    assert by_uid[f"{SITE_ID}-20271030-close"] == ({}, "20271031T001000Z")
    assert by_uid[f"{SITE_ID}-20271031-open"] == ({}, "20271031T015000Z")
    assert by_uid[f"{SITE_ID}-20271030-open"][0] == {"TZID": "Europe/Madrid"}
    assert by_uid[f"{SITE_ID}-20271031-close"][0] == {"TZID": "Europe/Madrid"}
    assert movements(content, zone_of(content)) == planned(plan)


def test_3_2_19_the_zone_utc_is_written_as_utc():
    plan = make("2027-05-01", tables=YEAR["zone"], zone="UTC", place=(51.5, -0.1))
    content = write(plan)
    assert b"TZID" not in content
    assert movements(content) == planned(plan)
