"""``[writing]``: how a keeper writes times, lengths and weeks, and on what paper."""

import pytest

from daylatch.errors import SiteError
from daylatch.site.values.measures import US
from daylatch.wording import FACE_12_HOURS, FACE_24_HOURS
from sites import UTRECHT, site


def test_left_out_it_is_written_as_ever():
    plain = site(UTRECHT)
    assert plain.face is FACE_24_HOURS
    assert plain.measures.system == ""
    writing = plain.settings.writing
    assert (writing.paper, writing.first_weekday, writing.chosen_paper) == ("a4", 0, None)


def test_each_key_holds():
    own = site(
        UTRECHT,
        '[writing]\nclock = "12h"\nunits = "us"\npaper = "letter"\nweek_begins = "sunday"\n',
    )
    assert own.face is FACE_12_HOURS
    assert own.measures.system == US
    writing = own.settings.writing
    assert (writing.paper, writing.first_weekday, writing.chosen_paper) == ("letter", 6, "letter")
    assert "; ".join(writing.told(writing.ways)) == (
        "times like 6:30 PM; units of the USA; pages of Letter paper; weeks begin on Sunday"
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('clock = "12"', "writing.clock = \"12\": write one of '24h' or '12h'"),
        ("clock = 12", "writing.clock = 12: write one of '24h' or '12h'"),
        ('units = "imperial"', "writing.units = \"imperial\": write one of 'metric' or 'us'"),
        ('paper = "A4"', "writing.paper = \"A4\": write one of 'a4' or 'letter'"),
        (
            'week_begins = "tuesday"',
            "writing.week_begins = \"tuesday\": write one of 'monday', 'friday', 'saturday' or "
            "'sunday'",
        ),
        (
            'time = "12h"',
            'writing.time = "12h": is not a key here; there are clock, paper, units, week_begins',
        ),
    ],
)
def test_what_does_not_exist_is_refused_with_line_and_remedy(line, message):
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, f"[writing]\n{line}\n")
    assert str(caught.value) == f"test.toml, line 9: {message}"


@pytest.mark.parametrize(
    ("table", "given", "too", "stem", "unit", "expected"),
    [
        ("house", "roost_ft = 6", "roost_m = 1.8", "roost", "m", 1.8288),
        ("house", "wall_ft = 16", "wall_m = 4.8", "wall", "m", 4.8768),
        ("house", "vents_in2 = 62", "vents_cm2 = 400", "vents", "cm2", 399.9992),
        ("house", "floor_ft2 = 18", "floor_m2 = 1.6", "floor", "m2", 1.67225472),
        ("run", "floor_ft2 = 86", "floor_m2 = 8", "floor", "m2", 7.98966144),
        ("clock", "coldest_f = 14", "coldest_c = -10", "coldest", "c", -10),
        ("clock", "warmest_f = 95", "warmest_c = 35", "warmest", "c", 35),
    ],
)
def test_a_size_may_be_given_in_units_of_the_usa_but_once(table, given, too, stem, unit, expected):
    """By NIST Handbook 44, appendix C: a foot is 0.3048 m, an inch 2.54 cm, exactly."""
    found = getattr(site(UTRECHT, f"[{table}]\n{given}\n").settings, table)
    assert found.size(stem, unit) == pytest.approx(expected, rel=1e-12)
    key, other = given.partition(" ")[0], too.partition(" ")[0]
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, f"[{table}]\n{given}\n{too}\n")
    found_value = given.partition(" = ")[2]
    assert str(caught.value) == (
        f"test.toml, line 9: {table}.{key} = {found_value}: give it once, as {other} or as {key}"
    )


def test_a_nest_box_in_inches_has_its_sides_in_centimetres():
    house = site(UTRECHT, "[house]\nnest_box_in = [12, 12, 18]\n").settings.house
    assert house.nest_box_sides_cm == pytest.approx((30.48, 30.48, 45.72))
    with pytest.raises(SiteError, match="give it once, as nest_box_cm or as nest_box_in"):
        site(UTRECHT, "[house]\nnest_box_in = [12, 12, 18]\nnest_box_cm = [30, 30, 45]\n")


def test_a_roost_in_feet_must_have_room_too():
    with pytest.raises(SiteError, match=r"roost_ft = 7: is more roost than the wall .*wall_ft = 6"):
        site(UTRECHT, "[house]\nroost_ft = 7\nwall_ft = 6\n")
    with pytest.raises(SiteError, match=r"at most 18.28 ft with 0.3 m between roosts .*wall_ft"):
        site(UTRECHT, "[house]\nroost_ft = 19\nfloor_ft2 = 18\n")
    # Just as much as there is, whatever the arithmetic of units loses.
    assert site(UTRECHT, "[house]\nroost_ft = 6\nwall_m = 1.8288\n").settings.house.roost_ft == 6


def test_a_clock_that_is_warmest_where_it_is_coldest_is_refused_by_its_keys():
    with pytest.raises(SiteError, match=r"coldest_f \(50\) lies above warmest_c \(5\): swap them"):
        site(UTRECHT, "[clock]\ncoldest_f = 50\nwarmest_c = 5\n")


def test_a_temperature_is_told_as_it_is_given():
    def told(text):
        settings = site(UTRECHT, text).settings
        return list(settings.clock.told(settings.writing.ways))

    assert "coldest -10 °C" in told("[clock]\ncoldest_c = -10\n")
    assert "coldest 14 °F (-10 °C)" in told("[clock]\ncoldest_f = 14\n")
    assert "coldest 14 °F" in told('[writing]\nunits = "us"\n[clock]\ncoldest_c = -10\n')
    assert site(UTRECHT, "[clock]\nwarmest_f = 100.4\n").settings.clock.warmest == 38
