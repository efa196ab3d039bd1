"""The file that is really in the door: what it says holds, and what is no such file is refused."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from daylatch.door.table import FORMS

YEAR = ("--year", "2027")
HOUSE = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "House in use (demo)"
[place]
latitude = 51.7
longitude = 0.4
zone = "Europe/London"
"""
TABLE = '[door]\nin_use = "door.bin"\n'
LIST = '[door]\nworks = "timer"\nin_use = "list.json"\n'
LATER = "[close]\noffset_min = 40\n"
SHUT = '[[span]]\nfrom = 2027-06-01\nuntil = 2027-06-20\nshut = true\nreason = "order (demo)"\n'


def house(tables, folder="."):
    Path(folder, "site.toml").write_text(HOUSE + tables)


# What takes long to make is made once.
MADE = {}


def make(daylatch, tables, command, name):
    if (tables, command) not in MADE:
        house(tables)
        assert daylatch(*command, "-o", name).status == 0
        MADE[tables, command] = Path(name).read_bytes()
    Path(name).write_bytes(MADE[tables, command])


def make_table(daylatch, *options, name="door.bin", year=YEAR):
    make(daylatch, "", ("plan", *year, "--to", "table", *options), name)


def make_list(daylatch):
    timer = '[door]\nworks = "timer"\n'
    make(daylatch, timer, ("settings", *YEAR, "--to", "json"), "list.json")


def days(daylatch, first, last):
    ran = daylatch("plan", "--from", first, "--until", last, "--to", "json")
    assert ran.status == 0, ran.err
    return json.loads(ran.out)


def said(ran):
    assert ran.status == 0, ran.err
    return " ".join(ran.out.split())


@pytest.mark.parametrize("form", FORMS)
def test_a_table_is_read_in_any_of_its_forms(daylatch, form):
    spring = ("--from", "2027-03-01", "--until", "2027-04-30")
    make_table(daylatch, "--as", form, name="in-use.any", year=spring)
    house('[door]\nin_use = "in-use.any"\n')
    data = days(daylatch, "2027-03-20", "2027-04-05")
    assert data["due"]["in_use"]["differs_from"] is None
    assert {day["close_late_min"] for day in data["days"]} == {0}


def test_a_table_for_every_year_is_read_too(daylatch):
    years = ("--from", "2026-01-01", "--until", "2028-12-31")
    make_table(daylatch, "--every-year", year=years)
    house(TABLE)
    found = days(daylatch, "2027-02-20", "2027-03-10")["days"]
    late = {day["close_late_min"] for day in found}
    assert min(late) >= 0
    assert max(late) >= 1


@pytest.mark.parametrize("kind", ["table", "list"])
def test_where_the_site_file_has_moved_on_all_say_the_same_date(daylatch, kind):
    (make_table if kind == "table" else make_list)(daylatch)
    in_use = TABLE if kind == "table" else LIST
    house(in_use)
    for ran in (daylatch("today", "--at", "2027-06-01T12:00Z"), daylatch("plan", *YEAR)):
        assert "the site file says otherwise" not in said(ran)
    house(in_use + SHUT)
    differs = days(daylatch, "2027-09-01", "2027-09-03")["due"]["in_use"]["differs_from"]
    # The best list around shut dates may be another from any setting before on.
    assert "2027-01-01" < differs <= "2027-06-01"
    assert kind == "list" or differs == "2027-06-01"
    commands = (
        ("today", "--at", "2027-03-01T12:00Z"),
        ("explain", "2027-11-01"),
        ("plan", *YEAR),
        ("plan", "--from", "2027-09-01", "--until", "2027-09-03"),
        ("nights", "--from", "2027-09-01", "--until", "2027-09-03"),
        ("fit", "--from", "2027-09-01", "--until", "2027-09-03"),
    )
    for command in commands:
        words = said(daylatch(*command))
        assert f"From {differs} on the site file says otherwise" in words, command
        assert "--year 2027 -o new-2027." in words.replace("- ", "-")


def test_what_is_early_is_said_first(daylatch):
    make_table(daylatch)
    house(TABLE + LATER)
    words = said(daylatch("plan", "--from", "2027-09-01", "--until", "2027-09-03"))
    assert "and moves up to 25 min BEFORE the planned time on 3 days" in words
    told = said(daylatch("explain", "2027-09-02"))
    assert "25 min BEFORE that" in told
    assert daylatch("card", *YEAR, "-o", "card.html").status == 0
    assert "never moves before its planned minute" not in Path("card.html").read_text()


