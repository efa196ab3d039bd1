"""What is registered by one line: a made-up one of each kind is everywhere it must be.

Each is registered in a process of its own before the command line is loaded, as its line would be.
"""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SITE = (ROOT / "schedules/alder-row.toml").read_text()
DATES = ["--from", "2027-03-01", "--until", "2027-03-07"]

COMMON = """\
import contextlib, io, json, sys, types
module = types.ModuleType("made_up")
sys.modules["made_up"] = module
"""
ASK = """\
from daylatch.__main__ import run
told = {}
for name, arguments in json.loads(sys.argv[1]).items():
    out, err = io.TextIOWrapper(io.BytesIO(), write_through=True), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run(arguments)
    told[name] = [status, out.buffer.getvalue().decode(), err.getvalue()]
sys.path.insert(0, sys.argv[2])
import generate
pages = {
    "commands": generate.commands_page(),
    "forms": generate.forms_page(),
    "site file": generate.site_file_page(),
    "schema": json.dumps(generate.site_schema()),
}
print(json.dumps([told, pages]))
"""
FORM = """\
from daylatch.commands import forms
from daylatch.files.forms import Form
from daylatch.files.own import first_line_is
module.render = lambda due, occasion: f"madeup plan\\n{len(due)} days\\n".encode()
module.wrote = first_line_is("madeup plan")
forms.FORMS["plan"] += (Form("scroll", (".scr",), "made_up"),)
"""
STYLE = """\
from daylatch.site.choices import calendar_styles
module.make_events = lambda entries: [entries.all_day(0, "madeup", "A made-up entry", [])]
module.times_words = lambda plan: ["Made-up times."]
calendar_styles.STYLES["fortnights"] = calendar_styles.CalendarStyle(
    "fortnights", "one made-up entry a fortnight", "made_up"
)
"""
OSCILLATOR = """\
from daylatch.site.choices import oscillators
oscillators.OSCILLATORS["madeup"] = oscillators.Oscillator(
    "madeup", "a made-up beat", "some made-up beat", "a made-up beat, in a sentence",
    usual="a made-up beat 3", holds=" on Sundays", **json.loads(sys.argv[3])
)
"""
WORKS = """\
import numpy as np
from daylatch.site.choices import works
def find_due(plan):
    from daylatch.plan.due import DueTimes
    later = np.timedelta64(7, "m")
    known = np.ones(len(plan), np.bool_)
    return DueTimes(plan.open_utc + later, plan.close_utc + later, known)
module.find_due = find_due
module.is_exact = lambda site: False
works.WORKS["lever"] = works.Works(
    "lever", "a made-up lever", "always seven minutes late", "made_up"
)
"""
TABLE = """\
import dataclasses
from typing import Annotated, ClassVar
from pydantic import Field
from daylatch.site import tables
from daylatch.site.table import Table
class Pond(Table):
    "A made-up table."
    ABOUT: ClassVar[str] = "A made-up pond."
    depth_m: Annotated[float, Field(ge=0, le=9)] | None = Field(None, description="How deep [m].")
    ducks: bool = Field(False, description="Whether there are any.")
    @classmethod
    def examples(cls, around):
        return {"depth_m": around.climate.warmest_c / 10}
    def told(self, ways):
        yield f"a made-up pond of {self.depth_m} m"
        yield "with ducks" if self.ducks else "without ducks"
module.Pond = Pond
tables.TABLES["pond"] = "made_up:Pond"
field = ("pond", "Pond | None", None)
tables.SiteFile = dataclasses.make_dataclass(
    "SiteFile", [field], bases=(tables.SiteFile,), frozen=True
)
"""
MOVEMENT = """\
from operator import attrgetter
from daylatch.site import timer
from daylatch.door.timer import movements
timer.MOVEMENTS += ("counting",)
movements.MOVEMENTS += (
    movements.TimerMovement("counting", "count", attrgetter("head_count_utc")),
)
"""
NATURAL_DAY = """\
from daylatch.birds.daylength import daylength
daylength.NATURAL_DAYS["madeup"] = daylength.NaturalDay(
    -12.0, "madeup_dawn", "madeup_dusk", "madeup_light", "madeup", "by made-up light",
    never_ends="Always made-up",
)
"""


