"""A lamp behind a shut door wakes birds: feed and water arise, as `daylength` says too."""

from __future__ import annotations

import json

import numpy as np
import pytest

from daylatch.birds.fit import json as fit_json
from daylatch.birds.fit import text as fit_text
from daylatch.birds.fit.fit import check_fit
from daylatch.birds.fit.stays import share_of_days
from daylatch.birds.fit.verdicts import Verdict
from daylatch.commands.birds.shut_in import nights_of
from daylatch.sun.crossings import sun_position
from sites import ID, LONGYEARBYEN, UTRECHT, plan

MINUTE = np.timedelta64(1, "m")
HOUR = np.timedelta64(1, "h")
LAMP = '[laying]\nlamp = "morning"\n'
HOUSE = "[flock]\nbirds = 6\n[house]\nfeed_inside = false\nwater_inside = true\n"
DARK = '[open]\ndark_fallback = "10:00"\n[close]\ndark_fallback = "13:00"\n'
ORDER = "[[span]]\nfrom = 2027-01-14\nuntil = 2027-01-20\nshut = true\n"


def fit(text="", first="2027-01-10", last="2027-01-20", spot=UTRECHT):
    return check_fit(nights_of(plan(spot, first, last, text)))


def verdicts(found):
    return {line.requirement: line.verdict for line in found.lines}


def said(found):
    return " ".join(fit_text.render(found).decode().split())


def test_birds_that_a_lamp_wakes_need_feed_and_water_whatever_awake_h_says():
    norms = "[norms]\nawake_h = 24.0\n"
    without = verdicts(fit(HOUSE + norms))
    assert without["feed"] is without["water"] is Verdict.DOES_NOT_ARISE
    found = fit(HOUSE + norms + LAMP)
    told = verdicts(found)
    assert (told["feed"], told["water"]) == (Verdict.FAIL, Verdict.PASS)
    assert len(found.stays.awake) == 11
    assert len(found.stays.asleep) == 0
    text = said(found)
    assert (
        "Awake inside 11 nights with over 24 h of light, or a lamp on, behind a shut door" in text
    )
    assert "Awake by lamp 11 days with the lamp on behind a shut door" in text
    data = json.loads(fit_json.render(found))
    run = {"from": "2027-01-10", "until": "2027-01-20", "count": 11}
    assert data["awake_by_lamp"] == data["awake_inside"] == [run]
    assert json.loads(fit_json.render(fit(HOUSE)))["awake_by_lamp"] == []


def test_a_burn_in_twilight_alone_wakes_too():
    """It adds no light to the civil day, and is lit for the birds behind the door all the same."""
    text = (
        f"{HOUSE}{LAMP}lamp_from = 2027-01-11\nlamp_until = 2027-01-11\nweekly_step_min = 20\n"
        '[open]\nlight = "sunrise"\n'
    )
    found = fit(text, last="2027-01-12")
    assert [str(date) for date in found.stays.lamp] == ["2027-01-11"]
    assert [str(date) for date in found.stays.awake] == ["2027-01-10"]
    nights = nights_of(plan(UTRECHT, "2027-01-10", "2027-01-12", text))
    assert not nights.lamp_lit.any()
    assert nights.lamp_burns.sum() == 15 * MINUTE
    assert verdicts(found)["feed"] is Verdict.FAIL


