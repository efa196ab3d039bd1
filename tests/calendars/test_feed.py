"""The folder for the web: what anybody sees, when it is rewritten, and what it refuses."""

from __future__ import annotations

import dataclasses
import datetime as dt
import html
import re
import sys
from pathlib import Path

import icalendar
import pytest
import recurring_ical_events

from daylatch.calendars import feed as feed_calendar
from daylatch.calendars import plan_calendar as calendar
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.commands.people import feed as command
from daylatch.files.occasion import Occasion
from daylatch.paper.pages import feed_html
from daylatch.plan.due import exactly
from peers.browser import needs_chromium, opened
from peers.calendar_reader import (
    FALLBACKS,
    SITE_ID,
    STAMP,
    make,
    movements,
    planned,
    read,
    unescape,
)

LATER = dt.datetime(2027, 2, 3, tzinfo=dt.UTC)
HOSTILE = "=1+1 <script>alert(1)</script> & \"d\" 's' {{ 7*7 }} \N{HATCHING CHICK} \u05d0, b; c\\N"
STORM = """
[[span]]
from = 2027-03-10
until = 2027-03-11
shut = true
reason = "Gone to see aunt Wilhelmina"
"""
# Everything that the keeper shows to family and not to the web.
PRIVATE = (
    '[calendar]\nstyle = "{style}"\ntimes = "zone"\nshow = ["reasons", "place", "notes"]\n'
    f"{STORM}"
)
SECRETS = ("Wilhelmina", "North house", "52.1", "5.2", "key under the mat", "Amsterdam", "civil")


def public(tables="", **options):
    """Return a plan as the feed has it."""
    options.setdefault("notes", "key under the mat")
    plan = make("2027-03-09", "2027-03-29", tables, **options)
    return dataclasses.replace(plan, site=feed_calendar.public_site(plan.site))


def render(plan, previous=None, stamp=STAMP):
    return feed_calendar.render(exactly(plan), Occasion(stamp, previous))


def text_of(content):
    """Return everything in a calendar or page, with lines put together and escapes undone."""
    text = content.decode().replace("\r\n ", "")
    return html.unescape(re.sub(r"\\([\\;,])", r"\1", text))


class TestWhatAnybodySees:
    @pytest.mark.parametrize("style", ["movements", "days", "steps"])
    @pytest.mark.parametrize("clock", ["wall", "standard", "utc"])
    def test_nothing_of_whose_where_or_why(self, style, clock):
        tables = f'{PRIVATE.format(style=style)}[door]\nclock = "{clock}"\n'
        plan = public(tables)
        for content in (render(plan), feed_html.render(plan, "door.ics")):
            assert not [secret for secret in SECRETS if secret in text_of(content)]
        names = {line[0] for event in read(render(plan)).of("VEVENT") for line in event.lines}
        assert not names & {"LOCATION", "GEO"}
        assert read(render(plan)).value("NAME") == "Hen house door"

    @pytest.mark.parametrize(
        ("show", "seen"),
        [
            ("name", {"North house"}),
            ("reasons", {"Wilhelmina", "civil"}),
            ("place", {"52.1", "5.2", "Amsterdam"}),
            ("notes", {"key under the mat"}),
        ],
    )
    @pytest.mark.parametrize("style", ["movements", "days"])
    def test_each_is_asked_for_by_itself(self, style, show, seen):
        plan = public(f'{PRIVATE.format(style=style)}[feed]\nshow = ["{show}"]\n')
        found = {secret for secret in SECRETS if secret in text_of(render(plan))}
        assert found == seen
        page = {secret for secret in SECRETS if secret in text_of(feed_html.render(plan, "x.ics"))}
        assert page == (seen if show == "name" else set())

    def test_the_caution_stands_in_the_calendar_and_on_the_page(self):
        plan = public()
        words = unescape(read(render(plan)).value("DESCRIPTION"))
        assert words.startswith(CAUTION)
        page = " ".join(text_of(feed_html.render(plan, "door.ics")).split())
        assert f"{CAUTION} {NO_WEATHER}" in page
        assert "It must never drive a door" in page

    def test_a_hostile_name_comes_through_as_that_text(self):
        plan = public('[feed]\nshow = ["name"]\n', name=HOSTILE)
        assert unescape(read(render(plan)).value("NAME")) == f"Hen house door: {HOSTILE}"
        page = feed_html.render(plan, "door.ics").decode()
        assert "<script" not in page
        assert html.unescape(re.search("<h1[^>]*>(.*?)</h1>", page)[1]) == (
            f"Hen house door: {HOSTILE}"
        )

    @pytest.mark.parametrize("zone", ["Europe/Amsterdam", "Europe/Dublin", "Africa/Casablanca"])
    def test_its_instants_are_the_plans(self, zone):
        plan = public(f"{FALLBACKS}{PRIVATE.format(style='movements')}", zone=zone)
        assert movements(render(plan)) == planned(plan)

    def test_a_reader_finds_each_day(self):
        plan = public()
        query = recurring_ical_events.of(icalendar.Calendar.from_ical(render(plan)))
        for index, date in enumerate(plan.dates.tolist()):
            start = dt.datetime.combine(date, dt.time(0), dt.UTC)
            found = sorted(
                e.start.replace(tzinfo=None)
                for e in query.between(start, start + dt.timedelta(days=1))
            )
            assert found == [plan.open_utc[index].item(), plan.close_utc[index].item()]

    def test_unchanged_entries_keep_their_stamps(self):
        old = render(public())
        assert render(public(), old, LATER) == old
        new = render(public(STORM), old, LATER)
        late = [
            event.value("UID").removeprefix(f"{SITE_ID}-")
            for event in read(new).of("VEVENT")
            if event.value("DTSTAMP") == "20270203T000000Z"
        ]
        assert late == ["20270310-shut", "20270311-shut"]

    def test_no_kind_of_file_passes_for_another(self):
        plan = public()
        feed, page = render(plan), feed_html.render(plan, "door.ics")
        own = calendar.render(exactly(plan), Occasion(STAMP))
        assert [feed_calendar.wrote(content) for content in (feed, own, page)] == [
            True,
            False,
            False,
        ]
        assert [calendar.wrote(content) for content in (feed, own, page)] == [False, True, False]
        assert [feed_html.wrote(content) for content in (feed, own, page)] == [False, False, True]


