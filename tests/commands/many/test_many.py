"""``daylatch many`` as it is run: on a real scheduler, interrupted, gone on with, and misused."""

import csv
import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow.dataset as ds
import pytest

from daylatch.many.folder import MANIFEST
from peers.dask_cluster import cluster

ROOT = Path(__file__).resolve().parents[3]
YEAR = ("--year", "2027")
JANUARY = ("--from", "2027-01-01", "--until", "2027-01-31")
COMMAND = [sys.executable, "-m", "daylatch", "many", "club.csv", *JANUARY, "-o", "out"]
# Where nights are long, so that none are looked at.
ZONES = {"Zurich": (47.0, 9.0), "Lisbon": (38.7, -9.1), "Sydney": (-33.0, 150.0)}


@pytest.fixture(scope="module")
def address():
    """Return the address of a scheduler with a worker, for all tests that break neither."""
    with cluster(1) as made:
        yield made.address


@pytest.fixture
def many(daylatch, address, tmp_path):
    """Return a function that plans a table, given as text, on that scheduler."""

    def call(text, *options, to="out"):
        (tmp_path / "club.csv").write_text(text)
        return daylatch("many", "club.csv", *call.dates, "-o", to, "--scheduler", address, *options)

    call.dates = YEAR

    return call


def club(count, more=""):
    """Return a table of houses in three zones."""
    places = list(ZONES.values())
    lines = [
        f"h{number},{places[number % 3][0] + number / 1000},{places[number % 3][1]}\n"
        for number in range(count)
    ]
    return "id,latitude,longitude\n" + "".join(lines) + more


def rows(folder, kind="times"):
    return ds.dataset(folder / kind, format="parquet").to_table().to_pylist()


def days_by_house(folder):
    found = {}
    for row in rows(folder):
        key = (row["site"], row["date"])
        assert key not in found, f"{key} is there twice"
        found[key] = row
    return found


def rejected(folder):
    file = folder / "rejected.csv"
    return list(csv.DictReader(file.read_text().splitlines())) if file.exists() else []


def manifest(folder):
    return json.loads((folder / MANIFEST).read_text())


def stamps(folder):
    return {file.name: file.stat().st_mtime_ns for file in (folder / "times").iterdir()}


# --- What comes out ----------------------------------------------------------------------------


def test_a_table_becomes_a_dataset_with_a_manifest(many, tmp_path):
    ran = many(club(7))
    assert ran.status == 0, ran.err
    assert "wrote out: 7 houses, 2,555 days" in ran.out
    assert "5,110 light events checked on arrays" in ran.out
    assert "count heads at dusk" in ran.out
    found = days_by_house(tmp_path / "out")
    assert len(found) == 7 * 365
    told = manifest(tmp_path / "out")
    assert told["complete"] is True
    assert (told["houses"], told["days"], told["rejected_rows"]) == (7, 2555, 0)
    assert told["first_date"] == "2027-01-01"
    assert told["second_opinion"]["seed"] == 1
    assert sum(part["houses"] for part in told["parts"]) == 7
    assert not (tmp_path / "out/rejected.csv").exists()


def test_the_minutes_are_those_of_a_site_file_that_says_the_same(many, daylatch, tmp_path):
    table = (
        "id,latitude,longitude,close.offset_min,open.not_before,night.least_h\n"
        'a,52.1,5.2,35,"07:00",8\n'
    )
    assert many(table).status == 0
    (tmp_path / "site.toml").write_text(
        'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "a"\n[place]\nlatitude = 52.1\n'
        'longitude = 5.2\n[open]\nnot_before = "07:00"\n[close]\noffset_min = 35\n'
        "[night]\nleast_h = 8\n"
    )
    single = list(csv.DictReader(daylatch("plan", *YEAR, "--to", "csv").out.splitlines()))
    mine = sorted(rows(tmp_path / "out"), key=lambda row: row["date"])
    assert [row["open_local"] for row in mine] == [row["open_local"] for row in single]
    assert [row["close_local"] for row in mine] == [row["close_local"] for row in single]
    assert [row["open_reason"] for row in mine] == [row["open_reason"] for row in single]


def test_a_summary_has_a_row_a_house(many, tmp_path):
    assert many(club(4), "--summary").status == 0
    found = rows(tmp_path / "out", "summary")
    assert sorted(row["site"] for row in found) == ["h0", "h1", "h2", "h3"]
    assert all(row["longest_lock_in_min"] > row["shortest_night_min"] for row in found)
    assert not (tmp_path / "out/times").exists()


