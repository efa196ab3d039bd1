"""The comment by which a light of the site file was learned."""

from __future__ import annotations

import datetime as dt

import pytest

from daylatch.site.keys.learned import LearnedFrom, learned_from, noted

FIRST, LAST, ON = dt.date(2026, 8, 24), dt.date(2026, 11, 6), dt.date(2027, 1, 1)


LEARNED = LearnedFrom(4.3, ON, 60, "evening", FIRST, LAST)


@pytest.mark.parametrize("light_deg", [4.11, -0.5, 6.0, 0.0])
@pytest.mark.parametrize(("days", "half"), [(66, "evening"), (1, "morning")])
@pytest.mark.parametrize("around", ["{}", "  {}", "{}\r"])
def test_what_is_written_is_read(light_deg, days, half, around):
    learned = LearnedFrom(light_deg, ON, days, half, FIRST, LAST)
    assert learned_from(around.format(learned.comment)) == learned


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_it_stands_above_the_line_and_takes_the_place_of_an_older_one(end):
    old = LearnedFrom(4.0, ON, 14, "evening", FIRST, LAST)
    text = end.join(["# mine", "[close]", "  light = 4 # here", "offset_min = 3", ""])
    once = noted(text, 3, old)
    assert once.split(end)[2:4] == [f"  {old.comment}", "  light = 4 # here"]
    again = noted(once, 4, LEARNED)
    assert again == once.replace(old.comment, LEARNED.comment)
    assert noted("light = 4", 1, LEARNED) == f"{LEARNED.comment}\nlight = 4"


@pytest.mark.parametrize(
    "line",
    [
        "light = 4.11",
        f"light = 4.11 {LEARNED.comment}",
        "# by the light of last year",
        f"{LEARNED.comment}, or so",
        "# 4.11° learned on 2027-02-30 from 6 evenings, 2026-01-01 to 2026-01-09",
    ],
)
def test_any_other_line_says_nothing(line):
    assert learned_from(line) is None
