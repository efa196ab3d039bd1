"""The sitter's sheet: what stands on it, found by readers that are not ours."""

from __future__ import annotations

import datetime as dt
import json
import re
from html.parser import HTMLParser

import icalendar
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from daylatch.calendars import looks
from daylatch.door.works.due import make_due
from daylatch.errors import PlanError
from daylatch.files.occasion import Occasion
from daylatch.paper.pages import sheet_html
from daylatch.paper.pages.papers import PAPERS
from daylatch.paper.sitter import BOX_TITLES, FEED_TITLE, REPORT_TITLE, make_sheet
from daylatch.plan.due import exactly
from daylatch.plan.sitter_hours import sitter_hours
from peers.calendar_reader import instant, read, zone_of
from sites import ID, UTRECHT, Spot, plan, site

VERMONT = Spot(44.26, -72.58, "America/New_York")
TROMSO = Spot(69.65, 18.96, "Europe/Oslo")
WAYS = '[writing]\nclock = "{clock}"\nunits = "us"\npaper = "letter"\nweek_begins = "sunday"\n'
FLOCK = "[flock]\nbirds = 9\n"
WORDS = """\
[card]
by_hand = "Pull the cord."
call = "Robin, 555-0142"
if_missing = "Look in the woodpile."
if_hurt = "The carrier is on the porch."
report = "Text: all in."
"""


class Page(HTMLParser):
    """Reads the rows, boxes and paragraphs of a page, and knows nothing else of it."""

    def __init__(self, content: bytes) -> None:
        super().__init__()
        self.rows: list[dict[str, str]] = []
        self.boxes: list[tuple[str, str]] = []
        self._cell = ""
        self._text = ""
        self._in_body = False
        self._section: list[str] = []
        self.feed(content.decode())

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag == "tbody":
            self._in_body = True
        elif tag == "tr" and self._in_body:
            self.rows.append({})
        elif tag in ("td", "th") and self._in_body:
            self._cell, self._text = given.get("class") or "date", ""
        elif tag == "span" and given.get("class") == "tick":
            self._text += "[ ]"
        elif tag == "section":
            self._section = []

    def handle_data(self, data):
        self._text += data
        if data.strip():
            self._section.append(data.strip())

    def handle_endtag(self, tag):
        if tag == "tbody":
            self._in_body = False
        elif tag in ("td", "th") and self._in_body:
            self.rows[-1][self._cell] = " ".join(self._text.split())
        elif tag == "section" and self._section:
            self.boxes.append((self._section[0], " ".join(self._section[1:])))


def minute_of(text: str) -> int:
    """Return a time of day in minutes, by either way of writing it."""
    text = text.removesuffix(" next day")
    if text in ("noon", "midnight"):
        return 720 * (text == "noon")
    found = re.fullmatch(r"(\d{1,2}):(\d\d)(?: ([AP])M)?", text)
    hour, minute = int(found[1]), int(found[2])
    return (hour if found[3] is None else hour % 12 + 12 * (found[3] == "P")) * 60 + minute


def sheet(spot=VERMONT, first="2027-03-10", last="2027-03-23", text="", sitter="Sam"):
    return make_sheet(exactly(plan(spot, first, last, text)), sitter)


def page_of(card, paper="letter"):
    return Page(sheet_html.render(card, PAPERS[paper]))


