"""Two sets of rules side by side, and the settings that --with changes."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.compare import csv as comparison_csv
from daylatch.birds.compare import json as comparison_json
from daylatch.birds.compare import text as comparison_text
from daylatch.birds.compare.comparison import (
    compare_plans,
    open_after_dusk,
    open_before_dawn,
    open_in_the_dark,
    open_time,
)
from daylatch.errors import PlanError, SiteError, UsageError
from daylatch.site.reading.site_file import change_settings, read_site
from daylatch.sun.crossings import sun_position
from sites import APIA, ID, LORD_HOWE, TAMPERE, UTRECHT, plan

MINUTE = np.timedelta64(1, "m")
LATER = "[close]\noffset_min = 35\n"
SHUT = "[[span]]\nfrom = 2027-03-03\nuntil = 2027-03-04\nshut = true\n"
BASE = (
    f'id = "{ID}"\nname = "x"\n[place]\nlatitude = 52\nlongitude = 5\nzone = "Europe/Amsterdam"\n'
)


def compared(spot, first, last, one="", two=""):
    return compare_plans(plan(spot, first, last, one), plan(spot, first, last, two), "one", "two")


def test_twenty_minutes_more_in_the_evening():
    found = compared(UTRECHT, "2027-03-01", "2027-03-31", "", LATER)
    assert found.changed.all()
    assert (found.close_moved == 20 * MINUTE).all()
    assert (found.open_moved == 0 * MINUTE).all()
    assert (found.gained == 20 * MINUTE).all()
    dark = open_in_the_dark(found.second_nights) - open_in_the_dark(found.first_nights)
    # All of it lies after civil dusk.
    assert (dark == 20 * MINUTE).all()
    assert open_after_dusk(found.second_nights).all()
    assert not open_before_dawn(found.second_nights).any()


def test_a_day_that_only_one_opens_is_changed_and_has_no_movement():
    found = compared(UTRECHT, "2027-03-01", "2027-03-06", "", SHUT)
    assert found.changed.tolist() == [False, False, True, True, False, False]
    assert np.isnat(found.open_moved[2])
    assert np.isnat(found.close_moved[3])
    assert (found.gained[2:4] == -open_time(found.first)[2:4]).all()
    both = compared(UTRECHT, "2027-03-03", "2027-03-04", SHUT, SHUT)
    assert not both.changed.any()
    assert (both.gained == 0 * MINUTE).all()


def test_movements_are_compared_on_the_wall_clock():
    # Half an hour of clock change lies between the two midnights; both plans share it.
    found = compared(LORD_HOWE, "2027-04-03", "2027-04-05", "", LATER)
    assert (found.close_moved == 20 * MINUTE).all()


def test_open_in_the_dark_agrees_with_the_sun():
    text = '[open]\nlight = "nautical"\noffset_min = 0\n[close]\noffset_min = 40\n'
    found = compared(UTRECHT, "2027-09-01", "2027-09-03", "", text)
    plan_ = found.second
    step = np.timedelta64(15, "s")
    for row in range(3):
        instants = np.arange(plan_.open_utc[row], plan_.close_utc[row], step)
        altitude = sun_position(UTRECHT.latitude, UTRECHT.longitude, instants).altitude_deg
        sampled = (altitude < -6.0).sum() * step
        assert abs(open_in_the_dark(found.second_nights)[row] - sampled) <= 2 * step
    assert open_before_dawn(found.second_nights).all()


def test_where_it_stays_light_no_movement_is_in_the_dark():
    text = '[open]\nfallback = "05:00"\n[close]\nfallback = "23:00"\n'
    found = compared(TAMPERE, "2027-06-20", "2027-06-22", text, text)
    assert not open_after_dusk(found.first_nights).any()
    assert (open_in_the_dark(found.first_nights) == np.timedelta64(0)).all()


def test_two_sites_need_the_same_dates():
    with pytest.raises(PlanError, match="do not have the same dates"):
        compare_plans(
            plan(APIA, "2011-12-28", "2012-01-02"),
            plan(UTRECHT, "2011-12-28", "2012-01-02"),
            "one",
            "two",
        )


@settings(max_examples=25, deadline=None)
@given(st.integers(-60, 60), st.integers(-60, 60), st.sampled_from(["", SHUT]))
def test_what_one_gains_the_other_loses(one, two, span):
    texts = [f"[close]\noffset_min = {offset}\n{span}" for offset in (one, two)]
    there = compared(UTRECHT, "2027-02-25", "2027-03-10", *texts)
    back = compared(UTRECHT, "2027-02-25", "2027-03-10", *reversed(texts))
    assert (there.gained == -back.gained).all()
    assert (there.changed == back.changed).all()
    assert (there.changed == ((one != two) & there.first.is_open)).all()


def test_the_csv_and_json_read_back_to_both_plans():
    found = compared(UTRECHT, "2027-03-01", "2027-03-10", "", LATER + SHUT)
    rows = list(csv.DictReader(io.StringIO(comparison_csv.render(found).decode(), newline="")))
    days = json.loads(comparison_json.render(found))["days"]
    assert len(rows) == len(days) == 10
    for index, (row, day) in enumerate(zip(rows, days, strict=True)):
        for name, one in (("first", found.first), ("second", found.second)):
            for key, times in (("open", one.open_utc), ("close", one.close_utc)):
                text = row[f"{name}_{key}_local"]
                assert day[name][key] == (text or None)
                if np.isnat(times[index]):
                    assert text == ""
                else:
                    local, _, sign_hours = text.partition("+")
                    hours = np.timedelta64(int(sign_hours[:2]), "h")
                    assert np.datetime64(local, "m") - hours == times[index]
        assert int(row["gained_min"]) == day["gained_min"] == found.gained[index] // MINUTE
        assert (row["changed"] == "yes") == day["changed"] == found.changed[index]
    for module in (comparison_csv, comparison_json, comparison_text):
        assert module.wrote(module.render(found))
        assert not module.wrote(b"something else")


def test_the_names_come_through_as_they_are():
    found = compare_plans(
        plan(UTRECHT, "2027-03-01"), plan(UTRECHT, "2027-03-01"), "=1+1", '[bold]"x", <b>'
    )
    row = next(csv.DictReader(io.StringIO(comparison_csv.render(found).decode(), newline="")))
    assert row["first_rules"] == "'=1+1"
    assert row["second_rules"] == '[bold]"x", <b>'
    assert json.loads(comparison_json.render(found))["second"]["rules"] == '[bold]"x", <b>'
    assert '[bold]"x", <b>' in comparison_text.render(found).decode()


@pytest.mark.parametrize(
    ("change", "key", "value"),
    [
        ("close.offset_min=35", ("close", "offset_min"), 35),
        ("open.not_before=07:00", ("open", "not_before"), "07:00"),
        ('open.not_before = "07:00"', ("open", "not_before"), "07:00"),
        ("open.light=nautical", ("open", "light"), "nautical"),
        ("open.light=7.5", ("open", "light"), 7.5),
        ("open.not_before=none", ("open", "not_before"), "none"),
        ("head_count.second_pass=true", ("head_count", "second_pass"), True),
    ],
)
def test_a_change_takes_toml_or_bare_text(change, key, value):
    data = {"close": {"offset_min": 15}}
    change_settings(data, [change])
    assert data[key[0]][key[1]] == value
    assert type(data[key[0]][key[1]]) is type(value)
    read_site(BASE, "site.toml", [change])


def test_a_change_reaches_into_a_span_counted_from_one():
    site = read_site(BASE + SHUT, "site.toml", ["span.1.shut=false", "span.1.close.offset_min=5"])
    assert site.settings.spans[0].shut is False
    assert site.settings.spans[0].close.offset_min == 5


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("close.offset_min", "write KEY=VALUE"),
        ("=3", "write KEY=VALUE"),
        ("close..x=3", "write KEY=VALUE"),
        ("span.2.shut=true", "the file has 1 of span"),
        ("span.0.shut=true", "the file has 1 of span"),
        ("span.x.shut=true", "the file has 1 of span"),
        ("span.1=true", "add a key of it"),
        ("name.first=3", "name is not a table"),
    ],
)
def test_a_change_that_cannot_be_made_is_named(change, words):
    with pytest.raises(UsageError, match=words):
        read_site(BASE + SHUT, "site.toml", [change])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("close.offset_mim=35", "did you mean offset_min"),
        ("close.offset_min=soon", "write a whole number"),
        ("colour=red", "is not a key here"),
        ("span=1", "is a list of tables"),
        ("place.zone=Europe/Lond", "no such zone"),
    ],
)
def test_a_bad_value_is_blamed_on_the_change_and_not_on_a_line(change, words):
    with pytest.raises(SiteError, match=words) as caught:
        read_site(BASE + SHUT, "site.toml", [change])
    assert f"site.toml with {change}: " in str(caught.value)
    assert ", line" not in str(caught.value)


def test_the_command_answers_what_twenty_minutes_cost(daylatch, alder_row):
    ran = daylatch("compare", "--with", "close.offset_min=35", "--year", "2027")
    assert ran.status == 0
    assert ran.err == ""
    assert "Closing            10 min to 20 min later on 330 days" in ran.out
    assert "Open in the dark   first 104.6 h, second 209.5 h: +104.9 h" in ran.out
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    same = daylatch("compare", "--with", "close.offset_min=15", "--year", "2027")
    assert "No day differs." in same.out


def test_the_command_compares_two_files(daylatch, alder_row):
    other = alder_row.with_name("other.toml")
    other.write_text(alder_row.read_text().replace('"06:30"', '"08:00"'))
    ran = daylatch(
        "compare", "site.toml", "other.toml", "--from", "2027-06-01", "--until", "2027-06-02"
    )
    assert ran.status == 0
    assert "1 h 30 min later on 2 days" in ran.out
    assert "2027-06-01  06:30 22:08    08:00 22:08        +90       +0" in ran.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "say what to compare with"),
        (("site.toml", "other.toml", "--with", "close.offset_min=3"), "not both"),
        (("--with", "close.offset_mim=3"), "did you mean offset_min"),
        (("--with", "close.offset_min=3", "--to", "ics"), "write one of text, csv, json"),
        (("site.toml", "missing.toml"), "cannot be read"),
    ],
)
def test_the_command_refuses_with_one_message(daylatch, alder_row, arguments, words):
    ran = daylatch("compare", *arguments)
    assert ran.status in (2, 3)
    assert words in ran.err
    assert ran.out == ""


@pytest.mark.parametrize("command", ["compare", "draw"])
def test_neither_site_file_is_ever_overwritten(daylatch, alder_row, command):
    """Not even when the keeper insists: a slip in -o must not cost a site file."""
    picture = ("--picture", "compare") if command == "draw" else ()
    for name in ("other.txt", "other.svg", "other.csv"):
        other = alder_row.with_name(name)
        other.write_text(alder_row.read_text())
        if (command == "draw") != name.endswith(".svg"):
            continue
        ran = daylatch(command, "site.toml", name, *picture, "-o", f"./{name}", "--force")
        assert ran.status == 6
        assert "is the site file itself" in ran.err
        assert other.read_text() == alder_row.read_text()


def test_a_very_long_change_is_shown_in_short(daylatch, alder_row):
    for change in ("a" * 5000, "close.offset_min=" + "9" * 5000, "a" * 5000 + "=1"):
        ran = daylatch("compare", "--with", change)
        assert ran.status in (2, 3)
        assert len(ran.err) < 500


def test_a_span_that_is_not_there_is_said_so():
    with pytest.raises(UsageError, match="the file has 0 of span"):
        read_site(BASE, "site.toml", ["span.1.shut=false"])
    with pytest.raises(UsageError, match="add a key of it"):
        read_site(BASE + SHUT, "site.toml", ["span.1=3"])
    with pytest.raises(UsageError, match="the file has 1 of span"):
        read_site(BASE + SHUT, "site.toml", [f"span.{'9' * 5000}.shut=true"])
