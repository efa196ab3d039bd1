"""The comment by which a light of the site file was learned."""

from __future__ import annotations

import datetime as dt

import pytest

from daylatch.site.keys.learned import LearnedFrom, learned_from, renewed

FIRST, LAST, ON = dt.date(2026, 8, 24), dt.date(2026, 11, 6), dt.date(2027, 1, 1)


@pytest.mark.parametrize("light_deg", [4.11, -0.5, 6.0, 0.0])
@pytest.mark.parametrize(("days", "half"), [(66, "evening"), (1, "morning")])
def test_what_is_written_is_read(light_deg, days, half):
    learned = LearnedFrom(light_deg, ON, days, half, FIRST, LAST)
    assert learned_from(f"light = 3 # {learned.comment}") == learned
    assert learned_from(f"light = 3 # {renewed('# mine', learned)}") == learned


def test_a_keepers_own_comment_stays_before_it_and_an_older_one_goes():
    old = LearnedFrom(4.0, ON, 14, "evening", FIRST, LAST)
    new = LearnedFrom(4.3, ON, 60, "evening", FIRST, LAST)
    assert renewed("", new) == new.comment
    assert renewed("# mine", new) == f"mine; {new.comment}"
    assert renewed(f"# {renewed('# mine', old)}", new) == f"mine; {new.comment}"
    assert renewed(f"# {old.comment}", new) == new.comment


@pytest.mark.parametrize(
    "line",
    [
        "light = 4.11",
        "light = 4.11 # by the light of last year",
        "light = 4.11 # 4.11° learned on 2027-02-30 from 6 evenings, 2026-01-01 to 2026-01-09",
    ],
)
def test_any_other_line_says_nothing(line):
    assert learned_from(line) is None
