"""``daylatch reader`` and ``daylatch simulate`` as a keeper runs them."""

from __future__ import annotations

import csv
import io
import re
import subprocess
from importlib import resources

import pytest

from daylatch.door.reader import FILES, PROGRAMS
from programs import needs

YEAR = ("simulate", "--from", "2027-03-20", "--until", "2027-04-05")


def test_it_writes_the_files_once(daylatch, tmp_path):
    ran = daylatch("reader", "-o", "board")
    assert ran.status == 0
    assert ran.err.startswith(f"wrote into board: {', '.join(FILES)}\nA schedule does not see")
    for name in FILES:
        wanted = resources.files("daylatch.door.reader").joinpath(name).read_bytes()
        assert (tmp_path / "board" / name).read_bytes() == wanted
    again = daylatch("reader", "-o", "board")
    assert (again.status, again.err) == (0, "board: already up to date\n")


def test_what_was_filled_in_stays(daylatch, tmp_path):
    daylatch("reader", "-o", "board")
    sketch = tmp_path / "board" / "door_sketch.c"
    sketch.write_text("mine")
    (tmp_path / "board" / "daylatch_reader.c").unlink()
    ran = daylatch("reader", "-o", "board")
    assert ran.status == 6
    assert "board/door_sketch.c: differs from what this daylatch writes" in ran.err
    assert sketch.read_text() == "mine"
    assert not (tmp_path / "board" / "daylatch_reader.c").exists()
    forced = daylatch("reader", "-o", "board", "--force")
    assert forced.err.startswith("wrote into board: daylatch_reader.c, door_sketch.c\n")


def test_folders_that_cannot_be(daylatch, tmp_path):
    assert daylatch("reader").err == "daylatch: name the folder that the files go into: -o DIR\n"
    ran = daylatch("reader", "-o", "a/b/c")
    assert (ran.status, ran.err) == (
        6,
        "daylatch: a/b/c: cannot be made: No such file or directory\n",
    )
    (tmp_path / "file").write_text("x")
    ran = daylatch("reader", "-o", "file")
    assert (ran.status, ran.err) == (6, "daylatch: file: is not a folder; name one\n")
    (tmp_path / "board" / "daylatch_reader.h").mkdir(parents=True)
    ran = daylatch("reader", "-o", "board")
    assert (ran.status, ran.err.count("\n")) == (6, 1)
    assert sorted((tmp_path / "board").iterdir()) == [tmp_path / "board" / "daylatch_reader.h"]


@needs("gcc")
def test_the_files_and_a_table_make_programs(daylatch, alder_row, tmp_path):
    assert daylatch("reader", "-o", "board").status == 0
    table = ("plan", "--year", "2027", "--to", "table", "--as", "c", "-o", "board/table.h")
    assert daylatch(*table).status == 0
    for program, others in PROGRAMS.items():
        sources = [str(tmp_path / "board" / name) for name in (program, *others)]
        subprocess.run(["gcc", "-std=c99", *sources, "-o", str(tmp_path / "door")], check=True)
    assert {*FILES} >= {*PROGRAMS, *(name for others in PROGRAMS.values() for name in others)}


@needs("gcc")
def test_a_door_with_a_right_clock_keeps_the_plan(daylatch, alder_row):
    ran = daylatch(*YEAR)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("daylatch simulated door\nAlder Row (demo)\n")
    assert "2027-03-20 to 2027-04-05\n" in ran.out
    assert "Door and plan agree at every minute." in ran.out
    assert "count heads at dusk" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


@needs("gcc")
def test_a_door_with_troubles_says_when_it_was_wrong(daylatch, alder_row):
    troubles = ("--misses-changes", "--drift", "-50", "--set", "2027-03-22T12:00Z,30")
    ran = daylatch(*YEAR, *troubles)
    assert ran.status == 0
    text = " ".join(ran.out.split())
    assert (
        "50 ppm slow (4.3 s a day), correct at the start, set +30 min wrong at 2027-03-22 12:00"
        in text
    )
    assert "not changed in spring and autumn" in text
    assert "The longest 10 of 34 (--to csv has them all)" in text
    rows = list(csv.DictReader(io.StringIO(daylatch(*YEAR, *troubles, "--to", "csv").out)))
    assert len(rows) == 34
    row = next(row for row in rows if row["from_utc"].startswith("2027-03-28"))
    # Half an hour fast, an hour behind by the change, and 50 ppm slow for six days: 25 s.
    assert list(row.values())[:9] == [
        "2027-03-28T06:30:00+01:00",
        "2027-03-28T05:30:00Z",
        "2027-03-28T07:01:00+01:00",
        "2027-03-28T06:01:00Z",
        *("31", "shut", "open", "-1825", "yes"),
    ]
    assert rows[0]["caution"].startswith("A schedule")
    assert not rows[1]["caution"]


