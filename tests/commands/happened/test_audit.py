"""``daylatch audit``, as a keeper uses it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def log(tmp_path, alder_row):
    content = (ROOT / "schedules/alder-row-log-2026.csv").read_bytes()
    (tmp_path / "log.csv").write_bytes(content)
    return tmp_path / "log.csv"


def test_a_log_is_judged_without_a_diary_and_leaves_none(daylatch, log, tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    ran = daylatch("audit", "log.csv")
    assert ran.status == 0, ran.err
    expected = (ROOT / "schedules/alder-row-audit-2026.txt").read_text()
    own = {"schedules/alder-row-log-2026.csv": "log.csv", "schedules/alder-row.toml": "site.toml"}
    for there, here in own.items():
        expected = expected.replace(there, here)
    assert " ".join(ran.out.split()) == " ".join(expected.split())
    assert not (tmp_path / "site.diary").exists()


def test_the_diary_is_judged_if_no_log_is_named(daylatch, log):
    assert daylatch("diary", "import", "log.csv").status == 0
    of_log, of_diary = daylatch("audit", "log.csv").out, daylatch("audit", "site.toml").out
    assert of_diary.replace("site.diary", "log.csv") == of_log


def test_dates_bound_what_is_looked_at(daylatch, log):
    dates = ("--from", "2026-09-01", "--until", "2026-09-30")
    data = json.loads(daylatch("audit", "log.csv", *dates, "--to", "json").out)
    assert (data["from"], data["until"]) == ("2026-09-01", "2026-09-30")
    assert data["steps"] == []
    assert data["clock"]["drift_ppm"] < -30


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_a_picture_shows_it(daylatch, log, ending):
    ran = daylatch("audit", "log.csv", "-o", f"audit.{ending}")
    assert ran.status == 0, ran.err
    content = Path(f"audit.{ending}").read_bytes()
    assert content.startswith({"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[ending])
    if ending == "svg":
        assert b"it missed the change of the clocks" in content
        described = content[content.index(b"<desc>") :].decode()
        assert described.startswith("<desc>Open at night: 3 nights (2026-09-27, 2026-11-11,")


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ([], 9, "there is no diary yet"),
        (["log.csv", "more.csv"], 2, "not 2 logs"),
        (["log.csv", "--to", "svg"], 2, "say where the picture goes"),
        (["log.csv", "--to", "ics"], 2, "--to is"),
        (["log.csv", "-o", "audit.xlsx"], 2, "audit writes"),
        (["log.csv", "--from", "2025-01-01", "--until", "2025-12-31"], 9, "nothing of these dates"),
        (["nothing.csv"], 2, "cannot be read"),
        (["empty.csv"], 2, "empty.csv"),
        (["--as", "shed"], 2, "name the log"),
        (["log.csv", "-o", "log.csv"], 6, "is the log itself"),
        (["log.csv", "-o", "log.csv", "--force"], 6, "is the log itself"),
    ],
)
def test_what_cannot_be_judged_is_refused(daylatch, log, arguments, status, words):
    Path("empty.csv").touch()
    ran = daylatch("audit", *arguments)
    assert ran.status == status, ran.out + ran.err
    assert words in ran.err
    assert "Traceback" not in ran.err


def test_one_evening_is_not_enough(daylatch, log):
    Path("one.csv").write_text("instant,what,stamped_by\n2026-10-01T18:10:00Z,shut,server\n")
    data = json.loads(daylatch("audit", "one.csv", "--to", "json").out)
    assert data["judged"] is False
    assert "too few" in data["why_not"]
    assert len(data["movements"]) == 1
