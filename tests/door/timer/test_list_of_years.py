"""The list for any dates is that of the calendar years: planning in pieces equals the whole."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.door.timer import json as timer_json
from daylatch.door.timer import text as timer_text
from daylatch.door.timer.list_of_years import list_of_years
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.door.timer.words import WORKS_LINE
from daylatch.door.works.timer import find_due
from daylatch.door.works.years import whole_years
from daylatch.errors import PlanError
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from daylatch.site.timer import WEEKDAYS
from sites import UTRECHT, plan, site

FIRST, LAST = dt.date(2026, 11, 1), dt.date(2028, 3, 31)
SHUT = "[[span]]\nfrom = 2026-12-24\nuntil = 2027-01-05\nshut = true\n"
HOUSES = [
    site(UTRECHT, '[door]\nworks = "timer"\n[timer]\ntolerance_min = 30\n'),
    site(UTRECHT, f'{SHUT}[timer]\nchanges = 30\nby_weekday = ["sunday"]\n'),
    site(
        UTRECHT,
        '[door]\nclock = "standard"\n[timer]\nprograms = 8\nholds_dates = true\nstep_min = 5\n',
    ),
]


def shown(house, first, last):
    asked = make_plan(house, first, last, with_second_opinion=False)
    return list_of_years(asked, house.settings.timer, whole_years(asked))


@pytest.fixture(scope="module")
def wholes():
    return [shown(house, FIRST, LAST) for house in HOUSES]


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(range(len(HOUSES))), st.data())
def test_any_dates_have_the_settings_of_the_whole(wholes, number, data):
    days = (LAST - FIRST).days
    first, length = data.draw(st.integers(0, days)), data.draw(st.integers(0, 70))
    begin = FIRST + dt.timedelta(days=first)
    end = min(LAST, begin + dt.timedelta(days=length))
    whole, part = wholes[number], shown(HOUSES[number], begin, end)
    due = find_due(part.plan)
    inside = np.isin(whole.plan.dates, part.plan.dates)
    for side, column in enumerate((due.open_utc, due.close_utc)):
        assert np.array_equal(part.moved_utc[side], whole.moved_utc[side][inside], equal_nan=True)
        assert np.array_equal(part.moved_utc[side], column, equal_nan=True)
    rows = {setting.first: setting for setting in whole.settings}
    for setting in part.settings:
        same = rows[setting.first]
        assert (setting.last, setting.put_in) == (same.last, same.put_in)
        for one, other in zip(setting.programs, same.programs, strict=True):
            assert one._replace(changes=()) == other._replace(changes=())
    assert part.settings[0].first <= begin
    assert part.settings[-1].last >= end


@pytest.mark.parametrize("number", range(len(HOUSES)))
def test_every_printed_time_is_what_is_due(wholes, number):
    """By a timer that knows only the file, and the time zone of the standard library."""
    whole = wholes[number]
    data = json.loads(timer_json.render(whole, Occasion(dt.datetime(2027, 1, 1, tzinfo=dt.UTC))))
    due = find_due(whole.plan)
    zone = whole.plan.zone
    for index, date in enumerate(whole.plan.dates.tolist()):
        row = [one for one in data["settings"] if one["from"] <= str(date) <= one["until"]]
        (one,) = row
        assert (one["timer"] == "on") == bool(whole.plan.is_open[index])
        if one["timer"] == "off":
            continue
        weekday = WEEKDAYS[date.weekday()]
        (program,) = (each for each in one["programs"] if weekday in each["weekdays"])
        for name, column in (("open", due.open_utc), ("close", due.close_utc)):
            day = np.datetime64(date) + program[f"{name}_day"]
            moment = np.datetime64(f"{day}T{program[name]}")
            on_door = whole.plan.on_door(due.open_utc).offset[index]
            offset = zone.offset_at(column[index : index + 1])[0]
            if data["timer"]["clock"] == "standard":
                offset = on_door
            assert moment - offset == column[index]


def test_one_whole_year_is_its_own_list():
    year = plan(UTRECHT, "2027-01-01", "2027-12-31", "[timer]\ntolerance_min = 30\n")
    timer = year.site.settings.timer
    own, found = make_timer_list(year, timer), list_of_years(year, timer, whole_years(year))
    assert found.settings == own.settings
    for name in ("counts", "comes_round", "worst_min", "monthly_count", "guard_cost"):
        assert getattr(found, name) == getattr(own, name)


def test_what_stays_at_the_turn_of_a_year_is_marked(wholes):
    turn = next(one for one in wholes[0].settings if one.first == dt.date(2028, 1, 1))
    before = wholes[0].settings[wholes[0].settings.index(turn) - 1]
    (held,), (program,) = before.programs, turn.programs
    assert program.changes == tuple(
        old != new for old, new in zip(held.minutes, program.minutes, strict=True)
    )


def test_too_many_years_are_refused_before_any_is_listed():
    def years():
        raise AssertionError
        yield

    long = plan(UTRECHT, "2027-01-01", "2037-12-31", "[timer]\ntolerance_min = 30\n")
    with pytest.raises(PlanError, match="at most ten years"):
        list_of_years(long, long.site.settings.timer, years())


def test_a_part_of_a_year_says_which_years_it_is_of_and_since_when_its_first_row_holds(wholes):
    part = shown(HOUSES[0], dt.date(2027, 3, 20), dt.date(2027, 6, 1))
    text = " ".join(timer_text.render(part, Occasion(None)).decode().split())
    (year,) = part.years
    assert f"lists are counted by calendar years: {year.counts[0]} in 2027" in text
    assert f"it holds since {part.settings[0].first:%a %Y-%m-%d}, before the first" in text
    assert part.counts == (len(part.settings),)


HOUSE = """\
id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
name = "Willow End"
[place]
latitude = 52.09
longitude = 5.12
zone = "Europe/Amsterdam"
"""


@pytest.mark.parametrize(
    ("more", "options", "lines"),
    [
        ('[door]\nworks = "timer"\n', [], []),
        ('[door]\nworks = "timer"\n', ["--tolerance", "20", "--on", "any", "--together"], []),
        (
            '[door]\nworks = "timer"\n',
            ["--tolerance", "30", "--step", "5"],
            ["tolerance_min = 30 under [timer]", "step_min = 5 under [timer]"],
        ),
        (
            '[door]\nworks = "timer"\n[timer]\ntolerance_min = 30\n',
            ["--changes", "30", "--on", "sunday,monday", "--apart"],
            [
                "no tolerance_min under [timer]",
                "changes = 30 under [timer]",
                'on = ["monday", "sunday"] under [timer]',
                "together = false under [timer]",
            ],
        ),
        ("", [], [WORKS_LINE]),
        ("", ["--clock-margin", "2"], ["clock_margin_min = 2 under [timer]", WORKS_LINE]),
    ],
)
def test_a_list_that_the_file_does_not_mean_says_what_would_make_it_so(
    daylatch, tmp_path, more, options, lines
):
    (tmp_path / "site.toml").write_text(HOUSE + more)
    dates = ["--from", "2027-03-01", "--until", "2027-04-10"]
    ran = daylatch("settings", *dates, *options, "--to", "json")
    assert ran.status == 0, ran.err
    assert sorted(json.loads(ran.out)["tried_out"]) == sorted(lines)
    for form in ("text", "csv", "ics", "html"):
        ran = daylatch("settings", *dates, *options, "--to", form)
        text = " ".join(ran.out.replace("\r\n ", "").replace("&#34;", '"').split())
        text = text.replace('""', '"').replace("\\;", ";").replace("\\,", ",")
        for line in lines:
            assert line in text, form
        assert ("Tried out: the site file says otherwise." in text) == (
            bool(lines) and lines != [WORKS_LINE]
        )
        assert ("These are not the due times" in text) == (lines == [WORKS_LINE])


def test_the_default_range_is_of_year_lists_too(daylatch, tmp_path, set_clock):
    set_clock("2027-03-20T12:00:00")
    (tmp_path / "site.toml").write_text(HOUSE + '[door]\nworks = "timer"\n')
    whole = json.loads(daylatch("settings", "--year", "2027", "--to", "json").out)["settings"]
    part = json.loads(daylatch("settings", "--from", "2027-03-20", "--to", "json").out)["settings"]
    assert part[1] in whole
    assert part[0]["from"] == [one for one in whole if one["from"] <= "2027-03-20"][-1]["from"]
