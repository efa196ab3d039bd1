"""Exporting over an earlier file: what keeps its stamps, what counts on, and what is cancelled."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.calendars import plan_calendar as calendar
from daylatch.calendars.entries import make_events
from daylatch.plan.due import exactly
from peers.calendar_reader import FALLBACKS, SITE_ID, make, read, unescape, write

LATER = dt.datetime(2026, 12, 9, 18, 30, 5, tzinfo=dt.UTC)
THIRD = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
WEEK = ("2027-03-08", "2027-03-14")
DAYS = '[calendar]\nstyle = "days"\n'
STORM = '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-11\nshut = true\nreason = "Storm"\n'
ZONE = '[calendar]\ntimes = "zone"\nreminder_min = 20\nshow = ["reasons", "place"]\n'


def entries(content):
    return {
        event.value("UID").removeprefix(f"{SITE_ID}-"): event
        for event in read(content).of("VEVENT")
    }


def status(content):
    return {
        uid: (event.value("STATUS"), int(event.value("SEQUENCE")))
        for uid, event in entries(content).items()
    }


def stamps(event):
    names = ("DTSTAMP", "SEQUENCE", "LAST-MODIFIED")
    return tuple(event.value(name) if event.has(name) else None for name in names)


class TestWhatReallyChanged:
    """Only what an entry says makes it a changed one."""

    def test_a_newer_zone_database_changes_no_entry(self, monkeypatch):
        plan = make(*WEEK)
        old = write(plan)
        monkeypatch.setattr(calendar, "zone_rules_version", lambda: "2031q")
        new = write(plan, old, LATER)
        assert "Time-zone rules: 2031q." in unescape(read(new).value("DESCRIPTION"))
        assert old.split(b"BEGIN:VEVENT", 1)[1] == new.split(b"BEGIN:VEVENT", 1)[1]

    def test_a_law_that_ends_summer_time_changes_only_what_follows_the_wall_clock(self):
        """As a zone whose rules differ from 28 March on."""
        dates = ("2027-03-26", "2027-03-31")
        limit = '[open]\nnot_before = "07:45"\n'
        old = write(make(*dates, limit))
        new = write(make(*dates, limit, zone="Etc/GMT-1"), old, LATER)
        changed = {uid for uid, (_, sequence) in status(new).items() if sequence == 1}
        assert changed == {f"202703{day}-open" for day in (28, 29, 30, 31)}
        # Titles show the wall clock, so there both movements change.
        old = write(make(*dates, limit + DAYS))
        new = write(make(*dates, limit + DAYS, zone="Etc/GMT-1"), old, LATER)
        changed = {uid for uid, (_, sequence) in status(new).items() if sequence == 1}
        assert changed == {f"202703{day}-day" for day in (28, 29, 30, 31)}

    def test_a_name_or_colour_is_the_calendars_and_no_entrys(self):
        old = write(make(*WEEK))
        new = write(make(*WEEK, '[calendar]\ncolor = "teal"\n', name="New; name"), old, LATER)
        assert unescape(read(new).value("NAME")) == "Hen house door: New; name"
        assert read(new).value("COLOR") == "teal"
        assert old.split(b"BEGIN:VEVENT", 1)[1] == new.split(b"BEGIN:VEVENT", 1)[1]

    def test_changed_rules_change_the_entries_that_they_move(self):
        old = write(make(*WEEK))
        new = write(make(*WEEK, "[open]\noffset_min = 16\n"), old, LATER)
        assert {uid[9:]: number for uid, (_, number) in status(new).items()} == {
            "open": 1,
            "close": 0,
        }


class TestUpdate:
    def test_a_full_file_has_only_what_is_planned(self):
        old = write(make(*WEEK))
        new = write(make(*WEEK, STORM), old, LATER)
        assert len(entries(new)) == 12
        assert {kind for kind, _ in status(new).values()} == {"CONFIRMED"}

    def test_an_update_holds_the_full_file_and_what_was_dropped(self):
        old = write(make(*WEEK))
        full = write(make(*WEEK, STORM), old, LATER)
        new = write(make(*WEEK, STORM), old, LATER, update=True)
        assert new.startswith(full.removesuffix(b"END:VCALENDAR\r\n"))
        cancelled = {uid: value for uid, value in status(new).items() if value[0] != "CONFIRMED"}
        assert cancelled == {
            f"2027031{day}-{kind}": ("CANCELLED", 1) for day in "01" for kind in ("open", "close")
        }
        for uid in cancelled:
            event = entries(new)[uid]
            assert stamps(event) == ("20261209T183005Z", "1", "20261209T183005Z")
            for name in ("DTSTART", "DTEND"):
                assert event.property(name) == entries(old)[uid].property(name)
            assert event.value("SUMMARY") == f"Cancelled: {entries(old)[uid].value('SUMMARY')}"

    def test_again_is_the_same_to_the_byte(self):
        old = write(make(*WEEK))
        plan = make(*WEEK, STORM)
        new = write(plan, old, LATER, update=True)
        assert write(plan, new, THIRD, update=True) == new

    def test_what_comes_back_is_confirmed_and_counts_on(self):
        first = write(make(*WEEK))
        second = write(make(*WEEK, STORM), first, LATER, update=True)
        third = write(make(*WEEK), second, THIRD, update=True)
        assert status(third)["20270310-open"] == ("CONFIRMED", 2)
        assert stamps(entries(third)["20270310-open"])[2] == "20270102T030405Z"
        assert status(third)["20270310-shut"] == ("CANCELLED", 1)
        assert status(third)["20270309-open"] == ("CONFIRMED", 0)
        assert entries(third)["20270310-open"].value("SUMMARY") == "Open the hen house door"

    def test_another_style_cancels_every_entry_of_the_one_before(self):
        first = write(make(*WEEK))
        second = write(make(*WEEK, DAYS), first, LATER, update=True)
        kinds = {(uid[9:], value) for uid, value in status(second).items()}
        assert kinds == {
            ("day", ("CONFIRMED", 0)),
            ("open", ("CANCELLED", 1)),
            ("close", ("CANCELLED", 1)),
        }

    def test_other_dates_than_the_planned_ones_are_left_out(self):
        old = write(make("2027-03-01", "2027-03-20"))
        new = write(make(*WEEK, STORM), old, LATER, update=True)
        assert {uid[:8] for uid in entries(new)} == {f"202703{day:02}" for day in range(8, 15)}

    def test_what_is_cancelled_says_no_more_than_its_time_in_utc(self):
        dates = ("2027-03-26", "2027-03-30")
        first = make(*dates, ZONE)
        shut = STORM.replace("10\n", "27\n").replace("11\n", "29\n")
        new = write(make(*dates, shut), write(first), LATER, update=True)
        assert b"VTIMEZONE" not in new
        for index, date in enumerate(first.dates):
            for kind, times in (("open", first.open_utc), ("close", first.close_utc)):
                event = entries(new)[f"{str(date).replace('-', '')}-{kind}"]
                assert event.property("DTSTART") == ({}, f"{times[index].item():%Y%m%dT%H%M%SZ}")
                if event.value("STATUS") == "CANCELLED":
                    assert event.parts == []
                    assert not any(event.has(name) for name in ("DESCRIPTION", "GEO", "LOCATION"))

    @pytest.mark.parametrize(
        "spoil",
        [
            lambda old: old.replace(b"DTSTART:2027", b"DTSTART:soon"),
            lambda old: old.replace(b"DTSTART:2027", b"DTSTART;TZID=Mars/Olympus:2027"),
            lambda old: re.sub(rb"DTEND[^\r]*\r\n", b"", old),
            lambda old: re.sub(rb"(DTSTART[^\r]*)Z\r", rb"\1\r", old),
            lambda old: old.replace(b"SUMMARY:", b"SUMMARY;=:"),
            lambda old: old.replace(SITE_ID.encode(), b"0" * 36),
            lambda old: old.replace(b"-open", b"-..").replace(b"-close", b"-,"),
        ],
    )
    def test_what_cannot_be_read_or_is_anothers_is_left_out(self, spoil):
        old = write(make(*WEEK))
        assert spoil(old) != old
        new = write(make(*WEEK, DAYS), spoil(old), LATER, update=True)
        assert new == write(make(*WEEK, DAYS), None, LATER)

    @given(
        tables=st.lists(
            st.sampled_from(["", STORM, DAYS, ZONE, '[calendar]\nstyle = "steps"\n']),
            min_size=2,
            max_size=4,
        ),
        first=st.dates(dt.date(2027, 3, 4), dt.date(2027, 3, 10)),
        zone=st.sampled_from(["Europe/Amsterdam", "Europe/Dublin", "Africa/Casablanca"]),
    )
    @settings(max_examples=25, deadline=None)
    def test_any_series_of_updates_holds_the_plan_and_forgets_nothing_in_its_range(
        self, tables, first, zone
    ):
        last = first + dt.timedelta(days=9)
        content, known = None, set()
        for number, table in enumerate(tables):
            plan = make(str(first), str(last), FALLBACKS + table, zone=zone)
            stamp = LATER + dt.timedelta(days=number)
            content = write(plan, content, stamp, update=True)
            assert write(plan, content, THIRD, update=True) == content
            planned = {
                str(e["UID"]).removeprefix(f"{SITE_ID}-") for e in make_events(exactly(plan))
            }
            found = status(content)
            assert {uid for uid, (kind, _) in found.items() if kind == "CONFIRMED"} == planned
            known |= planned
            assert found.keys() == known


class TestSteps:
    STEPS = '[calendar]\nstyle = "steps"\n'

    @staticmethod
    def titles(plan):
        return [unescape(event.value("SUMMARY")) for event in read(write(plan)).of("VEVENT")]

    def test_an_entry_stands_where_a_time_passes_a_step_and_on_the_first_day(self):
        plan = make("2027-01-01", "2027-12-31", self.STEPS + "step_min = 30\n")
        found = {
            event.property("DTSTART")[1]: unescape(event.value("SUMMARY"))
            for event in read(write(plan)).of("VEVENT")
        }
        before = None
        for date, opens, closes in zip(
            plan.dates,
            plan.on_wall(plan.open_utc).wall,
            plan.on_wall(plan.close_utc).wall,
            strict=True,
        ):
            held = [
                int(np.ceil((time - date.astype("datetime64[m]")).astype(int) / 30)) * 30
                for time in (opens, closes)
            ]
            title = "From today: door open {:02}:{:02}\N{EN DASH}{:02}:{:02}".format(
                *divmod(held[0], 60), *divmod(held[1], 60)
            )
            assert found.get(str(date).replace("-", "")) == (None if title == before else title)
            before = title
        assert 20 < len(found) < 60

    def test_a_clock_change_is_a_step(self):
        dates = [
            event.property("DTSTART")[1]
            for event in read(
                write(make("2027-03-26", "2027-03-30", self.STEPS + "step_min = 60\n"))
            ).of("VEVENT")
        ]
        assert "20270328" in dates

    def test_a_door_clock_that_the_law_moves_against_fixed_times_is_one_too(self):
        fixed = 'open.fixed = "09:00"\nclose.fixed = "20:30"\n'
        span = f"[[span]]\nfrom = 2027-03-26\nuntil = 2027-03-30\n{fixed}"
        plan = make("2027-03-26", "2027-03-30", f'{self.STEPS}[door]\nclock = "utc"\n{span}')
        assert self.titles(plan) == ["From today: door open 09:00\N{EN DASH}20:30"] * 2
        lines = [
            unescape(event.value("DESCRIPTION")).split("\n")
            for event in read(write(plan)).of("VEVENT")
        ]
        late = "Until the next entry: at most 14 minutes late, never early."
        assert lines == [
            [late, "On the door's clock (UTC): 08:00\N{EN DASH}19:30"],
            [late, "On the door's clock (UTC): 07:00\N{EN DASH}18:30"],
        ]

    def test_shut_days_in_a_row_have_one_entry_and_the_door_opens_with_another(self):
        plan = make("2027-03-09", "2027-03-12", self.STEPS + STORM)
        uids = [
            event.value("UID").removeprefix(f"{SITE_ID}-")
            for event in read(write(plan)).of("VEVENT")
        ]
        assert uids == ["20270309-step", "20270310-step", "20270312-step"]
        assert self.titles(plan)[1] == "From today: door stays shut"

    def test_a_minute_on_the_step_stays(self):
        span = (
            '[[span]]\nfrom = 2027-03-09\nuntil = 2027-03-09\nopen.fixed = "07:15"\n'
            'close.fixed = "18:31"\n'
        )
        plan = make("2027-03-09", tables=self.STEPS + span)
        assert self.titles(plan) == ["From today: door open 07:15\N{EN DASH}18:45"]

    def test_no_reminder_and_what_is_asked_for_is_shown(self):
        plan = make("2027-03-10", tables=f'{self.STEPS}show = ["reasons"]\n{STORM}')
        (event,) = read(write(plan)).of("VEVENT")
        assert unescape(event.value("DESCRIPTION")) == "Why: shut: dated span; Storm"
        assert event.parts == []


@pytest.mark.parametrize(
    ("style", "least", "most"), [("movements", 730, 730), ("days", 365, 365), ("steps", 40, 120)]
)
def test_a_year_is_small_enough_for_the_importers_people_use(style, least, most):
    """Reported to stop near 1 MB or 1,100 entries, whatever else the keeper lets it show."""
    shown = f'[calendar]\nstyle = "{style}"\nshow = ["reasons", "place"]\n'
    for table in (f'[calendar]\nstyle = "{style}"\n', shown):
        content = write(make("2027-01-01", "2027-12-31", table))
        assert least <= content.count(b"BEGIN:VEVENT") <= most < 1100
        assert len(content) < 400_000
    if style == "days":
        assert len(write(make("2027-01-01", "2027-12-31", DAYS))) < 110_000


class TestCommands:
    def test_an_update_from_the_command_line(self, daylatch, alder_row):
        dates = ("--from", "2027-03-08", "--until", "2027-03-14")
        ran = daylatch("plan", *dates, "-o", "door.ics", "--update")
        assert ran.status == 0
        assert "warning: there is no earlier file to update, so nothing" in ran.err
        text = alder_row.read_text()
        alder_row.write_text(f"{text}\n{STORM}")
        assert daylatch("plan", *dates, "-o", "door.ics", "--update").err == (
            "wrote door.ics: 2027-03-08 to 2027-03-14\n"
        )
        content = (alder_row.parent / "door.ics").read_bytes()
        assert content.count(b"STATUS:CANCELLED") == 4
        ran = daylatch("plan", *dates, "-o", "door.ics", "--update")
        assert ran.err == "door.ics: already up to date\n"
        assert daylatch("plan", *dates, "-o", "door.ics").status == 0
        assert b"CANCELLED" not in (alder_row.parent / "door.ics").read_bytes()

    @pytest.mark.parametrize(
        ("command", "options", "message"),
        [
            ("plan", ("--to", "ics"), "--update looks at the earlier file: name it, such as -o"),
            ("plan", (), "--update is for calendar files: add --to ics"),
            ("settings", ("-o", "x.csv"), "--update is for calendar files: add --to ics"),
            ("daylength", ("--to", "json"), "--update is for calendar files: add --to ics"),
        ],
    )
    def test_an_update_of_nothing_is_refused(self, daylatch, alder_row, command, options, message):
        ran = daylatch(command, "--year", "2027", *options, "--update")
        assert (ran.status, ran.out) == (2, "")
        assert message in ran.err
        assert [path.name for path in alder_row.parent.iterdir()] == ["site.toml"]

    def test_an_update_over_anothers_file_is_refused_and_changes_nothing(self, daylatch, alder_row):
        for content in (b"BEGIN:VCALENDAR\r\nPRODID:-//x//y//EN\r\nEND:VCALENDAR\r\n", b"notes"):
            path = alder_row.parent / "door.ics"
            path.write_bytes(content)
            ran = daylatch("plan", "--year", "2027", "-o", "door.ics", "--update")
            assert ran.status == 6
            assert "was not written by daylatch" in ran.err
            assert path.read_bytes() == content

    def test_a_timers_list_with_other_dates_cancels_the_old_ones(self, daylatch, alder_row):
        where = ("--year", "2027", "-o", "timer.ics")
        assert daylatch("settings", *where, "--changes", "22").status == 0
        path = alder_row.parent / "timer.ics"
        old = set(entries_of(path))
        assert daylatch("settings", *where, "--changes", "30", "--update").status == 0
        new = entries_of(path)
        gone = {uid for uid, kind in new.items() if kind == "CANCELLED"}
        assert gone
        assert gone < old <= new.keys()

    def test_a_lamp_that_burns_less_cancels_the_rest(self, daylatch, alder_row):
        text = alder_row.read_text()
        lamp = '\n[laying]\nlamp = "morning"\n'
        alder_row.write_text(text + lamp)
        dates = ("--from", "2027-09-01", "--until", "2027-12-31")
        assert daylatch("daylength", *dates, "-o", "lamp.ics").status == 0
        path = alder_row.parent / "lamp.ics"
        old = entries_of(path)
        alder_row.write_text(f"{text}{lamp}wanted_h = 12\n")
        assert daylatch("daylength", *dates, "-o", "lamp.ics", "--update").status == 0
        new = entries_of(path)
        assert old.keys() <= new.keys()
        assert set(new.values()) == {"CONFIRMED", "CANCELLED"}

    def test_a_lamps_calendar_over_what_importers_take_warns(self, daylatch, alder_row):
        alder_row.write_text(alder_row.read_text() + '\n[laying]\nlamp = "morning"\n')
        ran = daylatch("daylength", "--from", "2027-01-01", "--until", "2033-12-31", "--to", "ics")
        assert ran.status == 0
        assert re.search(r"warning: 1,\d{3} entries in \d+ KB in one calendar file", ran.err)


def entries_of(path):
    return {
        event.value("UID"): event.value("STATUS") for event in read(path.read_bytes()).of("VEVENT")
    }