def test_a_file_for_all_says_what_rows_do_not(many, tmp_path, alder_row):
    text = (
        alder_row.read_text() + "\n[[span]]\nfrom = 2027-02-01\nuntil = 2027-02-02\nshut = true\n"
    )
    (tmp_path / "ours.toml").write_text(text)
    ran = many("id,latitude,longitude\na,52.1,5.2\n", "--like", "ours.toml")
    assert ran.status == 0, ran.err
    shut = [row["date"] for row in rows(tmp_path / "out") if row["open_utc"] is None]
    assert dt.date(2027, 2, 1) in shut
    assert manifest(tmp_path / "out")["like"] == "ours.toml"


def test_bad_rows_are_told_with_line_and_every_reason_and_the_run_goes_on(many, tmp_path):
    table = (
        "id,latitude,longitude,close.offset_min\n"
        'good,52,5,\nbad,"52°05\'",500,\nworse,52,5,9999\n=1+2,52\n'
        "polar,-89,0,\n"
    )
    ran = many(table)
    assert ran.status == 13
    assert "wrote out: 1 house," in ran.out
    assert "4 rows have no plan; out/rejected.csv says why" in ran.err
    found = rejected(tmp_path / "out")
    assert [(row["line"], row["site"]) for row in found] == [
        ("3", "bad"),
        ("3", "bad"),
        ("4", "worse"),
        ("5", "'=1+2"),
        ("6", "polar"),
    ]
    assert "with a point, like 52.09" in found[0]["reason"]
    assert "longitude" in found[1]["reason"]
    assert found[2]["reason"] == 'close.offset_min = "9999": must be at most 720'
    assert "more than six hours from 12:00" in found[4]["reason"]
    assert manifest(tmp_path / "out")["rejected_rows"] == 4
    # Mended, nothing is rejected any more.
    ran = many("id,latitude,longitude\ngood,52,5\n")
    assert ran.status == 0
    assert not (tmp_path / "out/rejected.csv").exists()


def test_many_bad_rows_are_no_trouble_of_the_others(many, tmp_path):
    bad = "".join(f"x{number},north,5\n" for number in range(2000))
    ran = many(club(3, bad))
    assert ran.status == 13
    assert len(rejected(tmp_path / "out")) == 2000
    assert len(days_by_house(tmp_path / "out")) == 3 * 365


@pytest.mark.parametrize(
    "table",
    [
        "id,latitude,longitude\n",
        "id,latitude,longitude\na,north,5\nb,north,6\n",
        # All of it is written for another country.
        'id,latitude,longitude\na,"52,1","5,2"\n',
    ],
)
def test_a_table_that_is_wrong_as_a_whole_changes_nothing(many, tmp_path, table):
    assert many(club(3)).status == 0
    before = days_by_house(tmp_path / "out")
    ran = many(table)
    assert ran.status == 2
    assert "club.csv: has no row that can be planned, so nothing is changed" in ran.err
    assert days_by_house(tmp_path / "out") == before
    assert manifest(tmp_path / "out")["houses"] == 3
    if "north" in table:
        assert 'club.csv, line 2: latitude = "north": write degrees' in ran.err


def test_plans_made_with_a_file_for_all_are_not_replaced_by_others(
    many, daylatch, tmp_path, alder_row
):
    (tmp_path / "ours.toml").write_text(alder_row.read_text())
    assert many(club(3), "--like", "ours.toml").status == 0
    before = stamps(tmp_path / "out")
    ran = many(club(3))
    assert ran.status == 6
    assert "with --like ours.toml, and this run makes" in ran.err
    assert stamps(tmp_path / "out") == before


def test_what_should_be_looked_at_is_counted_and_listed(many, tmp_path):
    table = (
        "id,latitude,longitude,close.fallback,close.not_after,door.works,day.least_open_h\n"
        'sea,40,-40,,,,\ntimer,52,5,,,timer,\nbright,69.65,18.96,"18:00","18:00",,\n'
        "long,52.5,5,,,,15\n"
    )
    ran = many(table)
    assert ran.status == 0, ran.err
    assert "1 house lies at sea or in no country" in ran.err
    assert "1 house has a door that moves later than planned" in ran.err
    assert "1 house closes in daylight on some days" in ran.err
    assert "1 house falls short of the least open time" in ran.err
    assert "limits or a least night as `daylatch new` writes them" in ran.out
    told = list(csv.DictReader((tmp_path / "out/warnings.csv").read_text().splitlines()))
    assert [(row["line"], row["site"]) for row in told] == [
        ("3", "timer"),
        ("4", "bright"),
        ("5", "long"),
    ]
    assert 'door.works = "timer": the door moves later than planned' in told[0]["warning"]
    assert "closes in daylight on" in told[1]["warning"]
    assert "falls short of day.least_open_h on" in told[2]["warning"]
    # With nothing to look at there is no such file.
    assert many("id,latitude,longitude\na,40,10\n").status == 0
    assert not (tmp_path / "out/warnings.csv").exists()


