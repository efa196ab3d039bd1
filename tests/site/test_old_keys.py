"""Keys of site files of before still load, and say what to write now."""

from __future__ import annotations

import pytest

from daylatch.clock import DoorClock
from daylatch.errors import SiteError
from daylatch.site.reading import read_site

HOUSE = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Willow End"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
"""


def read(more, changes=()):
    return read_site(HOUSE + more, "house.toml", changes)


@pytest.mark.parametrize(("follows", "clock"), [("true", "wall"), ("false", "standard")])
def test_whether_a_timer_follows_the_clock_is_what_the_doors_clock_keeps(follows, clock):
    site = read(f"[timer]\nstep_min = 5\nfollows_clock = {follows}\n")
    assert site.settings.door.clock is DoorClock(clock)
    assert site.settings.timer.step_min == 5
    (notice,) = site.warnings
    assert notice.sentence("house.toml") == (
        f"house.toml, line 9: timer.follows_clock = {follows}: is an old key: write clock = "
        f'"{clock}" under [door] instead; the plan and its tables keep that clock too'
    )
    new = read(f'[timer]\nstep_min = 5\n[door]\nclock = "{clock}"\n')
    assert (new.warnings, new.settings) == ((), site.settings)


def test_one_that_says_the_same_is_only_noted():
    site = read('[door]\nclock = "standard"\n[timer]\nfollows_clock = false\n')
    assert site.settings.door.clock is DoorClock.STANDARD
    (notice,) = site.warnings
    assert (notice.line, notice.key) == (10, "timer.follows_clock")
    assert "says it, so take it out" in notice.remedy


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (
            '[door]\nclock = "utc"\n[timer]\nfollows_clock = true\n',
            'line 10: timer.follows_clock = true: is an old key, and clock = "utc" under [door] '
            'says otherwise: take it out, or write clock = "wall" there',
        ),
        (
            '[timer]\nfollows_clock = "yes"\n',
            'line 8: timer.follows_clock = "yes": is an old key that was true or false: take it '
            'out, and write clock = "wall" under [door] for a timer that changes to summer time, '
            'or clock = "standard"',
        ),
        ("door = 3\n[timer]\nfollows_clock = false\n", "door = 3: is a table: write [door]"),
        (
            '[door]\nclock = "moon"\n[timer]\nfollows_clock = false\n',
            'line 8: door.clock = "moon": ',
        ),
    ],
)
def test_what_contradicts_or_is_no_truth_value_is_refused_by_its_line(more, message):
    text = HOUSE.replace("[place]", f"{more}[place]") if more.startswith("door") else HOUSE + more
    with pytest.raises(SiteError) as refused:
        read_site(text, "house.toml")
    assert message in str(refused.value)


def test_it_is_told_with_a_change_of_the_command_line():
    site = read("", ["timer.follows_clock=false"])
    assert site.settings.door.clock is DoorClock.STANDARD
    (notice,) = site.warnings
    assert notice.line is None
    with pytest.raises(SiteError, match=r"with timer\.follows_clock=false: .* says otherwise"):
        read('[door]\nclock = "utc"\n', ["timer.follows_clock=false"])