@needs("gcc")
def test_a_margin_in_the_table_takes_up_what_the_clock_is_wrong(daylatch, alder_row):
    # 50 ppm are 1.2 min after 17 days: slow or fast, a margin of 2 min holds them.
    for drift in ("50", "-50"):
        ran = daylatch(
            *YEAR, "--drift", drift, "--within", "4", "--clock-margin", "2", "--to", "csv"
        )
        rows = list(csv.DictReader(io.StringIO(ran.out)))
        assert rows
        assert max(int(row["minutes"]) for row in rows) <= 4
        # Never early: not open before it should be, nor shut before it should be.

        noon = {row["from_local"][11:13] < "12" for row in rows if row["door"] == "shut"}
        assert noon == {True}
        assert all(row["from_local"][11:13] > "12" for row in rows if row["door"] == "open")


@needs("gcc")
def test_no_power_cut_is_told_where_there_was_none(daylatch, alder_row):
    """A clock set two weeks back asks the table for dates before its first."""
    words = " ".join(daylatch(*YEAR, "--set", "2027-03-22T12:00Z,-20000").out.split())
    held = r"left the door as it was for 1\d days [0-9 a-z]+ at times that its table does not cover"
    assert re.search(held, words)
    assert "power" not in words.partition("A schedule")[0]


@needs("gcc")
def test_a_power_cut(daylatch, alder_row):
    cut = ("--power-cut", "2027-03-22T12:00Z/2027-03-23T12:00Z")
    ran = daylatch(*YEAR, *cut)
    assert "no power" in ran.out
    assert "left the door as it was for 24 h 00 min without power." in " ".join(ran.out.split())
    lost = daylatch(*YEAR, *cut, "--loses-time")
    assert "not known" in lost.out
    words = " ".join(lost.out.split())
    assert "for 24 h 00 min without power and " in words
    assert " with a clock that was not set again after a cut." in words


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--drift", "nan"), "--drift is nan: write parts per million"),
        (("--drift", "1e9"), "--drift is 1e+09: write parts per million"),
        (("--set", "today"), '--set is "today": write a date and time with its distance'),
        (("--set", "2027-03-22T12:00Z,soon"), "after the comma, write how many minutes fast"),
        (("--power-cut", "2027-03-22T12:00Z"), "write when it begins and ends, like"),
        (("--power-cut", "2027-03-22T12:00Z/2027-03-22T12:00Z"), "it ends before it begins"),
        (("--set", "2026-03-22T12:00Z"), "--set at 2026-03-22T12:00Z lies outside of 2027-03-20"),
        (
            ("--power-cut", "2028-03-22T12:00Z/2029-03-22T12:00Z"),
            "--power-cut at 2028-03-22T12:00Z lies outside",
        ),
        (("--loses-time",), "--loses-time is for cuts of power"),
        (("--within", "-1"), '--within is "-1": write how many minutes late'),
        (("--within", "3", "--clock-margin", "2"), "--within 3 leaves no minute for a table"),
        (("--until", "2099-01-01"), "too many to go through minute by minute"),
    ],
)
def test_what_cannot_be_simulated(daylatch, alder_row, options, message):
    ran = daylatch(*YEAR, *options)
    assert ran.status == 2
    assert message in ran.err
    assert ran.err.count("\n") == 1


def test_without_a_compiler_it_says_so(daylatch, alder_row, monkeypatch):
    monkeypatch.setenv("PATH", "")
    monkeypatch.delenv("CC", raising=False)
    ran = daylatch(*YEAR)
    assert ran.status == 6
    assert "no C compiler (cc, gcc or clang) was found: install one" in ran.err
    monkeypatch.setenv("CC", "/nowhere/cc")
    assert "/nowhere/cc: cannot compile the reader in C" in daylatch(*YEAR).err


@needs("gcc")
def test_the_compiler_may_have_options_and_must_be_one(daylatch, alder_row, monkeypatch):
    monkeypatch.setenv("CC", "gcc -O0")
    assert daylatch(*YEAR).status == 0
    monkeypatch.setenv("CC", "true")
    ran = daylatch(*YEAR)
    assert ran.status == 6
    assert ran.err == (
        "daylatch: true: made nothing of the reader in C that can be run here; is it this "
        "machine's C compiler?\n"
    )