@pytest.mark.parametrize("clock", ["24h", "12h"])
@pytest.mark.parametrize(
    ("spot", "dates", "settings"),
    [
        (VERMONT, ("2027-03-10", "2027-03-23"), ""),
        (VERMONT, ("2027-11-01", "2027-11-12"), '[open]\nnot_before = "12:00"\n'),
        # Closing at midnight, and after it; no light event at all.
        (
            TROMSO,
            ("2027-06-10", "2027-06-20"),
            '[open]\nfallback = "05:30"\n[close]\nfallback = "00:00"\n',
        ),
        (
            TROMSO,
            ("2027-06-10", "2027-06-12"),
            '[open]\nfallback = "05:30"\n[close]\nfallback = "00:40"\n',
        ),
        (
            UTRECHT,
            ("2027-03-25", "2027-03-31"),
            "[[span]]\nfrom = 2027-03-27\nuntil = 2027-03-29\nshut = true\n",
        ),
    ],
)
def test_the_page_has_the_due_times_of_the_json(daylatch, tmp_path, spot, dates, settings, clock):
    place = f"latitude = {spot.latitude}\nlongitude = {spot.longitude}\nzone = '{spot.zone}'\n"
    (tmp_path / "site.toml").write_text(
        f"id = '{ID}'\nname = 'x'\n[place]\n{place}{WAYS.format(clock=clock)}{FLOCK}{settings}"
    )
    asked = ("--from", dates[0], "--until", dates[1])
    ran = daylatch("away", *asked, "-o", "sheet.html")
    assert (ran.status, ran.out) == (0, "")
    told = json.loads(daylatch("plan", *asked, "--to", "json").out)["days"]
    rows = Page((tmp_path / "sheet.html").read_bytes()).rows
    assert len(rows) == len(told)
    for row, day in zip(rows, told, strict=True):
        date = dt.date.fromisoformat(day["date"])
        assert row["date"].split()[1] == str(date.day)
        assert row["birds"] == "9"
        assert (row["morning"], row["all_in"], row["write"]) == ("[ ]", "[ ]", "")
        if day["open_due"] is None:
            assert row["shut"].startswith("shut all day")
            continue
        for column, field in (
            ("open", "open_due"),
            ("close", "close_due"),
            ("head_count", "head_count"),
        ):
            wall = dt.datetime.fromisoformat(day[field])
            assert minute_of(row[column]) == wall.hour * 60 + wall.minute
            after = (wall.date() - date).days
            assert ("next day" in row[column]) is (after == 1)


@pytest.mark.parametrize("clock", ["24h", "12h"])
@pytest.mark.parametrize("dates", [("2027-03-12", "2027-03-16"), ("2027-10-25", "2027-11-20")])
def test_a_card_of_few_days_has_the_due_times_of_the_json(daylatch, tmp_path, dates, clock):
    place = f"latitude = {VERMONT.latitude}\nlongitude = {VERMONT.longitude}\n"
    (tmp_path / "site.toml").write_text(
        f"id = '{ID}'\nname = 'x'\n[place]\n{place}zone = '{VERMONT.zone}'\n"
        f"{WAYS.format(clock=clock)}[door]\nclock = 'utc'\n"
    )
    asked = ("--from", dates[0], "--until", dates[1])
    assert daylatch("card", *asked, "-o", "card.html").status == 0
    told = json.loads(daylatch("plan", *asked, "--to", "json").out)["days"]
    rows = Page((tmp_path / "card.html").read_bytes()).rows
    assert len(rows) == len(told)
    for row, day in zip(rows, told, strict=True):
        for column, field in (
            ("open", "open_due"),
            ("close", "close_due"),
            ("head_count", "head_count"),
            ("door_open", "open_door_clock"),
        ):
            wall = dt.datetime.fromisoformat(day[field])
            assert minute_of(row[column]) == wall.hour * 60 + wall.minute


@settings(max_examples=8, deadline=None)
@given(
    st.floats(-64, 69),
    st.integers(0, 340),
    st.integers(1, 20),
    st.sampled_from(["24h", "12h"]),
    st.sampled_from(["a4", "letter"]),
)
def test_any_page_read_back_has_the_minutes_of_the_plan(latitude, first, days, clock, paper):
    spot = Spot(latitude, 25.0, "Europe/Helsinki")
    start = dt.date(2027, 1, 1) + dt.timedelta(days=first)
    last = start + dt.timedelta(days=days - 1)
    text = f'[open]\nfallback = "05:30"\n[close]\nfallback = "22:45"\n{WAYS.format(clock=clock)}'
    due = exactly(plan(spot, str(start), str(last), text))
    rows = page_of(make_sheet(due, ""), paper).rows
    assert len(rows) == days
    for index, row in enumerate(rows):
        if not due.is_open[index]:
            assert row["shut"].startswith("shut all day")
            continue
        for column, instants in (
            ("open", due.open_utc),
            ("close", due.close_utc),
            ("head_count", due.head_count_utc),
        ):
            wall = due.plan.on_wall(instants[index : index + 1]).wall[0].item()
            assert minute_of(row[column]) == wall.hour * 60 + wall.minute


