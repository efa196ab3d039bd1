"""Whether the door is what it should be: what counts as word of it, and when none is bad."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.home.watch.look import look
from sites import HOUSE
from watch_scenes import Night

DOOR = {"expects": ["door"]}
MINUTE = np.timedelta64(1, "m")


@pytest.fixture
def night():
    """A night before which the door reported that it opened."""
    made = Night(**DOOR)
    return made.says("opened", made.opened)


def test_no_word_is_bad_after_the_grace_and_until_the_morning(night):
    assert night.found(14.9) == {}
    assert night.found(15) == {"night": "not_shut"}
    assert night.found(night.opens - MINUTE) == {"night": "not_shut"}
    assert "night" not in night.found(night.opens)


def test_the_grace_is_the_keepers(night):
    slow = Night(shut_within_min=40, **DOOR)
    slow.noted = night.noted
    assert slow.found(39.9) == {}
    assert slow.found(40) == {"night": "not_shut"}


def test_the_words_say_what_was_due_and_what_was_last_known(night):
    assert night.words(20) == (
        "The door was due to shut at 2027-03-10 19:24, and no word has come that it is shut. Last: "
        "door opened at 2027-03-10 06:48 (door)."
    )


@pytest.mark.parametrize("what", ["shut", "seen_shut", "shut_by_hand"])
@pytest.mark.parametrize("minutes", [-30, -1, 0, 14, 200])
def test_word_that_it_is_shut_counts_from_half_an_hour_before(night, what, minutes):
    night.says(what, minutes)
    assert night.found(201) == {}


def test_word_from_earlier_does_not_count_unless_it_is_confirmed(night):
    night.says("shut_by_hand", -31)
    assert night.found(14) == {}
    assert night.found(15) == {"night": "not_shut"}
    assert "Last: door shut by hand at 2027-03-10 18:53" in night.words(15)
    night.says("seen_shut", 20, by="keeper")
    assert night.found(21) == {}


@pytest.mark.parametrize(
    ("keys", "clock", "counts_from"),
    [({}, "", -30), ({}, "[clock]\nmargin_min = 45\n", -45), ({"early_min": 5}, "", -5)],
)
def test_how_early_word_counts(keys, clock, counts_from):
    night = Night(text=HOUSE + clock, **DOOR, **keys)
    night.says("shut", counts_from - 1)
    assert night.found(15) == {"night": "not_shut"}
    night.says("shut", counts_from)
    assert night.found(15) == {}


def test_open_again_in_the_night(night):
    night.says("shut", 1).says("opened", 120)
    assert night.found(124) == {}
    assert night.found(125) == {"night": "open_again"}
    assert (
        "Door opened at 2027-03-10 21:24 (door), and it should be shut until 2027-03-11 06:45."
        in (night.words(125))
    )
    night.says("shut", 130)
    assert night.found(131) == {}


def test_one_that_meets_an_obstacle_and_shuts_again_is_no_alarm(night):
    night.says("shut", 1).says("opened", 2).says("shut", 4)
    assert all(night.found(minutes) == {} for minutes in range(4, 400, 7))


def test_reports_count_in_the_order_in_which_they_are_received(night):
    # The door says when it was; by its clock the opening came first.
    night.says("shut", 10, received=11).says("opened", 5, received=12)
    assert night.found(18) == {"night": "open_again"}
    other = Night(**DOOR).says("opened", 10, received=11).says("shut", 5, received=12)
    assert other.found(18) == {}
    # Kept back by the door, and from before it was open: there is doubt.
    other = Night(**DOOR).says("shut", 0).says("opened", 10)
    other.says("shut", 5, received=12, stamped_by="door")
    assert other.found(18) == {"night": "open_again"}
    other.says("shut", 15, received=16, stamped_by="door")
    assert other.found(18) == {}


def test_what_a_person_writes_down_later_counts_when_it_was(night):
    night.says("shut", 2)
    night.says("opened_by_hand", -20, by="keeper")
    assert night.found(60) == {}


def test_what_was_imported_of_other_days_does_not_count(night):
    night.says("shut", 2)
    night.says("opened", night.opened - np.timedelta64(20, "D"), by="logger")
    night.says("shut", night.opened - np.timedelta64(20, "D"), by="logger")
    assert night.found(60) == {}


def test_a_clock_put_back_does_not_turn_the_order_of_reports(night):
    # Received later, by a clock that had been put back an hour meanwhile.
    night.says("shut", 50).says("opened", 5)
    assert night.found(60) == {"night": "open_again"}


def test_word_whose_moment_is_not_sure_must_surely_be_late_enough(night):
    night.says("shut", 3, within="240")
    assert night.found(15) == {"night": "not_shut"}
    night.says("seen_shut", 20, by="keeper", within="5")
    assert night.found(21) == {}


def test_who_counted_all_birds_in_after_the_closing_was_there(night):
    night.counted("all_in", -10)
    assert night.found(15) == {"night": "not_shut"}
    night.counted("all_in", 30)
    assert night.found(31) == {}
    night.says("opened", 60)
    assert night.found(65) == {"night": "open_again"}
    night.counted("still_out", 70, "1")
    assert night.found(71) == {"night": "open_again"}
    night.counted("last_in", 80)
    assert night.found(81) == {}


def test_a_door_that_never_reported_is_not_expected():
    night = Night(**DOOR)
    assert night.found(60) == {}
    night.counted("seen_open", 30)
    assert night.found(60) == {}


def test_a_door_that_is_not_expected_is_no_alarm_whatever_it_reports():
    night = Night(expects=["head count"]).counted("all_in", 16)
    night.says("opened", 100).says("battery_v", 100, "3.1")
    night.more["link_lost_utc"] = night.at(0)
    assert night.found(200) == {}


def test_not_open_in_the_morning(night):
    night.noted.clear()
    night.says("shut", night.opened - np.timedelta64(600, "m"))
    late = night.opened + 30 * MINUTE
    assert night.found(late - MINUTE) == {}
    assert night.found(late) == {"day": "not_open"}
    assert night.found(night.closes - MINUTE) == {"day": "not_open"}
    night.says("opened", night.opened + 40 * MINUTE)
    assert night.found(night.opened + 41 * MINUTE) == {}
    # Shut again by day is another matter.
    night.says("shut_by_hand", night.opened + 60 * MINUTE)
    assert night.found(night.opened + 61 * MINUTE) == {}


def test_the_opening_may_come_a_little_early(night):
    night.says("shut", 1).says("opened", night.opens - 29 * MINUTE)
    assert night.found(night.opens - MINUTE) == {}
    night.noted.pop()
    night.says("opened", night.opens - 31 * MINUTE)
    assert night.found(night.opens - MINUTE) == {"night": "open_again"}


def test_a_day_on_which_the_door_stays_shut():
    text = HOUSE + "[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-11\nshut = true\n"
    night = Night("2027-03-09", text=text, **DOOR)
    night.says("shut", 1)
    day_and_night = [night.at(minutes) for minutes in range(10, 2 * 1440, 60)]
    assert all(night.found(at) == {} for at in day_and_night)
    night.says("opened", 1440)
    assert night.found(1446) == {"night": "open_again"}


def test_a_door_that_was_shut_before_all_that_is_planned_here():
    text = HOUSE + "[[span]]\nfrom = 2027-01-01\nuntil = 2027-12-31\nshut = true\n"
    night = Night("2027-03-10", text=text, **DOOR)
    noon = np.datetime64("2027-03-10T12:00:00")
    night.says("shut", noon - np.timedelta64(60, "D"))
    assert night.found(noon) == {}
    night.says("seen_open", noon)
    assert night.found(noon + 6 * MINUTE) == {"night": "open_again"}


def test_a_person_who_works_the_door_may_come_when_the_card_says():
    # The card's rows are weeks: known to the minute, later than planned.
    text = HOUSE + '[door]\nworks = "hand"\n'
    night = Night(text=text, **DOOR)
    night.says("opened_by_hand", night.opened)
    assert night.found(20) == {"night": "not_shut"}


def test_after_a_time_without_a_listener_the_door_may_still_be_about_to_report(night):
    # The computer woke up 60 min after the closing; the door tries again every minute.
    night.more["listening_since_utc"] = night.at(60)
    findings = look(night.scene(night.at(64.9)), night.at(64.9))
    assert findings.troubles == []
    assert findings.may_stand("night 2027-03-10")
    assert night.found(65) == {"night": "not_shut"}


def test_a_door_that_goes_on_saying_that_it_is_open_is_an_alarm_all_the_while(night):
    night.says("shut", 1)
    for minutes in range(60, 300, 4):
        night.says("seen_open", minutes)
    assert night.found(64) == {}
    assert all(night.found(minutes) == {"night": "open_again"} for minutes in range(65, 300, 3))
    assert "Door seen open at 2027-03-10 20:24" in night.words(299)


def test_a_door_that_opens_again_and_again_is_an_alarm(night):
    for minutes in (1, 9):
        night.says("shut", minutes).says("opened", minutes + 4)
        assert night.found(minutes + 4) == {}
    night.says("shut", 17).says("opened", 21)
    assert night.found(21) == {"night": "open_again"}
    assert "The door opened again 3 times in the last half hour" in night.words(21)
    night.says("shut", 25)
    # It must have stayed shut for a while, or somebody must have been there.
    assert night.found(29) == {"night": "open_again"}
    assert night.found(30) == {}
    night.says("opened", 31).says("shut", 32)
    assert night.found(33) == {"night": "open_again"}
    night.counted("all_in", 34)
    assert night.found(34) == {}


def test_a_later_word_that_it_is_open_counts_whatever_its_moment(night):
    night.says("shut", 2).says("opened", -240, received=16, stamped_by="door")
    assert night.found(20) == {}
    assert night.found(21) == {"night": "open_again"}
    other = Night(**DOOR).says("shut", 5).says("opened", 60, within="120")
    assert other.found(66) == {"night": "open_again"}


def test_what_a_person_says_to_be_still_to_come_counts_for_nothing(night):
    night.says("seen_open", 5)
    night.says("shut_by_hand", 60, by="keeper").counted("all_in", 60)
    assert night.found(25) == {"night": "not_shut"}
    assert night.found(61) == {}


def test_shut_early_and_open_again_before_the_closing_is_waited_for(night):
    night.says("seen_shut", -20).says("opened", -10)
    assert night.found(14) == {}
    assert night.found(15) == {"night": "not_shut"}


def test_a_count_of_fewer_birds_than_there_are_shuts_no_door(night):
    night.more["birds"] = 12
    night.counted("all_in", 16, "3")
    assert night.found(16) == {"night": "not_shut"}
    night.counted("all_in", 17, "12")
    assert night.found(18) == {}


@pytest.mark.parametrize("keys", [{}, {"early_min": 240}, {"early_min": 720}])
def test_a_night_is_not_taken_for_the_morning(keys):
    # The night of 10 June lasts 344 minutes.
    night = Night("2027-06-10", **DOOR, **keys)
    night.says("shut", 1).says("opened", night.opens - 100 * MINUTE)
    assert night.found(night.opens - 90 * MINUTE) == {"night": "open_again"}
    other = Night("2027-06-10", **DOOR, **keys).says("shut", 1)
    other.says("opened", other.opens - 29 * MINUTE)
    assert other.found(other.opens - MINUTE) == {}


@pytest.mark.parametrize("keys", [{}, {"early_min": 720}])
def test_a_day_in_winter_is_no_evening(keys):
    night = Night("2027-12-20", **DOOR, **keys)
    night.says("opened", night.opened + MINUTE)
    assert night.found(night.opened + 300 * MINUTE) == {}
    # Opened long before the time by hand, and left so.
    other = Night("2027-12-20", **DOOR, **keys)
    other.says("shut", other.opened - 600 * MINUTE)
    other.says("opened_by_hand", other.opened - 60 * MINUTE)
    assert "day" not in other.found(other.opened + 60 * MINUTE)


def test_a_second_pass_at_the_head_count_is_waited_for():
    night = Night(text=HOUSE + "[head_count]\nsecond_pass = true\n", **DOOR)
    night.says("shut", 1).says("opened_by_hand", 6, by="keeper")
    # Heads are counted at 15, and the door then has 15 minutes to say that it shut.
    assert night.found(29) == {}
    assert night.found(30) == {"night": "open_again"}


def test_openings_before_the_closing_are_no_trouble(night):
    for minutes in (-22, -18, -14):
        night.says("shut", minutes).says("opened", minutes + 2)
    assert night.found(0) == {}
    night.says("shut", 0.5)
    assert all(night.found(minutes) == {} for minutes in range(1, 60))


def test_what_a_door_kept_back_is_held_against_the_last_word_that_it_was_open(night):
    night.says("shut", 0).says("opened", 60).says("opened", 80)
    night.says("shut", 70, received=110, stamped_by="door")
    assert night.found(111) == {"night": "open_again"}
    night.says("shut", 112, received=113, stamped_by="door")
    assert night.found(113) == {}


def test_a_house_that_is_new_in_the_evening_is_given_its_time(night):
    night.more["began_utc"] = night.at(100)
    assert night.found(114) == {}
    assert night.found(115) == {"night": "not_shut"}


def test_without_the_diary_nothing_is_missed(night):
    night.more["doubts"] = {"diary": "It cannot be read."}
    assert night.found(60) == {"doubt": "in_doubt"}
