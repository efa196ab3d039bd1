"""Alarms: rounds, reminders, quiet hours, acknowledging, who is told and tried again."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from daylatch.home.watch.alarms import (
    acknowledged,
    delivered,
    next_alarms,
    nobody_knows,
    owed,
    still_wanted,
)
from daylatch.home.watch.kinds import PACES, Kind
from daylatch.home.watch.scene import Findings, Trouble

BEGIN = np.datetime64("2027-03-10T18:39:00")
OPEN = Trouble("night 2027-03-10", Kind.NOT_SHUT, "It is open.")
AGAIN = Trouble("night 2027-03-10", Kind.OPEN_AGAIN, "It is open again.")
COUNT = Trouble("count 2027-03-10", Kind.NOT_COUNTED, "Nobody has counted.")
LOW = Trouble("battery", Kind.BATTERY_LOW, "It is low.")
DOUBT = Trouble("doubt diary", Kind.IN_DOUBT, "It cannot be read.")
GAP = Trouble("gap x", Kind.NOT_LOOKED, "Nobody watched.")


class Evening:
    """Looks at what is wrong, and the messages that come of it."""

    def __init__(self, *targets: str, remind_min: int = 15) -> None:
        self.targets = targets or ("phone",)
        self.remind_min = remind_min
        self.alarms = []
        self.down: set[str] = set()
        self.tokens = itertools.count()
        self.sent: list[tuple[int, str, str]] = []

    def look(self, minute, *troubles, quiet=False, fine=None):
        """Return who was told what at a look."""
        now = BEGIN + np.timedelta64(minute, "m")
        self.alarms = next_alarms(
            self.alarms,
            Findings(list(troubles), fine or {}),
            now,
            remind_min=self.remind_min,
            is_quiet=quiet,
            new_token=lambda: f"token {next(self.tokens)}",
        )
        told = []
        for message in list(owed(self.alarms, self.targets, now, is_quiet=quiet)):
            arrived = message.target not in self.down
            self.alarms = delivered(self.alarms, message, now, arrived=arrived)
            word = "over" if message.is_over else message.alarm.kind.value
            told.append((message.target, word) if arrived else (message.target, "failed"))
        self.alarms = still_wanted(self.alarms, self.targets, now)
        return told

    def over(self, minutes, *troubles, **more):
        """Return at which minutes of some looks somebody was told what."""
        return [
            (minute, word) for minute in minutes for _, word in self.look(minute, *troubles, **more)
        ]

    def acknowledge(self, minute):
        self.alarms = acknowledged(
            self.alarms, self.alarms[0].token, BEGIN + np.timedelta64(minute, "m")
        )


def test_an_alarm_is_told_once_then_reminded_of_then_over():
    evening = Evening()
    assert evening.over(range(40), OPEN) == [
        (0, "not_shut"),
        (15, "not_shut"),
        (30, "not_shut"),
    ]
    assert evening.look(40, fine={OPEN.key: "Door shut."}) == [("phone", "over")]
    assert evening.alarms == []
    assert evening.over(range(41, 90)) == []


def test_only_who_could_not_be_told_is_tried_again():
    evening = Evening("mail", "phone")
    evening.down = {"mail"}
    assert evening.look(0, OPEN) == [("mail", "failed"), ("phone", "not_shut")]
    assert evening.look(1, OPEN) == [("mail", "failed")]
    evening.down = set()
    # After two failures it is waited for two minutes.
    assert evening.look(2, OPEN) == []
    assert evening.look(3, OPEN) == [("mail", "not_shut")]
    assert evening.look(4, OPEN) == []


def test_one_who_cannot_be_told_is_tried_every_five_minutes_at_least():
    evening = Evening(remind_min=720)
    evening.down = {"phone"}
    tries = [minute for minute, _ in evening.over(range(60), OPEN)]
    assert tries[:5] == [0, 1, 3, 7, 12]
    assert set(np.diff(tries[3:])) == {5}
    assert nobody_knows(evening.alarms) == evening.alarms


def test_one_that_ended_before_anybody_could_be_told_is_still_told():
    evening = Evening("mail", "phone")
    evening.down = {"mail", "phone"}
    evening.look(0, OPEN)
    evening.down = {"mail"}
    assert evening.look(5, fine={OPEN.key: "Door shut."}) == [("mail", "failed"), ("phone", "over")]
    evening.down = set()
    assert evening.over(range(6, 20)) == [(7, "over")]
    assert evening.alarms == []


def test_a_target_that_stays_down_is_given_up_after_a_day():
    evening = Evening()
    evening.look(0, OPEN)
    evening.down = {"phone"}
    evening.look(5)
    assert evening.alarms
    evening.look(5 + 24 * 60)
    assert evening.alarms
    evening.look(7 + 24 * 60)
    assert evening.alarms == []


def test_quiet_hours_keep_back_what_can_wait():
    evening = Evening()
    assert evening.look(0, OPEN, COUNT, quiet=True) == [("phone", "not_shut")]
    assert evening.over([15], OPEN, COUNT, quiet=True) == [(15, "not_shut")]
    assert evening.look(20, OPEN, COUNT) == [("phone", "not_counted")]


def test_what_was_put_right_in_quiet_hours_is_never_told():
    evening = Evening()
    assert evening.over(range(20), COUNT, quiet=True) == []
    fine = {COUNT.key: "All in."}
    assert evening.over(range(20, 60), quiet=True, fine=fine) == []
    assert evening.over(range(60, 90)) == []
    assert evening.alarms == []


def test_what_lapsed_in_quiet_hours_is_told_after_them():
    evening = Evening("mail", "phone")
    assert evening.over(range(20), COUNT, quiet=True) == []
    assert evening.over(range(20, 60), quiet=True) == []
    assert evening.look(60) == [("mail", "over"), ("phone", "over")]
    assert evening.alarms == []


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.NOT_LOOKED])
def test_how_often_each_kind_is_told(kind):
    evening = Evening()
    told = evening.over(range(0, 2 * 1440, 5), Trouble("x", kind, "."))
    pace = PACES[kind]
    if pace.most_rounds:
        assert len(told) == pace.most_rounds
    elif pace.is_daily:
        assert [minute for minute, _ in told] == [0, 1440]
    else:
        assert len(told) == 2 * 1440 / 15


def test_acknowledging_quiets_an_open_door_and_does_not_end_it():
    evening = Evening()
    evening.over(range(10), OPEN)
    evening.acknowledge(10)
    # It comes again after an hour, and from then on as if nobody had acknowledged it.
    assert evening.over(range(10, 110), OPEN) == [
        (70, "not_shut"),
        (85, "not_shut"),
        (100, "not_shut"),
    ]
    evening.acknowledge(101)
    assert evening.over(range(101, 170), OPEN) == [(161, "not_shut")]
    assert evening.look(171, fine={OPEN.key: "Shut."}) == [("phone", "over")]


def test_acknowledging_anything_else_ends_the_reminders():
    evening = Evening()
    evening.look(0, LOW)
    evening.acknowledge(1)
    assert evening.over(range(1, 5000, 60), LOW) == []
    assert evening.look(5001) == [("phone", "over")]
    assert evening.look(5002, LOW) == [("phone", "battery_low")]


def test_another_kind_under_the_same_key_is_told_at_once_though_acknowledged():
    evening = Evening()
    evening.look(0, OPEN)
    evening.acknowledge(1)
    assert evening.look(2, AGAIN) == [("phone", "open_again")]
    assert evening.look(3, AGAIN) == []
    assert len(evening.alarms) == 1


def test_who_is_named_later_hears_of_what_stands_and_who_was_told_hears_the_end():
    evening = Evening("phone")
    evening.look(0, OPEN)
    evening.targets = ("sitter",)
    assert evening.look(1, OPEN) == [("sitter", "not_shut")]
    assert sorted(evening.look(2)) == [("phone", "over"), ("sitter", "over")]


def test_what_cannot_be_looked_at_is_not_over():
    evening = Evening()
    evening.look(0, OPEN, COUNT)
    assert evening.look(1, DOUBT) == [("phone", "in_doubt")]
    assert {alarm.key for alarm in evening.alarms if alarm.stands} == {
        OPEN.key,
        COUNT.key,
        DOUBT.key,
    }
    # The reminders go on.
    assert evening.look(15, DOUBT) == [("phone", "not_shut"), ("phone", "not_counted")]
    assert evening.look(16, OPEN) == [("phone", "over"), ("phone", "over")]


def test_that_nobody_watched_is_told_once_and_is_not_over():
    evening = Evening()
    assert evening.look(0, GAP) == [("phone", "not_looked")]
    assert evening.alarms == []
    evening.down = {"phone"}
    evening.look(1, GAP)
    evening.down = set()
    assert evening.over(range(2, 5)) == [(2, "not_looked")]


def test_one_who_is_back_after_reminders_hears_of_the_last_round_only():
    evening = Evening()
    evening.down = {"phone"}
    evening.over(range(0, 46, 5), OPEN)
    evening.down = set()
    told = evening.over(range(46, 60), OPEN)
    assert len(told) == 1


def test_a_clock_that_is_put_back_does_not_keep_an_alarm_silent():
    evening = Evening()
    evening.look(0, OPEN)
    assert evening.look(-600, OPEN) == [("phone", "not_shut")]
    evening.down = {"phone"}
    evening.look(-580, OPEN)
    evening.down = set()
    assert evening.look(-1200, OPEN) == [("phone", "not_shut")]


def test_what_word_has_put_right_is_over_though_something_else_is_in_doubt():
    evening = Evening()
    evening.look(0, OPEN)
    assert evening.look(1, DOUBT, fine={OPEN.key: "Door shut."}) == [
        ("phone", "over"),
        ("phone", "in_doubt"),
    ]
