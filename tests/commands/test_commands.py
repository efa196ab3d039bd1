"""The commands as a keeper runs them: exact output, messages and exit statuses."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import pytz

import daylatch.commands.now as now_module
from daylatch.__main__ import run
from daylatch.commands.now import stamp_utc

ROOT = Path(__file__).resolve().parents[2]
SUFFIX = {".txt": "text", ".csv": "csv", ".ics": "ics", ".json": "json"}
SITES = sorted((ROOT / "schedules").glob("*.toml"))
DEMO_PLANS = sorted(
    path
    for site in SITES
    for path in site.parent.glob(f"{site.stem}-2027.*")
    if path.suffix in SUFFIX
)


def test_the_demo_plans_were_made_with_the_zone_rules_installed_here():
    # Zone rules change by law. Another pytz than the pinned one can change a demo plan rightly.
    assert pytz.__version__ == "2026.6"


@pytest.mark.parametrize("path", DEMO_PLANS, ids=lambda path: path.name)
def test_a_demo_plan_comes_out_byte_for_byte(path, daylatch, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    site = ROOT / "schedules" / f"{path.stem.removesuffix('-2027')}.toml"
    ran = daylatch("plan", str(site), "--year", "2027", "--to", SUFFIX[path.suffix])
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.encode() == path.read_bytes()


def test_every_demo_site_has_a_plan():
    assert len(list((ROOT / "schedules").glob("*.toml"))) == 6
    for site in (ROOT / "schedules").glob("*.toml"):
        assert (ROOT / "schedules" / f"{site.stem}-2027.txt").exists()


def test_today_says_what_the_door_should_be(daylatch, alder_row):
    ran = daylatch("today", "--at", "2027-06-21T12:00Z")
    assert ran.err == ""
    assert ran.out.splitlines()[:6] == [
        "Alder Row (demo), 2027-06-21 13:00 (wall clock of Europe/London)",
        "The door should be open.",
        "It closes at 2027-06-21 22:24, in 9 h 24 min.",
        "Flock day 2027-06-21 (from one lowest Sun to the next): open from 2027-06-21",
        "06:30 to 2027-06-21 22:24.",
        "Head count at 2027-06-21 22:39.",
    ]
    assert "count heads at dusk" in ran.out


@pytest.mark.parametrize(
    ("at", "line"),
    [
        ("2027-06-21T12:00Z", "open until 22:24 (9 h 24 min)"),
        ("2027-06-21T21:23:59Z", "open until 22:24 (1 min)"),
        ("2027-06-21T21:24Z", "shut until 2027-06-22 06:30 (8 h 06 min)"),
        ("2027-02-10T12:00+00:00", "shut until 2027-02-22 06:41 (11 days 18 h 41 min)"),
    ],
)
def test_today_in_one_line(daylatch, alder_row, at, line):
    assert daylatch("today", "--at", at, "--brief") == (0, line + "\n", "")


@pytest.mark.parametrize(
    ("at", "asked", "status"),
    [
        ("2027-06-21T12:00Z", "open", 0),
        ("2027-06-21T12:00Z", "shut", 1),
        ("2027-06-21T23:00Z", "open", 1),
        ("2027-06-21T23:00Z", "shut", 0),
    ],
)
def test_today_answers_scripts_by_its_exit_status(daylatch, alder_row, at, asked, status):
    assert daylatch("today", "--at", at, "--is", asked) == (status, "", "")


@pytest.mark.parametrize(
    ("arguments", "at_least"),
    [
        (["today", "--is", "ajar"], 2),
        (["today", "--at", "noon", "--is", "open"], 2),
        (["today", "--at", "2027-06-21T12:00", "--is", "open"], 2),
        (["today", "missing.toml", "--is", "open"], 2),
        (["today", "--at", "1850-01-01T00:00Z", "--is", "open"], 2),
        (["today", "--nonsense"], 2),
    ],
)
def test_a_question_that_cannot_be_answered_is_never_a_no(daylatch, alder_row, arguments, at_least):
    ran = daylatch(*arguments)
    assert ran.status >= at_least
    assert ran.out == ""
    assert len(ran.err.splitlines()) == 1


def test_half_past_midnight_in_a_white_night_belongs_to_the_evening_before(daylatch):
    daylatch("new", "site.toml", "--name", "Tarn", "--latitude", "61.5", "--longitude", "23.76")
    lines = Path("site.toml").read_text().splitlines()
    kept = [line for line in lines if not line.startswith(("not_before", "not_after"))]
    Path("site.toml").write_text("\n".join(kept))
    ran = daylatch("today", "--at", "2027-05-29T00:30+03:00")
    assert "The door should be open." in ran.out
    said = " ".join(ran.out.split())
    assert (
        "Flock day 2027-05-28 (from one lowest Sun to the next): open from 2027-05-28 02:46" in said
    )
    assert "to 2027-05-29 00:34." in said


def test_explain_tells_the_trace_in_sentences(daylatch, alder_row):
    ran = daylatch("explain", "2027-04-15")
    assert ran.err == ""
    trace, caution = ran.out.split("\n\nA schedule does not see the birds")
    assert trace == (
        "Thursday 2027-04-15 at Alder Row (demo), in wall-clock time of Europe/London\n"
        "This flock day runs from 2027-04-15 00:58 to 2027-04-16 00:58: from one lowest\n"
        "Sun to the next, so that a closing after midnight still belongs to the evening\n"
        "before.\n"
        "\n"
        "The door opens at 2027-04-15 06:30.\n"
        "  The Sun's centre passes 6 degrees below the horizon (civil dawn) at 2027-04-15\n"
        "  05:27:25; 15 min after it, rounded up to a whole minute, is 2027-04-15 05:43.\n"
        "  47 min later: your limit not_before.\n"
        "\n"
        "The door closes at 2027-04-15 20:46.\n"
        "  The Sun's centre passes 6 degrees below the horizon (civil dusk) at 2027-04-15\n"
        "  20:30:47; 15 min after it, rounded up to a whole minute, is 2027-04-15 20:46.\n"
        "\n"
        "Head count at 2027-04-15 21:01.\n"
        "The birds are then shut in for 9 h 44 min, until 2027-04-16 06:30."
    )
    assert "count heads at dusk" in caution


def test_explain_takes_a_site_and_a_date(daylatch, alder_row):
    assert daylatch("explain", "site.toml", "2027-02-10").out.splitlines()[4:7] == [
        "Your dated span from 2027-02-08 until 2027-02-21 changes it: housing order",
        "(demo).",
        "",
    ]
    assert "It opens next at 2027-02-22 06:41." in daylatch("explain", "2027-02-10").out
    ran = daylatch("explain", "a", "b", "c")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == "daylatch: explain takes a site file and one date, not 3 words\n"
    assert daylatch("explain", "2027-02-30").err == (
        'daylatch: DATE is "2027-02-30": write a date of the calendar, like 2027-01-31\n'
    )


def test_check_prints_what_was_understood(daylatch, alder_row, set_clock):
    set_clock("2027-01-01T12:00:00")
    ran = daylatch("check")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(
        "site.toml was understood:\n"
        "Name        Alder Row (demo)\n"
        "Id          5d0c6a5e-0b57-4f5c-9a0e-2f6b8f3f5a11\n"
        "Notes       Invented: nobody keeps hens here.\n"
        "Place       51.72 N 0.41 E\n"
        "Zone        Europe/London (given in the file); time-zone rules 2026f\n"
        "Door        worked by a controller; its clock keeps the wall clock's time, and\n"
        "            changes with it\n"
        "Rule        Opens 15 min after civil dawn (Sun 6° below the horizon), not before\n"
        "            06:30\n"
        "Rule        Closes 15 min after civil dusk\n"
        "Rule        Open for at least 9 h 30 min: on shorter days it opens earlier and\n"
        "            closes later, up to the guard, beyond which predators hunt\n"
        "            (nautical, Sun 12° below the horizon)\n"
        "Rule        No least night\n"
        "Head count  15 min after closing\n"
        "Calendar    One timed entry a movement; times in UTC; a reminder 10 min before\n"
        "            closing; its readers see the times only\n"
        "Flock       6 birds; medium size\n"
        "House       Floor of 18 sq ft (1.672 m2); 1.8 m of roost; 2 nest boxes; a nest\n"
        "            box has 34 x 34 x 34 cm (13.4 x 13.4 x 13.4 in); no feed inside; no\n"
        "            water inside; litter on the whole floor\n"
        "Run         Floor of 6 m2 (64.58 sq ft); within reach of the birds while the\n"
        "            door is shut; without a roof\n"
        "Span 1      2027-02-08 until 2027-02-21: shut all day (housing order (demo))\n"
        "Span 2      2027-05-10 until 2027-05-30: closes 40 min after its light (young\n"
        "            birds come in late)\n"
        "\n"
        "A plan from 2027-01-01 to 2027-12-31 can be made:\n"
    )


@pytest.mark.parametrize(
    ("arguments", "status", "message"),
    [
        (["--year", "20x7"], 2, '--year is "20x7": write a year like 2027'),
        (
            ["--year", "2027", "--from", "2027-01-01"],
            2,
            "give either --year, or --from and --until",
        ),
        (["--from", "01/02/2027"], 2, '--from is "01/02/2027": write a date of the calendar'),
        (["--from", "2027-02-01", "--until", "2027-01-01"], 2, "swap them"),
        (["--to", "pdf"], 2, '--to is "pdf": write one of text, csv, ics, json'),
        (["--year", "2038"], 4, "the rules for Europe/London end with 2037"),
        (["--year", "1800"], 4, "plans can be made from 1902-01-01"),
        (["elsewhere.toml"], 3, "cannot be read (no such file or directory)"),
        (["-o", "."], 6, "is a folder"),
        (["--to", "text", "-o", "site.toml"], 6, "is the site file itself"),
        (["--to", "csv", "-o", "site.toml", "--force"], 6, "is the site file itself"),
        (["--from", "9999-12-31"], 4, "plans can be made from"),
        (["--until", "2020-01-01"], 2, "lies before today"),
        (["-o", "no/such/folder.txt"], 6, "cannot be written"),
        (["-o", "/dev/full"], 6, "is not a plain file"),
    ],
)
def test_a_wrong_request_gets_one_message_and_changes_nothing(
    daylatch, alder_row, arguments, status, message
):
    before = alder_row.read_bytes()
    ran = daylatch("plan", *arguments)
    assert (ran.status, ran.out) == (status, "")
    (line,) = ran.err.splitlines()
    assert line.startswith("daylatch: ")
    assert message in line
    assert [path.name for path in Path().iterdir()] == ["site.toml"]
    assert alder_row.read_bytes() == before


@pytest.mark.parametrize("export", ["text", "csv", "ics", "json"])
def test_a_file_is_replaced_only_by_the_form_that_wrote_it(
    daylatch, alder_row, export, monkeypatch
):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    wanted = ("--from", "2027-01-01", "--until", "2027-01-05", "--to", export, "-o", "out")
    assert daylatch("plan", *wanted).err == "wrote out: 2027-01-01 to 2027-01-05\n"
    first = Path("out").read_bytes()
    assert daylatch("plan", *wanted).err == "out: already up to date\n"
    other = ("--from", "2027-02-01", "--until", "2027-02-05", "--to", export, "-o", "out")
    assert daylatch("plan", *other).status == 0
    assert Path("out").read_bytes() != first
    Path("out").write_text("my own notes")
    ran = daylatch("plan", *wanted)
    assert ran.status == 6
    assert Path("out").read_text() == "my own notes"
    assert daylatch("plan", *wanted, "--force").status == 0
    assert Path("out").read_bytes() == first


def test_the_form_follows_the_name_of_the_file(daylatch, alder_row):
    for name, beginning in (
        ("a.csv", "date,"),
        ("a.ics", "BEGIN:"),
        ("a.json", "{"),
        ("a", "dayl"),
    ):
        assert (
            daylatch("plan", "--from", "2027-01-01", "--until", "2027-01-02", "-o", name).status
            == 0
        )
        assert Path(name).read_text().startswith(beginning)


@pytest.mark.parametrize("export", ["ics", "json"])
def test_another_houses_plan_is_not_replaced(daylatch, alder_row, export):
    other = alder_row.read_text().replace("5d0c6a5e", "6d0c6a5e")
    Path("elsewhere").mkdir()
    Path("elsewhere/site.toml").write_text(other)
    wanted = ("--from", "2027-01-01", "--until", "2027-01-02", "-o", f"out.{export}")
    assert daylatch("plan", *wanted).status == 0
    before = Path(f"out.{export}").read_bytes()
    ran = daylatch("plan", "elsewhere/site.toml", *wanted)
    assert ran.status == 6
    assert "holds the plan of another house" in ran.err
    assert Path(f"out.{export}").read_bytes() == before
    assert daylatch("plan", "elsewhere/site.toml", *wanted, "--force").status == 0


def test_a_symbolic_link_is_never_followed(daylatch, alder_row):
    Path("precious.txt").write_text("daylatch door plan\n")
    Path("link").symlink_to("precious.txt")
    for extra in ([], ["--force"]):
        ran = daylatch("plan", "--year", "2027", "-o", "link", *extra)
        assert ran.status == 6
        assert "symbolic link" in ran.err
    assert Path("precious.txt").read_text() == "daylatch door plan\n"


def test_the_default_range_is_the_next_365_days_at_the_site(daylatch, alder_row, set_clock):
    set_clock("2027-03-01T23:30:00")
    days = json.loads(daylatch("plan", "--to", "json").out)["days"]
    assert (days[0]["date"], days[-1]["date"]) == ("2027-03-01", "2028-02-28")
    text = alder_row.read_text().replace('"Europe/London"', '"Europe/Paris"')
    alder_row.write_text(text)
    days = json.loads(daylatch("plan", "--to", "json").out)["days"]
    assert days[0]["date"] == "2027-03-02"


def test_a_range_of_years_prints_yearly_blocks(daylatch, alder_row):
    lines = daylatch("plan", "--from", "2027-12-01", "--until", "2029-02-28").out.splitlines()
    assert [line for line in lines if re.fullmatch(r"\d{4}", line)] == ["2027", "2028", "2029"]
    assert max(map(len, lines)) <= 80


def test_a_calendar_over_what_importers_take_warns(daylatch, alder_row):
    ran = daylatch("plan", "--from", "2027-01-01", "--until", "2028-12-31", "--to", "ics")
    assert ran.status == 0
    assert re.search(r"warning: 1,448 entries in \d{3} KB in one calendar file", ran.err)
    ran = daylatch("plan", "--from", "2027-01-01", "--until", "2028-06-30", "--to", "ics")
    assert (ran.status, ran.err) == (0, "")


def test_the_last_day_of_the_zone_rules_still_has_a_today(daylatch, alder_row):
    ran = daylatch("today", "--at", "2037-12-31T12:00Z", "--brief")
    assert (ran.status, ran.out[:11]) == (0, "open until ")
    # The last night still has its end, and nothing has one after it.
    ran = daylatch("today", "--at", "2037-12-31T20:00Z", "--brief")
    assert ran.out.startswith("shut until 2038-01-01 07:3")
    assert daylatch("today", "--at", "2038-01-01T12:00Z", "--brief").status == 4


def test_no_command_shows_the_help(daylatch):
    ran = daylatch()
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("Usage: daylatch [OPTIONS] COMMAND")


def test_two_houses_with_one_id_are_refused_where_they_could_be_mixed(daylatch, alder_row):
    Path("second.toml").write_text(alder_row.read_text().replace("Alder Row", "Elder Row"))
    days = ("--from", "2027-01-01", "--until", "2027-01-03")
    for arguments in (["plan", *days, "--to", "ics"], ["feed", *days, "-o", "public"]):
        ran = daylatch(*arguments)
        assert (ran.status, ran.out) == (3, "")
        assert "the same id stands in second.toml under another name or place" in ran.err
    for arguments in (["check"], ["plan", *days]):
        assert daylatch(*arguments).status == 0
    assert "warning: site.toml, line 2: id = " in daylatch("check").err


def test_a_copy_to_try_something_leaves_the_original_free(daylatch, alder_row):
    Path("try.toml").write_text(alder_row.read_text().replace("offset_min = 15", "offset_min = 20"))
    days = ("--from", "2027-01-01", "--until", "2027-01-03")
    for arguments in (["check"], ["plan", *days, "-o", "x.ics"], ["feed", *days, "-o", "public"]):
        ran = daylatch(*arguments)
        assert ran.status == 0
        assert "the same id stands in try.toml, of the same house" in ran.err
    assert "the same id" not in daylatch("plan", *days).err


def test_old_zone_rules_are_warned_about(daylatch, alder_row, monkeypatch):
    monkeypatch.setattr(now_module, "zone_rules_date", lambda: dt.date(2020, 1, 1))
    ran = daylatch("plan", "--year", "2027")
    assert ran.status == 0
    assert "over twelve months old" in ran.err
    assert "warning" not in daylatch("--version").err


class _Clock(dt.datetime):
    """The clock of a board that has none of its own, or a broken one."""

    shows = dt.datetime(1970, 1, 1, 0, 3, tzinfo=dt.UTC)

    @classmethod
    def now(cls, tz=None):
        return cls.shows


@pytest.fixture
def board(monkeypatch):
    """Return a function that sets the clock of the computer."""
    fake = type(sys)("datetime")
    vars(fake).update(vars(dt))
    fake.datetime = _Clock
    monkeypatch.setattr(now_module, "dt", fake)

    def set_clock(shows):
        monkeypatch.setattr(_Clock, "shows", shows)

    return set_clock


def test_a_clock_older_than_the_zone_rules_is_warned_about(daylatch, alder_row, board):
    board(_Clock.shows)
    for arguments in (["plan"], ["plan", "--year", "2027"], ["today"], ["check"]):
        ran = daylatch(*arguments)
        assert ran.status == 0
        assert "shows 1970-01-01, but the time-zone rules in use were made later" in ran.err
    ran = daylatch("new", "x.toml", "--name", "x", "--latitude", "52", "--longitude", "5")
    assert "the clock must be wrong, so set it" in ran.err


def test_nothing_is_published_by_a_clock_older_than_the_zone_rules(daylatch, alder_row, board):
    board(_Clock.shows)
    for arguments in (["feed", "-o", "public"], ["sync", "--url", "https://cal.example.org/"]):
        ran = daylatch(*arguments)
        assert (ran.status, "so nothing is published: set it" in ran.err) == (4, True)
    days = ("--from", "2027-01-01", "--until", "2027-01-02")
    assert daylatch("feed", *days, "-o", "public").status == 0


@pytest.mark.parametrize("at", [(), ("--at", "1970-01-01T12:00Z"), ("--at", "2026-07-01T12:00Z")])
def test_a_clock_older_than_the_zone_rules_cannot_tell(daylatch, alder_row, board, at):
    board(_Clock.shows)
    for state in ("open", "shut"):
        ran = daylatch("today", "--is", state, *at)
        assert ran.status == 4
        assert "it cannot be told" in ran.err
    ran = daylatch("today", *at)
    assert (ran.status, "--at lies in the past" in ran.err) == (0, bool(at))


@pytest.mark.parametrize("shows", ["0001-01-01T00:00:30+00:00", "9999-12-31T23:00:00+00:00"])
def test_a_clock_beyond_all_plans_is_no_unforeseen_trouble(
    daylatch, alder_row, board, shows, tmp_path
):
    board(dt.datetime.fromisoformat(shows))
    commands = [
        ["plan"],
        ["plan", "--year", "2027", "--to", "ics"],
        ["today", "--is", "open"],
        ["check"],
        ["nights"],
        ["daylength"],
        ["card", "-o", "c.html"],
        ["draw", "-o", "c.svg"],
        ["report", "-o", "c.html"],
        ["feed", "-o", "public"],
        ["sync", "--url", "https://cal.example.org/", "--dry-run"],
        ["new", "x.toml", "--name", "x", "--latitude", "52", "--longitude", "5"],
    ]
    for arguments in commands:
        ran = daylatch(*arguments)
        assert ran.status == 4, arguments
        assert f"shows {shows[:10]}, so today's date is not known: set it" in ran.err
    assert list(tmp_path.iterdir()) == [alder_row]
    # What names its dates and carries no stamp needs no clock.
    assert daylatch("nights", "--year", "2027").status == 0


@pytest.mark.parametrize("stamp", ["-62135596800", "253402300799", "1_000", " 5", "\u0663"])
def test_a_stamp_beyond_all_plans_is_refused(daylatch, alder_row, monkeypatch, stamp):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", stamp)
    for arguments in (["report", "-o", "r.html"], ["plan", "--to", "ics"]):
        ran = daylatch(*arguments, "--year", "2027")
        assert ran.status == 2
        assert "in the years 1902 to 2100" in ran.err


def test_likely_slips_are_warned_about_and_do_not_stop_a_plan(daylatch, alder_row):
    text = alder_row.read_text()
    alder_row.write_text(
        text.replace("latitude = 51.72", "latitude = 0.41").replace(
            "longitude = 0.41", "longitude = 51.72"
        )
    )
    ran = daylatch("plan", "--from", "2027-03-01", "--until", "2027-03-02")
    assert ran.status == 0
    assert "swap latitude and longitude" in ran.err


@pytest.mark.parametrize("value", ["soon", "1e9", "99999999999999999999"])
def test_a_bad_source_date_epoch_is_named(daylatch, alder_row, monkeypatch, value):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", value)
    ran = daylatch("plan", "--year", "2027", "--to", "ics")
    assert (ran.status, ran.out) == (2, "")
    assert "SOURCE_DATE_EPOCH" in ran.err


def test_the_stamp_comes_from_source_date_epoch(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert stamp_utc() == dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def test_trouble_nobody_foresaw_is_one_line_too(daylatch, alder_row, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("a slip of ours")

    monkeypatch.setattr("daylatch.commands.plan.plan.make_plan", broken)
    ran = daylatch("plan", "--year", "2027")
    assert (ran.status, ran.out) == (70, "")
    assert ran.err.startswith("daylatch: this should not have happened (ZeroDivisionError")


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, EOFError])
def test_an_interrupted_run_says_so_and_leaves_no_file(
    daylatch, alder_row, monkeypatch, interruption
):
    def stopped(*_):
        raise interruption

    monkeypatch.setattr("daylatch.commands.plan.plan.make_plan", stopped)
    ran = daylatch("plan", "--year", "2027", "-o", "out.txt")
    assert ran.status == 130
    assert [path.name for path in Path().iterdir()] == ["site.toml"]


def module(*arguments: str, **options) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "daylatch", *arguments], capture_output=True, check=False, **options
    )


def test_the_module_runs_as_a_program(alder_row, tmp_path):
    done = module("plan", "--year", "2027", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == (ROOT / "schedules/alder-row-2027.txt").read_bytes()


def test_a_reader_that_leaves_early_causes_no_noise(alder_row, tmp_path):
    command = f"{sys.executable} -m daylatch plan --from 1990-01-01 --until 2036-12-31 | head -1"
    done = subprocess.run(
        ["bash", "-c", command], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert (done.stdout, done.stderr) == ("daylatch door plan\n", "")


@pytest.mark.parametrize("command", ["plan --year 2027", "check", "today", "explain 2027-01-01"])
def test_a_reader_that_was_never_there_is_told_by_the_status(alder_row, tmp_path, command):
    script = f"sleep 0.2; {sys.executable} -m daylatch {command} | true; echo ${{PIPESTATUS[0]}}"
    # `true` has left before the first line comes.
    done = subprocess.run(
        ["bash", "-c", script], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert (done.stdout, done.stderr) == ("141\n", "")


@pytest.mark.parametrize("command", ["plan --year 2027", "check", "today"])
def test_a_full_standard_output_is_one_message(alder_row, tmp_path, command):
    done = subprocess.run(
        ["bash", "-c", f"{sys.executable} -m daylatch {command} > /dev/full"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 6
    assert done.stderr == "daylatch: the output cannot be written: No space left on device\n"


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_output_that_stops_half_way_is_no_success(alder_row, tmp_path, unbuffered):
    """A file-size limit stands in for a disk that fills up while printing."""
    command = (
        f"ulimit -f 16; trap '' XFSZ; {sys.executable} -m daylatch plan --year 2027 --to csv > out"
    )
    done = subprocess.run(
        ["bash", "-c", command],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONUNBUFFERED": unbuffered},
    )
    assert done.returncode == 6
    assert "the output cannot be written" in done.stderr


def test_a_message_that_cannot_be_said_leaves_the_status_alone(alder_row, tmp_path):
    for arguments, status in (
        ("today missing.toml --is shut", 3),
        ("today --is ajar", 2),
        ("plan --year 2099", 4),
    ):
        for where in (">/dev/full", ">&-"):
            done = subprocess.run(
                ["bash", "-c", f"{sys.executable} -m daylatch {arguments} 2{where}"],
                cwd=tmp_path,
                capture_output=True,
                text=True,
                check=False,
            )
            assert (done.returncode, done.stdout) == (status, "")


def test_a_program_without_streams_does_its_work_but_for_a_result_that_nobody_gets(
    alder_row, tmp_path
):
    for arguments, status in (
        ("today --at 2027-06-21T12:00Z --is open", 0),
        ("today --at 2027-06-21T12:00Z --is shut", 1),
        ("plan --year 2027 -o plan.txt", 0),
        ("plan --year 2027", 6),
        ("check", 6),
        ("--version", 6),
    ):
        command = f"{sys.executable} -m daylatch {arguments} <&- >&- 2>&-"
        done = subprocess.run(["bash", "-c", command], cwd=tmp_path, check=False)
        assert done.returncode == status, arguments
    assert (tmp_path / "plan.txt").exists()


def test_a_closed_standard_output_is_said(alder_row, tmp_path):
    command = f"{sys.executable} -m daylatch plan --year 2027 >&-"
    done = subprocess.run(
        ["bash", "-c", command], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 6
    assert done.stderr == ("daylatch: the output cannot be written: standard output is closed\n")


@pytest.mark.parametrize("at", ["0001-01-01T00:00Z", "9999-12-31T23:59Z", "1850-01-01T00:00Z"])
def test_an_instant_out_of_reach_is_a_usage_error(daylatch, alder_row, at):
    ran = daylatch("today", "--at", at)
    assert ran.status == 2
    assert "in the years 1902 to 2100" in ran.err


def test_a_file_nested_beyond_reason_is_a_site_error(daylatch, tmp_path):
    (tmp_path / "deep.toml").write_text("a." * 5000 + "b = 1\n")
    ran = daylatch("check", "deep.toml")
    assert ran.status == 3
    assert "nested too deeply" in ran.err


def test_a_file_name_cannot_command_the_terminal(daylatch):
    ran = daylatch("check", "a\nb\033[31mz.toml")
    assert ran.status == 3
    assert "\033" not in ran.err
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize(
    "command", [("explain", "2027-06-21"), ("today", "--at", "2027-06-21T12:00Z")]
)
def test_a_name_with_what_is_no_character_is_told_without_it(daylatch, alder_row, command):
    text = alder_row.read_text().replace('"Alder Row (demo)"', '"Hut \\U0010ffff"')
    alder_row.write_text(text)
    ran = daylatch(*command)
    assert ran.status == 0
    assert "Hut \N{REPLACEMENT CHARACTER}" in ran.out
    assert all(character == "\n" or character.isprintable() for character in ran.out)


def test_explain_tells_of_a_clock_change(daylatch):
    ran = daylatch("explain", str(ROOT / "schedules/lagoon-hut.toml"), "2027-04-04")
    assert "The wall clock changes: 2027-04-04 back 30 min (02:00 becomes 01:30)." in ran.out


@pytest.mark.parametrize("wait_s", [0.05, 1.0])
def test_an_interrupt_from_the_keyboard_is_said(alder_row, tmp_path, wait_s):
    """Early on, among the imports, and in the middle of the work."""
    arguments = ["plan", "--from", "1930-01-01", "--until", "2036-12-31", "--to", "json"]
    # Where this very run is deaf to interrupts, a child would be too.
    program = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from daylatch.__main__ import main\n"
        "print('begun', flush=True); main()"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", program, *arguments, "-o", "out.json"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert running.stdout.readline() == "begun\n"
    time.sleep(wait_s)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert (running.returncode, err) == (130, "daylatch: stopped; nothing was changed\n")
    assert [path.name for path in tmp_path.iterdir()] == ["site.toml"]


def test_a_full_disk_leaves_the_old_file_whole(alder_row, tmp_path):
    """A file-size limit of the operating system stands in for a full disk."""
    out = tmp_path / "plan.csv"
    module("plan", "--year", "2026", "--to", "csv", "-o", str(out), cwd=tmp_path)
    before = out.read_bytes()
    command = (
        f"ulimit -f 16; trap '' XFSZ; {sys.executable} -m daylatch plan --year 2027 --to csv "
        f"-o {out}"
    )
    done = subprocess.run(
        ["bash", "-c", command], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 6
    assert "cannot be written" in done.stderr
    assert out.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plan.csv", "site.toml"]


def test_output_is_utf8_whatever_the_terminal_says(alder_row, tmp_path):
    alder_row.write_text(alder_row.read_text().replace("Alder Row (demo)", "Hühnerhaus 🐔"))
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"}
    for arguments in (["plan", "--year", "2027"], ["today"], ["check"], ["explain", "2027-01-01"]):
        done = module(*arguments, cwd=tmp_path, env=environment)
        assert done.returncode == 0, done.stderr
        assert "Hühnerhaus 🐔" in done.stdout.decode()


@pytest.mark.parametrize(
    ("command", "file", "words"),
    [
        (
            "fit",
            "x.csv",
            "fit writes .txt or .json; .csv files come from the commands plan, settings",
        ),
        ("nights", "x.ICS", "nights writes .txt, .csv or .json; .ics files come from"),
        (
            "plan",
            "x.pdf",
            ".ics or .json; .pdf files come from the commands power, sunlight, audit, roosting, "
            "card, away or draw",
        ),
        (
            "plan",
            "x.html",
            "; .html files come from the commands settings, settings --lamp, card, away or",
        ),
        ("plan", "x.xlsx", ".json (a table may have any ending: add --to table)"),
        ("plan", "x.docx", "plan writes .txt, .csv, .ics or .json"),
        ("plan", "x.md", "plan writes .txt, .csv, .ics or .json"),
        ("settings", "t.pdf", "settings writes .txt, .csv, .ics, .html or .json; a browser prints"),
    ],
)
def test_an_ending_that_no_form_has_is_refused(daylatch, alder_row, command, file, words):
    ran = daylatch(command, "--year", "2027", "-o", file)
    assert ran.status == 2
    assert ran.err.startswith(f"daylatch: {file}: the end of the name says what is written: ")
    assert words in ran.err
    assert not (alder_row.parent / file).exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan", "--year", "RED"],
        ["plan", "--from", "RED"],
        ["plan", "-o", "RED/x.txt"],
        ["plan", "-o", "x.RED"],
        ["plan", "--to", "RED"],
        ["plan", "RED.toml"],
        ["plan", "--to", "table", "--within", "RED"],
        ["plan", "RED"],
        ["plan", "--REDoption"],
        ["RED"],
        ["today", "--at", "RED"],
        ["today", "--is", "RED"],
        ["explain", "RED"],
        ["settings", "--on", "RED"],
        ["settings", "--tolerance", "RED"],
        ["card", "--month", "RED", "-o", "card.pdf"],
        ["compare", "--with", "name=RED"],
        ["compare", "--with", "REDname"],
        ["compare", "--with", "close.offset_min=35#\u202e", "--from", "2027-01-01"],
        ["draw", "RED", "-o", "x.svg"],
        ["new", "x.toml", "--name", "RED", "--city", "Oslo"],
        ["new", "x.toml", "--name", "x", "--city", "RED"],
        ["new", "x.toml", "--name", "x", "--latitude", "RED", "--longitude", "1"],
        ["new", "x.toml", "--name", "x", "--latitude", "1", "--longitude", "1", "--zone", "RED"],
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("red", ["\x1b[31mred", "a\nb", "\x9b31m", "a\rb", "\u202ered"])
def test_what_was_typed_never_reaches_a_terminal_raw(daylatch, alder_row, arguments, red):
    ran = daylatch(*(argument.replace("RED", red) for argument in arguments))
    shown = ran.out + ran.err
    assert shown.replace("\n", "").isprintable()
    # One message is one line, whatever stands in a value.
    assert "\nb" not in shown


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["settings", "--tolerance", "abc"], "'--tolerance': write a whole number (see"),
        (["simulate", "--drift", "fast"], "'--drift': write a number, like 4.5 (see"),
        (["nights", "--longer-than", "15h"], "'--longer-than': write a number, like 4.5 (see"),
        (["explain"], "say which date: daylatch explain 2027-06-21"),
        (
            ["explain", "2027-06-21", "site.toml"],
            "date last: daylatch explain site.toml 2027-06-21",
        ),
        (["report", "-o", "x.pdf"], "a browser prints an .html file to PDF"),
    ],
)
def test_a_slip_is_answered_in_plain_words(daylatch, alder_row, arguments, words):
    ran = daylatch(*arguments)
    assert (ran.status, ran.out) == (2, "")
    assert words in ran.err


def test_a_table_says_where_its_width_reaches_past_the_guard(daylatch, alder_row):
    year = ("plan", "--year", "2027", "--to", "table", "--within", "60", "-o")
    ran = daylatch(*year, "door.h")
    assert "up to 60 min late may lie beyond the guard, where predators hunt, on 3" in ran.err
    # The end of the name says in which form, too.
    assert Path("door.h").read_text().startswith("/* daylatch")
    assert daylatch(*year, "door.hex").status == 0
    assert Path("door.hex").read_text().startswith(":")
    exact = daylatch("plan", "--year", "2027", "--to", "table", "-o", "door.bin")
    assert "guard" not in exact.err


def test_a_door_that_no_controller_works_is_not_simulated_in_silence(daylatch, alder_row):
    text = alder_row.read_text().replace('works = "controller"', 'works = "hand"')
    alder_row.write_text(text)
    ran = daylatch("simulate", "--from", "2027-06-10", "--until", "2027-06-10")
    assert "the door is worked by a person; what is simulated here is a controller" in ran.err


def test_a_name_that_is_nothing_but_an_ending_is_one(daylatch, alder_row):
    days = ("--from", "2027-06-10", "--until", "2027-06-10")
    assert daylatch("plan", *days, "-o", ".csv").status == 0
    assert Path(".csv").read_bytes().startswith(b"date,")
    assert daylatch("plan", *days, "-o", "-").status == 2
    ran = daylatch("plan", *days, "-o", "x" * 300 + ".csv")
    assert (ran.status, "cannot be looked at: File name too long" in ran.err) == (6, True)


def test_a_form_that_is_named_may_have_any_ending(daylatch, alder_row):
    days = ("--from", "2027-06-10", "--until", "2027-06-10")
    assert daylatch("plan", *days, "--to", "csv", "-o", "x.data").status == 0
    assert daylatch("plan", *days, "-o", "x").status == 0
    assert (alder_row.parent / "x.data").read_bytes().startswith(b"date,")
    assert (alder_row.parent / "x").read_text().startswith("daylatch")


def test_what_carries_no_stamp_asks_for_none(daylatch, alder_row, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "tomorrow")
    days = ("--from", "2027-06-10", "--until", "2027-06-10")
    for command in (["nights"], ["fit"], ["compare", "--with", "close.offset_min=20"]):
        assert daylatch(*command, *days).status == 0, command
    assert daylatch("plan", *days).status == 2


def test_dates_whose_clocks_had_seconds_are_warned_about(daylatch, alder_row):
    text = alder_row.read_text().replace('"Europe/London"', '"Africa/Monrovia"')
    alder_row.write_text(text.replace("51.72", "6.3").replace("0.41", "-10.8"))
    words = "until 1972-01-06 the clocks of Africa/Monrovia stood some seconds beside whole minutes"
    days = ("--from", "1972-01-01", "--until", "1972-01-10")
    for arguments in (["plan", *days, "--to", "csv"], ["nights", *days]):
        assert words in daylatch(*arguments).err
    assert "until 1972-01-02 the clocks" in daylatch("explain", "1972-01-02").err
    assert "some seconds" not in daylatch("plan", "--year", "2027").err


def test_an_interrupt_amid_the_making_of_a_class_is_one_too(monkeypatch, capsys):
    # What Python 3.11 makes of one within `__set_name__`.
    def interrupted(*_arguments, **_options):
        raise RuntimeError("Error calling __set_name__") from KeyboardInterrupt()

    monkeypatch.setattr("daylatch.cli.app", interrupted)
    assert run(["plan"]) == 130
    assert capsys.readouterr().err == "daylatch: stopped; nothing was changed\n"
