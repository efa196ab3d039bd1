"""A timer's list as text, CSV, calendar and page, read back by readers that are not ours."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import icalendar
import pypdfium2
import pytest

from daylatch.calendars import timer as timer_calendar
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.door.timer import csv as timer_csv
from daylatch.door.timer import json as timer_json
from daylatch.door.timer import text as timer_text
from daylatch.door.timer.list_words import DOOR_WORDS
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.door.timer.words import (
    WORKS_LINE,
    clock_to_keep,
    evening_before,
    wall_differs,
    weekdays_text,
)
from daylatch.errors import UsageError
from daylatch.files.occasion import Occasion
from daylatch.paper.pages import timer_html
from daylatch.plan.plan import make_plan
from daylatch.site.timer import Timer
from peers.browser import needs_chromium, opened
from sites import FALLBACKS, ID, UTRECHT, Spot, site

STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
LATER = dt.datetime(2027, 5, 1, tzinfo=dt.UTC)
OCCASION = Occasion(STAMP)
HOSTILE = "=1+1 <script>alert(1)</script> & 's' $x^2$ {{ 7*7 }} \N{HATCHING CHICK} \u05d0\u05d1"
SHUT = "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-21\nshut = true\n"
STANDARD = '[door]\nclock = "standard"\n'
KEYS = "tolerance_min = 25\nstep_min = 5"
WHITE = Spot(64.5, 25.0, "Europe/Helsinki")
MODULES = (timer_text, timer_csv, timer_calendar, timer_html, timer_json)


def listed(keys="", more=SHUT, spot=UTRECHT, first="2027-01-01", last="2027-12-31", **options):
    house = site(spot, f"{more}\n[timer]\n{keys}", **options)
    plan = make_plan(house, dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return make_timer_list(plan, house.settings.timer or Timer.model_construct())


@pytest.fixture(scope="module")
def year():
    return listed(KEYS, SHUT + STANDARD)


def hhmm(minutes):
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def test_every_form_knows_its_own_files_and_carries_cautions_clock_and_rules(year):
    made = {module: module.render(year, OCCASION) for module in MODULES}
    for module, content in made.items():
        assert [other for other in MODULES if other.wrote(content)] == [module]
        assert module.render(year, OCCASION) == content
        if module is timer_calendar:
            text = str(icalendar.Calendar.from_ical(content)["DESCRIPTION"])
        else:
            text = " ".join(content.decode().replace("&#39;", "'").split())
        assert CAUTION in text
        assert "standard time of Europe/Amsterdam (UTC+01:00)" in text
        assert zone_rules_version() in text
        if module in (timer_text, timer_html):
            assert NO_WEATHER in text


def test_the_text_has_a_line_for_each_setting_and_80_columns(year):
    text = timer_text.render(year, OCCASION).decode()
    assert max(map(len, text.splitlines())) <= 80
    rows = re.findall(r"^\w{3} (2027-\d\d-\d\d)  (.*)$", text, re.M)
    assert [date for date, _ in rows] == [str(setting.first) for setting in year.settings]
    for (_, row), setting in zip(rows, year.settings, strict=True):
        if not setting.is_open:
            assert row == DOOR_WORDS.off
            continue
        (program,) = setting.programs
        times = [
            f" {hhmm(minutes)} " if changes else f"({hhmm(minutes)})"
            for minutes, changes in zip(program.minutes, program.changes, strict=True)
        ]
        late = [str(minutes) for minutes in program.late_min]
        assert row.split() == " ".join([*times, *late]).split()


def test_the_text_says_how_much_better_it_is_than_month_by_month():
    found = listed("changes = 12\npast_guard = true", more="")
    text = " ".join(timer_text.render(found, OCCASION).decode().split())
    more = found.monthly_worst_min - max(found.worst_min)
    assert more > 20
    assert (
        f"if you changed it on the first of each month instead (12 dates), it would be up to "
        f"{found.monthly_worst_min} min late, {more} min more" in text
    )
    assert "12 dates, opening and closing together; the last setting of the year holds on" in text
    apart = listed("changes = 12\npast_guard = true\ntogether = false", more="")
    text = " ".join(timer_text.render(apart, OCCASION).decode().split())
    assert "12 of opening and 12 of closing, set apart" in text


def test_times_after_midnight_and_weekdays_are_told():
    found = listed(
        'by_weekday = ["saturday", "sunday"]\nprograms = 6',
        FALLBACKS.replace("22:30", "00:20"),
        WHITE,
        "2027-06-01",
        "2027-06-20",
    )
    text = timer_text.render(found, OCCASION).decode()
    rows = [" ".join(line.split()) for line in text.splitlines()]
    assert "Tue 2027-06-01 Mon-Fri 05:30 00:20> 0 0" in rows
    assert "Sat-Sun 05:30 00:20> 0 0" in rows
    assert ">    after midnight, on the next date" in text
    flat = " ".join(text.split())
    assert "own settings for Mon to Fri and Sat to Sun; 4 of its 6 programs used" in flat
    rows = list(csv.DictReader(io.StringIO(timer_csv.render(found, OCCASION).decode())))
    assert [row["weekdays"] for row in rows] == ["Mon-Fri", "Sat-Sun"]
    assert {(row["close"], row["close_day"], row["open_day"]) for row in rows} == {
        ("00:20", "1", "0")
    }
    calendar = icalendar.Calendar.from_ical(timer_calendar.render(found, OCCASION))
    (event,) = calendar.walk("VEVENT")
    assert str(event["SUMMARY"]) == (
        "Change the hen house timer: Mon-Fri open 05:30, close 00:20 (next day); "
        "Sat-Sun open 05:30, close 00:20 (next day)"
    )
    assert "next day" in timer_html.render(found, OCCASION).decode()


def test_the_csv_gives_the_settings_back(year):
    content = timer_csv.render(year, OCCASION).decode()
    rows = list(csv.DictReader(io.StringIO(content)))
    assert content.count("\r\n") == len(rows) + 1
    assert [row["caution"] for row in rows] == [CAUTION, *[""] * (len(rows) - 1)]
    for row, setting in zip(rows, year.settings, strict=True):
        assert (row["from"], row["until"]) == (str(setting.first), str(setting.last))
        assert row["timer"] == ("on" if setting.is_open else "off")
        for side, name in enumerate(("open", "close")):
            if setting.is_open:
                program = setting.programs[0]
                hours, minutes = map(int, row[name].split(":"))
                back = 1440 * int(row[f"{name}_day"]) + 60 * hours + minutes
                assert back == program.minutes[side]
                assert int(row[f"{name}_late_at_worst_min"]) == program.late_min[side]
                assert row[f"{name}_changes"] == ("yes" if program.changes[side] else "no")
            else:
                assert row[name] == row[f"{name}_late_at_worst_min"] == ""


def test_the_json_gives_the_settings_back(year):
    data = json.loads(timer_json.render(year, OCCASION))
    assert data["timer"]["clock"] == "standard"
    assert data["summary"]["close_late_at_worst_min"] == year.worst_min[1]
    for row, setting in zip(data["settings"], year.settings, strict=True):
        assert (row["from"], row["until"]) == (str(setting.first), str(setting.last))
        assert row["timer"] == ("on" if setting.is_open else "off")
        for cells, program in zip(row["programs"], setting.programs, strict=True):
            assert cells["weekdays"] == list(program.weekdays)
            for side, name in enumerate(("open", "close")):
                hours, minutes = map(int, cells[name].split(":"))
                back = 1440 * cells[f"{name}_day"] + 60 * hours + minutes
                assert back == program.minutes[side]
                assert cells[f"{name}_late_at_worst_min"] == program.late_min[side]
                assert cells[f"{name}_changes"] == program.changes[side]


def test_wall_times_stand_beside_those_of_a_timer_on_standard_time(year):
    """Each day's wall time by the standard library's zone, from every form that has it."""
    zone = ZoneInfo("Europe/Amsterdam")
    data = json.loads(timer_json.render(year, OCCASION))["settings"]
    rows = list(csv.DictReader(io.StringIO(timer_csv.render(year, OCCASION).decode())))
    text = timer_text.render(year, OCCASION).decode()
    both = 0
    for index, date in enumerate(year.plan.dates.tolist()):
        number = [n for n, row in enumerate(rows) if row["from"] <= str(date)][-1]
        if not year.plan.is_open[index]:
            assert rows[number]["open_wall"] == ""
            continue
        for side, name in enumerate(("open", "close")):
            moved = year.moved_utc[side][index].item().replace(tzinfo=dt.UTC).astimezone(zone)
            steps = data[number]["programs"][0][f"{name}_wall"]
            assert [s["time"] for s in steps if s["from"] <= str(date)][-1] == f"{moved:%H:%M}"
            cell = rows[number][f"{name}_wall"]
            said = [steps[0]["time"], *(f"from {s['from']} {s['time']}" for s in steps[1:])]
            assert cell == ", ".join(said)
            both += len(steps) > 1
            if steps[0]["time"] != rows[number][name]:
                assert re.search(rf"\n  on the wall .*\b{steps[0]['time']}\b", text)
    assert both
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    assert (
        "set it to standard time (UTC+01:00): from 2027-01-01 to 2027-03-27 that is the same "
        "as the kitchen clock, from 2027-03-28 to 2027-10-30 that is 1 h behind the kitchen clock, "
        "from 2027-10-31 to 2027-12-31 that is the same as the kitchen clock" in flat
    )
    assert "see that its programs are still there" in flat


@pytest.mark.parametrize("clock", ["utc", "wall", "standard"])
def test_what_clock_to_put_it_to_is_said(clock):
    found = listed("", f'[door]\nclock = "{clock}"\n', UTRECHT, "2027-06-01", "2027-06-10")
    words = clock_to_keep(found)
    assert (
        words
        == {
            "utc": "set it to UTC: from 2027-06-01 to 2027-06-10 that is 2 h behind the kitchen "
            "clock",
            "standard": "set it to standard time (UTC+01:00): from 2027-06-01 to 2027-06-10 that "
            "is 1 h behind the kitchen clock",
            "wall": "set it to the kitchen clock; it must change to summer time with it",
        }[clock]
    )
    assert wall_differs(found) == (clock != "wall")


def test_what_is_put_in_at_once_is_told_in_every_form():
    found = listed("tolerance_min = 25\nprograms = 9\nholds_dates = true")
    assert found.timer.at_once == 4
    visits = found.visits
    assert [len(visit) for visit in visits[:-1]] == [4] * (len(visits) - 1)
    text = timer_text.render(found, OCCASION).decode()
    heads = re.findall(
        r"^-- put in settings? (\d+)(?: to (\d+))? on the evening of (\S+?);?( |$)", text, re.M
    )
    assert [head[2] for head in heads] == [str(evening_before(visit[0])) for visit in visits]
    assert sum(int(last or first) - int(first) + 1 for first, last, *_ in heads) == len(
        found.settings
    )
    data = json.loads(timer_json.render(found, OCCASION))
    assert data["timer"]["settings_at_once"] == 4
    rows = list(csv.DictReader(io.StringIO(timer_csv.render(found, OCCASION).decode())))
    for row, one in zip(rows, data["settings"], strict=True):
        assert row["put_in_on"] == one["put_in_on"] <= one["from"]
    entries = list(events(timer_calendar.render(found, OCCASION)).values())
    assert len(entries) == len(visits)
    for entry, visit in zip(entries, visits, strict=True):
        for setting in visit if len(visit) > 1 else ():
            assert f"From {setting.first} to {setting.last}: " in entry["DESCRIPTION"]
    assert timer_html.render(found, OCCASION).decode().count(">+ ") == len(found.settings) - len(
        visits
    )


def test_json_of_days_that_do_not_come_is_null():
    found = listed('by_weekday = "each"', "", UTRECHT, "2027-06-01", "2027-06-03")
    data = json.loads(timer_json.render(found, OCCASION))
    friday = data["settings"][0]["programs"][4]
    assert friday["weekdays"] == ["friday"]
    assert (friday["open"], friday["close_day"], friday["open_late_at_worst_min"]) == (None,) * 3


def test_every_form_says_while_what_it_is_good():
    for keys, margin in (("", 0), ("clock_margin_min = 4", 4)):
        found = listed(keys, "")
        for module in MODULES:
            content = module.render(found, OCCASION)
            match module:
                case _ if module is timer_csv:
                    row = next(csv.DictReader(io.StringIO(content.decode())))
                    assert row["clock_margin_min"] == str(margin)
                case _ if module is timer_json:
                    assert json.loads(content)["timer"]["clock_margin_min"] == margin
                case _:
                    text = content.decode().replace("\r\n ", "").replace("&#39;", "'")
                    words = "good as long as the timer's clock is at most 4 min wrong"
                    assert (words in " ".join(text.split())) == bool(margin)


def events(content):
    return {
        str(event["UID"]): event for event in icalendar.Calendar.from_ical(content).walk("VEVENT")
    }


def test_the_calendar_reminds_on_the_evening_before_each_setting(year):
    content = timer_calendar.render(year, OCCASION)
    assert b"PRODID:-//daylatch//timer//EN\r\n" in content
    found = events(content)
    assert list(found) == [f"{ID}-{setting.first:%Y%m%d}-timer" for setting in year.settings]
    closings = dict(zip(year.plan.dates.tolist(), year.moved_utc[1].tolist(), strict=True))
    for event, setting in zip(found.values(), year.settings, strict=True):
        evening = setting.first - dt.timedelta(days=1)
        begin = event["DTSTART"].dt
        shut = closings.get(evening)
        if shut is not None:
            assert begin == shut.replace(tzinfo=dt.UTC)
        elif evening in closings:
            # Shut all day: 18:00 in winter.
            assert begin == dt.datetime.combine(evening, dt.time(17), dt.UTC)
        else:
            # In another list: as on the evening after.
            assert begin + dt.timedelta(days=1) == closings[setting.first].replace(tzinfo=dt.UTC)
        assert event["DTEND"].dt - begin == dt.timedelta(minutes=15)
        (alarm,) = event.walk("VALARM")
        assert alarm["TRIGGER"].dt == dt.timedelta(0)
        if setting.is_open:
            opening, closing = map(hhmm, setting.programs[0].minutes)
            summary = f"Change the hen house timer: open {opening}, close {closing}"
            late = setting.programs[0].late_min
            words = f"at worst {late[0]} min late opening and {late[1]} min late closing"
            assert words in event["DESCRIPTION"]
        else:
            summary = "Switch the hen house timer off: keep the door shut"
        assert str(event["SUMMARY"]) == summary


def test_the_calendar_names_the_zone_and_reminds_earlier_if_the_file_says_so():
    found = listed(KEYS, '[calendar]\ntimes = "zone"\nreminder_min = 30\n')
    content = timer_calendar.render(found, OCCASION)
    (zone,) = icalendar.Calendar.from_ical(content).walk("VTIMEZONE")
    assert str(zone["TZID"]) == "Europe/Amsterdam"
    for event in events(content).values():
        assert event["DTSTART"].params["TZID"] == "Europe/Amsterdam"
        (alarm,) = event.walk("VALARM")
        assert alarm["TRIGGER"].dt == dt.timedelta(minutes=-30)


def test_a_calendar_made_again_changes_only_what_really_changed(year):
    first = timer_calendar.render(year, OCCASION)
    assert timer_calendar.render(year, Occasion(LATER, first)) == first
    other = listed(KEYS, SHUT.replace("21", "23") + STANDARD)
    second = events(timer_calendar.render(other, Occasion(LATER, first)))
    before = events(first)
    kept = {uid for uid in second if uid in before and second[uid]["SEQUENCE"] == 0}
    changed = {uid for uid in second if uid in before} - kept
    assert kept
    assert changed
    for uid in kept:
        assert second[uid].to_ical() == before[uid].to_ical()
    for uid in changed:
        assert second[uid]["SEQUENCE"] == 1
        assert second[uid]["LAST-MODIFIED"].dt == LATER


def test_notes_stand_in_the_calendar_only_if_they_are_shown():
    for show, expected in (("[]", False), ('["notes"]', True)):
        found = listed("", f"[calendar]\nshow = {show}\n", head=f'notes = "{HOSTILE}"')
        description = next(iter(events(timer_calendar.render(found, OCCASION)).values()))
        assert (HOSTILE in str(description["DESCRIPTION"])) == expected


class Reader(HTMLParser):
    """Gathers a page's cells, row by row, and all its text."""

    def __init__(self):
        super().__init__()
        self.rows, self.text, self.tags = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_data(self, data):
        self.text.append(data)
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data.strip()


