"""A year with the time injected, a fault on every third evening: its alarm, and no other."""

from __future__ import annotations

import random
from collections import Counter
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.diary.audit.door_audit import audit_door
from daylatch.diary.audit.expected import judge_by
from daylatch.diary.entries import make_entry
from daylatch.diary.store.rows import Noted
from daylatch.home.watch import look as look_module
from daylatch.home.watch import watcher as watcher_module
from daylatch.home.watch.kinds import PACES
from daylatch.home.watch.scene import Scene
from daylatch.home.watch.watcher import View, Watcher
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.watch import Watch
from sites import HOUSE
from watch_scenes import BOTH, site_of

MINUTE = np.timedelta64(1, "m")
DAY = np.timedelta64(1, "D")
STEP = 14
BUSY, DULL = np.timedelta64(120, "m"), np.timedelta64(180, "m")
GRACE = {"not_shut": 15, "open_again": 5, "not_open": 30, "not_counted": 30, "link_lost": 15}


class Day(NamedTuple):
    """What is due on a day, and how late the door is."""

    opens: np.datetime64
    closes: np.datetime64
    count: np.datetime64
    opens_next: np.datetime64
    late: np.timedelta64


class Told:
    """Somebody who is told, and when."""

    name = "phone"

    def __init__(self, year):
        self.year = year
        self.got = []

    def tell(self, errand):
        self.got.append((self.year.now, errand.text.title, errand.is_good_news))
        return True


class Year:
    """A house through a year, with a door whose reports, and whose faults, are drawn."""

    def __init__(self, seed, first="2027-01-02", days=363):
        self.random = random.Random(seed)
        self.first, self.days = np.datetime64(first), days
        site = site_of(f'{HOUSE}[mqtt]\nhost = "broker"\nlink = "hens/link"\n')
        self.zone = get_zone(site.zone)
        last = self.first + (days + 4) * DAY
        self.due = exactly(make_plan(site, (self.first - 4 * DAY).item(), last.item()))
        self.watch = Watch.model_validate({"expects": BOTH})
        # The night before is nobody's.
        self.now = self.first.astype("datetime64[s]") + np.timedelta64(11, "h")
        self.link_lost = None
        self.parts = {}
        self.noted = []
        self.person = Told(self)
        self.wanted = []
        self.came = Counter()
        self.events = []
        self.clock_off = None
        self.watcher = Watcher(Path("nowhere"), "house", self.view, lambda: self.now, "the test")

    def view(self, now, _state):
        index = int(np.searchsorted(self.due.plan.day_start_utc, now)) - 1
        if index not in self.parts:
            part = np.zeros(len(self.due), bool)
            part[max(index - 2, 0) : index + 3] = True
            self.parts = {index: self.due.part(part)}
        due = self.parts[index]
        since = due.plan.day_start_utc[0]
        noted = [one for one in self.noted[-20:] if one.entry.instant_utc >= since]
        scene = Scene(
            due,
            self.watch,
            noted,
            has_reported=True,
            link_lost_utc=self.link_lost,
            clock_off_min=self.clock_off,
        )
        people = {"phone": self.person}
        return View("Test house", self.zone, scene, {}, self.watch, ["phone"], people)

    def note(self, at, what, by="door"):
        self.events.append((at, partial(self._note, what, by)))

    def _note(self, what, by):
        entry = make_entry(self.now, what, by=by, stamped_by="server")
        number = len(self.noted) + 1
        self.noted.append(Noted(number, entry, self.now, None, True, by == "door"))

    def _link(self, lost):
        self.link_lost = self.now if lost else None

    def want(self, kind, since):
        self.wanted.append((kind, since, since + (GRACE[kind] + STEP) * MINUTE))

    def draw(self):
        """Draw what happens on every day."""
        draw = self.random
        dates = self.due.plan.dates.tolist()
        for number in range(self.days):
            index = dates.index((self.first + number * DAY).item())
            off = self.clock_error(number)
            fault = draw.choice(list(FAULTS)) if draw.random() < 1 / 3 else "none"
            fault = fault if off is None else "clock"
            self.came[fault] += 1
            late = (off or 0) * MINUTE + draw.randrange(90) * np.timedelta64(1, "s")
            day = Day(
                *(
                    times[index].astype("datetime64[s]")
                    for times in (
                        self.due.open_utc,
                        self.due.close_utc,
                        self.due.head_count_utc,
                        self.due.next_open_utc,
                    )
                ),
                late,
            )
            if fault != "not open":
                self.note(day.opens + late, "opened")
            counted = FAULTS[fault](self, day) if fault in FAULTS else self.fine(day)
            if counted is not None:
                self.note(counted, "all_in", by="keeper")
        self.events.sort(key=lambda event: event[0])

    def clock_error(self, number):
        """Return by how many minutes the door is late on a day, if its clock is wrong."""
        return

    def fine(self, day):
        self.note(day.closes + day.late, "shut")
        return day.count + self.random.randrange(25) * MINUTE

    def not_open(self, day):
        self.want("not_open", day.opens)
        return self.fine(day)

    def no_report(self, day):
        self.want("not_shut", day.closes)
        return self.counted_late(day)

    def counted_late(self, day):
        self.want("not_counted", day.count)
        return day.closes + 75 * MINUTE

    def late(self, day):
        self.want("not_shut", day.closes)
        self.note(day.closes + self.random.randrange(31, 50) * MINUTE, "shut")
        # Who counts heads sees the door: not before the watch has spoken.
        return day.closes + self.random.randrange(30, 44) * MINUTE

    def open_again(self, day):
        self.fine(day)
        latest = int((day.opens_next - day.closes) / MINUTE) - 45
        again = day.closes + self.random.randrange(40, latest) * MINUTE
        self.note(again, "opened")
        self.want("open_again", again)
        return day.count + self.random.randrange(20) * MINUTE

    def early_by_hand(self, day):
        self.note(day.closes - self.random.randrange(35, 60) * MINUTE, "shut_by_hand")
        self.want("not_shut", day.closes)
        # Who shut it early comes again late, and looks.
        return self.counted_late(day)

    def link_lost(self, day):
        lost = day.opens + self.random.randrange(60, 200) * MINUTE
        self.events.append((lost, partial(self._link, True)))
        self.events.append((lost + 40 * MINUTE, partial(self._link, False)))
        self.want("link_lost", lost)
        return self.fine(day)

    def nobody_counts(self, day):
        self.fine(day)
        self.want("not_counted", day.count)

    def run(self):
        """Look through the year, more often than anything can go unnoticed."""
        self.draw()
        end = self.first.astype("datetime64[s]") + self.days * DAY - 60 * MINUTE
        waiting = list(reversed(self.events))
        moves = [self.due.open_utc, self.due.close_utc, self.due.head_count_utc]
        busy = np.sort(
            np.concatenate([*moves, [at for at, _ in self.events]]).astype("datetime64[s]")
        )
        while self.now < end:
            # Where nothing has happened or been due for long, a look now and then will do.
            lately = np.searchsorted(busy, self.now + STEP * MINUTE)
            is_dull = lately == 0 or busy[lately - 1] < self.now - BUSY
            following = busy[lately] if lately < len(busy) else end
            later = min(self.now + DULL, following - MINUTE)
            self.now = max(later, self.now + MINUTE) if is_dull else self.now + STEP * MINUTE
            after = self.now
            while waiting and waiting[-1][0] <= after:
                self.now, happen = waiting.pop()
                happen()
            self.now = after
            self.each_look()
            self.watcher.look()
        return self

    def each_look(self):
        pass

    @property
    def alarms(self):
        """Every first telling of an alarm: its kind, and when it was."""
        titles = {pace.title: kind.value for kind, pace in PACES.items()}
        return [
            (titles[title.removeprefix("Test house: ")], at)
            for at, title, is_over in self.person.got
            if not is_over and "(said" not in title and "no longer said" not in title
        ]


