"""The calendar file as its readers meet it: what a day shows, what others see, what changes."""

import datetime as dt
import itertools
import json
import re

import icalendar
import numpy as np
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.calendars.entries import make_events
from daylatch.calendars.plan_calendar import PRODID, wrote
from daylatch.plan.due import exactly
from daylatch.plan.reasons import reasons_of
from daylatch.site.table import check_text
from peers.calendar_reader import (
    FALLBACKS,
    SITE_ID,
    make,
    movements,
    planned,
    read,
    shipped_zone,
    unescape,
    write,
    zone_of,
)
from plan_forms import get_writer

LATER = dt.datetime(2026, 12, 9, 18, 30, 5, tzinfo=dt.UTC)
DASH = "\N{EN DASH}"
DAYS = '[calendar]\nstyle = "days"\n'
STORM = """
[[span]]
from = 2027-03-10
until = 2027-03-11
shut = true
reason = "Gone to see aunt Wilhelmina"
"""
# Closes after midnight in June, far west in a zone.
LATE = "[close]\nlight = 9.0\noffset_min = 60\n"


def summaries(content):
    return [unescape(event.value("SUMMARY")) for event in read(content).of("VEVENT")]


def by_uid(content):
    return {event.value("UID"): event for event in read(content).of("VEVENT")}


def stamps(event):
    names = ("DTSTAMP", "SEQUENCE", "LAST-MODIFIED")
    return tuple(event.value(name) if event.has(name) else None for name in names)


class TestEntries:
    def test_a_day_has_an_opening_and_a_closing_that_lasts_until_the_head_count(self):
        plan = make("2027-03-10", tables="[head_count]\nafter_close_min = 40\n")
        opening, closing = icalendar.Calendar.from_ical(write(plan)).events
        assert str(opening["SUMMARY"]) == "Open the hen house door"
        assert opening.end - opening.start == dt.timedelta(minutes=5)
        assert str(closing["SUMMARY"]) == "Close the hen house door"
        assert closing.end - closing.start == dt.timedelta(minutes=40)

    def test_a_closing_lasts_at_least_five_minutes(self):
        plan = make("2027-03-10", tables="[head_count]\nafter_close_min = 0\n")
        closing = icalendar.Calendar.from_ical(write(plan)).events[1]
        assert closing.end - closing.start == dt.timedelta(minutes=5)

    def test_a_shut_day_has_one_all_day_entry(self):
        content = write(make("2027-03-09", "2027-03-12", STORM))
        assert [uid.removeprefix(f"{SITE_ID}-") for uid in by_uid(content)] == [
            "20270309-open",
            "20270309-close",
            "20270310-shut",
            "20270311-shut",
            "20270312-open",
            "20270312-close",
        ]
        shut = by_uid(content)[f"{SITE_ID}-20270310-shut"]
        assert shut.value("SUMMARY") == "Door stays shut"
        assert shut.property("DTSTART") == ({"VALUE": "DATE"}, "20270310")

    def test_a_range_of_shut_days_describes_no_zone(self):
        plan = make("2027-03-10", "2027-03-11", f'{STORM}[calendar]\ntimes = "zone"\n')
        content = write(plan)
        assert summaries(content) == ["Door stays shut"] * 2
        assert b"TZID" not in content

    def test_a_day_in_one_line(self):
        plan = make("2027-03-09", "2027-03-10", DAYS + STORM)
        opens, closes = (
            str(plan.on_wall(times).wall[0])[11:] for times in (plan.open_utc, plan.close_utc)
        )
        content = write(plan)
        assert summaries(content) == [f"Door open {opens}{DASH}{closes}", "Door stays shut"]
        assert list(by_uid(content)) == [f"{SITE_ID}-20270309-day", f"{SITE_ID}-20270310-day"]

    def test_a_closing_after_midnight_says_so(self):
        place = {"zone": "Europe/Madrid", "place": (43.0, -9.2)}
        plan = make("2027-06-20", tables=LATE + DAYS, **place)
        wall = plan.on_wall(plan.close_utc).wall[0]
        assert wall > np.datetime64("2027-06-21T00:00")
        assert summaries(write(plan))[0].endswith(f"{DASH}{str(wall)[11:]} (next day)")
        # As a timed entry it belongs to its flock day all the same.
        closing = by_uid(write(make("2027-06-20", tables=LATE, **place)))
        assert f"{SITE_ID}-20270620-close" in closing

    def test_an_opening_before_midnight_says_so(self):
        tables = (
            f"[open]\nlight = 15.0\noffset_min = -45\n{FALLBACKS[FALLBACKS.index('[close]') :]}"
        )
        tables += DAYS
        # Far east of its zone, where the Sun's midnight comes before ten in the evening.
        plan = make("2027-06-20", tables=tables, zone="Etc/GMT+10", place=(50.0, -118.0))
        wall = plan.on_wall(plan.open_utc).wall[0]
        assert wall < np.datetime64("2027-06-20T00:00")
        assert summaries(write(plan))[0].startswith(f"Door open {str(wall)[11:]} (previous day)")

    def test_the_second_pass_is_told_with_the_closing(self):
        plan = make("2027-03-10", tables="[head_count]\nsecond_pass = true\n")
        opening, closing = read(write(plan)).of("VEVENT")
        assert not opening.has("DESCRIPTION")
        assert closing.value("DESCRIPTION") == "The door closes once more at the head count."