def test_the_page_gives_the_settings_back(year):
    reader = Reader()
    reader.feed(timer_html.render(year, OCCASION).decode())
    rows = [row for row in reader.rows if re.match(r"\w{3} 2027", row[0])]
    for row, setting in zip(rows, year.settings, strict=True):
        assert row[0].endswith(str(setting.first))
        if setting.is_open:
            program = setting.programs[0]
            assert [cell.strip("()") for cell in row[1:5:3]] == list(map(hhmm, program.minutes))
            assert [cell[:5] for cell in row[2:6:3]] == [
                hhmm(steps[0].minutes) for steps in program.on_wall
            ]
            assert row[3:7:3] == list(map(str, program.late_min))
        else:
            assert row[1] == DOOR_WORDS.off


def test_a_hostile_name_stays_text_in_every_form():
    found = listed("", "", name=HOSTILE)
    reader = Reader()
    reader.feed(timer_html.render(found, OCCASION).decode())
    assert HOSTILE in "".join(reader.text)
    assert "script" not in reader.tags
    calendar = icalendar.Calendar.from_ical(timer_calendar.render(found, OCCASION))
    assert str(calendar["NAME"]) == f"Hen house timer: {HOSTILE}"
    assert HOSTILE in " ".join(timer_text.render(found, OCCASION).decode().split())
    assert json.loads(timer_json.render(found, OCCASION))["site"]["name"] == HOSTILE