@pytest.fixture(autouse=True)
def _no_disk(monkeypatch):
    monkeypatch.setattr(watcher_module, "save_state", lambda *_: None)
    monkeypatch.setattr(watcher_module, "say", lambda _: None)
    # Looks are further apart here where nothing happens.
    monkeypatch.setattr(look_module, "LONGEST_GAP", DULL)


FAULTS = {
    "no report": Year.no_report,
    "late": Year.late,
    "open again": Year.open_again,
    "link lost": Year.link_lost,
    "early by hand": Year.early_by_hand,
    "nobody counts": Year.nobody_counts,
    "not open": Year.not_open,
}


def match(year):
    """Return what was wanted and never told, and what was told and not wanted."""
    alarms, missing = list(year.alarms), []
    for kind, since, until in year.wanted:
        found = next((one for one in alarms if one[0] == kind and since <= one[1] <= until), None)
        if found is None:
            missing.append((kind, since))
        else:
            alarms.remove(found)
    return missing, alarms


def test_every_fault_of_a_year_ends_in_its_alarm_and_nothing_else_does():
    year = Year(seed=15).run()
    assert all(year.came[fault] >= 5 for fault in FAULTS)
    assert 220 <= year.came["none"] <= 262
    assert match(year) == ([], [])
    assert len(year.wanted) >= 110


class FastClock(Year):
    """A door whose clock is put 14 min fast, and set right 12 days later."""

    judged = None

    def clock_error(self, number):
        return -14 if 20 <= number < 32 else None

    def each_look(self):
        # Once a day is often enough.
        if self.judged != self.now.astype("datetime64[D]"):
            self.judged = self.now.astype("datetime64[D]")
            since = self.now - 60 * DAY
            entries = [one.entry for one in self.noted if one.entry.instant_utc >= since]
            if entries:
                found = audit_door(judge_by(self.due, []), entries, "", self.now.item().date())
                clock = found.found.clock
                if clock is not None:
                    self.clock_off = float(clock.error_at(np.array([self.now]))[0])


def test_a_clock_that_is_fast_is_told_within_days():
    year = FastClock(seed=4, days=45).run()
    told = [at for kind, at in year.alarms if kind == "clock_off"]
    assert len(told) == 1
    fast_since = year.first + 20 * DAY
    assert fast_since < told[0] <= fast_since + 6 * DAY
    over = [at for at, title, is_over in year.person.got if is_over and "clock" in title]
    assert len(over) == 1
    missing, others = match(year)
    assert missing == []
    assert [kind for kind, _ in others] == ["clock_off"]


class MissedSummerTime(Year):
    """A door whose clock keeps winter time: from the end of March on it moves an hour late."""

    def clock_error(self, number):
        return 60 if self.first + number * DAY >= np.datetime64("2027-03-28") else None

    def fine(self, day):
        if day.late < 60 * MINUTE:
            return super().fine(day)
        self.want("not_shut", day.closes)
        self.want("not_open", day.opens)
        super().fine(day)
        return day.closes + self.random.randrange(30, 44) * MINUTE


def test_summer_time_that_the_door_missed_is_told_on_the_first_evening():
    year = MissedSummerTime(seed=5, first="2027-03-20", days=12).run()
    assert year.came["clock"] == 4
    assert match(year) == ([], [])


@pytest.mark.parametrize("first", ["2027-03-24", "2027-10-27"])
def test_summer_time_that_the_door_keeps_is_nothing(first):
    year = Year(seed=1, first=first, days=8)
    year.random.random = lambda: 1.0
    assert match(year.run()) == ([], [])
    assert year.alarms == []
