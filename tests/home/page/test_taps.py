"""What a form holds, and what it becomes in the diary."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.home.page.taps import EVENING, MORNING, OLD_PAGE, TapError, read_tap

NOW = np.datetime64("2027-01-10T17:00:00")
KEY = "0123456789abcdef" * 2
MADE = str(int(NOW.astype(int)) - 30)


def fields(**more):
    return {"what": "all_in", "value": "", "tap": KEY, "made": MADE, "token": "x"} | more


def test_without_a_script_a_tap_is_of_the_moment_in_which_it_arrives():
    tap = read_tap(fields(), "Jo", NOW)
    assert (tap.entry.instant_utc, tap.entry.what, tap.entry.by) == (NOW, "all_in", "Jo")
    assert (tap.entry.stamped_by, tap.entry.within_min) == ("phone", 1.0)
    assert not tap.is_old


def test_a_tap_that_waited_on_a_phone_is_of_its_own_moment_whatever_that_phones_clock_shows():
    tap = read_tap(fields(ago="86400", made="0"), "Jo", NOW)
    assert str(tap.entry.instant_utc) == "2027-01-09T17:00:00"
    assert not tap.is_old


def test_a_page_of_hours_ago_is_asked_whether_it_speaks_of_now():
    made = int((NOW - OLD_PAGE).astype(int))
    assert not read_tap(fields(made=str(made)), "Jo", NOW).is_old
    assert read_tap(fields(made=str(made - 1)), "Jo", NOW).is_old
    bare = fields()
    del bare["made"]
    assert read_tap(bare, "Jo", NOW).is_old


def test_what_was_asked_about_keeps_the_moment_of_its_arrival():
    moment = str(int(NOW.astype(int)) - 600)
    tap = read_tap(fields(moment=moment, made="0"), "Jo", NOW)
    assert tap.entry.instant_utc == NOW - np.timedelta64(600, "s")
    assert not tap.is_old


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"what": "opened"}, "nothing that this page has"),
        ({"what": "note"}, "nothing that this page has"),
        ({"tap": "0" * 31}, "nothing that this page has"),
        ({"tap": "G" * 32}, "nothing that this page has"),
        ({"what": "still_out"}, "says nothing without a value"),
        ({"what": "still_out", "value": "0"}, "write how many birds"),
        ({"what": "still_out", "value": "two"}, "write how many birds"),
        ({"what": "last_in", "value": "2"}, "has no value"),
        ({"ago": "-1"}, "nothing that this page has"),
        ({"ago": "1e9"}, "nothing that this page has"),
        ({"ago": "9999999999"}, "which cannot be"),
        ({"ago": str(32 * 86400)}, "which cannot be"),
        ({"moment": "0"}, "which cannot be"),
        ({"moment": str(int(NOW.astype(int)) + 60)}, "which cannot be"),
    ],
)
def test_what_is_no_tap_is_refused_in_a_sentence(wrong, why):
    with pytest.raises(TapError, match=why):
        read_tap(fields(**wrong), "Jo", NOW)


def test_no_button_sounds_as_if_it_moved_the_door():
    for kind in (*EVENING, *MORNING):
        assert kind.what not in {"opened", "shut", "seen_open", "seen_shut"}
        if "hand" in kind.what:
            assert kind.words.startswith("I ")