@pytest.fixture
def registered(tmp_path):
    """Return a function that registers something, runs commands, and makes the generated pages."""
    (tmp_path / "site.toml").write_text(SITE)

    def ask(
        registration: str, commands: dict[str, list[str]], more: dict | None = None
    ) -> tuple[dict, dict]:
        done = subprocess.run(
            [
                sys.executable,
                "-c",
                COMMON + registration + ASK,
                json.dumps(commands),
                str(ROOT / "tools"),
                json.dumps(more or {}),
            ],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        told, pages = json.loads(done.stdout)
        return told, pages

    return ask


def test_a_form_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "theirs.scr").write_text("not ours\n")
    told, pages = registered(
        FORM,
        {
            "help": ["plan", "--help"],
            "other help": ["nights", "--help"],
            "refused": ["plan", *DATES, "--to", "papyrus"],
            "printed": ["plan", *DATES, "--to", "scroll"],
            "by ending": ["plan", *DATES, "-o", "ours.scr"],
            "again": ["plan", *DATES, "-o", "ours.scr"],
            "theirs": ["plan", *DATES, "-o", "theirs.scr"],
            "no update": ["plan", *DATES, "-o", "ours.scr", "--update"],
        },
    )
    assert "json, table or scroll" in " ".join(told["help"][1].split())
    assert "scroll" not in told["other help"][1]
    assert told["refused"][0] == 2
    assert "scroll" in told["refused"][2]
    assert told["printed"][:2] == [0, "madeup plan\n7 days\n"]
    assert (tmp_path / "ours.scr").read_text() == "madeup plan\n7 days\n"
    assert "already up to date" in told["again"][2]
    assert told["theirs"][0] == 6
    assert (tmp_path / "theirs.scr").read_text() == "not ours\n"
    assert told["no update"][0] == 2
    assert "| `plan` | `scroll` | `.scr` | no |" in pages["forms"]
    assert "json, table or scroll" in " ".join(pages["commands"].split())


def test_a_calendar_style_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "other").mkdir()
    for name, style in (("site.toml", "fortnights"), ("other/moons.toml", "moons")):
        text = SITE.replace("[calendar]\n", f'[calendar]\nstyle = "{style}"\n')
        (tmp_path / name).write_text(text.replace("reminder_min = 10\n", ""))
    told, pages = registered(
        STYLE,
        {
            "refused": ["check", "other/moons.toml"],
            "check": ["check"],
            "calendar": ["plan", *DATES, "-o", "made-up.ics"],
            "feed": ["feed", *DATES, "-o", "public"],
            "starter": ["new", "--all", "new.toml", "--name", "x", "--city", "Utrecht"],
        },
    )
    assert told["refused"][0] == 3
    assert "write one of 'movements', 'days', 'steps' or 'fortnights'" in told["refused"][2]
    assert told["check"][0] == 0
    assert "One made-up entry a fortnight" in told["check"][1]
    for name in ("calendar", "feed", "starter"):
        assert told[name][0] == 0, told[name]
    for file in ("made-up.ics", "public/door.ics"):
        content = (tmp_path / file).read_text()
        assert content.count("SUMMARY:A made-up entry") == 1
        assert "Made-up times." in content.replace("\r\n ", "").replace("\n ", "")
    assert '"fortnights"' in (tmp_path / "new.toml").read_text()
    for page in ("site file", "schema"):
        assert '"fortnights"' in pages[page]
    assert "one made-up entry a fortnight" in pages["site file"]