def test_every_box_has_the_programs_words_and_the_keepers():
    page = page_of(sheet(text=FLOCK + WORDS))
    boxes = dict(page.boxes)
    for title, own in zip(
        (*BOX_TITLES, "Whom to call", REPORT_TITLE),
        (
            "Pull the cord.",
            "Look in the woodpile.",
            "The carrier is on the porch.",
            "Robin, 555-0142",
            "Text: all in.",
        ),
        strict=True,
    ):
        assert boxes[title].endswith(own)
        assert (boxes[title] == own) is (title == "Whom to call")


def test_it_says_whose_the_door_is():
    by_itself, by_hand = (sheet(text=text) for text in ("", '[door]\nworks = "hand"\n'))
    assert by_itself.how_to_read.startswith("The door works by itself at these times. Come in the")
    assert by_hand.how_to_read.startswith("You work the door. Open it in the morning")
    assert "battery" in by_itself.boxes[0].plain
    assert "battery" not in by_hand.boxes[0].plain
    assert [" ".join(head) for head in by_hand.ticks] == ["Opened", "Shut, all in"]


def test_days_on_which_it_closes_while_birds_are_out_are_said_on_top():
    span = "[[span]]\nfrom = 2027-06-05\nuntil = 2027-06-07\naway = true\n"
    card = sheet(first="2027-06-05", last="2027-06-09", text=span + 'close.fixed = "16:00"\n')
    assert "ON DAYS WITH # IT CLOSES WHILE BIRDS ARE STILL OUT" in card.how_to_read
    assert [row.marks for row in card.rows] == [("#",)] * 3 + [()] * 2
    # Nothing of settings that a sitter cannot know.
    assert [mark for mark, _ in card.marks if mark] == ["#"]
    assert "STILL OUT" not in sheet(text=span).how_to_read


def test_how_late_the_door_may_be_is_said():
    late = make_sheet(
        make_due(plan(VERMONT, "2027-03-10", "2027-03-12", "[door]\nwithin_min = 5\n")), ""
    )
    assert "The door moves up to 5 min later than planned." in late.how_to_read


def test_where_nothing_is_said_there_is_room_to_write():
    card = sheet()
    assert card.birds == ""
    content = sheet_html.render(card, PAPERS["a4"]).decode()
    assert content.count('class="pen"') == sum(box.pen_lines for box in card.boxes) > 6
    assert all("birds" not in row for row in Page(content.encode()).rows)


@pytest.mark.parametrize("units", ["metric", "us", ""])
@pytest.mark.parametrize(
    "norms",
    [
        'feed = "feed-25-lb-per-100"\nwater = "water-5-gal-per-100"\n',
        'feed = "feed-100-to-130-g"\nwater = "water-220-to-270-l-per-1000"\n',
    ],
)
def test_feed_and_water_are_those_of_fit(daylatch, tmp_path, units, norms):
    """For days shut all day `fit` says how much must be inside: that of the same days."""
    (tmp_path / "site.toml").write_text(
        f"id = '{ID}'\nname = 'x'\n[place]\nlatitude = 52\nlongitude = 5\n"
        + (f'[writing]\nunits = "{units}"\n' if units else "")
        + f'[flock]\nbirds = 9\ntemperature = "hot"\n[house]\nfloor_m2 = 3\n[norms]\n{norms}'
        "[[span]]\nfrom = 2027-07-05\nuntil = 2027-07-18\nshut = true\naway = true\n"
    )
    asked = ("--from", "2027-07-05", "--until", "2027-07-18")
    assert daylatch("away", "-o", "sheet.html").status == 0
    box = dict(Page((tmp_path / "sheet.html").read_bytes()).boxes)[FEED_TITLE]
    text = " ".join(daylatch("fit", *asked).out.split())
    lines = json.loads(daylatch("fit", *asked, "--to", "json").out)["requirements"]
    for name in ("feed", "water"):
        found = re.search(rf"{name.capitalize()}: (.*?) a day, (.*?) for the 14 days", box)
        assert f"{found[2]} for all birds, for 2027-07-05 to 2027-07-18" in text
        (need,) = next(one for one in lines if one["requirement"] == name)["needs"]
        assert need["shut_days"] == 14
        # What is written in either system is that amount, to two figures.
        factors = {"kg": 1e3, "lb": 453.59237, "l": 1e3, "US gal": 3785.411784, "g": 1, "oz": 28.35}
        unit = re.search(r"(kg|lb|US gal|oz|l|g)\b", found[2])[1]
        amounts = [float(one) * factors[unit] for one in re.findall(r"[\d.]+", found[2])[:2]]
        assert amounts[0] == pytest.approx(need["least"], rel=0.06)
        if name == "water" and "270" in norms:
            assert amounts[1] == pytest.approx(need["most"], rel=0.06)


