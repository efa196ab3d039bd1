"""What the page says of the door and the count, at the moments at which people look."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daylatch.diary.entries import make_entry
from daylatch.home.page.present import Present
from daylatch.home.page.sentences import (
    count_sentences,
    door_sentences,
    early_count,
    headline,
)
from daylatch.home.watch.scene import Scene
from daylatch.plan.due import exactly
from daylatch.plan.moment import days_around, moment_at
from sites import HOUSE
from watch_scenes import Night, site_of


def said(night, minutes, birds=12):
    now = night.at(minutes)
    scene = replace(night.scene(now), birds=birds)
    present = Present(now, scene.due.plan.zone, scene.site.face)
    return [
        headline(moment_at(scene.due, now), present),
        *door_sentences(scene, present),
        *count_sentences(scene, present),
    ]


def a_night():
    night = Night().says("opened", -700).says("shut", 1)
    return night.says("all_in", 20, by="Jo", stamped_by="phone").says("opened", 660)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (
            -60,
            [
                "The door should be open until 19:24.",
                "It last said: door opened, 07:44.",
                "This evening: count heads at 19:39. There should be 12.",
            ],
        ),
        (
            2,
            [
                "The door should be shut until 06:45 tomorrow.",
                "It last said: door shut, 19:25.",
                "Tonight: count heads at 19:39. There should be 12.",
            ],
        ),
        (
            16,
            [
                "The door should be shut until 06:45 tomorrow.",
                "It last said: door shut, 19:25.",
                "Tonight: nobody has noted a head count, which was due at 19:39. "
                "There should be 12.",
            ],
        ),
        (
            25,
            [
                "The door should be shut until 06:45 tomorrow.",
                "It last said: door shut, 19:25.",
                "Tonight: all in (told by Jo), 19:44.",
            ],
        ),
        (
            400,
            [
                "The door should be shut until 06:45.",
                "It last said: door shut, 19:25 yesterday.",
                "This night: all in (told by Jo), 19:44 yesterday.",
            ],
        ),
    ],
)
def test_an_evening_and_its_night(minutes, words):
    assert said(a_night(), minutes) == words


def test_before_anything_was_said():
    assert said(Night(), -60, None)[1:] == [
        "Nothing was said of the door in the last days.",
        "This evening: count heads at 19:39.",
    ]


def test_a_count_of_some_is_told_beside_how_many_there_should_be():
    night = Night().counted("all_in", 20, "11")
    assert said(night, 30)[-2:] == ["Tonight: all 11 in (server), 19:44.", "There should be 12."]
    assert said(Night().counted("still_out", 20, "2"), 30)[-1].startswith("Tonight: 2 still out")


def test_on_days_that_the_door_stays_shut_the_next_movement_may_be_far():
    text = f"{HOUSE}[[span]]\nfrom = 2027-03-08\nuntil = 2027-03-20\nshut = true\n"
    now = np.datetime64("2027-03-10T12:00:00")
    due = exactly(days_around(site_of(text), now))
    scene = Scene(due, Night().watch)
    present = Present(now, due.plan.zone, scene.site.face)
    words = headline(moment_at(due, now), present)
    assert words == "The door should be shut until 06:22 on Sun 21 Mar."
    words = next(count_sentences(scene, present))
    assert words == "While the door stays shut: count heads every evening."


def test_a_closing_in_daylight_is_told_with_its_remedy():
    text = f'{HOUSE}[close]\nnot_after = "14:00"\n'
    now = np.datetime64("2027-03-10T12:00:00")
    due = exactly(days_around(site_of(text), now))
    present = Present(now, due.plan.zone, site_of(text).face)
    words = " ".join(door_sentences(Scene(due, Night().watch), present))
    assert "The door closes in daylight:" in words


def test_a_count_before_the_closing_is_too_early_and_that_is_said():
    night = Night().says("opened", -700).counted("all_in", -120)
    assert said(night, -60)[2:] == [
        "All in (server), 17:24, was too early to count for the night.",
        "This evening: count heads at 19:39. There should be 12.",
    ]
    assert said(night, 30)[2] == "All in (server), 17:24, was too early to count for the night."
    # So short before it, it does count.
    assert said(Night().counted("all_in", -20), 30)[-1] == "Tonight: all in (server), 19:04."


@pytest.mark.parametrize(
    ("what", "minutes", "is_told"),
    [
        ("all_in", -120, True),
        ("last_in", -600, True),
        ("all_in", -20, False),
        ("all_in", 20, False),
        ("all_in", 600, False),
        ("still_out", -120, False),
    ],
)
def test_who_taps_too_early_is_told(what, minutes, is_told):
    night = Night()
    value = "2" if what == "still_out" else ""
    entry = make_entry(night.at(minutes), what, value)
    present = Present(night.at(minutes), night.due.plan.zone, night.due.plan.site.face)
    words = early_count(night.scene(night.at(minutes)), entry, present)
    assert words == (
        "It is too early to be the count of the night: the door is due to shut at 19:24, so count "
        "again then."
        if is_told
        else ""
    )


def test_what_the_door_did_since_it_was_due_is_held_against_what_is_due():
    wrong = "That is not what is due now: look whether it is right."
    assert wrong in said(Night().says("opened", -700).counted("shut_by_hand", -300), -60)
    assert wrong in said(Night().says("shut", 1).says("opened", 60), 90)
    # Before the movement it was right to be so; the watch waits for word.
    assert wrong not in said(Night().says("opened", -700), 5)
    assert wrong not in said(Night().says("opened", -700).says("shut", 1), 90)


def test_the_battery_is_told_beside_the_door():
    night = Night().says("battery_v", -50, "11.9")
    assert "Battery at 11.9 V, 18:34." in said(night, -40)
