"""From rows to sites: cells, a file for all, and what `daylatch new` would have written."""

import contextlib
import datetime as dt
import io
from unittest.mock import patch

import numpy as np
import pytest

import daylatch.commands.begin.new as new_command
from daylatch.clock import zone_at
from daylatch.many.houses import HouseMaker, HouseRow
from daylatch.many.roster import house_id
from daylatch.site.reading.site_file import load_site

FIRST = dt.date(2027, 1, 1)


def rows(*places, settings=()):
    return [
        HouseRow(f"house {number}", latitude, longitude, zone_at(latitude, longitude), settings)
        for number, (latitude, longitude) in enumerate(places)
    ]


def made(like, keys, *places, settings=()):
    sites, refused = HouseMaker(like, keys, FIRST).sites(rows(*places, settings=settings))
    assert refused == []
    return [site for _, site in sorted(sites, key=lambda pair: pair[0])]


def refusals(like, keys, settings, place=(52.0, 5.0)):
    sites, refused = HouseMaker(like, keys, FIRST).sites(rows(place, settings=settings))
    assert sites == []
    return refused[0].reasons


def test_a_house_has_its_place_its_id_and_a_name():
    (site,) = made({}, (), (52.0, 5.0))
    assert (site.latitude_deg, site.longitude_deg, site.zone) == (52.0, 5.0, "Europe/Amsterdam")
    assert site.id == house_id("house 0")
    assert site.name == "house 0"


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        (1.3, 103.8),
        (-36.8, 174.8),
        (40.7, -74.0),
        (51.5, -0.1),
        (53.3, -6.3),
        (-54.8, -68.3),
        (59.9, 10.7),
        (61.2, -149.9),
        (64.1, -21.9),
        (69.65, 18.96),
        (78.2, 15.6),
        (-67.6, 62.9),
    ],
)
def test_what_nobody_says_is_as_new_would_write_it(tmp_path, latitude, longitude):
    answers = new_command.Answers(
        "house 0", f"{latitude!r}", f"{longitude!r}", None, None, None, None
    )
    file = tmp_path / "site.toml"
    clock = np.datetime64(f"{FIRST}T12:00:00", "s")
    with (
        patch.object(new_command, "now_utc", lambda: clock),
        contextlib.redirect_stdout(io.StringIO()),
    ):
        new_command.run([file], answers, like=None, everything=False, force=False)
    theirs = load_site(file).settings
    (site,) = made({}, (), (latitude, longitude))
    for table in ("open", "close", "day", "night", "head_count", "writing", "norms"):
        assert getattr(site.settings, table) == getattr(theirs, table), table


def test_neighbours_share_their_tables_of_settings():
    here = [(69.0 + step / 100, 19.0) for step in range(5)]
    sites = made({}, (), *here)
    assert len({id(site.settings.night) for site in sites}) == 1
    assert len({id(site.settings.close) for site in sites}) == 1
    assert sites[0].settings.close.not_after is not None


def test_a_cell_wins_over_the_file_for_all_and_an_empty_one_says_nothing():
    like = {"close": {"offset_min": 20, "light": "nautical"}, "open": {"offset_min": 5}}
    keys = ("close.offset_min", "open.offset_min")
    (site,) = made(like, keys, (52.0, 5.0), settings=("35", ""))
    assert site.settings.close.offset_min == 35
    assert site.settings.close.light == "nautical"
    assert site.settings.open.offset_min == 5


@pytest.mark.parametrize(
    ("key", "cell", "value"),
    [
        ("close.offset_min", "25", 25),
        ("close.offset_min", 25, 25),
        ("close.offset_min", 25.0, 25),
        ("close.light", "nautical", "nautical"),
        ("close.light", "4.5", 4.5),
        ("close.light", 4.5, 4.5),
        ("close.not_after", "21:30", "21:30"),
        ("close.not_after", dt.time(21, 30), "21:30"),
        ("head_count.second_pass", "true", True),
        ("head_count.second_pass", True, True),
        ("card.call", "0612 345 678", "0612 345 678"),
        ("card.call", "0612345678", "0612345678"),
        ("card.call", '["x"]', '["x"]'),
        ("writing.clock", "12h", "12h"),
        ("night.least_h", "8", 8.0),
        ("day.widen", "open earlier", "open earlier"),
    ],
)
def test_cells_are_read_as_their_key_asks(key, cell, value):
    (site,) = made({}, (key,), (40.0, 5.0), settings=(cell,))
    table, _, name = key.partition(".")
    found = getattr(getattr(site.settings, table), name)
    assert getattr(found, "value", found) == value or str(found) == value