def test_a_summary_is_there_for_spreadsheets_too(many, tmp_path):
    table = "id,latitude,longitude,name\n=1+2,47,9,Mill Lane\nb,48,9,\n"
    assert many(table, "--summary").status == 0
    told = list(csv.DictReader((tmp_path / "out/summary.csv").read_text().splitlines()))
    theirs = {row["site"]: row for row in rows(tmp_path / "out", "summary")}
    assert {row["site"] for row in told} == {"'=1+2", "b"}
    for row in told:
        other = theirs[row["site"].lstrip("'")]
        assert row["name"] == other["name"]
        assert int(row["longest_lock_in_min"]) == other["longest_lock_in_min"]
        assert float(row["open_h_2027_06"]) == other["open_h_2027_06"]


def test_the_dataset_can_be_grouped_and_joined(many, tmp_path):
    assert many(club(9)).status == 0
    times = ds.dataset(tmp_path / "out/times", format="parquet").to_table()
    houses = ds.dataset(tmp_path / "out/houses", format="parquet").to_table()
    counted = times.group_by("site").aggregate([("date", "count")])
    assert counted.column("date_count").to_pylist() == [365] * 9
    joined = times.join(houses.select(["site", "zone", "settings"]), "site")
    assert joined.num_rows == 9 * 365
    assert times.group_by("open_reason").aggregate([]).num_rows == 1


def test_columns_of_ones_own_may_stay(many, tmp_path):
    ran = many("id,latitude,longitude,phone\na,47,9,0123\n", "--ignore", "phone")
    assert ran.status == 0, ran.err
    ran = many("id,latitude,longitude,phone\na,47,9,0123\n")
    assert ran.status == 2
    assert "name each with --ignore COLUMN" in ran.err


