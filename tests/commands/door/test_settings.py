"""``daylatch settings`` as a keeper runs it: what it takes, writes and refuses."""

from __future__ import annotations

import csv
import io
import re

import pytest

from daylatch.clock import WallTime
from daylatch.site.starter.text import Start, starter_text

YEAR = ("settings", "--year", "2027")


def rows(ran):
    assert (ran.status, ran.err) == (0, "")
    return list(csv.DictReader(io.StringIO(ran.out)))


def test_it_prints_a_list_for_the_site(daylatch, alder_row):
    ran = daylatch(*YEAR)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("daylatch timer settings\nAlder Row (demo)\n")
    assert "Mon 2027-02-08  keep shut: switch the timer off\n" in ran.out


def test_options_try_out_what_the_file_says_otherwise(daylatch, alder_row):
    path = alder_row
    path.write_text(path.read_text() + "\n[timer]\nchanges = 15\nstep_min = 5\npast_guard = true\n")
    as_in_file = rows(daylatch(*YEAR, "--to", "csv"))
    assert len(as_in_file) <= 16
    assert {int(row["open"][-2:]) % 5 for row in as_in_file if row["open"]} == {0}
    tight = rows(daylatch(*YEAR, "--to", "csv", "--tolerance", "12", "--step", "1"))
    assert len(tight) > 30
    assert max(int(row["close_late_at_worst_min"] or 0) for row in tight) <= 12
    fewer = rows(daylatch(*YEAR, "--to", "csv", "--changes", "8"))
    assert len(fewer) <= 9
    sundays = rows(daylatch(*YEAR, "--to", "csv", "--on", "Sunday", "--changes", "20"))
    assert len(sundays) > 10
    months = rows(daylatch(*YEAR, "--to", "csv", "--on", "month-starts", "--changes", "20"))
    assert {row["from"][-2:] for row in months} == {"01", "08", "22"}
    apart = daylatch(*YEAR, "--apart")
    assert "of closing, set apart" in " ".join(apart.out.split())


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--tolerance", "-1"), "--tolerance is -1: write minutes from 0 to 720"),
        (("--tolerance", "9999"), "--tolerance is 9999: write minutes from 0 to 720"),
        (("--changes", "0"), "--changes is 0: write a number from 1 to 1000"),
        (("--tolerance", "20", "--changes", "12"), "give --tolerance, for the fewest"),
        (("--step", "7"), "--step is 7: write one of 1, 5, 10, 15, 30"),
        (("--on", "funday"), '--on is "funday": write any, month-starts, or weekdays'),
        (("--on", ""), '--on is "": write any, month-starts, or weekdays'),
        (("--tolerance", "3", "--step", "15"), "no list keeps a tolerance of 3 min"),
        (("--changes", "1"), "1 setting cannot cover dates on which the door stays shut"),
        (("--to", "pdf"), '--to is "pdf": write one of text, csv, ics, html, json'),
        (("--clock-margin", "-1"), "--clock-margin is -1: write how many minutes"),
        (("--clock-margin", "121"), "--clock-margin is 121: write how many minutes"),
        (("--clock-margin", "11"), "a tolerance of 20 min leaves nothing for a clock margin of 11"),
    ],
)
def test_what_it_cannot_take_is_one_message_and_no_file(daylatch, alder_row, options, message):
    ran = daylatch(*YEAR, *options, "-o", "timer.txt")
    assert ran.status >= 2
    assert ran.out == ""
    assert ran.err.startswith(f"daylatch: {message}")
    assert "Traceback" not in ran.err
    assert [path.name for path in alder_row.parent.iterdir()] == [alder_row.name]


def test_one_program_for_two_movements_is_refused(daylatch, alder_row):
    alder_row.write_text(alder_row.read_text() + "\n[timer]\nprograms = 1\n")
    ran = daylatch(*YEAR, "-o", "timer.csv")
    assert ran.status == 3
    assert "opening and closing need 2 programs, and programs = 1" in ran.err
    assert not (alder_row.parent / "timer.csv").exists()


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("list.txt", b"daylatch timer settings\n"),
        ("list.csv", b"from,until,timer,"),
        ("list.ics", b"BEGIN:VCALENDAR\r\n"),
        ("list.html", b"<!DOCTYPE html>\n"),
        ("list.json", b'{\n  "generator": {"name": "daylatch timer settings"'),
    ],
)
def test_a_file_is_what_its_name_says_and_may_be_made_again(
    daylatch, alder_row, monkeypatch, name, begins
):
    file = alder_row.parent / name
    assert daylatch(*YEAR, "-o", name).status == 0
    first = file.read_bytes()
    assert first.startswith(begins)
    again = daylatch(*YEAR, "-o", name)
    assert "already up to date" in again.err
    assert file.read_bytes() == first
    file.write_text("mine\n")
    assert daylatch(*YEAR, "-o", name).status != 0
    assert file.read_text() == "mine\n"
    assert daylatch(*YEAR, "-o", name, "--force").status == 0
    assert file.read_bytes().startswith(begins)


def test_the_new_files_own_lines_are_good_once_switched_on(daylatch, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    start = Start(
        "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11",
        "x",
        52.0,
        5.0,
        "",
        "Europe/Amsterdam",
        WallTime(330),
        WallTime(1350),
        2027,
    )
    head, _, rest = starter_text(start, everything=True).partition("[timer]\n")
    table, blank, tail = rest.partition("\n\n")
    # A number of changes stands instead of a tolerance.
    switched = re.sub(r"^# (?!changes)(\w+ = )", r"\1", table, flags=re.M)
    assert "\nprograms = 8 " in switched
    (tmp_path / "site.toml").write_text(head + "[timer]\n" + switched + blank + tail)
    ran = daylatch(*YEAR)
    assert (ran.status, ran.err) == (0, "")
    assert "2 of its 8 programs used" in " ".join(ran.out.split())