class TestMonths:
    @pytest.mark.parametrize(
        ("today", "first", "last"),
        [
            ("2026-11-25", "2026-11-01", "2027-11-30"),
            ("2027-03-07", "2027-02-01", "2028-02-29"),
            ("2027-03-08", "2027-03-01", "2028-03-31"),
            ("2027-01-03", "2026-12-01", "2027-12-31"),
            ("2027-12-31", "2027-12-01", "2028-12-31"),
        ],
    )
    def test_whole_months_from_that_of_a_week_ago(self, today, first, last):
        found = command.months_around(dt.date.fromisoformat(today))
        assert found == (dt.date.fromisoformat(first), dt.date.fromisoformat(last))

    def test_a_feed_changes_once_a_month_and_always_holds_a_week_back_and_a_year_ahead(self):
        days = [dt.date(2027, 1, 1) + dt.timedelta(days=n) for n in range(800)]
        ranges = [command.months_around(day) for day in days]
        assert len(set(ranges)) <= 800 / 28 + 2
        for day, (first, last) in zip(days, ranges, strict=True):
            assert first <= day - dt.timedelta(days=7)
            assert last >= day + dt.timedelta(days=365 - 8)
            assert (last - first).days + 1 <= 397


class TestFolder:
    @pytest.fixture
    def home(self, alder_row, set_clock):
        set_clock("2027-03-15T12:00:00")
        return alder_row.parent

    @staticmethod
    def names(folder):
        return sorted(path.name for path in folder.iterdir())

    def test_it_is_made_with_a_calendar_and_a_page(self, daylatch, home):
        ran = daylatch("feed", "-o", "public")
        assert (ran.status, ran.out) == (0, "")
        assert ran.err == (
            f"wrote {Path('public/door.ics')}: 2027-03-01 to 2028-03-31\n"
            f"wrote {Path('public/index.html')}: how to subscribe\n"
        )
        assert self.names(home / "public") == ["door.ics", "index.html"]
        content = (home / "public/door.ics").read_bytes()
        assert content.count(b"BEGIN:VEVENT") < 1100
        assert len(content) < 300_000
        assert 'href="door.ics"' in (home / "public/index.html").read_text()

    def test_again_rewrites_nothing_and_a_change_only_what_changed(self, daylatch, home, set_clock):
        daylatch("feed", "-o", "public")
        before = {path: path.stat() for path in (home / "public").iterdir()}
        # Later in the same month.
        set_clock("2027-03-31T20:00:00")
        ran = daylatch("feed", "-o", "public")
        assert ran.err.count("already up to date") == 2
        after = {path: path.stat() for path in (home / "public").iterdir()}
        assert {p: (s.st_mtime_ns, s.st_ino) for p, s in before.items()} == {
            p: (s.st_mtime_ns, s.st_ino) for p, s in after.items()
        }
        site = home / "site.toml"
        site.write_text(
            f"{site.read_text()}\n[[span]]\nfrom = 2027-04-01\nuntil = 2027-04-02\nshut = true\n"
        )
        ran = daylatch("feed", "-o", "public")
        assert "wrote" in ran.err.splitlines()[0]
        assert "index.html: already up to date" in ran.err
        new = (home / "public/door.ics").read_bytes()
        assert new.count(b"-shut\r\n") >= 2

    def test_another_month_carries_both_on(self, daylatch, home, set_clock):
        daylatch("feed", "-o", "public")
        set_clock("2027-04-09T12:00:00")
        ran = daylatch("feed", "-o", "public")
        assert "2027-04-01 to 2028-04-30" in ran.err
        assert "1 April 2027 to 30 April 2028" in (home / "public/index.html").read_text()

    def test_dates_can_be_asked_for(self, daylatch, home):
        ran = daylatch("feed", "-o", "public", "--year", "2028")
        assert "2028-01-01 to 2028-12-31" in ran.err

    @pytest.mark.parametrize("name", ["door.ics", "index.html"])
    def test_anothers_file_is_left_alone_and_nothing_is_written(self, daylatch, home, name):
        (home / "public").mkdir()
        mine = home / "public" / name
        mine.write_text("mine")
        ran = daylatch("feed", "-o", "public")
        assert ran.status == 6
        assert f"{Path('public') / name}: exists and was not written by daylatch" in ran.err
        assert self.names(home / "public") == [name]
        assert mine.read_text() == "mine"
        assert daylatch("feed", "-o", "public", "--force").status == 0
        assert self.names(home / "public") == ["door.ics", "index.html"]
        assert mine.read_text() != "mine"

    def test_the_keepers_own_calendar_there_is_anothers_file(self, daylatch, home):
        (home / "public").mkdir()
        daylatch("plan", "--year", "2027", "-o", "public/door.ics")
        before = (home / "public/door.ics").read_bytes()
        assert daylatch("feed", "-o", "public").status == 6
        assert (home / "public/door.ics").read_bytes() == before
        # Nor does a plan with the house's name in it take the place of the feed.
        daylatch("feed", "-o", "public", "--force")
        ran = daylatch("plan", "--year", "2027", "-o", "public/door.ics")
        assert ran.status == 6

    def test_another_house_is_refused(self, daylatch, home):
        daylatch("feed", "-o", "public")
        site = home / "site.toml"
        text = re.sub(r'^id = ".*"', f'id = "{SITE_ID}"', site.read_text(), flags=re.M)
        site.write_text(text)
        ran = daylatch("feed", "-o", "public")
        assert ran.status == 6
        assert "holds the plan of another house" in ran.err

    @pytest.mark.parametrize("folder", [".", "public/../"])
    def test_the_folder_of_the_site_file_is_not_for_the_web(self, daylatch, home, folder):
        (home / "public").mkdir()
        ran = daylatch("feed", "-o", folder)
        assert ran.status == 6
        assert "holds the site file, which says where the house stands" in ran.err
        assert self.names(home) == ["public", "site.toml"]

    @pytest.mark.parametrize(
        ("options", "status", "message"),
        [
            ((), 2, "say which folder is for the web, such as -o public"),
            (("-o", "site.toml"), 6, "site.toml: is not a folder"),
            (("-o", "none/public"), 6, "cannot be made: No such file or directory"),
            (("-o", "public", "--year", "20277"), 2, "write a year like 2027"),
        ],
    )
    def test_what_cannot_be_is_told_and_nothing_written(
        self, daylatch, home, options, status, message
    ):
        ran = daylatch("feed", *options)
        assert (ran.status, ran.out) == (status, "")
        assert message in ran.err
        assert self.names(home) == ["site.toml"]

    def test_a_folder_that_takes_no_file_is_told(self, daylatch, home, monkeypatch):
        def full(*arguments, **options):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("daylatch.files.parts.tempfile.mkstemp", full)
        ran = daylatch("feed", "-o", "public")
        assert ran.status == 6
        assert "No space left on device; nothing was changed" in ran.err
        assert self.names(home / "public") == []

    def test_missing_libraries_are_told(self, daylatch, home, monkeypatch):
        monkeypatch.setitem(sys.modules, "jinja2", None)
        ran = daylatch("feed", "-o", "public")
        assert ran.status == 6
        assert "pip install 'daylatch[pictures]'" in ran.err
        assert self.names(home) == ["site.toml"]

    def test_two_houses_with_one_id_are_refused(self, daylatch, home):
        text = (home / "site.toml").read_text()
        (home / "copy.toml").write_text(text.replace("name = ", 'name = "Other house" # '))
        ran = daylatch("feed", "-o", "public")
        assert ran.status == 3
        assert "the same id stands in" in ran.err
        assert not (home / "public").exists()


@needs_chromium
@pytest.mark.parametrize("width", [320, 1200])
def test_the_page_asks_for_nothing_and_fits_a_phone(tmp_path, width):
    path = tmp_path / "index.html"
    plan = public('[feed]\nshow = ["name"]\n', name="Hühnerhaus-mit-sehr-langem-Namen" * 3)
    path.write_bytes(feed_html.render(plan, "door.ics"))
    with opened(path, width) as page:
        assert page.title().endswith("the times in your calendar")
        scroll = page.evaluate("document.documentElement.scrollWidth")
        assert scroll <= width
        (link,) = page.locator("a").all()
        assert link.get_attribute("href") == "door.ics"
        assert link.bounding_box()["height"] >= 44
