"""The two weeks: what is special on the days to come, and what is missed on those behind."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from daylatch.diary.entries import make_entry
from daylatch.diary.shown.days import show_days
from daylatch.diary.store.rows import Noted
from daylatch.home.page.present import Present
from daylatch.home.page.weeks import days_ahead, days_behind
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from sites import FALLBACKS, LORD_HOWE, NY_ALESUND, UTRECHT, site

BOTH = ("head count", "door")


def due_on(place, first, days):
    begin = dt.date.fromisoformat(first)
    return exactly(make_plan(place, begin, begin + dt.timedelta(days=days)))


def ahead(spot, today, settings=""):
    place = site(spot, settings)
    due = due_on(place, today, 8)
    now = (
        np.datetime64(f"{today}T12:00:00")
        - due.plan.zone.offset_at(np.array([np.datetime64(f"{today}T12:00:00")]))[0]
    )
    return list(days_ahead(due, Present(now, due.plan.zone, place.face)))


def test_a_week_with_its_times():
    days = ahead(UTRECHT, "2027-03-10")
    assert [day.date for day in days][:2] == ["Wed 10 Mar", "Thu 11 Mar"]
    assert len(days) == 7
    assert (days[0].opens, days[0].shuts, days[0].counted) == ("06:48", "19:24", "19:39")
    assert not any(day.notes for day in days)


def test_what_is_special_is_said():
    span = '[[span]]\nfrom = 2027-03-11\nuntil = 2027-03-12\nreason = "storm"\nshut = true\n'
    days = ahead(UTRECHT, "2027-03-10", span)
    assert [(day.opens, day.notes) for day in days[1:3]] == [("", ["storm"])] * 2
    assert ahead(UTRECHT, "2027-03-27")[1].notes == ["the clocks go forward 1 h 00 min"]
    assert ahead(LORD_HOWE, "2027-04-03")[1].notes == ["the clocks go back 30 min"]
    early = ahead(UTRECHT, "2027-06-10", '[close]\nnot_after = "18:00"\n')
    assert early[0].notes == ["it closes in daylight: shut the birds in before"]
    white = ahead(NY_ALESUND, "2027-06-10", FALLBACKS)
    assert white[0].notes == ["without dusk or dawn the door goes by the clock"]


@pytest.mark.parametrize(
    ("expects", "since", "missed"),
    [
        (BOTH, None, "opening at 06:48, closing at 19:24 and head count at 19:39"),
        (("head count",), None, "head count at 19:39"),
        ((), None, ""),
        (BOTH, dt.date(2027, 3, 10), "opening at 06:48, closing at 19:24 and head count at 19:39"),
        (BOTH, dt.date(2027, 3, 11), None),
    ],
)
def test_nobody_is_blamed_for_what_was_not_expected(expects, since, missed):
    place = site(UTRECHT)
    due = due_on(place, "2027-03-08", 5)
    entry = make_entry(np.datetime64("2027-03-11T18:40:00"), "all_in")
    noted = [Noted(1, entry, entry.instant_utc, None, True)]
    days = (np.datetime64("2027-03-10"), np.datetime64("2027-03-11"))
    now = np.datetime64("2027-03-12T12:00:00")
    shown = show_days(due, noted, None, days, now, "")
    present = Present(now, due.plan.zone, place.face)
    found = {day.date: day for day in days_behind(shown, present, expects, since)}
    if missed is None:
        assert "Wed 10 Mar" not in found
    else:
        assert found["Wed 10 Mar"].unseen == missed
    assert found["Thu 11 Mar"].seen == ["19:40 all in"]
