"""What a networked door is told, held against what `daylatch today` says at the same instants."""

from __future__ import annotations

import datetime as dt
import json
import random
import re
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from daylatch.cautions import CAUTION
from daylatch.clock import get_zone
from daylatch.door.table.encode import encode
from daylatch.door.works.due import make_due
from daylatch.errors import PlanError, SecondOpinionError, SiteError
from daylatch.home.times.answer import CHECK_LENGTH, DAYS_AHEAD, answer_at, sealed
from daylatch.plan.moment import days_around, moment_at
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from random_sites import random_text
from sites import APIA, FALLBACKS, LONGYEARBYEN, LORD_HOWE, SINGAPORE, TAMPERE, UTRECHT, Spot, site

SYDNEY = Spot(-33.87, 151.21, "Australia/Sydney")
ST_JOHNS = Spot(47.56, -52.71, "America/St_Johns")
TIMER = '[door]\nworks = "timer"\n'
HAND = '[door]\nworks = "hand"\n'
WIDE = "[door]\nwithin_min = 5\n"
SHUT = "[[span]]\nfrom = 2027-02-01\nuntil = 2027-03-20\nshut = true\n"
DARK = FALLBACKS + "[[span]]\nfrom = 2027-10-20\nuntil = 2027-10-21\nshut = true\n"
PAGE = Path(__file__).resolve().parents[3] / "docs/reference/networked-door.md"
SECOND = np.timedelta64(1, "s")


def at(text):
    return np.datetime64(text, "s")


def read(content):
    """Return the members, after the check by the rule as the page for doors has it."""
    assert content.isascii()
    assert b" " not in content.partition(b'"caution"')[0]
    body, last = content[:-CHECK_LENGTH], content[-CHECK_LENGTH:]
    assert last == b',"check":"%04x"}' % crc_by_bits(body)
    return json.loads(content)


def state_at(told, now):
    """Return what the door should be, as a board finds that."""
    unix = int(now.astype(np.int64))
    assert told["holds_from_unix"] <= unix < told["holds_until_unix"]
    past = [move["to"] for move in told["movements"] if move["unix"] <= unix]
    return past[-1] if past else told["state"]


def expect_as_today(answer, here, now, due_of=make_due):
    told, moment = read(answer.content), moment_at(due_of(days_around(here, now)), now)
    assert state_at(told, now) == moment.state
    coming = [move for move in told["movements"] if move["unix"] > int(now.astype(np.int64))]
    following = moment.next_movement_utc
    if coming:
        assert at(coming[0]["utc"][:-1]) == following
        assert coming[0]["to"] != moment.state
        if moment.due.up_to_min is None:
            assert coming[0]["known"] == moment.next_is_known
    else:
        assert following is None or following >= at(told["holds_until_utc"][:-1])
    return told


def test_every_member_as_the_page_shows_it():
    answer = answer_at(site(UTRECHT), at("2026-11-26T12:00"), make_due)
    told = read(answer.content)
    assert list(told) == [
        *("daylatch_times", "house", "zone", "zone_rules", "state"),
        *("holds_from_utc", "holds_from_unix", "holds_until_utc", "holds_until_unix"),
        *("movements", "caution", "check"),
    ]
    assert (told["daylatch_times"], told["zone"], told["state"]) == (1, "Europe/Amsterdam", "open")
    assert told["house"] == site(UTRECHT).id
    assert told["caution"] == CAUTION
    assert told["movements"][:2] == [
        {
            "utc": "2026-11-26T06:54:00Z",
            "unix": 1795676040,
            "wall": "2026-11-26T07:54:00+01:00",
            "to": "open",
            "known": True,
        },
        {
            "utc": "2026-11-26T16:30:00Z",
            "unix": 1795710600,
            "wall": "2026-11-26T17:30:00+01:00",
            "to": "shut",
            "known": True,
        },
    ]
    assert told["holds_from_utc"] == told["movements"][0]["utc"]
    # The closing of the 28th flock day after this one is told, and the answer holds to its end.
    assert told["movements"][-1]["utc"].startswith("2026-12-24T")
    assert told["holds_until_utc"].startswith("2026-12-24T23:")
    assert len(told["movements"]) == 2 * (DAYS_AHEAD + 1)
    assert len(answer.content) < 8192


def crc_by_bits(content):
    """Return the check, bit by bit as the page has it, and not by the program's own library."""
    check = 0xFFFF
    for byte in content:
        check ^= byte << 8
        for _ in range(8):
            check = (check << 1 ^ 0x1021 if check & 0x8000 else check << 1) & 0xFFFF
    return check


def test_an_example_of_the_check():
    assert crc_by_bits(b"123456789") == 0x29B1
    assert crc_by_bits(b'{"state":"shut","movements":[]') == 0x8283
    # As the page for doors has it.
    assert sealed({"state": "shut", "movements": []}) == (
        b'{"state":"shut","movements":[],"check":"8283"}'
    )