def test_names_and_notes_are_columns_too():
    keys = ("name", "notes")
    (site,) = made({}, keys, (52.0, 5.0), settings=("007", "= 3 hens"))
    assert (site.name, site.settings.head.notes) == ("007", "= 3 hens")
    (site,) = made({"name": "Ours", "notes": "all"}, keys, (52.0, 5.0), settings=("", ""))
    assert (site.name, site.settings.head.notes) == ("house 0", "all")


def test_each_cell_is_read_by_itself():
    keys = ("name", "close.offset_min", "card.call", "close.light", "card.by_hand")
    cells = ("12", "25.0", "5551234", "4.5", "'pull' \"up\" \\u0041")
    (site,) = made({}, keys, (52.0, 5.0), settings=cells)
    assert site.name == "12"
    assert site.settings.close.offset_min == 25
    assert site.settings.card.call == "5551234"
    assert site.settings.close.light == 4.5
    assert site.settings.card.by_hand == "'pull' \"up\" \\u0041"


def test_seconds_of_a_time_are_refused_in_any_form():
    for cell in ("06:30:15", dt.time(6, 30, 15)):
        (reason,) = refusals({}, ("open.not_before",), (cell,))
        assert reason.startswith("open.not_before = ")
    (site,) = made({}, ("open.not_before",), (52.0, 5.0), settings=(dt.time(6, 30),))
    assert str(site.settings.open.not_before) == "06:30"


def test_true_is_no_number_whatever_came_before():
    maker = HouseMaker({}, ("close.offset_min",), FIRST)
    here = [rows((52.0, 5.0), settings=(cell,))[0] for cell in (1, True, 1.0)]
    sites, refused = maker.sites(here)
    assert sorted(number for number, _ in sites) == [0, 2]
    assert [one.row for one in refused] == [1]


def test_all_that_is_wrong_with_cells_is_told():
    keys = ("close.offset_min", "open.light", "open.not_before")
    reasons = refusals({}, keys, ("9999", "dusk", "6.3"))
    assert sorted(reason.split(" = ")[0] for reason in reasons) == sorted(keys)
    assert any("at most 720" in reason for reason in reasons)


def test_limits_are_held_against_each_other_at_each_place():
    keys = ("open.not_before", "open.not_after")
    assert "lies after open.not_after" in refusals({}, keys, ("09:00", "06:00"))[0]


def test_a_limit_that_new_would_write_is_held_against_one_that_is_given():
    reasons = refusals({}, ("close.not_before",), ("23:30",), (69.65, 18.96))
    assert "lies after close.not_after" in reasons[0]


def test_what_is_given_is_not_written_over():
    like = {"close": {"fallback": "21:00"}, "open": {"not_before": "none"}}
    (site,) = made(like, (), (69.65, 18.96))
    assert str(site.settings.close.fallback) == "21:00"
    assert str(site.settings.close.not_after) == "22:30"
    assert site.settings.open.not_before is None
    assert str(site.settings.open.fallback) == "05:30"


def test_the_file_in_one_houses_door_is_no_other_houses():
    (site,) = made({"door": {"in_use": "door.bin", "works": "controller"}}, (), (52.0, 5.0))
    assert site.settings.door.in_use is None


def test_a_place_whose_noon_is_far_from_noon_is_left_to_the_plan():
    row = HouseRow("pole", -89.0, 0.0, "Antarctica/McMurdo", ())
    sites, refused = HouseMaker({}, (), FIRST).sites([row])
    assert (len(sites), refused) == (1, [])
