"""The diary's file: what is added stays, and nothing is rewritten."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from daylatch.diary.entries import make_entry
from daylatch.diary.store import opening, schema
from daylatch.diary.store.backup import back_up, bring_back
from daylatch.diary.store.rows import Record
from daylatch.diary.store.store import Diary
from daylatch.errors import DiaryError
from daylatch.files.own import is_diary
from torture.shared_diary import notes_in, work_together

HOUSE = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
OTHER_HOUSE = "0b8a4a52-3a51-4f0c-8f6e-2d7d2f3a9c10"
NOW = np.datetime64("2027-03-01T18:00:00")
TESTS = Path(__file__).resolve().parents[2]


def entry(what="last_in", minute=0, **more):
    return make_entry(NOW + np.timedelta64(minute, "m"), what, **more)


@pytest.fixture
def diary(tmp_path):
    return Diary(tmp_path / "hens.diary", HOUSE)


def numbers(diary, **how):
    return [one.number for one in diary.entries(**how)]


def test_what_is_added_is_read_back_in_the_order_of_its_instants(diary):
    late = entry("still_out", 30, value="2", stamped_by="memory", by="Ida", note="by the oak")
    diary.add([late], NOW)
    diary.add([entry("shut", 5)], NOW + np.timedelta64(1, "h"))
    first, second = diary.entries()
    assert (first.number, first.entry) == (2, entry("shut", 5))
    assert (second.number, second.entry, second.entered_utc) == (1, late, NOW)
    assert numbers(diary, since_utc=NOW + np.timedelta64(30, "m")) == [1]
    assert numbers(diary, until_utc=NOW + np.timedelta64(30, "m")) == [2]
    assert numbers(diary, whats=["still_out", "lost"]) == [1]


def test_the_same_may_be_added_twice_and_comes_in_by_a_log_once(diary):
    assert diary.add([entry()], NOW).numbers == [1]
    assert diary.add([entry()], NOW).numbers == [2]
    assert diary.take_in([entry(), entry(), entry()], NOW, source="log") == ([3], 2, 0)
    assert diary.take_in([entry(), entry(), entry()], NOW, source="log") == ([], 3, 0)


def test_undo_takes_back_what_was_noted_at_once(diary):
    diary.add([entry()], NOW)
    diary.take_in([entry("shut", 1), entry("opened", 2)], NOW, source="log")
    assert [one.number for one in diary.undo(NOW)] == [2, 3]
    assert numbers(diary) == [1]
    assert numbers(diary, all_of_them=True) == [1, 2, 3]
    assert [one.number for one in diary.undo(NOW)] == [1]
    with pytest.raises(DiaryError, match="nothing of that in it"):
        diary.undo(NOW)


def test_undo_takes_back_numbers_and_all_of_a_log(diary):
    diary.take_in([entry("shut", n) for n in range(3)], NOW, source="a.csv")
    diary.take_in([entry("shut", 9)], NOW, source="b.csv")
    diary.add([entry()], NOW)
    assert [one.number for one in diary.undo(NOW, range(2, 4))] == [2, 3]
    assert [one.number for one in diary.undo(NOW, range(1, 4))] == [1]
    assert [one.number for one in diary.undo(NOW, "b.csv")] == [4]
    for nothing in ("b.csv", "c.csv", range(1, 5)):
        with pytest.raises(DiaryError, match="nothing of that in it"):
            diary.undo(NOW, nothing)
    assert numbers(diary) == [5]


def test_nothing_is_left_beside_the_file(diary):
    diary.add([entry()], NOW)
    diary.entries()
    assert [path.name for path in diary.path.parent.iterdir()] == ["hens.diary"]


def test_what_is_undone_stays_so_unless_it_is_wanted_again(diary):
    log = [entry("shut", 1), entry("shut", 1), entry("opened", 2)]
    diary.take_in(log, NOW, source="log")
    diary.undo(NOW, 1)
    assert diary.take_in(log, NOW, source="log") == ([], 3, 1)
    assert diary.take_in(log, NOW, source="log", again=True) == ([4], 2, 0)
    assert diary.take_in(log, NOW, source="log", again=True) == ([], 3, 0)
    assert numbers(diary) == [2, 4, 3]


def test_a_correction_stands_until_it_is_undone_itself(diary):
    diary.add([entry(minute=1)], NOW)
    diary.add([entry(minute=2)], NOW, instead_of=1)
    diary.add([entry(minute=3)], NOW, instead_of=2)
    assert numbers(diary) == [3]
    assert [one.corrected_by for one in diary.entries(all_of_them=True)] == [None, 3, None]
    diary.undo(NOW)
    assert numbers(diary) == [2]
    diary.undo(NOW, 2)
    assert numbers(diary) == [1]
    with pytest.raises(DiaryError, match="entry 3 is undone or corrected already"):
        diary.add([entry()], NOW, instead_of=3)
    with pytest.raises(DiaryError, match="entry 9 is not in it"):
        diary.undo(NOW, 9)
    assert numbers(diary, all_of_them=True) == [1, 2, 3]


@pytest.mark.parametrize("table", ["house", "act", "record", "entry", "void"])
@pytest.mark.parametrize("action", ["DELETE FROM {}", "UPDATE {} SET rowid = rowid"])
def test_nothing_can_be_rewritten(diary, table, action):
    diary.add([entry("in_use", value="a")], NOW, records={0: Record("a", "timer", b"x")})
    diary.undo(NOW)
    with (
        closing(sqlite3.connect(diary.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="ever rewritten"),
    ):
        connection.execute(action.format(table))


def test_a_record_is_kept_once_and_found_by_its_name(diary):
    put_in = entry("in_use", value="door.bin")
    record = Record("door.bin", "controller", b"table")
    diary.add([put_in], NOW, records={0: record})
    diary.add([entry("in_use", 5, value="door.bin")], NOW, records={0: record})
    diary.add([entry("in_use", 6, value="door.bin")], NOW)
    diary.add([entry("in_use", 7, value="other.bin")], NOW)
    found = [one.record for one in diary.entries()]
    assert found == [1, 1, 1, None]
    assert diary.record(1) == record


def test_writes_are_kept_on_the_disk_before_they_are_confirmed(diary):
    with opening.opened_to_write(diary.path, HOUSE) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL


def test_a_diary_of_another_house_is_refused(diary):
    diary.add([entry()], NOW)
    other = Diary(diary.path, OTHER_HOUSE)
    for use in (other.entries, lambda: other.add([entry()], NOW), lambda: other.undo(NOW)):
        with pytest.raises(DiaryError, match=rf"of another house \(id {HOUSE}"):
            use()
    assert numbers(diary) == [1]


def test_a_newer_diary_is_refused_and_left_as_it_is(diary, monkeypatch):
    monkeypatch.setattr(opening, "UPGRADES", (*schema.UPGRADES, ("CREATE TABLE x (y)",)))
    monkeypatch.setattr(schema, "UPGRADES", opening.UPGRADES)
    diary.add([entry()], NOW)
    monkeypatch.undo()
    content = diary.path.read_bytes()
    for use in (diary.entries, lambda: diary.add([entry()], NOW)):
        with pytest.raises(DiaryError, match=r"written by a newer daylatch \(version 3"):
            use()
    assert diary.path.read_bytes() == content


def test_an_older_diary_is_read_as_it_is_and_upgraded_by_the_next_write(diary, monkeypatch):
    diary.add([entry()], NOW)
    steps = (*schema.UPGRADES, ("ALTER TABLE act ADD COLUMN host TEXT NOT NULL DEFAULT 'x'",))
    monkeypatch.setattr(opening, "UPGRADES", steps)
    monkeypatch.setattr(schema, "UPGRADES", steps)
    before = diary.path.read_bytes()
    assert numbers(diary) == [1]
    assert diary.path.read_bytes() == before
    with opening.opened_to_read(diary.path, HOUSE) as connection:
        assert connection.execute("SELECT host FROM act").fetchone() == ("x",)
    diary.add([entry()], NOW)
    with closing(sqlite3.connect(diary.path)) as connection:
        assert connection.execute("SELECT count(host) FROM act").fetchone() == (2,)


def test_an_upgrade_that_fails_changes_nothing(diary, monkeypatch):
    diary.add([entry()], NOW)
    steps = (*schema.UPGRADES, ("CREATE TABLE half (x)", "CREATE TABLE half (x)"))
    monkeypatch.setattr(opening, "UPGRADES", steps)
    monkeypatch.setattr(schema, "UPGRADES", steps)
    with pytest.raises(DiaryError, match="cannot be used"):
        diary.add([entry()], NOW)
    monkeypatch.undo()
    assert numbers(diary) == [1]
    with closing(sqlite3.connect(diary.path)) as connection:
        assert not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchone()


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"hello\n" * 1000, "is no diary"),
        (b"\0" * 4096, "is no diary"),
    ],
)
def test_what_is_no_diary_is_refused_and_left_as_it_is(diary, content, why):
    diary.path.write_bytes(content)
    for use in (diary.entries, lambda: diary.add([entry()], NOW)):
        with pytest.raises(DiaryError, match=why):
            use()
    assert diary.path.read_bytes() == content


def test_another_programs_database_is_refused(diary):
    with closing(sqlite3.connect(diary.path)) as connection:
        connection.execute("CREATE TABLE hens (name)")
        connection.commit()
    content = diary.path.read_bytes()
    for use in (diary.entries, lambda: diary.add([entry()], NOW)):
        with pytest.raises(DiaryError, match="another program's database"):
            use()
    assert diary.path.read_bytes() == content


@pytest.mark.parametrize("how", ["read", "write"])
def test_a_diary_made_while_it_is_looked_at_is_no_other_programs(diary, monkeypatch, how):
    """One reader once saw no mark and, a moment later, the tables."""
    diary.path.touch()
    maker = threading.Thread(target=Diary(diary.path, HOUSE).add, args=([entry()], NOW))
    connect = opening._connect

    def make_beside(statement):
        if "FROM sqlite_master" in statement and maker.ident is None:
            maker.start()
            maker.join(0.5)

    def traced(*how_to):
        connection = connect(*how_to)
        if maker.ident is None:
            connection.set_trace_callback(make_beside)
        return connection

    monkeypatch.setattr(opening, "_connect", traced)
    if how == "read":
        assert list(diary.entries_if_any()) == []
    else:
        assert diary.add([entry("shut")], NOW).numbers[0] in {1, 2}
    maker.join()
    assert len(list(diary.entries())) == (1 if how == "read" else 2)


def test_a_damaged_diary_is_told(diary):
    diary.take_in([entry(minute=n, note="x" * 500) for n in range(200)], NOW, source="log")
    content = bytearray(diary.path.read_bytes())
    content[4096:] = b"\xff" * (len(content) - 4096)
    diary.path.write_bytes(content)
    with pytest.raises(DiaryError, match="is damaged"):
        diary.entries()


@pytest.mark.parametrize("left", [b"", None])
def test_there_may_be_no_diary_yet(diary, left):
    if left is not None:
        diary.path.write_bytes(left)
    with pytest.raises(DiaryError, match="there is no diary yet"):
        diary.entries()
    diary.add([entry()], NOW)
    assert numbers(diary) == [1]


def test_a_folder_is_no_diary(diary):
    diary.path.mkdir()
    for use in (diary.entries, lambda: diary.add([entry()], NOW)):
        with pytest.raises(DiaryError, match="is no file"):
            use()


def test_a_diary_in_no_folder_cannot_be_opened(tmp_path):
    with pytest.raises(DiaryError, match="cannot be opened"):
        Diary(tmp_path / "nowhere" / "hens.diary", HOUSE).add([entry()], NOW)


def test_a_full_disk_changes_nothing(diary, monkeypatch):
    diary.add([entry()], NOW)
    connect = opening._connect

    def small(uri, *wait_s):
        connection = connect(uri, *wait_s)
        connection.execute("PRAGMA max_page_count = 30")
        return connection

    monkeypatch.setattr(opening, "_connect", small)
    many = [entry(minute=n, note="x" * 500) for n in range(500)]
    with pytest.raises(DiaryError, match="the disk is full"):
        diary.take_in(many, NOW, source="log")
    assert numbers(diary) == [1]
    assert diary.add([entry()], NOW).numbers == [2]


READER = """
import os, sys
from pathlib import Path
import numpy as np
from daylatch.diary.store.store import Diary
from daylatch.errors import DiaryError
# As somebody who may do less than an administrator.
if not os.getuid():
    os.setgid(65534)
    os.setuid(65534)
