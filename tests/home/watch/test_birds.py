"""Whether heads were counted, and whether all are in."""

from __future__ import annotations

import numpy as np
import pytest

from sites import HOUSE
from watch_scenes import Night

# Heads are counted 15 min after the closing, and waited for for 30.
COUNT = {"expects": ["head count"]}


def test_heads_that_nobody_counted():
    night = Night(**COUNT)
    assert night.found(44.9) == {}
    assert night.found(45) == {"count": "not_counted"}
    assert night.words(45) == (
        "Heads were to be counted at 2027-03-10 19:39, and nobody has noted it."
    )
    assert night.found(night.opens - np.timedelta64(1, "m")) == {"count": "not_counted"}
    assert night.found(night.opens) == {}


@pytest.mark.parametrize("what", ["all_in", "last_in"])
@pytest.mark.parametrize("minutes", [-30, 0, 44, 300])
def test_all_in_is_a_head_count(what, minutes):
    assert Night(**COUNT).counted(what, minutes).found(301) == {}


def test_a_count_from_long_before_is_none():
    assert Night(**COUNT).counted("all_in", -31).found(45) == {"count": "not_counted"}


def test_birds_that_are_out():
    night = Night(**COUNT).counted("still_out", -5, "2")
    # It is still early.
    assert night.found(14) == {}
    assert night.found(15) == {"count": "birds_out"}
    assert night.words(15) == "2 still out at 2027-03-10 19:19 (keeper)."
    night.counted("all_in", 40)
    assert night.found(41) == {}
    night.counted("still_out", 60, "1")
    assert night.found(60) == {"count": "birds_out"}


def test_fewer_than_the_flock_has():
    night = Night(**COUNT).counted("all_in", 16, "11")
    assert night.found(60) == {}
    night.more["birds"] = 12
    assert night.found(60) == {"count": "birds_out"}
    assert "11 were counted in at 2027-03-10 19:40, and the flock has 12 birds" in night.words(60)
    night.counted("all_in", 50, "12")
    assert night.found(60) == {}


def test_nobody_counts_where_that_is_not_expected():
    assert Night(expects=["door"]).found(300) == {}
    assert Night(expects=[]).found(300) == {}


def test_after_a_day_nobody_is_asked_any_more():
    text = HOUSE + "[[span]]\nfrom = 2027-03-11\nuntil = 2027-03-20\nshut = true\n"
    night = Night(text=text, **COUNT)
    assert night.found(24 * 60) == {"count": "not_counted"}
    assert night.found(24 * 60 + 16) == {}
