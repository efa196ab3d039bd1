"""What the watch remembers, and what becomes of it when clocks and houses fail."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daylatch.clock import get_zone
from daylatch.home.watch import watcher as module
from daylatch.home.watch.state import State, load_state
from daylatch.home.watch.watcher import View, Watcher
from watch_scenes import Night

HOUR = np.timedelta64(1, "h")


class Phone:
    """Somebody who is told."""

    name = "phone"

    def __init__(self):
        self.got = []

    def tell(self, errand):
        self.got.append(errand.text.title)
        return True


class House:
    """A house whose clock and door a test sets."""

    def __init__(self, path, **known):
        self.path = path
        self.night = Night(expects=["door"])
        self.night.says("opened", self.night.opened)
        self.known = known
        self.phone = Phone()
        self.fails = None
        self.now = self.night.at(-60)
        self.watcher = self.begin()

    def begin(self):
        return Watcher(self.path, "house", self.view, lambda: self.now, "the test")

    def view(self, now, state):
        if self.fails is not None:
            raise self.fails
        scene = replace(
            self.night.scene(now),
            broker_lost_utc=state.broker_lost_utc,
            began_utc=state.began_utc,
            **self.known,
        )
        zone = get_zone("Europe/Amsterdam")
        return View("House", zone, scene, {}, self.night.watch, ["phone"], {"phone": self.phone})

    def look(self, minutes=None):
        """Look at some minutes after the closing; return the titles of what was told."""
        if minutes is not None:
            self.now = self.night.at(minutes)
        before = len(self.phone.got)
        self.watcher.look()
        return [title.removeprefix("House: ") for title in self.phone.got[before:]]


@pytest.fixture
def house(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "say", lambda _: None)
    return House(tmp_path / "state")


NOT_SHUT, BLIND = "the door is not known to be shut", "the watch cannot look"


def test_a_view_that_fails_is_an_alarm_and_ends_no_other(house):
    house.look(1)
    assert house.look(15) == [NOT_SHUT]
    house.fails = ZeroDivisionError("x")
    assert house.look(16) == [BLIND]
    assert not house.watcher.look().is_well
    house.fails = None
    assert house.look(17) == [f"over: {BLIND}"]


def test_a_clock_that_is_put_back_is_an_alarm_and_ends_no_other(house):
    house.look(1)
    assert house.look(15) == [NOT_SHUT]
    assert house.look(-200) == [BLIND]
    assert house.look(-190) == []
    # Each comes again after its quarter of an hour, as ever.
    assert set(house.look(-184)) == {f"{title} (said 2 times)" for title in (BLIND, NOT_SHUT)}
    # After an hour it is believed.
    assert set(house.look(-139)) == {f"over: {BLIND}", f"no longer said: {NOT_SHUT}"}


def test_acknowledged_before_the_clock_was_put_back_it_is_not_said_at_every_look(house):
    house.look(1)
    house.look(15)
    house.watcher.acknowledge(house.watcher.state.alarms[0].token)
    house.look(-30)
    told = [title for minutes in range(-29, 20) for title in house.look(minutes)]
    assert sum(NOT_SHUT in title for title in told) == 0


def test_what_was_remembered_of_a_future_does_not_keep_it_silent(house):
    house.now = house.night.at(0) + 9000 * HOUR
    house.watcher = house.begin()
    house.watcher.broker(is_lost=True)
    house.look(-120)
    state = house.watcher.state
    assert state.broker_lost_utc == state.began_utc == house.now


def test_a_clock_that_makes_no_sense_for_a_moment_leaves_nothing_behind(house):
    house.look(1)
    house.look(15)
    house.watcher.broker(is_lost=True)
    before = house.watcher.state
    house.fails = ZeroDivisionError("the clock shows 1970")
    house.now = np.datetime64("1970-01-01T00:05:00")
    house.watcher.look()
    house.fails = None
    house.look(18)
    after = house.watcher.state
    assert (after.began_utc, after.broker_lost_utc) == (before.began_utc, before.broker_lost_utc)
    assert after.alarms[0].raised_utc == before.alarms[0].raised_utc


def test_a_look_that_sees_nothing_is_no_look(house):
    house.look(1)
    looked = load_state(house.path, "house").looked_utc
    house.fails = ZeroDivisionError("x")
    house.look(10)
    assert load_state(house.path, "house").looked_utc == looked


def test_what_is_remembered_comes_back_as_it_was(house):
    house.look(1)
    house.look(15)
    house.watcher.acknowledge(house.watcher.state.alarms[0].token)
    assert load_state(house.path, "house") == house.watcher.state
    assert house.watcher.state != State()
