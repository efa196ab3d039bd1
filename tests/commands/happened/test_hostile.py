"""What must not happen to a diary, whoever writes into it and whatever is asked of it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from daylatch.diary.store.schema import UPGRADES
from sites import HOUSE

NOW = "2026-11-26T18:00"


@pytest.fixture
def house(tmp_path, set_clock, daylatch):
    set_clock(NOW)
    (tmp_path / "site.toml").write_text(HOUSE + "[flock]\nbirds = 12\n")
    for words in ("yesterday shut 17:31", "last in 17:20", "lost 1: a fox", "clock said 17:00"):
        assert daylatch("diary", "add", words, "--at", "2026-11-25T16:00Z").status in {0, 2}
        assert daylatch("diary", "add", words).status == 0
    return tmp_path


def refused(ran, status, *words):
    assert ran.status == status, ran.out + ran.err
    for word in words:
        assert word in " ".join(ran.err.split()), ran.err
    assert "Traceback" not in ran.err


def tamper(path, *statements):
    """Change a diary as somebody with other tools would, with the triggers as before."""
    with closing(sqlite3.connect(path)) as connection:
        triggers = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
        for name, sql in triggers:
            if name.split("_")[0] in tables:
                connection.execute(sql)
        connection.commit()


@pytest.mark.parametrize(
    "change",
    [
        "instant_utc = 'hello'",
        "instant_utc = '0001-01-01T00:00:00Z'",
        "instant_utc = '99999999-01-01T00:00:00Z'",
        "instant_utc = '2026-11-25'",
        "what = 'explode'",
        "what = 'lost', value = 'abc'",
        "what = 'lost', value = '" + "9" * 5000 + "'",
        "what = 'clock_said', value = '25:99'",
        "within_min = 9e999",
        "stamped_by = 'sun'",
        "note = 'a' || char(27) || '[31mb'",
        "by_whom = 'a' || char(8238) || 'b'",
        "note = 'x' || char(0) || 'y'",
    ],
)
def test_entries_that_nobody_could_have_noted_are_told(daylatch, house, change):
    tamper("site.diary", f"UPDATE entry SET {change} WHERE number = 1")
    for command in (["show", "--all"], ["export"], ["undo", "1"]):
        # A week that is shown holds no instant beyond it.
        if command[0] != "show" or "instant" not in change:
            ran = daylatch("diary", *command)
            refused(ran, 9, "site.diary", "entry 1", "damaged")
            assert "\x1b" not in ran.err
    refused(daylatch("audit"), 9, "damaged")


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM house",
        "DROP TABLE void",
        "DROP INDEX entry_what",
        "ALTER TABLE act ADD COLUMN more TEXT",
        "DROP VIEW live",
    ],
)
def test_a_diary_that_was_made_otherwise_is_told(daylatch, house, statement):
    tamper("site.diary", statement)
    for command in (["show"], ["add", "all in"], ["undo"], ["backup", "-o", "b.diary"]):
        refused(daylatch("diary", *command), 9, "site.diary")
    refused(daylatch("fit"), 9, "site.diary")


def test_a_view_without_an_end_is_not_asked(daylatch, house):
    endless = (
        "CREATE VIEW live AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x FROM n) "
        "SELECT entry.* FROM entry, n"
    )
    tamper("site.diary", "DROP VIEW live", endless)
    refused(daylatch("diary", "show"), 9, "is damaged, for another program has changed")


@pytest.mark.parametrize(
    "statement",
    ["UPDATE act SET entered_utc = 'zz'", "UPDATE entry SET act = 99 WHERE number = 1"],
)
def test_so_is_what_entries_hang_on(daylatch, house, statement):
    tamper("site.diary", statement)
    refused(daylatch("diary", "show"), 9, "damaged")


def test_a_record_that_is_gone_or_of_no_kind_is_told(daylatch, house):
    lists = ("settings", "--year", "2026", "--to", "json", "-o", "list.json")
    Path("site.toml").write_text(HOUSE + '[door]\nworks = "timer"\n')
    assert daylatch(*lists).status == 0
    assert daylatch("diary", "add", "in use list.json").status == 0
    tamper("site.diary", "UPDATE record SET works = 'dragon'")
    refused(daylatch("diary", "show"), 9, "record 1 is damaged")
    tamper("site.diary", "UPDATE record SET works = 'timer', content = x'00'")
    ran = daylatch("diary", "show")
    assert ran.status == 0
    assert "is no whole timer's list" in " ".join(ran.err.split())


def test_a_table_of_what_is_now_another_clock_is_told(daylatch, house):
    dates = ("--from", "2026-11-01", "--until", "2026-12-31")
    assert daylatch("plan", *dates, "--to", "table", "-o", "door.bin").status == 0
    assert daylatch("diary", "add", "2026-11-10 in use door.bin").status == 0
    Path("site.toml").write_text(HOUSE.replace("Europe/Amsterdam", "Europe/Lisbon"))
    for command in (["diary", "show"], ["audit"]):
        refused(daylatch(*command), 9, "made for another clock", "undo its entry")


def test_a_backup_with_rows_of_nobody_is_refused_and_nothing_taken(daylatch, house):
    assert daylatch("diary", "backup", "-o", "b.diary").status == 0
    for change in (
        "UPDATE entry SET what = 'boom', uid = 'x', digest = 'y' WHERE number = 1",
        "DELETE FROM act",
    ):
        Path("c.diary").write_bytes(Path("b.diary").read_bytes())
        tamper("c.diary", change)
        before = daylatch("diary", "export").out
        refused(daylatch("diary", "restore", "c.diary"), 9, "c.diary", "damaged")
        assert daylatch("diary", "export").out == before
    Path("c.diary").write_bytes(Path("b.diary").read_bytes())
    tamper("c.diary", "ALTER TABLE entry ADD COLUMN more TEXT")
    refused(daylatch("diary", "restore", "c.diary"), 9, "c.diary: is damaged")


def test_a_backup_that_holds_more_is_not_replaced(daylatch, house):
    assert daylatch("diary", "backup", "-o", "b.diary").status == 0
    assert daylatch("diary", "backup", "-o", "b.diary").status == 0
    Path("site.diary").unlink()
    assert daylatch("diary", "add", "note fresh").status == 0
    refused(daylatch("diary", "backup", "-o", "b.diary"), 6, "entries that site.diary lacks")
    assert daylatch("diary", "restore", "b.diary").status == 0
    assert daylatch("diary", "backup", "-o", "b.diary").status == 0


@pytest.mark.parametrize(
    "command",
    [["diary", "export"], ["plan", "--year", "2027", "--to", "text"], ["nights", "--to", "json"]],
)
def test_no_form_replaces_a_diary(daylatch, house, command):
    refused(daylatch(*command, "-o", "site.diary", "--force"), 6, "is a diary")
    assert daylatch("diary", "show").status == 0


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["add", "0001-01-01 last in 20:14"], 2, "0001-01-01 is no date of the calendar"),
        (["add", "9999-12-31 lost 1"], 2, "9999-12-31 is no date of the calendar"),
        (["add", "1979-05-05 lost 1"], 2, "1979-05-05 is no date"),
        (["add", "lost 1", "--at", "1979-05-05T10:00Z"], 2, "1979 is no year of a diary"),
        (["add", "all in", "--instead-of", "9223372036854775808"], 9, "is not in it"),
        (["undo", "999999999999999"], 9, "is not in it"),
        (["show", "--from", "9999-12-31"], 2, "outside of all diaries"),
        (["show", "--from", "0001-01-01", "--until", "0001-01-02"], 2, "outside of all diaries"),
        (["add", "x" * 100_000], 2, "is not understood"),
        (["add", "battery 999 V"], 2, "up to 100"),
    ],
)
def test_what_no_diary_can_tell_of_is_refused_briefly(daylatch, house, arguments, status, words):
    ran = daylatch("diary", *arguments)
    refused(ran, status, words)
    assert len(ran.err) < 3000


def test_an_import_that_cannot_be_done_writes_nothing(daylatch, house):
    Path("log.csv").write_text("instant,what\n2026-11-20T18:00:00Z,shut\nsoon,shut\n")
    Path("site.diary").unlink()
    for rejects in ("site.diary", "site.toml", "log.csv", "/dev/null"):
        ran = daylatch("diary", "import", "log.csv", "--rejects", rejects)
        refused(ran, 6, rejects, "nothing is taken in", "--rejects")
        assert "--force" not in ran.err
    Path("site.diary").write_text("no diary")
    refused(daylatch("diary", "import", "log.csv"), 9, "is no diary")
    assert not Path("log.rejects.csv").exists()


def test_names_of_files_reach_no_terminal_raw(daylatch, house):
    Path("\x1b[31mlog.csv").write_text(
        "instant,what,stamped_by\n2026-11-20T18:00:00Z,shut,server\n"
    )
    Path("\x1b[31ms.toml").write_text(HOUSE)
    for arguments in (
        ["audit", "\x1b[31mlog.csv"],
        ["diary", "import", "\x1b[31ms.toml", "\x1b[31mlog.csv"],
        ["audit", "\x1b[31ms.toml"],
        ["diary", "undo", "\x1b[31ms.toml"],
    ):
        ran = daylatch(*arguments)
        assert ran.status == 0, ran.err
        assert "\x1b" not in ran.out + ran.err


def test_a_width_that_a_fine_clock_leaves_is_not_to_be_set(daylatch, house):
    Path("site.toml").write_text(HOUSE + "[door]\nwithin_min = 5\n")
    dates = ("--from", "2026-09-01", "--until", "2026-10-20")
    rows = json.loads(daylatch("plan", *dates, "--to", "json").out)["days"]
    text = "instant,what,stamped_by\n"
    for day in rows:
        text += f"{day['open']},opened,server\n{day['close']},shut,server\n"
    Path("log.csv").write_text(text)
    out = daylatch("audit", "log.csv").out
    assert "No fault was found" in out
    assert "Set the clock" not in out


def test_one_reading_is_told_as_what_it_is(daylatch, house):
    Path("log.csv").write_text(
        "instant,what,value,stamped_by,within_min\n2026-09-01T10:00:20Z,clock_said,14:00,phone,720\n"
    )
    out = " ".join(daylatch("audit", "log.csv").out.split())
    assert "inf" not in out
    assert "Set the clock" not in out
    data = json.loads(daylatch("audit", "log.csv", "--to", "json").out, parse_constant=pytest.fail)
    assert data["clock"]["drift_error_ppm"] is None


def test_a_state_seen_about_when_the_door_moves_accuses_nobody(daylatch, house):
    Path("site.diary").unlink()
    for words in (
        "2026-11-24 seen open 7:49",
        "2026-11-25 seen open 7:51",
        "yesterday seen open 17:31",
        "yesterday last in 17:31",
    ):
        assert daylatch("diary", "add", words).status == 0
    data = json.loads(daylatch("audit", "--to", "json").out)
    assert data["dangers"] == []
    assert data["counts"]["missed"] == 0


def test_a_clock_with_am_for_pm_is_half_a_day_off(daylatch, house):
    dates = ("--from", "2026-09-01", "--until", "2026-10-20")
    rows = json.loads(daylatch("plan", *dates, "--to", "json").out)["days"]
    for off in (-719, -720, 719, 720):
        text = "instant,what,stamped_by\n"
        for day in rows:
            for side, what in (("open", "opened"), ("close", "shut")):
                at = dt.datetime.fromisoformat(day[side]) + dt.timedelta(minutes=off)
                text += f"{at.isoformat()},{what},server\n"
        Path("log.csv").write_text(text)
        data = json.loads(daylatch("audit", "log.csv", "--to", "json").out)
        assert abs(abs(data["clock"]["offset_min"]) - abs(off)) < 3 or (
            abs(abs(data["clock"]["offset_min"]) - (1440 - abs(off))) < 3
        )
        assert data["steps"] == []
        assert data["counts"]["missed"] == 0


def test_readings_half_a_day_off_are_no_jump(daylatch, house):
    Path("log.csv").write_text(
        "instant,what,value,stamped_by\n2026-09-01T10:00:20Z,clock_said,00:00,phone\n"
        "2026-09-11T09:59:40Z,clock_said,00:00,phone\n"
    )
    data = json.loads(daylatch("audit", "log.csv", "--to", "json").out)
    assert data["steps"] == []
    assert abs(data["clock"]["offset_min"]) == pytest.approx(720, abs=1)


def test_a_count_after_the_lowest_sun_belongs_to_the_closing_before_it(daylatch, house):
    place = HOUSE.replace("52.1", "69.65").replace("5.2", "18.96").replace("Amsterdam", "Oslo")
    Path("site.diary").unlink()
    Path("site.toml").write_text(
        place + '[open]\nfallback = "05:30"\n[close]\nfallback = "00:40"\n'
    )
    assert daylatch("diary", "add", "all in", "--at", "2026-06-14T22:55Z").status == 0
    shown = daylatch("diary", "show", "--from", "2026-06-13", "--until", "2026-06-15").out
    lines = shown[shown.index("2026-06-14") :].splitlines()
    assert "00:55  all in" in lines[1]
    assert shown[shown.rindex("2026-06-15") :].rstrip().endswith("nothing noted")


@pytest.mark.parametrize("within", ["0", "0.00001", "0.000000001", "719.999999999", "0.1"])
def test_whatever_minutes_a_log_has_are_no_damage(daylatch, house, within):
    Path("log.csv").write_text(
        f"instant,what,stamped_by,within_min\n2026-11-24T18:00:00Z,shut,server,{within}\n"
    )
    assert daylatch("diary", "import", "log.csv").status == 0
    assert daylatch("diary", "show").status == 0
    assert "0 of 1 entries are new" in daylatch("diary", "import", "log.csv").out
    assert daylatch("diary", "backup", "-o", "b.diary").status == 0
    assert daylatch("diary", "restore", "b.diary").status == 0


def test_a_diary_that_a_kill_left_empty_is_begun_by_the_next_entry(daylatch, house):
    Path("site.diary").unlink()
    Path("site.diary").touch()
    assert daylatch("fit").status == 0
    refused(daylatch("diary", "undo"), 9, "there is no diary yet")
    refused(daylatch("diary", "show"), 9, "there is no diary yet")
    assert not Path("site.diary").stat().st_size
    assert daylatch("diary", "add", "lost 1").status == 0
    assert "11 birds" in daylatch("diary", "show").out


def test_the_version_that_is_out_never_changes():
    # Files of version 1 are out there: a change is a new step.
    out = [hashlib.sha256("\n".join(step).encode()).hexdigest()[:16] for step in UPGRADES]
    assert out == ["c6cdba63412b6744", "98b5123012ea398e"]