def test_what_works_a_door_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "other").mkdir()
    for name, works in (("site.toml", "lever"), ("other/moon.toml", "moon")):
        (tmp_path / name).write_text(SITE.replace('works = "controller"', f'works = "{works}"'))
    one = ["--from", "2027-03-27", "--until", "2027-03-29"]
    told, pages = registered(
        WORKS,
        {
            "refused": ["check", "other/moon.toml"],
            "check": ["check"],
            "text": ["plan", *one],
            "json": ["plan", *one, "--to", "json"],
            "calendar": ["plan", *one, "--to", "ics"],
            "explain": ["explain", "2027-03-28"],
            "today": ["today", "--at", "2027-03-28T12:00Z"],
            "nights": ["nights", *one, "--to", "csv"],
            "starter": ["new", "--all", "new.toml", "--name", "x", "--city", "Utrecht"],
        },
    )
    assert told["refused"][0] == 3
    assert "write one of 'controller', 'timer', 'hand' or 'lever'" in told["refused"][2]
    assert "worked by a made-up lever" in told["check"][1]
    data = json.loads(told["json"][1])
    assert data["site"]["door"]["works"] == "lever"
    assert {day["close_late_min"] for day in data["days"]} == {7}
    day = data["days"][1]
    due = day["close_due"][11:16]
    assert due != day["close"][11:16]
    for name, late in (
        ("text", "a made-up lever, and moves up to 7 min later than planned"),
        ("explain", "7 min after that (a made-up lever)"),
        ("today", "worked by a made-up lever"),
    ):
        assert due in told[name][1], name
        assert late in " ".join(told[name][1].split())
    starts = re.findall(r"DTSTART:\d{8}T(\d{6})Z", told["calendar"][1].replace("\r\n ", ""))
    assert len(starts) == 6
    rows = list(csv.DictReader(io.StringIO(told["nights"][1])))
    assert rows[1]["close_local"] == day["close_due"]
    assert '"lever"' in (tmp_path / "new.toml").read_text()
    for page in ("site file", "schema"):
        assert '"lever"' in pages[page]
    assert "a made-up lever (always seven minutes late)" in pages["site file"]


CLOCK = "[clock]\naccuracy_ppm = 3\nmargin_min = 2\noscillator = "
DRIFT = ["drift", "--year", "2027"]


def test_an_oscillator_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "other").mkdir()
    for name, settings in {
        "site.toml": f'{CLOCK}"madeup"\ncoldest_c = -10\n',
        "other/moon.toml": f'{CLOCK}"moon"\n',
        "other/unknown.toml": '[clock]\noscillator = "madeup"\n',
    }.items():
        (tmp_path / name).write_text(f"{SITE}\n{settings}")
    told, pages = registered(
        OSCILLATOR,
        {
            "refused": ["check", "other/moon.toml"],
            "option refused": [*DRIFT, "--oscillator", "moon"],
            "check": ["check"],
            "drift": DRIFT,
            "machines": [*DRIFT, "--to", "json"],
            "accuracy": [*DRIFT, "other/unknown.toml"],
            "help": ["drift", "--help"],
            "starter": ["new", "--all", "new.toml", "--name", "x", "--city", "Utrecht"],
        },
    )
    known = "write one of 'crystal', 'compensated', 'rc' or 'madeup'"
    assert told["refused"][0] == 3
    assert f'clock.oscillator = "moon": {known}' in told["refused"][2]
    assert told["option refused"][0] == 2
    assert f'--oscillator is "moon": {known}' in told["option refused"][2]
    check = " ".join(told["check"][1].split())
    assert "Clock A made-up beat of 3 ppm either way" in check
    # Cold and heat do not slow it down, so a temperature is of no use.
    assert 'clock.oscillator = "madeup": the temperature counts for a plain crystal only' in check
    drift = " ".join(told["drift"][1].split())
    assert "The clock some made-up beat, 3 ppm (0.3 s a day) fast or slow on Sundays" in drift
    assert "no clock" not in drift
    facts = json.loads(told["machines"][1])["timekeeping"]
    assert (facts["oscillator"], facts["slow_ppm"], facts["is_no_clock"]) == ("madeup", 3, False)
    assert told["accuracy"][0] == 2
    assert "one compensated for temperature 2, a made-up beat 3" in told["accuracy"][2]
    assert "crystal, compensated, rc or madeup" in " ".join(told["help"][1].split())
    assert '"madeup"' in (tmp_path / "new.toml").read_text()
    for page in ("site file", "schema"):
        assert '"madeup"' in pages[page]
        assert "a made-up beat, in a sentence" in pages[page]