def test_the_sheet_names_its_norms_and_says_the_caution_once():
    content = sheet_html.render(sheet(text=FLOCK), PAPERS["letter"]).decode()
    assert "(norm feed-25-lb-per-100)" in " ".join(content.split())
    assert content.count("A schedule does not see the birds") == 1
    assert "Sunday 14 March 2027: clocks go forward 1 h 00 min" in content


def test_the_reason_of_a_span_is_not_told_unless_it_may_be():
    span = '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-20\naway = true\nreason = "the coast"\n'
    told = sheet(text=span)
    assert told.marks == (("+", told.marks[0][1]),)
    assert not any(row.marks for row in told.rows if row.first.day != 14)
    shown = sheet(text='[card]\nshow = ["reasons"]\n' + span)
    assert any("the coast" in text for _, text in shown.marks)


# --- In a calendar -----------------------------------------------------------------------------

SPAN = '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-23\naway = true\nsitter = "Sam"\n'
STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)


def calendar_of(text="", previous=None, *, update=False, last="2027-03-23", spot=VERMONT):
    due = exactly(plan(spot, "2027-03-10", last, text))
    return looks.render(due, Occasion(STAMP, previous), update=update), due


@pytest.mark.parametrize("times", ["utc", "zone"])
def test_the_calendar_has_the_times_of_the_sheet(times):
    content, due = calendar_of(f'[calendar]\ntimes = "{times}"\nreminder_min = 10\n{FLOCK}{SPAN}')
    found, zone = read(content), zone_of(content) if times == "zone" else None
    events = found.of("VEVENT")
    assert len(events) == 2 * 14
    for index in range(14):
        morning, evening = events[2 * index : 2 * index + 2]
        assert instant(morning, "DTSTART", zone) == due.open_utc[index]
        assert instant(evening, "DTSTART", zone) == due.close_utc[index]
        assert instant(evening, "DTEND", zone) == due.head_count_utc[index]
        assert [len(one.of("VALARM")) for one in (morning, evening)] == [0, 1]
        assert "There should be 9 birds" in evening.value("DESCRIPTION")
    uids = [one.value("UID") for one in events]
    assert len(set(uids)) == len(uids)
    assert {uid.rpartition("-")[2] for uid in uids} == {"lookopen", "lookclose"}


def test_the_calendar_names_nobody_unless_asked():
    said = calendar_of(WORDS + SPAN)[0].decode().replace("\r\n ", "")
    for word in ("Sam", "away", "sitter", "Robin", "cord", "woodpile"):
        assert word not in said
    asked = '[calendar]\nshow = ["away"]\n' + WORDS + SPAN
    said = calendar_of(asked)[0].decode().replace("\r\n ", "")
    for word in ("Sam", "The keeper is away", "Robin", "Pull the cord", "Text: all in"):
        assert word in said


def test_asked_to_say_so_it_says_that_the_keeper_is_away_whoever_comes():
    asked = '[calendar]\nshow = ["away"]\n'
    nameless = SPAN.replace('sitter = "Sam"\n', "")
    said = calendar_of(asked + nameless)[0].decode().replace("\r\n ", "")
    assert said.count("The keeper is away.") == 28
    due = exactly(plan(VERMONT, "2027-03-10", "2027-03-11", asked + SPAN))
    said = looks.render(due, Occasion(STAMP, None), sitter="Kim").decode().replace("\r\n ", "")
    assert said.count("looked after by: Kim") == 4
    assert "Sam" not in said