def test_the_page_for_doors_shows_what_is_told():
    page = PAGE.read_text()
    content = answer_at(site(UTRECHT), at("2026-11-26T12:00"), make_due).content
    (shown,) = re.findall(r"```text\n(\{\"daylatch_times.*?)```", page, re.S)
    shown = re.sub(r"\n *", "", shown)
    # To behind the second movement, letter by letter; the versions of zone rules aside.
    begin = shown[: shown.index("}],")]
    version = re.compile(r'"zone_rules":"\w+"')
    told = content.decode()
    assert version.sub("", told).startswith(version.sub("", begin))
    members = json.loads(told)
    for name in (*members, *members["movements"][0]):
        assert f"`{name}`" in page, name
    (example,) = re.findall(r"```text\n(\{\"state.*?\})\n```", page, re.S)
    assert example.encode() == sealed({"state": "shut", "movements": []})


@pytest.mark.parametrize(
    ("spot", "settings", "first", "last"),
    [
        pytest.param(UTRECHT, "", "2027-03-25T00:00", "2027-03-31T00:00", id="spring change"),
        pytest.param(UTRECHT, "", "2027-10-28T00:00", "2027-11-03T00:00", id="autumn change"),
        pytest.param(SYDNEY, "", "2027-04-02T00:00", "2027-04-06T00:00", id="southern change"),
        pytest.param(LORD_HOWE, "", "2027-04-02T00:00", "2027-04-06T00:00", id="half an hour"),
        pytest.param(ST_JOHNS, "", "2027-03-12T00:00", "2027-03-16T00:00", id="half-hour zone"),
        pytest.param(SINGAPORE, "", "2027-06-01T00:00", "2027-06-04T00:00", id="no changes"),
        pytest.param(APIA, "", "2027-06-01T00:00", "2027-06-04T00:00", id="other side"),
        pytest.param(TAMPERE, FALLBACKS, "2027-06-18T00:00", "2027-06-24T00:00", id="white nights"),
        pytest.param(
            LONGYEARBYEN, FALLBACKS, "2027-06-18T00:00", "2027-06-22T00:00", id="no night"
        ),
        pytest.param(LONGYEARBYEN, DARK, "2027-10-18T00:00", "2027-10-23T00:00", id="last light"),
        pytest.param(LONGYEARBYEN, DARK, "2027-11-08T00:00", "2027-11-14T00:00", id="polar night"),
        pytest.param(UTRECHT, TIMER, "2027-03-25T00:00", "2027-03-31T00:00", id="timer"),
        pytest.param(UTRECHT, HAND, "2027-03-25T00:00", "2027-03-31T00:00", id="by hand"),
        pytest.param(UTRECHT, WIDE, "2027-03-25T00:00", "2027-03-31T00:00", id="wide table"),
        pytest.param(UTRECHT, SHUT, "2027-01-29T00:00", "2027-02-06T00:00", id="shut"),
    ],
)
def test_as_today_has_it_and_the_same_bytes_while_it_says_so(spot, settings, first, last):
    here, end, now = site(spot, settings), at(last), at(first)
    answer, count = None, 0
    step = np.timedelta64(37, "m")
    while now < end:
        found = answer_at(here, now, make_due)
        expect_as_today(found, here, now)
        if answer is not None and answer.is_for(now):
            assert found == answer
        elif answer is not None:
            # What was kept ended exactly when it had to: a second before, it was still so.
            assert found.since_utc >= answer.until_utc or step > found.until_utc - found.since_utc
            assert answer_at(here, answer.until_utc - SECOND, make_due) == answer
            assert answer_at(here, answer.until_utc, make_due) != answer
            count += 1
        answer, now = found, now + step
    assert count >= 3


def test_random_sites_are_told_what_today_says():
    rng = random.Random(20261126)
    told, refused = 0, 0
    for number in range(60):
        try:
            here = read_site(random_text(rng, number), "random.toml")
        except SiteError:
            continue
        for _ in range(4):
            now = at("2026-12-20") + np.timedelta64(rng.randrange(380 * 86400), "s")
            try:
                expected = days_around(here, now)
            except (PlanError, SecondOpinionError) as error:
                with pytest.raises(type(error)):
                    answer_at(here, now, make_due)
                refused += 1
                continue
            assert expected
            answer = answer_at(here, now, make_due)
            expect_as_today(answer, here, now)
            assert answer.is_for(now)
            for other in (answer.since_utc, answer.until_utc - SECOND):
                assert answer_at(here, other, make_due) == answer
            told += 1
    assert told > 100
    assert refused > 5


def test_every_movement_until_the_end_is_told():
    """At any instant until then the list says what today will say."""
    for spot, settings in ((UTRECHT, ""), (TAMPERE, FALLBACKS), (UTRECHT, SHUT)):
        here = site(spot, settings)
        answer = answer_at(here, at("2027-01-27T12:00"), make_due)
        told = read(answer.content)
        now, until = at("2027-01-27T12:00"), at(told["holds_until_utc"][:-1])
        assert until - now > np.timedelta64(28, "D")
        while now < until:
            assert state_at(told, now) == moment_at(make_due(days_around(here, now)), now).state
            now += np.timedelta64(11 * 60 + 7, "m")