def test_a_day_that_is_planned_shut_by_now(daylatch):
    make_table(daylatch)
    house(TABLE + SHUT)
    for last in ("2027-06-10", "2027-06-11", "2027-06-22"):
        first_day = days(daylatch, "2027-06-10", last)["days"][0]
        assert first_day["next_open"][:10] == "2027-06-11"
        assert first_day["open"] is None
        assert first_day["open_due"][:10] == "2027-06-10"
    words = said(daylatch("plan", "--from", "2027-06-10", "--until", "2027-06-12"))
    assert "other than planned: opens it on 3 days planned shut" in words
    assert "as planned" not in words
    told = said(daylatch("explain", "2027-06-10"))
    assert "the file in use opens the door all the same: The door is due to open" in told


def test_dates_that_it_does_not_cover_are_unknown_and_what_would_cover_all(daylatch):
    make_list(daylatch)
    house(LIST)
    data = days(daylatch, "2027-12-30", "2028-01-03")
    assert [day["close_due"] is None for day in data["days"]] == [False] * 2 + [True] * 3
    assert [day["head_count"] is None for day in data["days"]] == [False] * 2 + [True] * 3
    assert all(day["close"] for day in data["days"])
    words = said(daylatch("plan", "--from", "2027-12-30", "--until", "2028-01-03"))
    remedy = (
        "daylatch settings site.toml --from 2027-01-01 --until 2028-12-31 -o new-2027-2028.json"
    )
    assert remedy in words.replace("- ", "-")
    _, *command = remedy.split()
    assert daylatch(*command).status == 0
    house(LIST.replace("list.json", "new-2027-2028.json"))
    again = days(daylatch, "2027-12-30", "2028-01-03")
    assert all(day["close_due"] for day in again["days"])
    assert again["due"]["in_use"]["differs_from"] is None
    outside = said(daylatch("today", "--at", "2030-01-02T12:00Z"))
    assert "not known" in outside
    assert "moves as planned" not in outside
    assert "Count heads once the door has shut" in outside


def test_it_lies_beside_the_site_file_wherever_a_command_runs(daylatch, tmp_path, monkeypatch):
    make_list(daylatch)
    house(LIST)
    here = days(daylatch, "2027-09-01", "2027-09-03")["days"]
    (tmp_path / "else where").mkdir()
    monkeypatch.chdir(tmp_path / "else where")
    ran = daylatch(
        "plan", "../site.toml", "--from", "2027-09-01", "--until", "2027-09-03", "--to", "json"
    )
    assert json.loads(ran.out)["days"] == here


def test_a_wider_table_than_the_site_file_allows_is_told(daylatch):
    make_table(daylatch, "--within", "2")
    house(TABLE)
    assert "says otherwise" not in said(daylatch("today", "--at", "2027-06-10T12:00Z"))
    house(TABLE + "within_min = 1\n")
    assert "says otherwise" in said(daylatch("today", "--at", "2027-06-10T12:00Z"))


# --- what is no such file ------------------------------------------------------------------------


def change(path, edit):
    data = json.loads(Path(path).read_text())
    edit(data)
    Path(path).write_text(json.dumps(data))


def each_program(data):
    for setting in data["settings"]:
        yield from setting["programs"]


def put(key, value):
    def edit(data):
        for program in each_program(data):
            program[key] = value

    return edit


def reverse(data):
    data["settings"].reverse()


def with_hole(data):
    del data["settings"][3]


def from_after_until(data):
    data["settings"][0]["from"], data["settings"][0]["until"] = "2027-05-01", "2027-01-01"