class TestDoorClock:
    def test_standard_time_stands_beside_the_wall_clock(self):
        plan = make("2027-07-01", tables='[door]\nclock = "standard"\n')
        opening, closing = read(write(plan)).of("VEVENT")
        for event, times in ((opening, plan.open_utc), (closing, plan.close_utc)):
            shown = str(times[0] + np.timedelta64(60, "m"))[11:]
            assert event.value("DESCRIPTION") == (
                f"On the door's clock (standard time\\, UTC+01:00): {shown}"
            )
        assert "keeps standard time all year." in read(write(plan)).value("DESCRIPTION")

    def test_utc_on_another_date_says_so(self):
        plan = make(
            "2027-12-01",
            tables='[calendar]\nstyle = "days"\n[door]\nclock = "utc"\n',
            zone="Pacific/Auckland",
            place=(-36.9, 174.8),
        )
        opens, closes = (str(times[0])[11:] for times in (plan.open_utc, plan.close_utc))
        (event,) = read(write(plan)).of("VEVENT")
        assert event.value("DESCRIPTION") == (
            f"On the door's clock (UTC): {opens} (previous day){DASH}{closes}"
        )

    def test_a_wall_clock_door_needs_no_words(self):
        assert b"door's clock" not in write(make("2027-07-01"))


class TestPrivacy:
    SECRETS = ("Wilhelmina", "52.1", "5.2", "key under the mat", "civil", "Amsterdam")

    @pytest.mark.parametrize("style", ["movements", "days"])
    def test_a_shared_calendar_shows_no_reason_place_or_note(self, style):
        plan = make(
            "2027-03-09",
            "2027-03-12",
            f'{STORM}[calendar]\nstyle = "{style}"\nreminder_min = 5\n',
            notes="key under the mat",
        )
        events = write(plan).decode().replace("\r\n ", "").split("BEGIN:VEVENT", 1)[1]
        assert not any(secret in events for secret in self.SECRETS)
        assert "North house" not in events
        assert not any(name in events for name in ("DESCRIPTION:W", "GEO", "LOCATION", "TZID"))

    def test_what_is_asked_for_is_shown(self):
        tables = f'{STORM}[calendar]\nshow = ["reasons", "place", "notes"]\n'
        plan = make("2027-03-09", "2027-03-10", tables, notes="key under the mat")
        opening, closing, shut = read(write(plan)).of("VEVENT")
        for event, word, why in zip(
            (opening, closing), ("Opens", "Closes"), reasons_of(plan).values(), strict=True
        ):
            assert unescape(event.value("DESCRIPTION")) == (
                f"{word}: {why.column()[0]}\nkey under the mat"
            )
        assert unescape(shut.value("DESCRIPTION")) == (
            "Why: shut: dated span; Gone to see aunt Wilhelmina\nkey under the mat"
        )
        for event in (opening, closing, shut):
            assert event.value("LOCATION") == "52.1 N 5.2 E"
            assert event.value("GEO") == "52.1;5.2"

    @pytest.mark.parametrize(
        ("show", "names"),
        [("reasons", {"DESCRIPTION"}), ("place", {"LOCATION", "GEO"}), ("notes", {"DESCRIPTION"})],
    )
    def test_each_is_asked_for_by_itself(self, show, names):
        tables = f'{STORM}[calendar]\nshow = ["{show}"]\n'
        content = write(make("2027-03-09", "2027-03-10", tables, notes="key under the mat"))
        for event in read(content).of("VEVENT"):
            found = {name for name, _, _ in event.lines}
            assert found & {"DESCRIPTION", "LOCATION", "GEO"} == names
        assert (b"Wilhelmina" in content) == (show == "reasons")
        assert (b"under the mat" in content) == (show == "notes")

    def test_the_reason_of_a_span_that_does_not_shut_is_shown_too(self):
        tables = """
[calendar]
style = "days"
show = ["reasons"]
[[span]]
from = 2027-03-10
until = 2027-03-10
reason = "Fox about"
close.offset_min = -20
"""
        plan = make("2027-03-10", tables=tables)
        (event,) = read(write(plan)).of("VEVENT")
        ((opens,), (closes,)) = (why.column() for why in reasons_of(plan).values())
        assert unescape(event.value("DESCRIPTION")).split("\n") == [
            f"Opens: {opens}",
            f"Closes: {closes}",
            "Dated span: Fox about",
        ]


