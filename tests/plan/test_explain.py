"""The trace in sentences: the days on which it has something unusual to say."""

from __future__ import annotations

import datetime as dt

import pytest

from daylatch.errors import PlanError
from daylatch.plan.due import exactly
from daylatch.plan.explain import explain_day, until_open
from sites import FALLBACKS, NY_ALESUND, TAMPERE, UTRECHT, plan, site


def told(spot, date, settings="") -> str:
    day = dt.date.fromisoformat(date)
    return "\n".join(explain_day(exactly(until_open(site(spot, settings), day)), day))


@pytest.mark.parametrize(
    ("spot", "date", "settings", "sentence"),
    [
        (TAMPERE, "2027-06-21", FALLBACKS, "In the morning half of this day the Sun never sinks "
         "to the light you chose (6 degrees below the horizon), so your fallback 2027-06-21 05:30 "
         "holds."),
        (NY_ALESUND, "2027-12-21", "", "In the morning half of this day the Sun never rises to the "
         "light you chose (6 degrees below the horizon), and [open] has no dark_fallback."),
        (NY_ALESUND, "2027-12-21", "", "It opens next at 2028-"),
        (NY_ALESUND, "2027-12-21", '[open]\ndark_fallback = "10:00"\n[close]\ndark_fallback = '
         '"13:00"\n', "so your dark_fallback 2027-12-21 10:00 holds."),
        (TAMPERE, "2027-06-04", FALLBACKS, "8 min earlier: it may not leave its flock day"),
        (UTRECHT, "2027-12-20", "[open]\noffset_min = 300\n[close]\noffset_min = -300\n",
         "by the rules it would close before it opens"),
        (UTRECHT, "2027-12-20", "[day]\nleast_open_h = 14\n", "Your least open time is missed by"),
        (UTRECHT, "2027-06-20", "[night]\nleast_h = 9\n",
         "your least night makes the night longer"),
        (UTRECHT, "2027-06-20", "[open]\noffset_min = -180\n",
         "By your own settings the door opens beyond the guard: predators hunt in that light."),
        (UTRECHT, "2027-01-06", "[open]\noffset_min = 720\n[close]\noffset_min = 400\n",
         "By your own settings the door opens beyond the guard, in the dark of the evening: "
         "predators hunt in that light."),
        (UTRECHT, "2027-01-06", "[open]\noffset_min = -300\n[close]\noffset_min = -700\n",
         "By your own settings the door closes beyond the guard, in the dark of the morning: "
         "predators hunt in that light."),
        (UTRECHT, "2027-06-20", "[head_count]\nsecond_pass = true\n",
         "and the door closes once more."),
        (UTRECHT, "2027-06-20", '[door]\nclock = "utc"\n', "on the door's clock)"),
        (UTRECHT, "2027-06-20", "[open]\nlight = -3\n", "3 degrees above the horizon (Sun 3° up at "
         "dawn)"),
        (UTRECHT, "2027-06-20", '[[span]]\nfrom = 2027-06-20\nuntil = 2027-06-20\nopen.fixed = '
         '"08:00"\n', "Your dated span fixes it at 2027-06-20 08:00."),
    ],
)  # fmt: skip
def test_the_unusual_is_said(spot, date, settings, sentence):
    assert sentence in told(spot, date, settings)


def test_a_date_outside_the_plan_is_an_error():
    with pytest.raises(PlanError, match="2027-02-01 is not in this plan"):
        explain_day(exactly(plan(UTRECHT, "2027-01-01")), dt.date(2027, 2, 1))
