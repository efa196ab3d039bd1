"""The face of twelve hours: all that people read follows it, and nothing that programs read.

So a face stands once: whoever writes a time of day by another way than the site's face is found
here.
"""

from __future__ import annotations

import base64
import re

import numpy as np
import pytest

from conftest import ROOT
from daylatch import wording
from daylatch.birds.compare import text as compare_text
from daylatch.birds.compare.comparison import compare_plans
from daylatch.birds.daylength import text as daylength_text
from daylatch.birds.nights import text as nights_text
from daylatch.calendars.entries import make_events
from daylatch.calendars.sync.content import Found, want
from daylatch.calendars.sync.differences import Difference, Kind
from daylatch.calendars.sync.report import conflict_lines, difference_lines
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.errors import PlanError
from daylatch.paper.pages import report
from daylatch.paper.pictures.comparison import draw_comparison
from daylatch.paper.pictures.year import draw_year
from daylatch.plan.due import exactly
from daylatch.site.timer import Timer
from daylatch.site.writing import Writing
from daylatch.wording import FACE_12_HOURS, FACE_24_HOURS
from programs import is_here, reason
from sites import ID, UTRECHT, plan, site

SETTINGS = f"""\
id = "{ID}"
name = "House"
[place]
latitude = {UTRECHT.latitude}
longitude = {UTRECHT.longitude}
zone = "{UTRECHT.zone}"
[open]
not_before = "06:30"
fallback = "05:30"
dark_fallback = "10:15"
[close]
not_after = "21:45"
fallback = "22:30"
[door]
clock = "standard"
[head_count]
after_close_min = 20
[calendar]
style = "STYLE"
show = ["reasons"]
[laying]
lamp = "both"
[timer]
by_weekday = ["saturday", "sunday"]
step_min = 5
[[span]]
from = 2027-03-08
until = 2027-03-14
open.fixed = "08:30"
close.fixed = "18:45"
[[span]]
from = 2027-06-10
until = 2027-06-12
reason = "a visitor"
open.not_after = "07:20"
close.fallback = "21:50"
[[span]]
from = 2027-07-10
until = 2027-07-12
shut = true
"""
YEAR = ("--year", "2027")
SPRING = ("--from", "2027-03-08", "--until", "2027-04-05")
LATER = ("--with", "close.offset_min=35")
SHOWN = {
    "plan": ("plan", *YEAR),
    "explain": ("explain", "2027-03-28"),
    "explain a fixed time": ("explain", "2027-03-10"),
    "explain a shut day": ("explain", "2027-07-12"),
    "today": ("today", "--at", "2027-06-01T22:00Z"),
    "today in brief": ("today", "--at", "2027-06-01T12:00Z", "--brief"),
    "check": ("check",),
    "timer list": ("settings", *YEAR),
    "compare": ("compare", *LATER, *SPRING),
    "day length": ("daylength", *SPRING),
    "day length of a year": ("daylength", *YEAR),
    "simulated door": ("simulate", *SPRING, "--drift", "80", "--misses-changes"),
    "timer page": ("settings", *YEAR, "-o", "made.html"),
    "timer calendar": ("settings", *YEAR, "-o", "made.ics"),
    "card": ("card", *YEAR, "--rows", "months", "-o", "made.html"),
    "card of a month": ("card", "--month", "2027-03", "-o", "made.html"),
    "report": ("report", *YEAR, "-o", "made.html"),
    "picture of a year": ("draw", *YEAR, "-o", "made.svg"),
    "calendar": ("plan", *YEAR, "-o", "made.ics"),
    "feed": ("feed", *SPRING, "-o", "made"),
}
WITHOUT_TIMES = {
    "nights": ("nights", *SPRING),
    "picture of nights": ("draw", *YEAR, "--picture", "nights", "-o", "made.svg"),
    "picture of two plans": ("draw", *YEAR, *LATER, "--picture", "compare", "-o", "made.svg"),
}
FOR_PROGRAMS = [
    ("plan", "csv"),
    ("plan", "json"),
    ("plan", "table"),
    ("nights", "csv"),
    ("nights", "json"),
    ("compare", "csv"),
    ("compare", "json"),
    ("daylength", "csv"),
    ("daylength", "json"),
    ("daylength", "ics"),
    ("settings", "csv"),
    ("settings", "json"),
    ("simulate", "csv"),
]
# A distance from UTC has a sign before it; what quotes the site file has a quote or an equals sign.
TIME_24 = re.compile(r'(?<![\d:+"\-])(?<!= )\d{1,2}:\d\d(?![\d:]*\s?[AP]M)')
TIME_12 = re.compile(r"\b\d{1,2}:\d\d(?::\d\d)?\s[AP]M|\bnoon\b")