def test_a_shut_day_has_an_entry_of_the_whole_day():
    shut = FLOCK + "[[span]]\nfrom = 2027-03-11\nuntil = 2027-03-12\nshut = true\n"
    content, _ = calendar_of(shut, last="2027-03-12")
    events = icalendar.Calendar.from_ical(content).events
    assert [str(one["UID"]).rpartition("-")[2] for one in events] == [
        "lookopen",
        "lookclose",
        "lookday",
        "lookday",
    ]
    assert events[2].start == dt.date(2027, 3, 11)


def test_an_update_cancels_what_is_no_longer_due():
    before, _ = calendar_of(SPAN)
    again, _ = calendar_of(SPAN, before)
    assert again == before
    shut = "[[span]]\nfrom = 2027-03-11\nuntil = 2027-03-11\nshut = true\n"
    after, _ = calendar_of(shut + SPAN, before, update=True)
    found = {
        str(one["UID"]).partition(f"{ID}-")[2]: str(one["STATUS"])
        for one in icalendar.Calendar.from_ical(after).events
    }
    assert found["20270311-lookopen"] == found["20270311-lookclose"] == "CANCELLED"
    assert found["20270311-lookday"] == "CONFIRMED"


def test_who_must_shut_the_birds_in_is_told_to_come_before():
    content, due = calendar_of(
        '[writing]\nclock = "12h"\n' + SPAN + 'close.fixed = "16:00"\n', last="2027-03-11"
    )
    evening = read(content).of("VEVENT")[1]
    assert evening.value("SUMMARY") == "Hen house: shut the birds in before 4:00 PM"
    assert instant(evening, "DTSTART") == due.close_utc[0] - np.timedelta64(30, "m")


def test_a_person_at_the_door_is_told_to_move_it():
    content, _ = calendar_of('[door]\nworks = "hand"\n' + SPAN)
    said = content.decode()
    assert "SUMMARY:Open the hen house door" in said
    assert "SUMMARY:Shut the hen house door: count heads at " in said


# --- Hours that suit the sitter ----------------------------------------------------------------


def hours(text, first="2027-03-10", last="2027-03-23", spot=VERMONT, before=""):
    span = f"[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-23\naway = true\n{text}"
    return list(sitter_hours(plan(spot, first, last, before + span)))


def test_hours_that_shut_birds_out_are_answered_by_what_would_do():
    (told,) = hours('close.fixed = "18:00"\n')
    assert told == (
        "by span 1 the door closes up to 1 h 51 min before your own rule would, on 14 days (most "
        "on 2027-03-23): birds that are not in yet are shut out; a closing not before 19:55 would "
        'do on all of them (close.fixed = "19:55"), or close.shut_in_by_hand = true, if the sitter '
        "shuts them in first"
    )
    # What would do, does; five minutes less does not.
    assert hours('close.fixed = "19:55"\n') == []
    assert len(hours('close.fixed = "19:50"\n')) == 1
    (limit,) = hours('close.not_after = "18:00"\n')
    assert limit == told


SPANS = "[[span]]\nfrom = {first}\nuntil = {last}\naway = true\n"
WISHES = [
    "",
    "[night]\nleast_h = 8\n",
    "[day]\nleast_open_h = 11\n",
    '[open]\nlight = "sunrise"\nnot_before = "06:30"\nfallback = "05:30"\n[night]\nleast_h = 9\n',
    '[close]\noffset_min = 60\nnot_before = "17:00"\nfallback = "22:30"\n',
]


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-60, 66),
    st.integers(0, 340),
    st.integers(1, 25),
    st.sampled_from([("close", "17:00"), ("close", "20:30"), ("open", "05:45"), ("open", "08:00")]),
    st.sampled_from(WISHES),
)
@example(52.09, 160, 11, ("close", "20:30"), "[night]\nleast_h = 6\n")
def test_the_time_that_would_do_silences_the_warning_and_is_the_least(
    latitude, first, days, pinned, wishes
):
    side, given_time = pinned
    spot = Spot(latitude, 25.0, "Europe/Helsinki")
    start = dt.date(2027, 1, 1) + dt.timedelta(days=first)
    last = start + dt.timedelta(days=days - 1)
    for table, time in (("open", "05:30"), ("close", "22:30")):
        if "fallback" not in wishes.partition(f"[{table}]")[2].partition("[")[0]:
            key = f"[{table}]\n"
            fallback = f'{key}fallback = "{time}"\n'
            wishes = wishes.replace(key, fallback) if key in wishes else wishes + fallback

    def told(time):
        span = SPANS.format(first=start, last=last) + f'{side}.fixed = "{time}"\n'
        try:
            hens = plan(spot, str(start), str(last), wishes + span)
        except PlanError:
            return None
        return [one for one in sitter_hours(hens) if f"door {side}s" in one]

    found = told(given_time)
    offered = re.search(r'fixed = "(\d\d:\d\d)"', "".join(found or []))
    if offered is None:
        # Nothing is amiss, or no time by the clock would do.
        assert not found or "no time by the clock does" in found[0]
        return
    assert told(offered[1]) == []
    hour, minute = map(int, offered[1].split(":"))
    earlier = (hour * 60 + minute - 5) % 1440
    assert told(f"{earlier // 60:02d}:{earlier % 60:02d}") != []


