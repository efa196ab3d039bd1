"""``daylatch diary``, as a keeper uses it."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from sites import ID

NOW = "2027-03-04T20:30"
SITE = f"""\
id = "{ID}"
name = "Test house"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
"""
OTHER_ID = ID.replace("6f", "7f")


@pytest.fixture
def at(set_clock):
    """Return a function that sets the clock, by UTC."""
    set_clock(NOW)
    return set_clock


@pytest.fixture
def house(tmp_path, at):
    (tmp_path / "site.toml").write_text(SITE)
    return tmp_path


def lines(ran):
    assert ran.status == 0, ran.err
    return ran.out.splitlines()


def refused(ran, status, *words):
    assert ran.status == status, ran.out + ran.err
    for word in words:
        assert word in " ".join(ran.err.split()), ran.err
    assert "Traceback" not in ran.err


def test_what_is_noted_is_said_and_shown_beside_what_was_due(daylatch, house):
    assert lines(daylatch("diary", "add", "last in 18:52")) == [
        "noted as 1: 2027-03-04 18:52 last bird in (by memory, within 5 min)"
    ]
    assert lines(daylatch("diary", "add", "site.toml", "shut", "19:14")) == [
        "noted as 2: 2027-03-04 19:14 door shut (by memory, within 5 min)"
    ]
    lines(daylatch("diary", "add", "all in"))
    shown = lines(daylatch("diary", "show", "--from", "2027-03-03"))
    assert shown == [
        "Test house",
        "52.09 N 5.12 E, 2027-03-03 to 2027-03-04, by the wall clock",
        "",
        "2027-03-03 Wed  due: open 07:03, shut 19:12; nothing noted",
        "",
        "2027-03-04 Thu  due: open 07:01, shut 19:13",
        "     1  18:52  last bird in (by memory, within 5 min)",
        "     2  19:14  door shut, on time (by memory, within 5 min)",
        "     3  21:30  all in",
        "        not reported: opening due 07:01",
    ]


def test_a_week_is_shown_if_nothing_is_said(daylatch, house, at):
    lines(daylatch("diary", "add", "note hello"))
    shown = "\n".join(lines(daylatch("diary", "show")))
    assert "2027-02-26 to 2027-03-04" in shown
    # What is still to come is not missed.
    at("2027-03-04T15:00")
    assert "closing due 19:13" not in "\n".join(lines(daylatch("diary", "show")))


def test_what_is_still_to_come_is_noted_with_a_warning(daylatch, house):
    for words in ("last in 23:00", "2027-03-05 all in 19:30"):
        ran = daylatch("diary", "add", words)
        assert ran.status == 0
        assert "is still to come: if it was another day, undo this" in " ".join(ran.err.split())


def test_words_that_are_not_understood_are_answered_with_those_that_are(daylatch, house):
    ran = daylatch("diary", "add", "hens happy")
    refused(ran, 2, '"hens happy" is not understood', "last in 20:14", "note the latch sticks")
    assert not (house / "site.diary").exists()


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["add"], 2, ["nothing is said"]),
        (["add", "last in", "--at", "8 o'clock"], 2, ["--at is"]),
        (["add", "last in", "--within", "x"], 2, ["within_min", "write minutes"]),
        (["add", "last in", "--stamped-by", "sun"], 2, ["phone, server, door, memory"]),
        (["add", "in use nothing.bin"], 2, ['"nothing.bin" cannot be read']),
        (["add", "in use site.toml"], 2, ['"site.toml"', "daylatch plan --to table"]),
        (["add", "nosuch.toml", "last in"], 3, ["nosuch.toml"]),
        (["undo"], 9, ["there is no diary yet"]),
        (["add", "last in", "--instead-of", "3"], 9, ["there is no diary yet"]),
        (["undo", "last"], 2, ["is no number of an entry"]),
        (["undo", "9-3"], 2, ["write 3-9"]),
        (["show"], 9, ["there is no diary yet"]),
        (["show", "--from", "2017-01-01"], 2, ["more than 3660 days"]),
        (["export"], 9, ["there is no diary yet"]),
        (["export", "--until", "9999-12-31"], 2, ["outside of all diaries"]),
        (["backup"], 2, ["name it"]),
        (["restore"], 2, ["say which backup"]),
        (["restore", "nothing.diary"], 9, ["cannot be read"]),
        (["restore", "site.toml"], 2, ["say which backup"]),
        (["import"], 2, ["say which log"]),
        (["import", "nothing.csv"], 2, ["nothing.csv: cannot be read"]),
        (["import", "nothing.csv", "--as", "x"], 2, ["nothing.csv: cannot be read"]),
    ],
)
def test_what_cannot_be_done_is_refused_and_changes_nothing(
    daylatch, house, arguments, status, words
):
    refused(daylatch("diary", *arguments), status, *words)
    assert [path.name for path in house.iterdir() if path.stat().st_size] == ["site.toml"]


def test_undo_and_corrections_stand_beside(daylatch, house):
    lines(daylatch("diary", "add", "last in 18:52"))
    assert lines(daylatch("diary", "add", "last in 18:55", "--instead-of", "1")) == [
        "noted as 2 instead of 1 (2027-03-04 18:52 last bird in (by memory, within 5 min)): "
        "2027-03-04 18:55 last bird in (by memory, within 5 min)"
    ]
    lines(daylatch("diary", "add", "2 out", "--by", "Ida"))
    assert lines(daylatch("diary", "undo")) == [
        "undone 3: 2027-03-04 21:30 2 still out (told by Ida)"
    ]
    today = ("--from", "2027-03-04")
    assert "last bird in" in daylatch("diary", "show", *today).out
    assert "18:52" not in daylatch("diary", "show", *today).out
    everything = daylatch("diary", "show", *today, "--all").out
    assert "     1  18:52  corrected by 2: last bird in" in everything
    assert "     3  21:30  undone: 2 still out" in everything
    refused(daylatch("diary", "undo", "3"), 9, "entry 3 is undone or corrected already")


def test_a_clock_that_must_be_wrong_notes_nothing(daylatch, house, at):
    at("1970-01-01T00:10")
    refused(daylatch("diary", "add", "last in"), 4, "the clock of this computer")


def test_what_is_exported_is_imported_once(daylatch, house, tmp_path):
    lines(daylatch("diary", "add", "2 out 18:52: =by the oak"))
    lines(daylatch("diary", "add", "battery 11.9"))
    lines(daylatch("diary", "export", "-o", "log.csv"))
    rows = list(csv.reader(io.StringIO(Path("log.csv").read_text(), newline="")))
    assert rows[0] == ["instant", "what", "value", "stamped_by", "within_min", "by", "note"]
    assert rows[1][:6] == ["2027-03-04T17:52:00Z", "still_out", "2", "memory", "5", "keeper"]
    assert lines(daylatch("diary", "import", "log.csv")) == ["site.diary: 0 of 2 entries are new"]
    (tmp_path / "site.diary").unlink()
    assert lines(daylatch("diary", "import", "log.csv")) == [
        "site.diary: 2 of 2 entries are new, 1 to 2"
    ]
    one_day = daylatch("diary", "export", "--from", "2027-03-04", "--until", "2027-03-04").out
    assert one_day.count("\n") == 3
    assert (
        daylatch("diary", "export", "--until", "2027-03-03", "--from", "2027-03-01").out.count("\n")
        == 1
    )


def test_rows_that_cannot_be_read_are_told_and_kept_beside_the_log(daylatch, house):
    Path("log.csv").write_text(
        "instant,what\n2027-03-01T18:00:00Z,shut\n2027-03-02T18:00:00Z,flew\n"
        "2027-03-09T18:00:00Z,shut\n"
    )
    ran = daylatch("diary", "import", "log.csv")
    assert ran.status == 8
    assert "2 of 2 entries are new" in ran.out
    assert 'log.csv, line 3: what is "flew"' in ran.err
    rows = list(csv.reader(io.StringIO(Path("log.rejects.csv").read_text(), newline="")))
    assert [row[0] for row in rows] == ["line", "3"]
    assert "1 row of the log is still to come" in ran.err
    refused(daylatch("diary", "import", "log.csv", "--rejects", "site.toml"), 6, "site.toml")


def test_a_log_of_another_layout_is_read_as_the_site_file_says(daylatch, house):
    logs = (
        '[[diary.log]]\nname = "Shed"\ndate = "Datum"\ntime = "Zeit"\nwhat = "Was"\n'
        'format = "%d.%m.%Y %H:%M"\nclock = "door"\n'
        '[diary.log.words]\nAUF = "opened"\nZU = "shut"\n'
        '[[diary.log]]\nname = "Post"\ninstant = "t"\nkind = "last_in"\n'
    )
    (house / "site.toml").write_text(SITE + logs)
    Path("shed.csv").write_text("Datum;Zeit;Was\n03.03.2027;07:04;auf\n03.03.2027;19:13;ZU\n")
    refused(daylatch("diary", "import", "shed.csv"), 2, 'say which with --as, "Shed" or "Post"')
    refused(daylatch("diary", "import", "shed.csv", "--as", "x"), 2, 'write "Shed" or "Post"')
    assert "2 of 2" in lines(daylatch("diary", "import", "shed.csv", "--as", "shed"))[0]
    shown = daylatch("diary", "show", "--from", "2027-03-03", "--until", "2027-03-03").out
    assert "07:04  door opened, on time (door, told by Shed)" in shown


def test_a_log_that_was_read_wrongly_is_taken_back_by_its_name(daylatch, house):
    logs = (
        '[[diary.log]]\nname = "Shed"\ninstant = "t"\nwhat = "w"\nwords = {{U = "{}", D = "{}"}}\n'
    )
    Path("shed.csv").write_text("t,w\n2027-03-03T06:04Z,U\n2027-03-03T18:13Z,D\n")
    (house / "site.toml").write_text(SITE + logs.format("shut", "opened"))
    lines(daylatch("diary", "import", "shed.csv"))
    lines(daylatch("diary", "add", "note something else"))
    (house / "site.toml").write_text(SITE + logs.format("opened", "shut"))
    ran = daylatch("diary", "import", "shed.csv")
    assert "at the moments of 2 of these rows the diary has something else" in ran.err
    assert "`daylatch diary undo shed.csv`" in ran.err
    assert len(lines(daylatch("diary", "undo", "shed.csv"))) == 4
    assert lines(daylatch("diary", "import", "shed.csv", "--again"))[0].startswith(
        "site.diary: 2 of 2 entries are new"
    )
    assert "something else" not in daylatch("diary", "import", "shed.csv").err


def test_a_backup_holds_all_and_comes_back(daylatch, house):
    lines(daylatch("diary", "add", "last in 18:52"))
    lines(daylatch("diary", "add", "last in 18:55", "--instead-of", "1"))
    assert daylatch("diary", "backup", "-o", "kept.diary").status == 0
    lines(daylatch("diary", "add", "2 out"))
    assert lines(daylatch("diary", "restore", "kept.diary")) == [
        "site.diary: 0 entries brought back, 2 were there"
    ]
    before = daylatch("diary", "show", "--all").out
    lines(daylatch("diary", "undo"))
    (house / "site.diary").unlink()
    assert "2 entries brought back" in lines(daylatch("diary", "restore", "kept.diary"))[0]
    assert (
        daylatch("diary", "show", "--all").out
        == "\n".join(line for line in before.splitlines() if "2 still out" not in line).replace(
            "opening due 07:01", "opening due 07:01"
        )
        + "\n"
    )
    refused(daylatch("diary", "backup", "-o", "site.diary"), 6, "is the diary itself")
    refused(daylatch("diary", "restore", "site.diary"), 2, "is the diary itself")
    Path("notes.txt").write_text("x")
    refused(daylatch("diary", "backup", "-o", "notes.txt"), 6, "was not written by daylatch")


def test_a_diary_of_another_house_is_refused(daylatch, house):
    lines(daylatch("diary", "add", "last in"))
    lines(daylatch("diary", "export", "-o", "log.csv"))
    (house / "site.toml").write_text(SITE.replace(ID, OTHER_ID))
    for command in (["add", "last in"], ["show"], ["undo"], ["export"], ["import", "log.csv"]):
        refused(daylatch("diary", *command), 9, "another house")
    refused(daylatch("audit"), 9, "another house")


def test_the_diary_may_stand_elsewhere(daylatch, house):
    (house / "kept").mkdir()
    (house / "site.toml").write_text(SITE + '[diary]\nfile = "kept/hens.db"\n')
    lines(daylatch("diary", "add", "last in"))
    assert (house / "kept/hens.db").exists()


def test_one_site_file_in_a_folder_has_its_diary_beside_it(daylatch, house):
    (house / "barn").mkdir()
    (house / "site.toml").rename(house / "barn/hens.toml")
    lines(daylatch("diary", "add", "barn/hens.toml", "last in"))
    assert (house / "barn/hens.diary").exists()


def test_losses_and_gains_change_how_many_birds_there_are(daylatch, house):
    (house / "site.toml").write_text(SITE + "[flock]\nbirds = 12\nsize = 'medium'\n")
    lines(daylatch("diary", "add", "lost 2: a fox"))
    assert "10 birds: 12 in the site file, 2 lost since." in daylatch("diary", "show").out
    ran = daylatch("fit")
    assert "10 medium birds" in ran.out
    assert "by the diary, 10 birds" in ran.err
    assert daylatch("card", "--year", "2027", "-o", "card.html").status == 0
    assert "10 birds" in Path("card.html").read_text()
    # Before they were lost there were more.
    assert "12 medium birds" in daylatch("fit", "--from", "2027-01-01", "--until", "2027-02-01").out


def test_what_was_put_into_the_door_is_kept_and_judged_by(daylatch, house, at):
    (house / "site.toml").write_text(SITE + '[door]\nworks = "timer"\n')
    lists = ("settings", "--year", "2027", "--to", "json", "-o", "list.json")
    assert daylatch(*lists).status == 0
    ran = daylatch("diary", "add", "2027-03-01 in use list.json")
    assert ran.status == 0, ran.err
    assert 'write in_use = "list.json" under [door]' in ran.err
    Path("list.json").unlink()
    lines(daylatch("diary", "add", "shut 19:14"))
    ran = daylatch("audit")
    assert 'Judged by      "list.json"' in ran.out
    (house / "site.toml").write_text(SITE)
    assert 'Judged by      "list.json"' in daylatch("audit").out