BROKEN = {
    "another kind": lambda data: data["generator"].update(name="daylatch"),
    "a hostile kind": lambda data: data["generator"].update(name="\x1b[31mX\n\nwrote it"),
    "newer": lambda data: data["generator"].update(format=99),
    "much newer": lambda data: data["generator"].update(format=10**400),
    "a format that is none": lambda data: data["generator"].update(format=True),
    "another format that is none": lambda data: data["generator"].update(format=1.0),
    "another house": lambda data: data["site"].update(id="c1f2d8f4-5a0d-4f0b-b6de-93a4f0d0b333"),
    "no settings": lambda data: data.update(settings=[]),
    "settings that are none": lambda data: data.update(settings=5),
    "an unknown clock": lambda data: data["timer"].update(clock="lunar"),
    "days far away": put("open_day", 10**30),
    "days at infinity": put("close_day", 1e400),
    "a day that is none": put("open_day", "x"),
    "a time that is none": put("open", "25:99"),
    "opening after closing": put("open", "23:59"),
    "no opening": put("open", None),
    "one weekday": put("weekdays", ["monday"]),
    "no weekday": put("weekdays", []),
    "a weekday twice": put("weekdays", ["monday", "monday"]),
    "out of order": reverse,
    "a hole": with_hole,
    "ends before it begins": from_after_until,
}


@pytest.mark.parametrize("edit", BROKEN.values(), ids=BROKEN)
def test_a_broken_list_is_refused_with_line_and_remedy(daylatch, edit):
    make_list(daylatch)
    change("list.json", edit)
    house(LIST)
    ran = daylatch("plan", "--from", "2027-03-01", "--until", "2027-03-02", "-o", "plan.csv")
    assert ran.status == 3
    (line,) = ran.err.splitlines()
    assert line.startswith('daylatch: site.toml, line 9: door.in_use = "list.json": ')
    assert len(line) < 400
    assert line.isprintable()
    assert not Path("plan.csv").exists()


CONTENTS = {
    "nothing": b"",
    "rubbish": bytes(range(256)) * 20,
    "text": b"a list of times\n",
    "JSON of something else": b"[1, 2]",
    "deep JSON": b"[" * 100_000,
    "far too much": b"x" * 10_000_001,
}


@pytest.mark.parametrize("kind", [TABLE, LIST], ids=["table", "list"])
@pytest.mark.parametrize("content", CONTENTS.values(), ids=CONTENTS)
def test_any_other_file_is_refused(daylatch, content, kind):
    house(kind)
    Path("door.bin").write_bytes(content)
    Path("list.json").write_bytes(content)
    ran = daylatch("today")
    assert ran.status == 3
    assert "door.in_use = " in ran.err
    assert "Traceback" not in ran.err


def test_a_cut_or_newer_table_is_refused(daylatch):
    make_table(daylatch)
    whole = Path("door.bin").read_bytes()
    house(TABLE)
    for content in (whole[:-1], whole[:40], whole + b"\0", whole[:2] + b"\x02" + whole[3:]):
        Path("door.bin").write_bytes(content)
        ran = daylatch("plan", *YEAR)
        assert ran.status == 3
        assert "site.toml, line 8: door.in_use" in ran.err
    assert "has format 2, and only 1 is known" in ran.err


def test_a_table_for_another_clock_is_refused(daylatch):
    make_table(daylatch)
    Path("site.toml").write_text(
        HOUSE.replace("Europe/London", "Europe/Paris") + '[door]\nin_use = "door.bin"\n'
    )
    ran = daylatch("today", "--at", "2027-06-10T12:00Z")
    assert ran.status == 3
    assert "is made for another clock" in ran.err
    assert "is it another house's?" in ran.err


@pytest.mark.parametrize("kind", ["table", "list"])
def test_a_file_of_the_wrong_kind_for_what_works_the_door(daylatch, kind):
    make_table(daylatch)
    make_list(daylatch)
    name = "list.json" if kind == "table" else "door.bin"
    works = "controller" if kind == "table" else "timer"
    house(f'[door]\nworks = "{works}"\nin_use = "{name}"\n')
    assert daylatch("today").status == 3
    house(f'[door]\nworks = "hand"\nin_use = "{name}"\n')
    assert "a person goes by the card" in daylatch("today").err


def test_what_cannot_be_read(daylatch, tmp_path):
    house(TABLE)
    assert "no such file" in daylatch("today").err
    (tmp_path / "door.bin").mkdir()
    assert "is no file" in daylatch("today").err
    (tmp_path / "door.bin").rmdir()
    os.mkfifo(tmp_path / "door.bin")
    assert "is no file" in daylatch("today").err


