"""How many birds there are follows the diary."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.diary.entries import make_entry
from daylatch.diary.flock import birds_on
from daylatch.site.housing import Flock

ZONE = get_zone("Pacific/Auckland")
# In Auckland that is already the next date.
ENTRIES = [
    make_entry(np.datetime64("2027-03-01T18:00:00"), "lost", "2"),
    make_entry(np.datetime64("2027-03-10T18:00:00"), "gained", "5"),
    make_entry(np.datetime64("2027-03-20T18:00:00"), "lost", "1"),
]


@pytest.mark.parametrize(
    ("date", "birds"), [("01", 12), ("02", 10), ("10", 10), ("11", 15), ("21", 14), ("31", 14)]
)
def test_losses_and_gains_count_from_their_date(date, birds):
    now = birds_on(Flock(birds=12), ENTRIES, ZONE, dt.date.fromisoformat(f"2027-03-{date}"))
    assert now.birds == birds


def test_those_up_to_the_count_are_in_it():
    flock = Flock(birds=12, counted_on=dt.date(2027, 3, 11))
    now = birds_on(flock, ENTRIES, ZONE, dt.date(2027, 3, 31))
    assert (now.birds, now.words) == (11, "11 birds: 12 in the site file, 1 lost since.")


def test_there_are_never_fewer_than_none():
    assert birds_on(Flock(birds=1), ENTRIES, ZONE, dt.date(2027, 3, 2)).birds == 0