def test_a_door_that_stays_shut_for_weeks():
    here = site(UTRECHT, SHUT)
    answer = answer_at(here, at("2027-02-10T12:00"), make_due)
    told = read(answer.content)
    assert (told["state"], told["movements"]) == ("shut", [])
    assert told["holds_from_utc"].startswith("2027-02-09T23:5")
    assert told["holds_until_utc"].startswith("2027-03-09T")
    # The first opening comes into reach.
    later = read(answer_at(here, at("2027-02-23T12:00"), make_due).content)
    assert later["state"] == "shut"
    assert [move["to"] for move in later["movements"]] == ["open", "shut"] * 2
    assert later["movements"][0]["utc"].startswith("2027-03-21T05:")


def test_a_day_far_ahead_without_a_plan_keeps_none_of_the_nearer_ones_back():
    # Without fallbacks there is no plan of the white nights.
    here = site(TAMPERE)
    with pytest.raises(PlanError):
        make_plan(here, dt.date(2027, 5, 1), dt.date(2027, 6, 10))
    ends = set()
    for day in range(12, 22):
        told = read(answer_at(here, at(f"2027-05-{day:02d}T12:00"), make_due).content)
        assert told["state"] == "open"
        ends.add(told["holds_until_utc"])
    (end,) = ends
    last = dt.date.fromisoformat(end[:10])
    make_plan(here, dt.date(2027, 5, 1), last)
    with pytest.raises(PlanError):
        make_plan(here, dt.date(2027, 5, 1), last + dt.timedelta(days=2))
    with pytest.raises(PlanError):
        answer_at(here, at(end[:-1]), make_due)


def test_where_the_zone_rules_end_the_answer_does():
    here = site(UTRECHT)
    told = read(answer_at(here, at("2037-12-20T12:00"), make_due).content)
    assert told["holds_until_utc"].startswith("2037-12-30T")
    with pytest.raises(PlanError):
        answer_at(here, at("2037-12-31T12:00"), make_due)
    told = read(answer_at(site(SINGAPORE), at("2037-12-20T12:00"), make_due).content)
    assert told["holds_until_utc"].startswith("2038-01-17T")


@pytest.mark.parametrize("offset", [0, 25])
def test_the_file_that_is_in_the_door_decides_and_what_it_does_not_cover_is_not_known(offset):
    here = site(UTRECHT, f'[door]\nin_use = "door.bin"\n[close]\noffset_min = {offset}\n')
    old = make_plan(site(UTRECHT), dt.date(2026, 11, 1), dt.date(2026, 12, 5))
    due_of = partial(make_due, in_use=encode(old))
    told = read(answer_at(here, at("2026-11-26T12:00"), due_of).content)
    assert told["movements"][1]["utc"] == "2026-11-26T16:30:00Z"
    known = {move["utc"][:10]: move["known"] for move in told["movements"]}
    assert {date for date, value in known.items() if value} == {
        str(date) for date in old.dates if str(date) >= "2026-11-26"
    }
    assert set(known.values()) == {True, False}
    for hour in range(0, 15 * 24, 7):
        now = at("2026-11-26T12:00") + np.timedelta64(hour, "h")
        expect_as_today(answer_at(here, now, due_of), here, now, due_of)


def test_what_no_plan_would_say_is_told_as_today_has_it():
    """A file may shut the door after its next opening: then it is open throughout."""
    here = site(UTRECHT, '[door]\nin_use = "door.bin"\n')
    # On the table's wall clock the closing lies behind the opening of the day after.
    late = site(
        UTRECHT, '[close]\noffset_min = 700\n[open]\noffset_min = -200\n[door]\nin_use = "x.bin"\n'
    )
    plan = make_plan(late, dt.date(2026, 11, 1), dt.date(2027, 1, 31))
    due_of = partial(make_due, in_use=encode(plan))
    for hour in range(0, 96, 5):
        now = at("2026-12-01T00:00") + np.timedelta64(hour, "h")
        found = answer_at(here, now, due_of)
        moment = moment_at(due_of(days_around(here, now)), now)
        assert state_at(read(found.content), now) == moment.state


def test_times_go_by_the_zone_of_the_house():
    told = read(answer_at(site(ST_JOHNS), at("2027-03-12T12:00"), make_due).content)
    walls = {move["wall"][-6:] for move in told["movements"]}
    assert walls == {"-03:30", "-02:30"}
    for move in told["movements"]:
        instant = dt.datetime.fromisoformat(move["utc"])
        assert instant == dt.datetime.fromisoformat(move["wall"])
        assert instant.timestamp() == move["unix"]
        offset = get_zone("America/St_Johns").offset_at(np.array([at(move["utc"][:-1])]))[0]
        assert dt.datetime.fromisoformat(move["wall"]).utcoffset() == offset.item()