class TestPreviousFile:
    WEEK = ("2027-03-08", "2027-03-14")

    @pytest.mark.parametrize(
        "tables",
        [
            "",
            DAYS,
            '[calendar]\ntimes = "zone"\nreminder_min = 1\nshow = ["reasons", "place", "notes"]\n'
            '[door]\nclock = "utc"\n' + STORM,
        ],
    )
    def test_the_same_plan_gives_the_same_bytes_at_another_time(self, tables):
        plan = make(*self.WEEK, tables, name="A, b; c\\N", notes="\\N; long, text 🐔\n" * 20)
        first = write(plan)
        assert write(plan) == first
        assert write(plan, first, LATER) == first
        assert write(plan, None, LATER) != first

    def test_a_changed_entry_counts_on_and_others_keep_their_stamps(self):
        old = write(make(*self.WEEK))
        change = "[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-11\nclose.offset_min = 40\n"
        new = write(make(*self.WEEK, change), old, LATER)
        changed = {f"{SITE_ID}-20270310-close", f"{SITE_ID}-20270311-close"}
        assert len(by_uid(new)) == 14
        for uid, event in by_uid(new).items():
            expected = (
                ("20261209T183005Z", "1", "20261209T183005Z")
                if uid in changed
                else ("20261201T120000Z", "0", None)
            )
            assert stamps(event) == expected
        # And once more, back to what it was: three issues, each told from the one before.
        third = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
        back = by_uid(write(make(*self.WEEK), new, third))
        for uid in changed:
            assert stamps(back[uid]) == ("20270101T000000Z", "2", "20270101T000000Z")
        # What changed once and then stayed keeps the stamps of its change.
        kept = by_uid(write(make(*self.WEEK, change), new, third))
        assert {stamps(kept[uid]) for uid in changed} == {
            ("20261209T183005Z", "1", "20261209T183005Z")
        }

    @pytest.mark.parametrize(
        "change",
        [
            "[calendar]\nreminder_min = 10\n",
            '[door]\nclock = "utc"\n',
            '[calendar]\nshow = ["reasons"]\n',
            "[head_count]\nafter_close_min = 16\n",
        ],
    )
    def test_whatever_an_entry_says_counts_as_a_change(self, change):
        old = write(make("2027-03-08"))
        closing = by_uid(write(make("2027-03-08", tables=change), old, LATER))
        assert stamps(closing[f"{SITE_ID}-20270308-close"])[1] == "1"

    def test_a_name_is_no_part_of_an_entry(self):
        old = write(make(*self.WEEK))
        new = write(make(*self.WEEK, name="Another name"), old, LATER)
        assert {uid: stamps(e) for uid, e in by_uid(new).items()} == {
            uid: stamps(e) for uid, e in by_uid(old).items()
        }

    def test_what_is_no_longer_planned_is_gone_and_what_is_new_begins(self):
        old = write(make("2027-03-08", "2027-03-10"))
        new = by_uid(write(make("2027-03-10", "2027-03-11"), old, LATER))
        assert {uid[-14:]: stamps(event)[0] for uid, event in new.items()} == {
            "-20270310-open": "20261201T120000Z",
            "20270310-close": "20261201T120000Z",
            "-20270311-open": "20261209T183005Z",
            "20270311-close": "20261209T183005Z",
        }

    @pytest.mark.parametrize(
        "spoil",
        [
            lambda old: b"",
            lambda old: b"\xff\xfe\x00",
            lambda old: old[: len(old) // 2],
            lambda old: old.replace(PRODID.encode(), b"-//someone//else//EN"),
            lambda old: old.replace(b"DTSTAMP:2026", b"DTSTAMP:soon"),
            lambda old: old.replace(b"00Z\r\nUID", b"00\r\nUID"),
            lambda old: old.replace(b"SEQUENCE:0", b"SEQUENCE:-3"),
            lambda old: old.replace(b"SEQUENCE:0", b"SEQUENCE:" + b"9" * 5000),
            lambda old: old.replace(b"SEQUENCE:0", b"SEQUENCE:2147483648"),
            lambda old: old.replace(b"SEQUENCE:0\r\n", b""),
            lambda old: old.replace(b"UID:", b"X-UID:"),
        ],
    )
    def test_what_cannot_be_read_counts_as_no_file(self, spoil):
        old = write(make(*self.WEEK))
        assert spoil(old) != old
        plan = make(*self.WEEK)
        assert write(plan, spoil(old), LATER) == write(plan, None, LATER)

    def test_the_largest_sequence_stays_one(self):
        old = write(make("2027-03-08")).replace(b"SEQUENCE:0", b"SEQUENCE:2147483647")
        new = write(make("2027-03-08", tables="[open]\noffset_min = 5\n"), old, LATER)
        assert [e.value("SEQUENCE") for e in read(new).of("VEVENT")] == ["2147483647"] * 2

    @given(st.data())
    @settings(max_examples=40, deadline=None)
    def test_no_spoilt_byte_of_it_breaks_the_writer(self, data):
        plan = make("2027-03-08")
        old = write(plan)
        at = data.draw(st.integers(0, len(old) - 1))
        spoilt = (
            old[:at] + data.draw(st.binary(max_size=6)) + old[at + data.draw(st.integers(0, 9)) :]
        )
        new = write(plan, spoilt, LATER)
        assert movements(new) == planned(plan)
        assert set(by_uid(new)) == set(by_uid(old))


class TestWrote:
    def test_what_it_wrote(self):
        for tables in ("", DAYS, '[calendar]\ntimes = "zone"\n'):
            assert wrote(write(make("2027-03-08", tables=tables)))

    def test_the_export_is_listed(self):
        assert get_writer("ics").wrote(write(make("2027-03-08")))

    @pytest.mark.parametrize(
        "content",
        [
            b"",
            b"\xff" * 100,
            b"BEGIN:VCALENDAR",
            b"BEGIN:VCALENDAR\r\nPRODID:-//daylatch//door plan//EN2\r\nEND:VCALENDAR\r\n",
            b"BEGIN:VCALENDAR\r\nX:PRODID:-//daylatch//door plan//EN\r\nEND:VCALENDAR\r\n",
            b"BEGIN:VCALENDAR\r\nNAME:a\r\n PRODID:-//daylatch//door plan//EN\r\n",
            b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nPRODID:-//daylatch//door plan//EN\r\n",
            b"PRODID:-//daylatch//door plan//EN\r\n",
            b"date,open_local\r\n",
        ],
    )
    def test_what_it_did_not_write(self, content):
        assert not wrote(content)

    def test_anothers_calendar_that_quotes_ours(self):
        other = icalendar.Calendar()
        other.add("VERSION", "2.0")
        other.add("PRODID", "-//someone//else//EN")
        other.add("DESCRIPTION", f"x\r\nPRODID:{PRODID}\r\n")
        event = icalendar.Event()
        event.add("SUMMARY", f"PRODID:{PRODID}")
        other.add_component(event)
        assert not wrote(other.to_ical())

    @given(st.binary(max_size=300))
    def test_any_bytes_are_answered(self, content):
        assert wrote(content) is False


def may_be_written(character):
    try:
        return check_text(character) == character
    except ValueError:
        return False


CHARACTERS = st.characters(exclude_categories=("Cc", "Cs")).filter(may_be_written)
# Pieces that mean something to a calendar come as often as plain characters.
TEXT = st.lists(
    st.text(CHARACTERS, min_size=1, max_size=6)
    | st.sampled_from(["\\", "\\N", "\\n", ",", ";", ":", '"', "^n", "=", " ", "🐔🐔"]),
    min_size=1,
    max_size=16,
).map("".join)


class TestText:
    """RFC 5545, 3.3.11: any text of the keeper comes through as that text."""

    @staticmethod
    def check(name, notes, why):
        tables = f"""
[calendar]
show = ["reasons", "notes"]
[[span]]
from = 2027-03-08
until = 2027-03-08
shut = true
reason = {json.dumps(why, ensure_ascii=False)}
"""
        content = write(make("2027-03-08", tables=tables, name=name, notes=notes))
        assert max(map(len, content.split(b"\r\n"))) <= 75
        words = f"Why: shut: dated span; {why}\n{notes}"
        mine = read(content)
        theirs = icalendar.Calendar.from_ical(content)
        assert unescape(mine.value("NAME")) == f"Hen house door: {name}"
        assert unescape(mine.of("VEVENT")[0].value("DESCRIPTION")) == words
        # The library takes a calendar's name for a text of unknown kind, and leaves it escaped.
        assert str(theirs.events[0]["DESCRIPTION"]) == words

    @pytest.mark.parametrize(
        "text",
        [
            "a, b; c: d",
            r"C:\New\notes",
            r"\N \n \\N \, \; \\",
            "trailing \\",
            '<script>alert("x")</script>',
            "BEGIN:VEVENT",
            "=1+1",
            "🐔" * 50,
            "[bold]x[/bold] \N{COMBINING ACUTE ACCENT}" * 3,
            "%2C %5C",
        ],
    )
    def test_awkward_text(self, text):
        self.check(text[:100], f"{text}\n\nEND:VEVENT\n {text}", text)

    @given(TEXT, st.lists(TEXT, min_size=1, max_size=4), TEXT)
    @settings(max_examples=60, deadline=None)
    def test_any_text(self, name, notes, why):
        self.check(name, "\n".join(notes), why)


class TestRecurringReader:
    """What an independent reader finds on each date."""

    @pytest.mark.parametrize("times", ["utc", "zone"])
    def test_each_date_shows_its_two_movements(self, times):
        plan = make("2027-03-20", "2027-04-05", f'[calendar]\ntimes = "{times}"\n')
        query = recurring_ical_events.of(icalendar.Calendar.from_ical(write(plan)))
        amsterdam = shipped_zone("Europe/Amsterdam")
        for index, date in enumerate(plan.dates.tolist()):
            start = dt.datetime(date.year, date.month, date.day, tzinfo=amsterdam)
            found = sorted(
                query.between(start, start + dt.timedelta(days=1)), key=lambda e: e.start
            )
            assert [
                np.datetime64(e.start.astimezone(dt.UTC).replace(tzinfo=None)) for e in found
            ] == [
                plan.open_utc[index],
                plan.close_utc[index],
            ]
            assert [str(e["SUMMARY"]).split()[0] for e in found] == ["Open", "Close"]

    def test_each_date_shows_its_one_line(self):
        plan = make("2027-03-08", "2027-03-14", DAYS + STORM)
        query = recurring_ical_events.of(icalendar.Calendar.from_ical(write(plan)))
        for date in plan.dates.tolist():
            (event,) = query.at(date)
            assert str(event["UID"]) == f"{SITE_ID}-{date:%Y%m%d}-day"
            assert event.start == date
        assert query.at(dt.date(2027, 3, 15)) == []


PLACES = st.sampled_from(
    [
        ("Europe/Dublin", -6.3),
        ("Africa/Casablanca", -7.6),
        ("Australia/Lord_Howe", 159.1),
        ("Antarctica/Troll", 2.5),
        ("America/Vancouver", -123.1),
        ("Asia/Kathmandu", 85.3),
        ("Pacific/Apia", -171.8),
        ("America/Santiago", -70.6),
        ("Pacific/Chatham", -176.5),
        ("Europe/Madrid", -9.2),
        ("Asia/Kolkata", 77.2),
    ]
)


@given(
    place=PLACES,
    latitude=st.floats(-89, 89),
    first=st.dates(dt.date(2012, 1, 1), dt.date(2037, 12, 20)),
    days=st.integers(0, 5),
    style=st.sampled_from(["movements", "days", "steps"]),
    times=st.sampled_from(["utc", "zone"]),
    clock=st.sampled_from(["wall", "standard", "utc"]),
    light=st.floats(-1, 18).map(lambda x: round(x, 2)),
    offset=st.integers(-30, 60),
)
@settings(max_examples=90, deadline=None)
def test_any_plan_is_read_back_to_the_minute(
    place, latitude, first, days, style, times, clock, light, offset
):
    zone, longitude = place
    tables = f"""
[open]
light = {light}
offset_min = {offset}
fallback = "05:30"
[close]
light = {light}
offset_min = {offset}
fallback = "22:30"
[calendar]
style = "{style}"
times = "{times}"
[door]
clock = "{clock}"
"""
    last = first + dt.timedelta(days=days)
    plan = make(str(first), str(last), tables, zone=zone, place=(latitude, longitude))
    content = write(plan)
    assert wrote(content)
    assert write(plan, content, LATER) == content
    events = read(content).of("VEVENT")
    shut = [str(date).replace("-", "") for date in plan.dates[~plan.is_open]]
    if style == "steps":
        check_steps(plan, events)
        return
    assert [e.value("DTSTART") for e in events if e.value("SUMMARY") == "Door stays shut"] == shut
    if style == "movements":
        described = zone_of(content) if b"BEGIN:VTIMEZONE" in content else None
        assert movements(content, described) == planned(plan)
        return
    walls = zip(plan.on_wall(plan.open_utc).wall, plan.on_wall(plan.close_utc).wall, strict=True)
    for event, pair, date in zip(events, walls, plan.dates, strict=True):
        assert times_of(event, date) == [time for time in pair if not np.isnat(time)]


def times_of(event, date):
    """Return the times in a title, as they are meant on a date."""
    found = []
    for time, day in re.findall(r"(\d\d:\d\d)(?: \((\w+) day\))?", event.value("SUMMARY")):
        shift = {"": 0, "next": 1, "previous": -1}[day]
        found.append(np.datetime64(f"{date + shift}T{time}"))
    return found


def check_steps(plan, events):
    """Each day's times lie less than a step before those of the last entry, and never after."""
    by_date = {event.value("DTSTART"): event for event in events}
    assert len(by_date) == len(events)
    held = None
    walls = zip(plan.on_wall(plan.open_utc).wall, plan.on_wall(plan.close_utc).wall, strict=True)
    for date, pair in zip(plan.dates, walls, strict=True):
        before, held = held, by_date.get(str(date).replace("-", ""), held)
        said = times_of(held, date)
        times = [time for time in pair if not np.isnat(time)]
        assert len(said) == len(times)
        for time, exact in zip(said, times, strict=True):
            assert 0 <= (time - exact).astype(int) < 15
            assert time.item().minute % 15 == 0
        if before is not None and before is not held:
            assert before.lines != held.lines


def test_entries_can_be_made_without_a_file():
    plan = make("2027-03-08", "2027-03-09")
    events = make_events(exactly(plan))
    assert len(events) == 4
    assert not any(
        name in event for event, name in itertools.product(events, ("DTSTAMP", "SEQUENCE"))
    )


def test_a_year_stays_far_below_what_importers_are_reported_to_take():
    content = write(
        make("2027-01-01", "2027-12-31", '[calendar]\ntimes = "zone"\nreminder_min = 30\n')
    )
    assert len(content) < 300_000
    assert content.count(b"BEGIN:VEVENT") == 730