def test_hours_in_the_dark_of_the_morning_are_told_too():
    (told,) = hours('open.fixed = "06:00"\n')
    assert "opens up to 51 min before your own rule would, on 10 days" in told
    assert "an opening not before 06:55 would do" in told
    assert hours('open.fixed = "06:55"\n') == []


def test_nothing_is_amiss_where_nobody_is_shut_out():
    assert hours("") == []
    assert hours("close.offset_min = 0\n") == []
    assert hours('close.fixed = "18:00"\nclose.shut_in_by_hand = true\n') == []
    assert hours('close.fixed = "18:00"\n', "2027-04-01", "2027-04-05") == []
    # Who is at home knows what they do.
    at_home = '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-23\nclose.fixed = "18:00"\n'
    assert list(sitter_hours(plan(VERMONT, "2027-03-10", "2027-03-23", at_home))) == []


def test_a_time_that_would_do_may_lie_after_midnight():
    (told,) = list(
        sitter_hours(
            plan(
                TROMSO,
                "2027-05-25",
                "2027-05-28",
                '[open]\nfallback = "05:30"\n[close]\nfallback = "00:40"\n'
                "[[span]]\nfrom = 2027-05-25\nuntil = 2027-05-28\naway = true\n"
                'close.fixed = "20:00"\n',
            )
        )
    )
    assert "a closing not before 00:40 (next day) would do" in told


# --- The command -------------------------------------------------------------------------------


def write(tmp_path, text):
    (tmp_path / "site.toml").write_text(
        f"id = '{ID}'\nname = 'x'\n[place]\nlatitude = 52\nlongitude = 5\n{text}"
    )


@pytest.fixture(autouse=True)
def _day(set_clock):
    set_clock(np.datetime64("2027-03-01T12:00:00"))


def test_without_dates_the_next_span_away_is_meant(daylatch, tmp_path):
    def span(first, last, more):
        return f"[[span]]\nfrom = {first}\nuntil = {last}\n{more}"

    write(
        tmp_path,
        span("2027-07-01", "2027-07-14", 'away = true\nsitter = "Late"\n')
        + span("2027-01-01", "2027-01-14", 'away = true\nsitter = "Over"\n')
        + span("2027-04-01", "2027-04-03", 'away = true\nsitter = "Next"\n')
        + span("2027-03-10", "2027-03-12", 'reason = "at home"\n'),
    )
    ran = daylatch("away", "-o", "sheet.html")
    assert ran.err == "wrote sheet.html: 2027-04-01 to 2027-04-03\n"
    assert "for Next" in (tmp_path / "sheet.html").read_text()
    daylatch("away", "--sitter", "Kim", "-o", "sheet.html")
    assert "for Kim" in (tmp_path / "sheet.html").read_text()


def test_dates_that_reach_beyond_the_span_are_warned_of(daylatch, tmp_path):
    write(tmp_path, AWAY)
    ran = daylatch("away", "--from", "2027-04-10", "--until", "2027-04-16", "-o", "s.html")
    assert ran.status == 0
    assert ran.err.startswith(
        "warning: by the site file you are not away on 2027-04-15 to 2027-04-16\n"
    )