def full_page(more=""):
    """Return the fullest list that a page takes, with long words around it."""
    house = (
        'changes = {}\nby_weekday = ["sunday"]\nprograms = 8\nstep_min = 5\nclock_margin_min = 2'
    )
    return listed(house.format(39), more, name="Long name " * 10)


def full_page_on_standard_time():
    found = full_page(STANDARD)
    return replace(found, tried_out=(f"{'long words ' * 12}under [timer]", WORKS_LINE))


def test_a_list_too_long_for_a_page_is_refused_with_numbers():
    with pytest.raises(UsageError, match=r"the list has \d{3} lines, and 80 fit one sheet"):
        timer_html.render(listed('changes = 30\nby_weekday = "each"', ""), OCCASION)


@needs_chromium
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    "make", [lambda: listed("tolerance_min = 45"), full_page, full_page_on_standard_time]
)
def test_the_page_prints_on_one_sheet_and_fetches_nothing(make, paper, tmp_path):
    file = tmp_path / "timer.html"
    found = make()
    file.write_bytes(timer_html.render(found, OCCASION))
    with opened(file) as page:
        pdf = page.pdf(format=paper)
        page.set_viewport_size({"width": 794, "height": 1123})
        right = "[...document.querySelectorAll('table')].map(t => t.getBoundingClientRect().right)"
        edge = "document.querySelector('.blocks').getBoundingClientRect().right"
        assert max(page.evaluate(right)) <= page.evaluate(edge) + 1
        page.set_viewport_size({"width": 360, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    text = document[0].get_textpage().get_text_range()
    for setting in found.settings:
        assert str(setting.first) in text
    assert "housing orders come first" in " ".join(text.split())


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (("monday", "tuesday", "wednesday"), "Mon-Wed"),
        (("saturday",), "Sat"),
        (("monday", "friday", "saturday"), "Mon, Fri-Sat"),
    ],
)
def test_weekdays_are_said_briefly(days, text):
    assert weekdays_text(days) == text