def test_a_year_that_is_shut_all_year_is_off_all_year(daylatch):
    house('[door]\nworks = "timer"\n[[span]]\nfrom = 2026-12-20\nuntil = 2027-12-31\nshut = true\n')
    for instant, state in (("2026-12-18T12:00Z", "open"), ("2027-05-05T12:00Z", "shut")):
        assert f"should be {state}" in said(daylatch("today", "--at", instant))
    found = days(daylatch, "2026-12-18", "2027-01-02")["days"]
    assert [day["open_due"] is None for day in found] == [False] * 2 + [True] * 14


def test_no_calendar_names_files_and_the_keeper_is_warned(daylatch):
    make_list(daylatch)
    house(LIST)
    dates = ("--from", "2027-12-30", "--until", "2028-01-03")
    plain = daylatch("plan", "--from", "2027-09-01", "--until", "2027-09-03", "--to", "ics")
    assert (plain.status, plain.err) == (0, "")
    assert daylatch("feed", *dates, "-o", "public").status == 0
    ran = daylatch("plan", *dates, "--to", "ics")
    assert "does not cover" in ran.err
    for content in (ran.out, Path("public/door.ics").read_text()):
        words = content.replace("\r\n ", "").replace("\n ", "")
        assert "It is not known when the door moves on 2028-01-01 to 2028-01-03" in words
        assert "list.json" not in words
        assert "site.toml" not in words


def test_a_script_is_told_when_nothing_is_known(daylatch):
    make_list(daylatch)
    house(LIST)
    known, unknown = "2027-06-01T12:00Z", "2028-06-01T12:00Z"
    assert daylatch("today", "--at", known, "--is", "open").status == 0
    ran = daylatch("today", "--at", unknown, "--is", "open")
    assert (ran.status, ran.out) == (4, "")
    assert "It is not known when the door moves on 2028-06-01" in ran.err
    brief = daylatch("today", "--at", unknown, "--brief").out
    assert brief.startswith("open until ")
    assert "planned; what is due is not known" in brief


def test_on_the_last_evening_the_next_opening_is_not_known(daylatch):
    make_list(daylatch)
    house(LIST)
    words = said(daylatch("today", "--at", "2027-12-31T20:00Z"))
    assert "(planned: the file in use does not cover that day, so it is not known)" in words
    brief = daylatch("today", "--at", "2027-12-31T20:00Z", "--brief").out
    assert "planned; what is due is not known" in brief
    assert "not known" not in said(daylatch("today", "--at", "2027-12-30T20:00Z"))


def test_an_old_file_that_closes_in_daylight_is_no_fault_of_the_rules(daylatch):
    house('[[span]]\nfrom = 2027-07-03\nuntil = 2027-07-04\nclose.fixed = "16:45"\n')
    july = ("--from", "2027-07-01", "--until", "2027-07-31")
    assert daylatch("plan", *july, "--to", "table", "-o", "door.bin").status == 0
    house(TABLE)
    words = said(daylatch("plan", *july))
    assert "shut them in first, and put a new file into the door" in words
    assert "shut_in_by_hand" not in words
    assert "put a new file into the door" in said(daylatch("explain", "2027-07-03"))


def test_a_card_counts_no_heads_where_it_is_not_known_when_the_door_closes(daylatch):
    make_list(daylatch)
    house(LIST)
    ran = daylatch("card", "--month", "2028-01", "-o", "card.html")
    assert ran.status == 0, ran.err
    page = Path("card.html").read_text()
    assert page.count(">?</td>") >= 31
    assert "count heads once it has shut" in page


def test_a_script_gets_no_answer_while_a_door_may_just_be_about_to_move(daylatch):
    house("[door]\nwithin_min = 10\n")
    ran = daylatch("plan", "--from", "2027-06-01", "--until", "2027-06-01", "--to", "json")
    closes = json.loads(ran.out)["days"][0]["close"]
    hour, minute = int(closes[11:13]), int(closes[14:16])
    answers = []
    for later in (-1, 0, 9, 10):
        at = f"2027-06-01T{hour:02d}:{minute:02d}{closes[19:]}"
        shifted = str(int(minute) + later)
        at = at.replace(f"{hour:02d}:{minute:02d}", f"{hour:02d}:{int(shifted):02d}")
        answers.append(daylatch("today", "--at", at, "--is", "open").status)
    assert answers == [0, 4, 4, 1]
    assert "or up to 10 min later" in daylatch("today", "--at", "2027-06-01T12:00Z", "--brief").out