def test_what_must_be_inside_counts_the_lamps_light_in_the_day():
    made = plan(UTRECHT, "2027-01-10", "2027-01-20", HOUSE + LAMP)
    nights = nights_of(made)
    (line,) = (line for line in fit(HOUSE + LAMP).lines if line.requirement == "feed")
    (need,) = line.needs
    row = int(np.argmax(nights.waking))
    assert need.awake_min == round(float(nights.waking[row] / MINUTE))
    assert need.share == share_of_days(nights, row)
    assert need.least == pytest.approx(6 * 113.398 * need.share, rel=1e-4)
    # By sampling: the morning's light before opening over the whole light of that day.
    days = plan(UTRECHT, "2027-01-10", "2027-01-21", HOUSE + LAMP)
    after = row + 1
    instants = np.arange(
        days.day_start_utc[after], days.day_end_utc[after], np.timedelta64(10, "s")
    )
    civil = sun_position(UTRECHT.latitude, UTRECHT.longitude, instants).altitude_deg > -6.0
    up = sun_position(UTRECHT.latitude, UTRECHT.longitude, instants).altitude_deg > -0.8333
    sunset = instants[up][-1]
    lit = civil | ((instants >= sunset - 14 * HOUR) & ~civil & (instants < sunset))
    morning = lit & (instants < days.open_utc[after])
    evening_light = nights.due.told_close_utc[row] < days.sun.dusk[row]
    assert not evening_light
    assert need.share == pytest.approx(morning.sum() / lit.sum(), abs=0.005)


def test_in_the_polar_night_the_lamp_is_all_the_light_there_is():
    nights = nights_of(plan(LONGYEARBYEN, "2027-12-18", "2027-12-19", DARK + LAMP))
    shut = (nights.length - nights.dark)[0]
    assert share_of_days(nights, 0) == pytest.approx(float(shut / (14 * HOUR)), abs=0.01)
    found = fit(HOUSE + DARK + LAMP, "2027-12-18", "2027-12-19", LONGYEARBYEN)
    assert verdicts(found)["feed"] is Verdict.FAIL


CASES = {
    "no lamp": "",
    "a lamp": LAMP,
    "a lamp for the open door alone": (
        f'{LAMP}counts = "civil"\nwanted_h = 9.5\n[open]\nlight = 12.0\noffset_min = 0\n'
    ),
    "an evening lamp": '[laying]\nlamp = "evening"\n',
    "the least burn": (
        f'{LAMP}lamp_from = 2027-01-15\nweekly_step_min = 20\n[open]\nlight = "sunrise"\n'
    ),
    "a lamp and shut days": LAMP + ORDER,
    "a lamp on a timer's house": f'{LAMP}[door]\nworks = "timer"\n',
    "a lamp of the first morning": f"{LAMP}lamp_until = 2027-01-10\n",
    "a lamp that begins later": f"{LAMP}lamp_from = 2027-03-01\n",
    "a lamp that is never needed": f"{LAMP}wanted_h = 6.0\n",
}
"""What a house's file says besides; each is asked in January."""
BY_LAMP = {"a lamp", "an evening lamp", "the least burn", "a lamp and shut days"} | {
    "a lamp on a timer's house",
    "a lamp of the first morning",
}


@pytest.mark.parametrize("case", CASES)
def test_both_commands_agree_whether_feed_and_water_must_be_inside(case, daylatch, tmp_path):
    (tmp_path / "house.toml").write_text(
        f'id = "{ID}"\nname = "Invented house"\n[place]\nlatitude = 52.09\nlongitude = 5.12\n'
        f'zone = "Europe/Amsterdam"\n{HOUSE}[norms]\nawake_h = 12.0\n{CASES[case]}'
    )
    dates = ("house.toml", "--from", "2027-01-10", "--until", "2027-01-20")
    length = daylatch("daylength", *dates)
    fits = daylatch("fit", *dates)
    assert (length.status, fits.status) == (0, 0)
    wakes = " ".join(length.out.split())
    by_lamp = "Awake inside" in wakes and "feed and water must be inside" in wakes
    assert by_lamp == (case in BY_LAMP)
    found = " ".join(fits.out.split())
    assert ("Awake by lamp" in found) == by_lamp
    shut = "Shut all day" in found
    assert feed_arises(found) == (by_lamp or shut)
    if by_lamp:
        assert "no feed inside" in wakes
        assert "fail Feed inside" in found


def feed_arises(found):
    """Return whether the line of the feed is held against its norm."""
    head = "does not arise on these dates: "
    return not (head in found and "feed inside" in found.split(head)[1].split(":")[0])
