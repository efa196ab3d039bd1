"""Keys of site files of before still load, and say what to write now."""

from __future__ import annotations

import pytest

from daylatch.clock import DoorClock
from daylatch.errors import SiteError
from daylatch.site.reading.site_file import read_site

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


# --- Litter that was only told to be on the whole floor ------------------------------------------


def test_litter_on_the_whole_floor_is_a_share_of_one():
    site = read("[house]\nfloor_m2 = 2\nlitter = true\n")
    assert site.settings.house.littered_share == 1
    (notice,) = site.warnings
    assert notice.sentence("house.toml") == (
        "house.toml, line 9: house.litter = true: is an old key: write littered_share = 1 instead"
    )
    new = read("[house]\nfloor_m2 = 2\nlittered_share = 1\n")
    assert (new.warnings, new.settings) == ((), site.settings)


def test_litter_that_was_not_on_the_whole_floor_is_not_known():
    site = read("[house]\nfloor_m2 = 2\nlitter = false\n")
    assert site.settings.house.littered_share is None
    (notice,) = site.warnings
    assert notice.sentence("house.toml") == (
        "house.toml, line 9: house.litter = false: is an old key that said: not the whole floor. "
        "How much of it is littered is now taken as not known: write littered_share instead, such "
        "as 0.5 for half of it or 0 for none"
    )


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("litter = true\nlittered_share = 1", "littered_share"),
        ("litter = false\nlittered_share = 0.4", "littered_share"),
        ("litter = true\nlittered_m2 = 2", "littered_m2"),
    ],
)
def test_litter_beside_what_says_more_is_only_noted(keys, said):
    site = read(f"[house]\n{keys}\n")
    (notice,) = site.warnings
    assert notice.remedy == f"is an old key: {said} says more, so take it out"
    assert getattr(site.settings.house, said) is not None


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        (
            'litter = "deep"',
            'line 8: house.litter = "deep": is an old key that was true or false: write '
            "littered_share instead, from 0 for no litter to 1 for the whole floor",
        ),
        (
            "litter = true\nlittered_share = 0.5",
            "line 8: house.litter = true: is an old key, and littered_share = 0.5 says otherwise: "
            "take the old one out",
        ),
        (
            "litter = false\nlittered_share = 1",
            "line 8: house.litter = false: is an old key, and littered_share = 1 says otherwise: "
            "take the old one out",
        ),
    ],
)
def test_litter_that_cannot_be_understood_is_refused(keys, message):
    with pytest.raises(SiteError) as refused:
        read(f"[house]\n{keys}\n")
    assert str(refused.value) == f"house.toml, {message}"


def test_both_old_keys_may_stand_in_one_file():
    site = read("[house]\nlitter = true\n[timer]\nfollows_clock = true\n")
    assert [notice.key for notice in site.warnings] == ["timer.follows_clock", "house.litter"]
