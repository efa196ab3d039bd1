"""Doors for tests of the audit: entries as a door that does what it is told would leave them."""

from __future__ import annotations

import datetime as dt

import numpy as np

from daylatch.diary.audit.door_audit import audit_door
from daylatch.diary.audit.expected import judge_by
from daylatch.diary.entries import make_entry
from daylatch.door.works.due import make_due
from daylatch.plan.plan import make_plan
from sites import UTRECHT, site

DAYS = ("2027-03-10", "2027-05-10")


def due_between(first=DAYS[0], last=DAYS[1], settings="", spot=UTRECHT):
    """Return what is due on some dates and two more either way, as the command asks for it."""
    ends = (dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    two = dt.timedelta(days=2)
    return make_due(make_plan(site(spot, settings), ends[0] - two, ends[1] + two))


def later(instant, minutes):
    return instant.astype("datetime64[s]") + np.timedelta64(round(60 * minutes), "s")


def moved(due, late_min=lambda _: 0.0, *, first=DAYS[0], last=DAYS[1], stamp="server"):
    """Return entries of a door that moves late by so many minutes, a function of the instant."""
    entries = []
    dates = (due.plan.dates >= np.datetime64(first)) & (due.plan.dates <= np.datetime64(last))
    for what, times in (("opened", due.told_open_utc), ("shut", due.told_close_utc)):
        entries += [
            make_entry(later(at, late_min(at)), what, stamped_by=stamp)
            for at in times[dates & ~np.isnat(times)]
        ]
    return sorted(entries, key=lambda one: one.instant_utc)


def on(due, date, side="close"):
    """Return when a movement was due on a date."""
    times = due.told_close_utc if side == "close" else due.told_open_utc
    return times[due.plan.dates == np.datetime64(date)][0]


def without(entries, due, *dates, side="close"):
    """Return entries without those of a movement on some dates."""
    what = "shut" if side == "close" else "opened"
    gone = [on(due, date, side) for date in dates]
    near = np.timedelta64(3, "h")
    return [
        one
        for one in entries
        if one.what != what or all(abs(one.instant_utc - at) > near for at in gone)
    ]


def audited(due, entries, put_in=()):
    return audit_door(judge_by(due, put_in), entries, "log.csv", dt.date(2027, 5, 10))