def test_the_guide_shows_what_is_printed(daylatch, tmp_path):
    guide = (ROOT / "docs/how-to/many-houses.md").read_text()
    (tmp_path / "schedules").mkdir()
    table = (ROOT / "schedules/club.csv").read_text()
    (tmp_path / "schedules/club.csv").write_text(table)
    ran = daylatch("many", "schedules/club.csv", *YEAR, "-o", "club-2027")
    assert ran.status == 13
    assert f"```text\n{table}```" in guide
    assert f"```text\n{ran.out}{ran.err}```" in guide
    snippet = guide.partition("```python\n")[2].partition("```")[0]
    done = subprocess.run(
        [sys.executable, "-c", snippet], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert "365 days of north-02" in done.stdout
    assert "'Fell Side'" in done.stdout


# --- Going on ----------------------------------------------------------------------------------


def test_what_is_finished_stands_and_what_changed_is_redone(many, tmp_path):
    out = tmp_path / "out"
    assert many(club(9)).status == 0
    before, first = stamps(out), days_by_house(out)
    ran = many(club(9))
    assert "9 houses, 3,285 days (9 before; 3 of 3 parts were finished before)" in ran.out
    assert stamps(out) == before
    # A row of one zone changes, and lines of the others move.
    changed = club(9).replace("h1,38.701,", "h1,38.6,").replace("\nh0", "\n\nh0")
    ran = many(changed)
    assert "2 of 3 parts were finished before" in ran.out
    after = stamps(out)
    assert sum(after[name] != before.get(name) for name in after) == 1
    again = days_by_house(out)
    assert again.keys() == first.keys()
    different = {site for site, date in first if again[site, date] != first[site, date]}
    assert different == {"h1"}


def test_rows_that_are_taken_out_leave_nothing(many, tmp_path):
    assert many(club(9)).status == 0
    without = "".join(line for line in club(9).splitlines(True) if not line.startswith("h2,"))
    assert many(without).status == 0
    assert {site for site, _ in days_by_house(tmp_path / "out")} == {
        f"h{number}" for number in range(9) if number != 2
    }
    # A whole zone goes.
    assert many("id,latitude,longitude\nh0,47.0,9.0\n").status == 0
    assert {site for site, _ in days_by_house(tmp_path / "out")} == {"h0"}
    assert len(list((tmp_path / "out/houses").iterdir())) == 1


HARMS = ("cut", "empty", "gone", "houses gone", "swapped", "left over", "flipped", "houses flipped")


def flip(file):
    """Change bytes amid a file; its head and end stay as they are."""
    content = bytearray(file.read_bytes())
    for at in range(60, 200):
        content[at] ^= 0x55
    file.write_bytes(content)


@pytest.mark.parametrize("harm", HARMS)
def test_no_leftover_and_no_damaged_file_counts_as_done(many, tmp_path, harm):
    out = tmp_path / "out"
    assert many(club(6)).status == 0
    whole = days_by_house(out)
    file = sorted((out / "times").iterdir())[0]
    match harm:
        case "cut":
            file.write_bytes(file.read_bytes()[:-20])
        case "empty":
            file.write_bytes(b"")
        case "gone":
            file.unlink()
        case "houses gone":
            (out / "houses" / file.name).unlink()
        case "swapped":
            file.write_bytes((sorted((out / "times").iterdir())[1]).read_bytes())
        case "flipped":
            flip(file)
        case "houses flipped":
            flip(out / "houses" / file.name)
        case "left over":
            (out / "times" / f".{file.name}.abcd.daylatch.part").write_bytes(b"half")
    ran = many(club(6))
    assert ran.status == 0, ran.err
    assert days_by_house(out) == whole
    assert {file.suffix for file in (out / "times").iterdir()} == {".parquet"}


def test_another_year_or_kind_goes_into_another_folder(many, daylatch, tmp_path):
    assert many(club(3)).status == 0
    before = stamps(tmp_path / "out")
    for options in (("--year", "2028"), ("--year", "2027", "--summary")):
        ran = daylatch("many", "club.csv", *options, "-o", "out")
        assert ran.status == 6
        assert "out: holds the times of 2027-01-01 to 2027-12-31" in ran.err
        assert "choose another folder" in ran.err
    assert stamps(tmp_path / "out") == before


def test_a_killed_run_goes_on_and_the_dataset_is_that_of_one_go(many, tmp_path, address):
    out = tmp_path / "out"
    text = club(600)
    many.dates = JANUARY
    assert many(text, to="whole").status == 0
    process = subprocess.Popen(
        [*COMMAND, "--scheduler", address],
        cwd=tmp_path,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    until = time.monotonic() + 60
    while not list((out / "times").glob("clock-*")) if (out / "times").exists() else True:
        assert time.monotonic() < until
        time.sleep(0.02)
    process.kill()
    process.wait()
    assert manifest(out)["complete"] is False
    ran = many(text)
    assert ran.status == 0, ran.err
    assert days_by_house(out) == days_by_house(tmp_path / "whole")
    assert manifest(out)["complete"] is True


def test_an_interrupted_terminal_shows_nothing_of_workers(tmp_path):
    # A terminal sends the signal to all processes of its group.
    (tmp_path / "club.csv").write_text(club(20_000))
    process = subprocess.Popen(
        [*COMMAND, "--workers", "2"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    until = time.monotonic() + 60
    while not list((tmp_path / "out").glob("times/clock-*")):
        assert time.monotonic() < until
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert len(err.splitlines()) == 1
    assert "the same command goes on from there" in err


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupted_run_says_how_far_it_came(tmp_path, how):
    (tmp_path / "club.csv").write_text(club(6000))
    with cluster(1) as made:
        process = subprocess.Popen(
            [*COMMAND, "--until", "2027-12-31", "--scheduler", made.address],
            cwd=tmp_path,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + 60
        while not list((tmp_path / "out").glob("times/clock-*")):
            assert time.monotonic() < until
            time.sleep(0.02)
        process.send_signal(how)
        _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "parts are finished and stand in out; the same command goes on from there" in err
    assert "Traceback" not in err


# --- Workers -----------------------------------------------------------------------------------


def test_a_worker_that_is_killed_in_the_middle_is_no_trouble(daylatch, tmp_path):
    (tmp_path / "club.csv").write_text(club(1500))
    with cluster(2) as made:
        process = subprocess.Popen(
            [*COMMAND, "--scheduler", made.address],
            cwd=tmp_path,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + 60
        while not list((tmp_path / "out").glob("times/clock-*")):
            assert time.monotonic() < until
            time.sleep(0.02)
        made.workers[0].kill()
        out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert "1,500 houses" in out
    found = days_by_house(tmp_path / "out")
    assert len(found) == 1500 * 31


@pytest.mark.parametrize("houses", [6, 1002])
def test_without_a_scheduler_it_works_here_or_in_processes_of_its_own(tmp_path, houses):
    (tmp_path / "club.csv").write_text(club(houses))
    done = subprocess.run(
        [*COMMAND, "--workers", "2"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(days_by_house(tmp_path / "out")) == houses * 31


def test_where_no_scheduler_answers_it_says_so(daylatch, tmp_path, monkeypatch):
    monkeypatch.setattr("daylatch.many.cluster.CONNECT_S", 1.0)
    (tmp_path / "club.csv").write_text(club(3))
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", "tcp://127.0.0.1:1")
    assert ran.status == 14
    assert "--scheduler tcp://127.0.0.1:1: there is no scheduler that answers" in ran.err


def test_nothing_is_taken_away_where_nobody_can_make_it_anew(many, daylatch, tmp_path, monkeypatch):
    assert many(club(3)).status == 0
    before = days_by_house(tmp_path / "out")
    monkeypatch.setattr("daylatch.many.cluster.CONNECT_S", 1.0)
    (tmp_path / "club.csv").write_text(club(4))
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", "tcp://127.0.0.1:1")
    assert ran.status == 14
    assert days_by_house(tmp_path / "out") == before
    assert manifest(tmp_path / "out")["complete"] is True


def test_a_scheduler_without_workers_is_told_apart(daylatch, tmp_path, monkeypatch):
    monkeypatch.setattr("daylatch.many.cluster.CONNECT_S", 3.0)
    (tmp_path / "club.csv").write_text(club(3))
    with cluster() as made:
        ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", made.address)
    assert ran.status == 14
    assert "it is there, but has no workers" in ran.err


def test_a_worker_of_another_version_is_refused_before_any_work(daylatch, tmp_path):
    (tmp_path / "club.csv").write_text(club(3))
    other = tmp_path / "other/daylatch"
    other.parent.mkdir()
    subprocess.run(["cp", "-r", ROOT / "src/daylatch", other], check=True)
    init = other / "__init__.py"
    init.write_text(init.read_text().replace('__version__ = "', '__version__ = "9.'))
    with cluster() as made:
        made.add_worker(PYTHONPATH=str(other.parent))
        ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", made.address)
    assert ran.status == 14
    assert "has daylatch 9." in ran.err
    assert "install the same there" in ran.err
    assert not (tmp_path / "out" / MANIFEST).exists()


def test_when_all_workers_are_gone_it_ends_with_what_is_finished(daylatch, tmp_path, monkeypatch):
    monkeypatch.setattr("daylatch.many.cluster.PATIENCE_S", 3.0)
    (tmp_path / "club.csv").write_text(club(4000))
    with cluster(1) as made:
        import threading  # noqa: PLC0415

        def kill():
            until = time.monotonic() + 60
            while not list((tmp_path / "out").glob("times/clock-*")):
                assert time.monotonic() < until
                time.sleep(0.02)
            made.workers[0].kill()

        killer = threading.Thread(target=kill)
        killer.start()
        ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", made.address)
        killer.join()
    assert ran.status == 14, ran.err
    assert "finished parts stand, and the same command goes on from there" in ran.err
    assert list((tmp_path / "out/times").iterdir())


# --- Misuse ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("club.csv", "-o", "out"), 2, "say of which dates: --year 2027"),
        (("club.csv", *YEAR), 2, "say where the plans go: -o DIR"),
        (("club.csv", *YEAR, "-o", "out", "--workers", "0"), 2, '--workers is "0"'),
        (("club.csv", *YEAR, "-o", "out", "--workers", "1", "--scheduler", "x"), 2, "give either"),
        (("club.txt", *YEAR, "-o", "out"), 2, "ends in .csv, .parquet or .geojson"),
        (("nosuch.csv", *YEAR, "-o", "out"), 2, "cannot be read (no such file or directory)"),
        (("club.csv", "--year", "1800", "-o", "out"), 4, "plans can be made from 1902-01-01"),
        (("club.csv", *YEAR, "-o", "out", "--like", "nosuch.toml"), 3, "nosuch.toml"),
    ],
)
def test_misuse_is_told_before_anything_is_made(daylatch, tmp_path, arguments, status, words):
    (tmp_path / "club.csv").write_text(club(3))
    ran = daylatch("many", *arguments)
    assert ran.status == status
    assert words in ran.err
    assert not (tmp_path / "out").exists()


def test_a_column_that_is_no_key_stops_the_run(daylatch, tmp_path):
    (tmp_path / "club.csv").write_text("id,latitude,longitude,close.ofset_min\na,52,5,1\n")
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out")
    assert ran.status == 2
    assert (
        "club.csv: column close.ofset_min is not a key here; did you mean close.offset_min?"
        in ran.err
    )
    assert not (tmp_path / "out").exists()


def test_a_run_that_was_stopped_before_its_first_file_goes_on(many, tmp_path):
    for name in ("houses", "times"):
        (tmp_path / "out" / name).mkdir(parents=True)
    (tmp_path / "out/.lock").touch()
    ran = many(club(3))
    assert ran.status == 0, ran.err


def test_a_port_of_another_program_is_no_scheduler(daylatch, tmp_path, monkeypatch):
    import socket  # noqa: PLC0415

    monkeypatch.setattr("daylatch.many.cluster.CONNECT_S", 2.0)
    (tmp_path / "club.csv").write_text(club(3))
    with socket.create_server(("127.0.0.1", 0)) as mute:
        address = f"tcp://127.0.0.1:{mute.getsockname()[1]}"
        begun = time.monotonic()
        ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", address)
    assert ran.status == 14
    assert "there is no scheduler that answers" in ran.err
    assert time.monotonic() - begun < 20


@pytest.mark.parametrize("address", ["tls://127.0.0.1:1", "nonsense", "ucx://127.0.0.1:1"])
def test_addresses_that_nobody_can_speak_to_are_told(daylatch, tmp_path, monkeypatch, address):
    monkeypatch.setattr("daylatch.many.cluster.CONNECT_S", 2.0)
    (tmp_path / "club.csv").write_text(club(3))
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out", "--scheduler", address)
    assert ran.status == 14
    assert f"--scheduler {address}" in ran.err


@pytest.mark.parametrize("name", ["notes.txt", "manifest.json", "times/notes.txt"])
def test_a_folder_that_holds_something_else_is_left_alone(daylatch, tmp_path, name):
    (tmp_path / "club.csv").write_text(club(3))
    file = tmp_path / "out" / name
    file.parent.mkdir(parents=True)
    file.write_text("mine")
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out")
    assert ran.status == 6
    assert "choose a new or empty folder" in ran.err
    assert file.read_text() == "mine"
    assert [entry for entry in (tmp_path / "out").rglob("*") if entry.is_file()] == [file]


def test_a_file_among_the_parts_is_left_alone(many, tmp_path):
    assert many(club(3)).status == 0
    (tmp_path / "out/times/mine.parquet").write_bytes(b"mine")
    ran = many(club(3))
    assert ran.status == 6
    assert "mine.parquet: is no file of a dataset" in ran.err
    assert (tmp_path / "out/times/mine.parquet").read_bytes() == b"mine"


def test_a_folder_that_is_a_file_is_said_so(daylatch, tmp_path):
    (tmp_path / "club.csv").write_text(club(3))
    (tmp_path / "out").write_text("mine")
    ran = daylatch("many", "club.csv", *YEAR, "-o", "out")
    assert ran.status == 6
    assert "out: cannot be used: Not a directory" in ran.err


def test_two_runs_do_not_share_a_folder(many, tmp_path):
    from filelock import FileLock  # noqa: PLC0415

    assert many(club(3)).status == 0
    with FileLock(tmp_path / "out/.lock"):
        ran = many(club(4))
    assert ran.status == 6
    assert "another run works in this folder" in ran.err
    assert len(days_by_house(tmp_path / "out")) == 3 * 365


def test_nothing_of_it_is_left_running(tmp_path):
    (tmp_path / "club.csv").write_text(club(1002))
    process = subprocess.Popen(
        [*COMMAND, "--workers", "2"],
        cwd=tmp_path,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        start_new_session=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    assert process.wait(timeout=120) == 0
    until = time.monotonic() + 10
    while _is_there(process.pid):
        assert time.monotonic() < until
        time.sleep(0.1)
    assert not list(tmp_path.glob("daylatch-many-*"))


def _is_there(group):
    """Return whether any process of a group is left."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