@pytest.fixture
def twelve_hours(monkeypatch):
    """Give every site the face of twelve hours, and write no duration as ``9:05``."""
    monkeypatch.setattr(Writing, "face", FACE_12_HOURS)
    for module in (nights_text, compare_text, daylength_text, report):
        assert module.hours_text is wording.hours_text
        monkeypatch.setattr(module, "hours_text", lambda duration: "9h05")


@pytest.fixture
def made(daylatch, tmp_path, monkeypatch):
    """Return a function that runs a command for a site, and returns all that it says and writes."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")

    def call(arguments: tuple[str, ...], style: str = "days") -> str:
        if arguments[0] == "simulate" and not is_here("gcc"):
            pytest.skip(reason("gcc"))
        (tmp_path / "site.toml").write_text(SETTINGS.replace("STYLE", style))
        ran = daylatch(*arguments)
        assert ran.status == 0, ran.err
        written = [file for file in tmp_path.rglob("*") if file.is_file() and file.stem != "site"]
        contents = [file.read_bytes().decode("utf-8", "replace") for file in written]
        for file in written:
            file.unlink()
        texts = [ran.out, *contents]
        # Pictures within a page, and lines of a calendar that are folded.
        for coded in re.findall(r"base64,([\w+/=]+)", "".join(contents)):
            texts.append(base64.b64decode(coded).decode())
        return re.sub(r"\r\n ", "", "\n".join(texts))

    return call


@pytest.mark.parametrize("command", SHOWN.values(), ids=SHOWN.keys())
def test_people_are_shown_the_face_alone(command, made, twelve_hours):
    text = made(command)
    assert TIME_12.search(text)
    assert TIME_24.findall(text) == []


@pytest.mark.parametrize("command", WITHOUT_TIMES.values(), ids=WITHOUT_TIMES.keys())
def test_what_shows_no_time_of_day_has_none_by_another_way(command, made, twelve_hours):
    assert TIME_24.findall(made(command)) == []


@pytest.mark.parametrize("style", ["movements", "steps"])
def test_titles_of_each_style_follow_the_face(style, made, twelve_hours):
    text = made(SHOWN["calendar"], style)
    assert TIME_12.search(text)
    assert TIME_24.findall(text) == []


@pytest.mark.parametrize("command", SHOWN.values(), ids=SHOWN.keys())
def test_without_another_face_people_are_shown_24_hours(command, made):
    text = made(command)
    assert TIME_24.search(text)
    assert not TIME_12.search(text)


@pytest.mark.parametrize(("command", "form"), FOR_PROGRAMS)
def test_what_programs_read_is_the_same_by_any_face(command, form, made, monkeypatch):
    wishes = [*LATER] if command == "compare" else []
    arguments = (command, *wishes, *SPRING, "--to", form, "-o", "made")
    before = made(arguments)
    monkeypatch.setattr(Writing, "face", FACE_12_HOURS)
    assert made(arguments) == before
    assert not TIME_12.search(before)


def test_an_audit_for_programs_is_the_same_by_any_face(daylatch, tmp_path, monkeypatch):
    folder = ROOT / "schedules"
    asked = ("audit", str(folder / "alder-row.toml"), str(folder / "alder-row-log-2026.csv"))
    before = [daylatch(*asked, "--to", form).out for form in ("json", "csv", "text")]
    monkeypatch.setattr(Writing, "face", FACE_12_HOURS)
    after = [daylatch(*asked, "--to", form).out for form in ("json", "csv", "text")]
    assert after[:2] == before[:2]
    assert after[2] != before[2]


@pytest.mark.parametrize("style", ["movements", "days", "steps"])
def test_a_calendar_keeps_the_times_and_names_of_its_entries_by_any_face(style, made, monkeypatch):
    def entries(text: str) -> list[str]:
        return re.findall(r"^(?:BEGIN|UID|DTSTART|DTEND|DTSTAMP|SEQUENCE).*$", text, re.MULTILINE)

    before = entries(made(SHOWN["calendar"], style))
    monkeypatch.setattr(Writing, "face", FACE_12_HOURS)
    assert entries(made(SHOWN["calendar"], style)) == before
    assert len(before) > 5 * 50


def ends(line: str) -> list[int]:
    """Return where times end, since those of one digit stand under the last of two."""
    return [match.end() for match in TIME_12.finditer(line)]


def test_the_columns_of_a_plan_stand_under_their_heads(made, twelve_hours):
    lines = made(("plan", *YEAR)).split("\n")
    rows = 0
    for number, line in enumerate(lines):
        if not re.fullmatch(r"( +open +close)+", line):
            continue
        heads = [match.end() for match in re.finditer("open|close", line)]
        clocks = [match.start() for match in re.finditer("wall|door", lines[number - 1])]
        assert clocks == [head - 8 for head in heads[::2]]
        for row in lines[number + 1 :]:
            if not row:
                break
            assert set(ends(row)) <= set(heads)
            rows += len(ends(row)) > 0
    assert rows > 6 * 28
    assert max(map(len, lines)) <= 80


def test_the_columns_of_a_timer_list_stand_under_their_heads(made, twelve_hours):
    lines = made(("settings", *YEAR)).split("\n")
    (number,) = (number for number, line in enumerate(lines) if line.startswith("from "))
    heads = [match.end() for match in re.finditer("open|close", lines[number])]
    rows = [line for line in lines[number + 1 :] if not re.match("  (on|from) ", line)]
    late = {len(line) for line in rows if len(ends(line)) == 2}
    assert late == {len(lines[number])}
    found = {end for line in lines[number + 1 :] for end in ends(line)}
    assert found == set(heads[:2])


@pytest.mark.parametrize(
    ("command", "title", "columns"),
    [
        ("compare", "The changed days", 4),
        ("simulated door", "The longest", 1),
        ("day length of a year", "When the lamp burns", 4),
    ],
)
def test_times_stand_in_columns(command, title, columns, made, twelve_hours):
    _, _, table = made(SHOWN[command]).partition(f"\n{title}")
    found = {end for line in table.split("\n") for end in ends(line)}
    assert len(found) == columns


def test_the_columns_of_days_keep_their_length(made, twelve_hours):
    lines = made(SHOWN["day length"]).split("\n")
    head = next(line for line in lines if re.match(" +sunrise +sunset", line))
    ends = [match.end() for match in re.finditer("sunrise|sunset", head)]
    rows = [line for line in lines if re.match(r"2027-\d\d-\d\d  ", line)]
    assert len(rows) == 29
    for row in rows:
        assert [match.end() for match in TIME_12.finditer(row)][:2] == ends
        assert row.index("9h05", row.rindex("M")) + 4 == head.index("in all") + 6


def test_hours_beside_a_picture_follow_the_face(twelve_hours):
    first = plan(UTRECHT, "2027-03-01", "2027-03-31")
    second = plan(UTRECHT, "2027-03-01", "2027-03-31", "[close]\noffset_min = 35\n")
    comparison = compare_plans(first, second, "first", "second")
    for picture in (draw_year(exactly(first)), draw_comparison(comparison)):
        texts = [text.get_text() for text in picture.texts]
        assert {"midnight", "6 AM", "noon", "6 PM"} <= set(texts)
        assert TIME_24.findall(" ".join(texts)) == []


def test_the_report_of_a_sync_follows_the_face(twelve_hours):
    hens = plan(UTRECHT, "2027-03-01", "2027-03-02", '[calendar]\ntimes = "utc"\n')
    wanted = want(make_events(exactly(hens))[0], hens.zone)
    there = Found("https://a/b", "", wanted.uid, "", None, 0, "Moved", "20270301T184500")
    differences = [
        Difference(Kind.ADD, wanted.uid, wanted, None),
        Difference(Kind.REMOVE, wanted.uid, None, there),
    ]
    lines = difference_lines(differences, hens.zone, hens.site.face)
    lines += conflict_lines(
        [Difference(Kind.CONFLICT, wanted.uid, wanted, there)], hens.zone, hens.site.face
    )
    assert sum(len(TIME_12.findall(line)) for line in lines) == 4
    assert TIME_24.findall("\n".join(lines)) == []
    assert "2027-03-01 6:45 PM Moved" in lines[1]


@pytest.mark.parametrize(
    ("date", "opening", "closing", "words"),
    [
        ("2027-03-01", "12:01", "12:20", "open from 12:30 PM to 12:30 PM"),
        ("2027-10-31", "02:30", "18:00", "at 2:30 AM would move too early"),
    ],
)
def test_what_refuses_a_list_follows_the_face(date, opening, closing, words, twelve_hours):
    fixed = f'open.fixed = "{opening}"\nclose.fixed = "{closing}"\n'
    refused = plan(UTRECHT, date, None, f"[[span]]\nfrom = {date}\nuntil = {date}\n{fixed}")
    with pytest.raises(PlanError, match=words):
        make_timer_list(refused, Timer(tolerance_min=60, step_min=30))


def test_a_face_writes_moments_with_their_dates():
    zone = plan(UTRECHT, "2027-03-28").zone
    instant = np.datetime64("2027-03-28T00:59:59.900")
    assert FACE_24_HOURS.instant(zone, instant) == "2027-03-28 01:59"
    assert FACE_24_HOURS.instant(zone, instant, to_seconds=True) == "2027-03-28 01:59:59"
    assert FACE_12_HOURS.instant(zone, instant, to_seconds=True) == "2027-03-28 1:59:59 AM"
    assert FACE_24_HOURS.times(np.array(["2027-01-01T23:59", "NaT"], "datetime64[m]")) == [
        "23:59",
        "",
    ]
    assert FACE_24_HOURS.hour(24) == "24:00"
    assert site(UTRECHT).face is FACE_24_HOURS