def test_spans_that_follow_each_other_cover_all_their_dates(daylatch, tmp_path):
    write(tmp_path, AWAY + AWAY.replace("04-14", "04-20").replace("04-01", "04-15"))
    ran = daylatch("away", "--from", "2027-04-10", "--until", "2027-04-18", "-o", "s.html")
    assert ran.err == "wrote s.html: 2027-04-10 to 2027-04-18\n"


def test_a_page_is_not_updated(daylatch, tmp_path):
    write(tmp_path, AWAY)
    ran = daylatch("away", "-o", "s.html", "--update")
    assert (ran.status, ran.err) == (
        2,
        "daylatch: --update is for calendar files: name one that ends in .ics\n",
    )


def test_a_name_that_no_file_could_hold_is_refused(daylatch, tmp_path):
    write(tmp_path, AWAY)
    ran = daylatch("away", "--sitter", "Sam\x1b[31m", "-o", "s.html")
    assert (ran.status, ran.err) == (
        2,
        "daylatch: --sitter: take out the invisible character U+001B\n",
    )


AWAY = "[[span]]\nfrom = 2027-04-01\nuntil = 2027-04-14\naway = true\n"


@pytest.mark.parametrize(
    ("text", "arguments", "status", "message"),
    [
        ("", ("-o", "s.pdf"), 2, "site.toml has no dates to come on which you are away: add --from "
         "and --until, or a [[span]] with from, until and away = true"),
        ("", ("--from", "2027-04-01", "-o", "s.pdf"), 2,
         "--from says when it begins: add --until, the last date"),
        ("", (), 2, "say where the sheet goes, such as -o sitter.pdf (or .html, or .ics for a "
         "calendar)"),
        ("", ("--paper", "a5", "-o", "s.pdf"), 2, '--paper is "a5": write a4 or letter'),
        (AWAY, ("--from", "2027-05-01", "--until", "2027-05-14", "-o", "s.pdf"), 3,
         "site.toml, line 7: span 1 from = 2027-04-01: you are away until 2027-04-14, outside of "
         "2027-05-01 to 2027-05-14: give dates within it, leave them out, or write a [[span]] with "
         "away = true for these"),
        (AWAY.replace("2027-04-14", "2027-03-14"), ("-o", "s.pdf"), 3,
         "site.toml, line 6: span 1: ends (2027-03-14) before it begins (2027-04-01): swap the "
         "dates"),
        (AWAY + AWAY.replace("04-01", "04-10").replace("04-14", "04-20"), ("-o", "s.pdf"), 3,
         "site.toml, line 11: span 2 from = 2027-04-10: you are away until 2027-04-20, and by span "
         "1 from 2027-04-01 until 2027-04-14: let one end before the other begins"),
        (AWAY.replace("from = ", "sitter = 3\nfrom = "), ("-o", "s.pdf"), 3,
         "site.toml, line 7: span 1 sitter = 3: write text in quotes"),
        ("", ("--from", "2027-04-01", "--until", "2027-09-01", "-o", "s.pdf"), 2,
         "154 rows and the words that go with them (0 letters and 0 new lines in by_hand, call, "
         "if_missing, if_hurt and report, "),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_message_and_nothing_is_written(
    daylatch, tmp_path, text, arguments, status, message
):
    write(tmp_path, text)
    ran = daylatch("away", *arguments)
    assert (ran.status, ran.out) == (status, "")
    assert ran.err.startswith(f"daylatch: {message}")
    assert len(ran.err.splitlines()) == 1
    assert [file.name for file in tmp_path.iterdir()] == ["site.toml"]


@pytest.mark.parametrize("name", ["s.pdf", "s.html", "s.ics"])
def test_only_a_sheet_is_replaced_by_a_sheet(daylatch, tmp_path, name):
    write(tmp_path, AWAY)
    other = ("plan", "--year", "2027") if name.endswith("ics") else ("card", "--year", "2027")
    assert daylatch(*other, "-o", name).status == 0
    before = (tmp_path / name).read_bytes()
    ran = daylatch("away", "-o", name)
    assert ran.status != 0
    assert (tmp_path / name).read_bytes() == before
    assert daylatch("away", "-o", name, "--force").status == 0
    assert daylatch("away", "-o", name).status == 0


def test_a_site_knows_its_sitter():
    house = site(UTRECHT, SPAN)
    assert house.settings.spans[0].sitter == "Sam"
