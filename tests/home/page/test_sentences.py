"""What the page says of the door and the count, at the moments at which people look."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daylatch.home.page.present import Present
from daylatch.home.page.sentences import count_sentences, door_sentences, headline
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
        "Nothing was said of it in the last days.",
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