def test_what_is_said_of_an_oscillator_is_so(registered, tmp_path):
    (tmp_path / "site.toml").write_text(f'{SITE}\n{CLOCK}"madeup"\ncoldest_c = -10\n')
    told, _ = registered(
        OSCILLATOR,
        {"check": ["check"], "drift": DRIFT, "machines": [*DRIFT, "--to", "json"]},
        {"is_slowed": True, "is_clock": False},
    )
    assert "clock.coldest_c" not in told["check"][1]
    drift = " ".join(told["drift"][1].split())
    assert (
        "The clock some made-up beat, 3 ppm (0.3 s a day) fast or slow at 25 °C; at -10 to 25 °C "
        "up to" in drift
    )
    assert "this is no clock" in drift
    facts = json.loads(told["machines"][1])["timekeeping"]
    assert facts["is_no_clock"] is True
    assert facts["slow_ppm"] > facts["fast_ppm"] == 3


def test_a_table_of_the_site_file_is_registered_by_its_model_a_line_and_a_field(
    registered, tmp_path
):
    for name, settings in {
        "good": "[pond]\ndepth_m = 1.5\nducks = true\n",
        "wrong": "[pond]\ndepth_m = 90\nduks = true\n",
        "misspelt": "[pont]\nducks = true\n",
        "empty": "[pond]\n",
    }.items():
        (tmp_path / name).mkdir()
        (tmp_path / f"{name}/site.toml").write_text(f"{SITE}\n{settings}")
    new = ["--name", "x", "--city", "Singapore"]
    told, pages = registered(
        TABLE,
        {
            "good": ["check", "good/site.toml"],
            "plan": ["plan", "good/site.toml", *DATES],
            "wrong": ["check", "wrong/site.toml"],
            "misspelt": ["check", "misspelt/site.toml"],
            "empty": ["check", "empty/site.toml"],
            "everything": ["new", "--all", "new.toml", *new],
            "short": ["new", "short.toml", *new],
        },
    )
    for name in ("good", "plan", "empty", "everything", "short"):
        assert told[name][0] == 0, told[name]
    assert "Pond A made-up pond of 1.5 m; with ducks" in " ".join(told["good"][1].split())
    assert "Pond" not in told["empty"][1]
    assert told["wrong"][0] == told["misspelt"][0] == 3
    assert "pond.depth_m = 90: must be at most 9" in told["wrong"][2]
    assert "pond.duks = true: is not a key here; did you mean ducks?" in told["wrong"][2]
    assert "pont = a table: is not a key here; did you mean pond?" in told["misspelt"][2]
    lines = (tmp_path / "new.toml").read_text().splitlines()
    begin = lines.index("[pond]")
    assert lines[begin - 1] == "# A made-up pond."
    # Its example goes by the place: a tenth of how warm it gets there.
    assert lines[begin + 1].split("  ")[0] == "# depth_m = 4"
    assert "How deep [m]." in lines[begin + 1]
    assert lines[begin + 2].split("  ")[0] == "# ducks = false"
    short = (tmp_path / "short.toml").read_text()
    assert "[pond]" not in short
    assert "diary, pond) and key." in " ".join(short.replace("#", "").split())
    assert "## [pond]" in pages["site file"]
    assert "| `depth_m` | number, 0 to 9 | none | How deep [m]. |" in pages["site file"]
    pond = json.loads(pages["schema"])["properties"]["pond"]
    assert pond["properties"]["ducks"]["type"] == "boolean"


