"""Direct sun as text, CSV and JSON, and the command that writes them."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest

from daylatch.birds.sunlight import csv as sunlight_csv
from daylatch.birds.sunlight import json as sunlight_json
from daylatch.birds.sunlight import text as sunlight_text
from daylatch.birds.sunlight.dusk import make_dusk
from daylatch.birds.sunlight.sunlight import make_sunlight
from daylatch.birds.sunlight.words import one_sentence
from daylatch.cautions import CAUTION
from daylatch.plan.due import exactly
from daylatch.sun.skyline import make_skyline
from sites import FALLBACKS, KIRITIMATI, LORD_HOWE, NY_ALESUND, TAMPERE, UTRECHT, plan

ROOT = Path(__file__).resolve().parents[3]
VALLEY = make_skyline([0, 60, 90, 120, 150, 180, 210, 240, 300], [5, 12, 20, 15, 8, 11, 6, 14, 4])
FALL = (
    FALLBACKS.replace("[close]", 'dark_fallback = "09:00"\n[close]') + 'dark_fallback = "15:00"\n'
)
SKYLINE = """
[skyline]
azimuth = [0, 60, 90, 120, 150, 180, 210, 240, 300]
elevation = [5, 12, 20, 15, 8, 11, 6, 14, 4]
"""
CASES = [
    (UTRECHT, "2027-01-10", "2027-02-20"),
    (TAMPERE, "2027-01-15", "2027-01-31"),
    (LORD_HOWE, "2027-04-01", "2027-04-10"),
    (KIRITIMATI, "2027-06-01", "2027-06-05"),
    (NY_ALESUND, "2027-06-19", "2027-06-22"),
    (NY_ALESUND, "2027-12-19", "2027-12-22"),
]


def made(spot, first, last):
    return make_sunlight(exactly(plan(spot, first, last, FALL)), VALLEY)


def rendered(module, found):
    return module.render(found, make_dusk(found.plan, VALLEY)).decode()


@pytest.mark.parametrize("case", CASES)
def test_the_json_has_every_stretch_in_utc(case):
    found = made(*case)
    data = json.loads(rendered(sunlight_json, found))
    assert [day["date"] for day in data["days"]] == [str(date) for date in found.plan.dates]
    stretches = [part for day in data["days"] for part in day["sun"]]
    for key, column in (("from", found.start_utc), ("until", found.end_utc)):
        read = np.array([one[key].removesuffix("Z") for one in stretches], "datetime64[ms]")
        assert all(one[key].endswith("Z") for one in stretches)
        if stretches:
            assert np.abs((read - column).astype("timedelta64[us]").astype(int)).max() <= 500
    for day, length in zip(data["days"], found.length, strict=True):
        assert abs(day["sun_min"] - length / np.timedelta64(1, "m")) <= 0.5
    assert data["summary"]["days_without_sun"] == sum(not day["sun"] for day in data["days"])
    assert sum(month["days"] for month in data["months"]) == len(data["days"])
    assert data["skyline"]["elevation"] == VALLEY.elevation_deg.tolist()
    assert data["caution"] == CAUTION


@pytest.mark.parametrize("case", CASES)
def test_the_csv_has_a_row_for_each_stretch_and_each_day_without(case):
    found = made(*case)
    text = rendered(sunlight_csv, found)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert tuple(rows[0]) == sunlight_csv.HEADER
    assert len(rows) == len(found.rows) + found.sunless.sum()
    assert [row["date"] for row in rows] == sorted(row["date"] for row in rows)
    assert {row["date"] for row in rows} == {str(date) for date in found.plan.dates}
    for row in rows:
        assert (row["from_utc"] == "") == (row["until_utc"] == "") == (row["stretch"] == "")
        if row["from_utc"]:
            wall = np.datetime64(row["from_local"][:16])
            hours, minutes = map(int, row["from_local"][-5:].split(":"))
            offset = (hours * 60 + minutes) * (-1 if row["from_local"][-6] == "-" else 1)
            utc = np.datetime64(row["from_utc"].removesuffix("Z"))
            assert abs((wall - utc).astype("timedelta64[s]").astype(int) - offset * 60) <= 30
    assert rows[0]["caution"] == CAUTION
    assert {row["caution"] for row in rows[1:]} <= {""}


@pytest.mark.parametrize("case", CASES)
def test_the_text_shows_days_that_end_where_they_do(case):
    found = made(*case)
    text = rendered(sunlight_text, found)
    assert max(map(len, text.splitlines())) <= 80
    assert CAUTION in " ".join(text.split())
    assert ("By month" in text) == (len(found.plan) > 31)
    shown = re.findall(r"^(\d{4}-\d\d-\d\d) +(\d+:\d\d)  (.+)$", text, re.M)
    days = found.plan.dates.tolist()
    expected = days if len(days) <= 31 else [day for day in days if day.day in (1, 11, 21)]
    assert [date for date, _, _ in shown] == [str(day) for day in expected]
    for date, length, stretches in shown:
        row = found.plan.dates.tolist().index(np.datetime64(date).item())
        minutes = found.length[row] / np.timedelta64(1, "m")
        hours, rest = map(int, length.split(":"))
        assert abs(hours * 60 + rest - minutes) <= 0.5
        assert (stretches == "-") == bool(found.sunless[row])


def test_sentences_say_what_there_is():
    assert one_sentence(made(NY_ALESUND, "2027-12-19", "2027-12-22")) == (
        "no direct sun reaches the run on any of 4 days"
    )
    sentence = one_sentence(made(TAMPERE, "2026-07-01", "2027-06-30"))
    assert re.fullmatch(
        r"direct sun reaches the run for \d h \d\d min a day on average; none on \d\d of 365 days: "
        r"2026-11-\d\d to 2027-01-\d\d",
        sentence,
    )
    assert "none" not in one_sentence(made(UTRECHT, "2027-06-01", "2027-06-10"))


def test_the_demo_comes_out_byte_for_byte(daylatch):
    site = ROOT / "schedules/fjord-end.toml"
    ran = daylatch("sunlight", str(site), "--year", "2027")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (ROOT / "schedules/fjord-end-sunlight-2027.txt").read_text()


# --- The command -------------------------------------------------------------------------------


BESIDE = {
    "check": ("check",),
    "card": ("card", "--year", "2027", "-o", "c.html"),
    "report": ("report", "--year", "2027", "-o", "r.html"),
    "draw": ("draw", "--year", "2027", "-o", "y.svg"),
}


@pytest.fixture
def valley(alder_row):
    alder_row.write_text(alder_row.read_text() + SKYLINE)
    return alder_row


@pytest.mark.parametrize("form", ["txt", "csv", "json", "svg", "png", "pdf"])
def test_each_form_is_written_and_replaced(daylatch, valley, form):
    for year in ("2027", "2028"):
        ran = daylatch("sunlight", "--year", year, "-o", f"sun.{form}")
        assert ran.status == 0, ran.err
        assert ran.err == f"wrote sun.{form}: {year}-01-01 to {year}-12-31\n"
    assert (valley.parent / f"sun.{form}").stat().st_size > 2000


def test_without_a_skyline_it_says_what_to_add(daylatch, alder_row):
    ran = daylatch("sunlight", "--year", "2027")
    assert (ran.status, ran.out) == (2, "")
    assert "says nothing of hills, trees or houses: add [skyline]" in ran.err


def test_one_list_alone_is_told_with_its_line(daylatch, alder_row):
    alder_row.write_text(alder_row.read_text() + "\n[skyline]\nazimuth = [0, 90]\n")
    ran = daylatch("sunlight", "--year", "2027")
    assert (ran.status, ran.out) == (3, "")
    assert "skyline.elevation: a skyline is both lists, or a file: add elevation" in ran.err


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "cannot be read (no such file or directory): name a CSV file with the columns"),
        (b"azimuth,elevation\n0,99\n", "line 2: 99 is no elevation"),
        (b"\x00" * 100, "no line has the columns"),
        (b"x" * 200_000, "is no table (field larger than field limit (131072)): no line has"),
        (b"azimuth,elevation\n" + b"1,1\n" * 3_000_000, "is over 10000000 bytes"),
    ],
)
def test_a_file_that_is_no_skyline_is_refused(daylatch, alder_row, content, words):
    alder_row.write_text(alder_row.read_text() + '\n[skyline]\nfile = "hills.csv"\n')
    if content is not None:
        (alder_row.parent / "hills.csv").write_bytes(content)
    ran = daylatch("sunlight", "--year", "2027")
    assert (ran.status, ran.out) == (3, "")
    assert "site.toml, line " in ran.err
    assert f'skyline.file = "hills.csv": {words}' in ran.err
    # The plan itself needs none of it.
    assert daylatch("plan", "--year", "2027").status == 0


def test_azimuths_counted_from_south_are_warned_of(daylatch, alder_row):
    hill = "\n[skyline]\nazimuth = [0, 120, 180, 240]\nelevation = [0, 8, 30, 8]\n"
    alder_row.write_text(alder_row.read_text() + hill)
    for command in (("sunlight", "--year", "2027"), ("check",)):
        ran = daylatch(*command)
        assert ran.status == 0
        assert (
            "skyline.azimuth: it hides much more of the Sun than if the azimuths were counted"
            in ran.err
        )
        assert "add 180 to each if south is 0 in yours" in ran.err


def test_check_card_and_report_have_its_sentence(daylatch, valley, set_clock):
    set_clock("2026-11-27T12:00:00")
    ran = daylatch("check")
    assert re.search(r"^Sunlight +direct sun reaches the run for", ran.out, re.M)
    assert daylatch("report", "--year", "2027", "-o", "r.html").status == 0
    report = (valley.parent / "r.html").read_text()
    assert re.search(r"<dt>Sunlight</dt>\s*<dd>direct sun reaches the run for", report)
    assert daylatch("card", "--year", "2027", "-o", "c.html").status == 0
    card = (valley.parent / "c.html").read_text()
    assert "<p>Direct sun reaches the run for" in card


def test_a_skyline_that_cannot_be_read_keeps_nothing_else_back(daylatch, alder_row):
    plain = {name: daylatch(*command) for name, command in BESIDE.items()}
    alder_row.write_text(alder_row.read_text() + '\n[skyline]\nfile = "gone.csv"\n')
    for name, command in BESIDE.items():
        ran = daylatch(*command)
        assert ran.status == plain[name].status == 0, name
        assert "warning: direct sun is left out: site.toml, line " in ran.err, name
        assert "skyline.file" in ran.err


def test_a_card_of_some_dates_tells_of_those(daylatch, valley):
    for dates in (("2027-01-04", "2027-02-28"), ("2027-06-01", "2027-06-20")):
        name = f"{dates[0]}.html"
        ran = daylatch("card", "--from", dates[0], "--until", dates[1], "-o", name)
        assert ran.status == 0
        page = (valley.parent / name).read_text()
        (hours,) = re.findall(r"<p>Direct sun reaches the run for (\d+) h \d\d min a day", page)
        # A winter's day has six at the most, and one of June over twelve.
        assert (int(hours) > 11) == ("06" in dates[0])


def test_explain_says_when_the_sun_comes_that_day(daylatch, valley):
    ran = daylatch("explain", "2027-02-11")
    words = " ".join(ran.out.split())
    assert re.search(
        r"Over the skyline direct sun reaches the run from 0\d:\d\d to 1\d:\d\d", words
    )
    assert "No time of the door hangs on it." in words
    valley.write_text(
        valley.read_text()
        .replace("elevation = [5", "elevation = [60")
        .replace("60, 12, 20, 15, 8, 11, 6, 14, 4]", "60, 60, 60, 60, 60, 60, 60, 60, 60]")
    )
    dark = " ".join(daylatch("explain", "2027-02-11").out.split())
    assert "no direct sun reaches the run that day" in dark


def test_the_year_is_drawn_with_its_shade(daylatch, valley):
    assert daylatch("draw", "--year", "2027", "-o", "y.svg").status == 0
    picture = (valley.parent / "y.svg").read_text()
    assert 'id="shade"' in picture
    assert "Direct sun reaches the run for" in picture
    plain = valley.read_text().partition("\n[skyline]")[0]
    valley.write_text(plain)
    assert daylatch("draw", "--year", "2027", "-o", "y.svg").status == 0
    assert 'id="shade"' not in (valley.parent / "y.svg").read_text()


def test_a_range_without_any_sun_and_one_day_are_drawn(daylatch, valley):
    for dates in (("2027-06-21", "2027-06-21"), ("2027-12-01", "2027-12-03")):
        ran = daylatch("sunlight", "--from", dates[0], "--until", dates[1], "-o", "s.svg")
        assert ran.status == 0, ran.err
    ran = daylatch("sunlight", "--from", "2027-01-01", "--until", "2033-01-01", "-o", "s.svg")
    assert (ran.status, "too many for one picture" in ran.err) == (2, True)