diary = Diary(Path(sys.argv[1]), sys.argv[2])
print([one.number for one in diary.entries()])
try:
    diary.undo(np.datetime64("2027-03-01T18:00:00"))
except DiaryError as error:
    print(error)
"""


@pytest.mark.parametrize("crashed", [False, True])
def test_a_diary_in_a_folder_that_may_not_be_written_is_read(tmp_path, crashed):
    """Also one whose writer was killed, so that a part of it stands in the log beside it."""
    folder = tmp_path / "shared"
    folder.mkdir()
    diary = Diary(folder / "hens.diary", HOUSE)
    diary.add([entry()], NOW)
    if crashed:
        script = (
            "import os, sys; sys.path[:0] = [sys.argv[1]]\n"
            "from diary.store.test_store import *\n"
            "with opening.opened_to_write(Path(sys.argv[2]), HOUSE) as connection:\n"
            "    Diary(Path(sys.argv[2]), HOUSE).add([entry('shut', 1)], NOW)\n"
            "    os._exit(0)\n"
        )
        subprocess.run([sys.executable, "-c", script, TESTS, diary.path], check=True)
        assert (folder / "hens.diary-wal").stat().st_size
        (folder / "hens.diary-shm").unlink()
    for path in [*folder.iterdir(), folder]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    for path in (tmp_path, *tmp_path.parents):
        if path.stat().st_mode & 0o005 != 0o005 and path != Path("/"):
            path.chmod(path.stat().st_mode | 0o005)
    command = [sys.executable, "-c", READER, diary.path, HOUSE]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[:1] == ["[1, 2]" if crashed else "[1]"], done.stderr
    assert "hens.diary: it " in done.stdout.splitlines()[1]
    folder.chmod(0o755)


def test_two_writers_and_a_reader_do_not_hinder_each_other(diary):
    did = work_together(diary.path, 1, 20)
    assert did["reads"]
    notes = notes_in(diary.path)
    assert len(set(notes)) == len(notes) == 1 + did["one"] + did["two"]
    assert min(did["one"], did["two"]) >= 20


def dump(path):
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


@pytest.fixture
def eventful(diary):
    diary.add([entry("in_use", value="a")], NOW, records={0: Record("a", "timer", b"\0list")})
    diary.take_in([entry("shut", 1), entry("opened", 2), entry("shut", 1)], NOW, source="log")
    diary.add([entry("shut", 3)], NOW, instead_of=2)
    diary.undo(NOW, 3)
    diary.add([entry("lost", 4, value="1", note="=fox")], NOW)
    return diary


def test_a_backup_brings_back_everything(eventful, tmp_path):
    content = back_up(eventful.path, HOUSE)
    assert is_diary(content)
    back = tmp_path / "back.diary"
    assert bring_back(content, Path("b"), back, HOUSE) == (6, 0)
    assert dump(back) == dump(eventful.path)
    assert bring_back(content, Path("b"), back, HOUSE) == (0, 6)
    assert dump(back) == dump(eventful.path)
    # A backup is a diary of its own, too.
    copy = tmp_path / "copy.diary"
    copy.write_bytes(content)
    assert Diary(copy, HOUSE).entries(all_of_them=True) == eventful.entries(all_of_them=True)


def test_bringing_back_loses_nothing_that_came_since(eventful, tmp_path):
    content = back_up(eventful.path, HOUSE)
    number = eventful.add([entry("hurt", 9, value="1")], NOW).numbers[0]
    eventful.undo(NOW, 6)
    assert bring_back(content, Path("b"), eventful.path, HOUSE) == (0, 6)
    assert number in numbers(eventful)
    assert 6 not in numbers(eventful)


def test_diaries_that_went_apart_are_joined_and_a_log_that_both_took_in_stays_single(tmp_path):
    log = [entry("shut", n) for n in range(5)]
    one, two = (Diary(tmp_path / f"{name}.diary", HOUSE) for name in ("one", "two"))
    one.add([entry("note", note="one")], NOW)
    one.take_in(log, NOW, source="log")
    two.take_in(log, NOW, source="log")
    two.undo(NOW, 3)
    two.add([entry("note", note="two")], NOW, instead_of=5)
    assert bring_back(back_up(two.path, HOUSE), Path("two"), one.path, HOUSE) == (1, 5)
    told = [(found.entry.what, found.entry.note) for found in one.entries()]
    assert sorted(told) == [("note", "one"), ("note", "two"), *[("shut", "")] * 3]


def test_a_backup_of_another_house_or_a_damaged_one_is_refused(eventful, tmp_path):
    content = back_up(eventful.path, HOUSE)
    back = tmp_path / "back.diary"
    with pytest.raises(DiaryError, match="of another house"):
        bring_back(content, Path("b"), back, OTHER_HOUSE)
    with pytest.raises(DiaryError, match="is damaged"):
        bring_back(content[:8192] + b"\xff" * 8192 + content[16384:], Path("b"), back, HOUSE)
    with pytest.raises(DiaryError):
        bring_back(content[:5000], Path("b"), back, HOUSE)
    assert not back.exists()


def test_a_hundred_kills_lose_and_double_nothing():
    done = subprocess.run(
        [sys.executable, "-m", "torture.kills_of_diary", "--count", "100", "--seed", "7"],
        capture_output=True,
        cwd=TESTS,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 confirmed entries lost, 0 doubled, 0 halves, 0 files unsound" in done.stdout