def test_a_movement_of_a_timer_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "other/two.toml").write_text(f"{SITE}\n[timer]\nprograms = 2\n")
    dates = ["--from", "2027-02-01", "--until", "2027-03-31"]
    forms = {name: ["settings", *dates, "-o", f"made.{name}"] for name in ("csv", "html", "ics")}
    told, _ = registered(
        MOVEMENT,
        {
            "text": ["settings", *dates],
            "apart": ["settings", *dates, "--apart"],
            "json": ["settings", *dates, "--to", "json"],
            "too few": ["check", "other/two.toml"],
            **forms,
        },
    )
    for name in ("text", "apart", "json", *forms):
        assert told[name][0] == 0, told[name]
    settings = json.loads(told["json"][1])["settings"]
    programs = [program for setting in settings for program in setting["programs"]]
    assert all(program["open"] < program["close"] < program["count"] for program in programs)
    assert all(0 <= program["count_late_at_worst_min"] <= 20 for program in programs)
    times = [[program[name] for name in ("open", "close", "count")] for program in programs]
    assert len(times) > 3

    text = told["text"][1]
    assert "opening, closing and counting together" in text
    assert "3 programs used" in text
    heads, *rows = text.partition("late at worst [min]\n")[2].splitlines()
    assert heads.split() == ["from", *["open", "close", "count"] * 2]
    rows = [row for row in rows if re.search(r"\d:\d", row)]
    assert [re.findall(r"\d\d:\d\d", row) for row in rows] == times
    assert {len(row) for row in rows} == {len(heads)}
    assert " of counting, set apart" in " ".join(told["apart"][1].split())

    with (tmp_path / "made.csv").open(newline="") as file:
        cells = [row for row in csv.DictReader(file) if row["timer"] == "on"]
    assert [[row[name] for name in ("open", "close", "count")] for row in cells] == times
    page = (tmp_path / "made.html").read_text()
    assert re.findall(r'<th scope="col">(\w+)</th>', page) == ["from", "open", "close", "count"]
    assert re.findall(r'colspan="(\d)"', page) == ["6"]
    titles = re.findall("SUMMARY:.*", (tmp_path / "made.ics").read_text().replace("\n ", ""))
    said = [re.findall(r"(?:open|close|count) (\d\d:\d\d)", title) for title in titles]
    assert [one for one in said if one] == times
    assert told["too few"][0] == 3
    assert "opening, closing and counting need 3 programs" in " ".join(told["too few"][2].split())


def test_a_way_to_count_the_natural_day_is_registered_by_one_line(registered, tmp_path):
    (tmp_path / "north.toml").write_text(
        'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "North"\n[place]\nlatitude = 60\n'
        'longitude = 11\n[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'
    )
    asked = ["daylength", "north.toml", "--from", "2027-03-01", "--until", "2027-06-30"]
    told, _ = registered(
        NATURAL_DAY,
        {"text": asked, "csv": [*asked, "--to", "csv"], "json": [*asked, "--to", "json"]},
    )
    for status, _, message in told.values():
        assert status == 0, message
    text = " ".join(told["text"][1].split())
    assert re.search(
        r"Shortest day .*; with civil twilight .*; by made-up light 13 h \d\d min", text
    )
    assert re.search(r"Always made-up \d+ days: 2027-\d\d-\d\d to 2027-06-30", text)
    first = next(csv.DictReader(io.StringIO(told["csv"][1])))
    assert first["madeup_dawn_utc"] < first["civil_dawn_utc"] < first["sunrise_utc"]
    assert int(first["madeup_min"]) > int(first["civil_min"])
    assert first["madeup_light"] == ""
    made = json.loads(told["json"][1])
    assert made["days"][0]["madeup"]["min"] == int(first["madeup_min"])
    assert made["days"][-1]["madeup"]["sun"] == "up"
    assert made["summary"]["madeup"]["shortest"]["date"] == "2027-03-01"
