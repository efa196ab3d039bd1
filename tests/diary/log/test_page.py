"""What the page about logs shows is what is read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from daylatch.diary.entries import WHATS
from daylatch.diary.log.layout import COLUMNS
from daylatch.diary.log.read import read_log
from daylatch.diary.log.rows import LogError
from sites import UTRECHT, site

PAGE = (Path(__file__).resolve().parents[3] / "docs/reference/logs.md").read_text()
LOGS = re.findall(r"```text\n(.*?)```", PAGE, re.S)
LAYOUTS = re.findall(r"```toml\n(.*?)```", PAGE, re.S)


def read(log, layout):
    here = site(UTRECHT, layout)
    return read_log(log.encode(), "log.csv", here.settings.diary.log[0], here)


def shown(log):
    return [(str(one.instant_utc), one.what, one.stamped_by, one.note) for one in log.entries]


def test_the_columns_and_the_kinds_are_all_there_in_order():
    own = PAGE.partition("## Any other layout")[0]
    assert tuple(re.findall(r"^\| `(\w+)` \|", own, re.M)) == COLUMNS
    kinds = own.partition("The kinds, with their values:")[2]
    assert re.findall(r"`(\w+)`", kinds) == list(WHATS)


def test_the_controllers_log_is_read_as_the_page_says():
    assert len(LOGS) == len(LAYOUTS) == 2
    log = read(LOGS[0], LAYOUTS[0])
    assert shown(log) == [
        ("2027-03-27T05:30:50", "opened", "door", ""),
        ("2027-03-27T18:02:18", "shut", "door", ""),
    ]
    assert log.rejects == log.notes == ()


def test_the_phones_list_is_read_with_its_format_and_refused_without():
    log = read(LOGS[1], LAYOUTS[1])
    assert shown(log) == [
        ("2027-03-04T17:14:00", "last_in", "phone", ""),
        ("2027-03-05T17:20:00", "last_in", "phone", "two waited, then went in"),
    ]
    without = re.sub(r"^format = .*\n", "", LAYOUTS[1], flags=re.M)
    with pytest.raises(LogError, match=r"may be 3 April 2027 or 4 March 2027"):
        read(LOGS[1], without)
