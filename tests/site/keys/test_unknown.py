"""A key that does not exist is answered with one that does, and never with another unit unsaid."""

import pytest

from daylatch.errors import SiteError
from daylatch.site.housing import House
from daylatch.site.keys.units import KEY_UNITS, converted, split_unit
from daylatch.site.keys.unknown import unknown_key
from daylatch.site.tables import TABLES, table_model
from sites import UTRECHT, site

HOUSE = list(House.model_fields)


@pytest.mark.parametrize(
    ("key", "answer"),
    [
        # The key of that name is in another unit.
        (
            "roost_cm",
            ": write roost_m, in metres (centimetres times 0.01), or roost_ft, in feet "
            "(centimetres times 0.03281)",
        ),
        (
            "wall_in",
            ": write wall_m, in metres (inches times 0.0254), or wall_ft, in feet (inches times "
            "0.08333)",
        ),
        (
            "nest_box_ft",
            ": write nest_box_cm, in centimetres (feet times 30.48), or nest_box_in, in inches "
            "(feet times 12)",
        ),
        (
            "vents_ft2",
            ": write vents_cm2, in square centimetres (square feet times 929), or vents_in2, in "
            "square inches (square feet times 144)",
        ),
        (
            "floor_cm2",
            ": write floor_m2, in square metres (square centimetres times 0.0001), or floor_ft2, "
            "in square feet (square centimetres times 0.001076)",
        ),
        # Of another kind, so that no factor helps.
        ("floor_ft", ": write floor_m2, in square metres, or floor_ft2, in square feet"),
        # The same unit, misspelt or spelt out.
        ("rost_m", "; did you mean roost_m?"),
        ("rost_ft", "; did you mean roost_ft?"),
        ("roost_feet", "; did you mean roost_ft?"),
        ("roost_metres", "; did you mean roost_m?"),
        ("flor_ft2", "; did you mean floor_ft2?"),
        ("floor_sq_ft", "; did you mean floor_ft2?"),
        ("litered_share", "; did you mean littered_share?"),
        # No unit at all.
        ("roost", "; did you mean roost_m (in metres) or roost_ft (in feet)?"),
        (
            "floor",
            "; did you mean floor_m2 (in square metres) or floor_ft2 (in square feet)?",
        ),
        ("nest_boxs", "; did you mean nest_boxes?"),
    ],
)
def test_a_key_in_another_unit_is_offered_with_its_unit_and_how_to_come_to_it(key, answer):
    assert unknown_key(key, HOUSE) == f"is not a key here{answer}"


@pytest.mark.parametrize("key", ["xyz", "water_m", "roof_m2"])
def test_what_is_like_no_key_is_answered_with_all_of_them(key):
    assert unknown_key(key, HOUSE).startswith("is not a key here; there are feed_inside, floor_ft2")


def test_degrees_and_times_are_no_exception():
    assert unknown_key("coldest", ["coldest_c", "coldest_f"]) == (
        "is not a key here; did you mean coldest_c (in degrees Celsius) or coldest_f (in degrees "
        "Fahrenheit)?"
    )
    assert unknown_key("offset_h", ["offset_min", "light"]) == (
        "is not a key here: write offset_min, in minutes (hours times 60)"
    )


def keys_with_units():
    for name in TABLES:
        for key in table_model(name).model_fields:
            if split_unit(key)[1]:
                yield name, key


@pytest.mark.parametrize(("table", "key"), list(keys_with_units()))
@pytest.mark.parametrize("unit", KEY_UNITS)
def test_no_key_of_any_table_is_offered_for_one_in_another_unit_without_its_unit(table, key, unit):
    allowed = list(table_model(table).model_fields)
    stem, own = split_unit(key)
    if f"{stem}_{unit}" in allowed:
        return
    answer = unknown_key(f"{stem}_{unit}", allowed)
    assert f"{key}, in {KEY_UNITS[own].words}" in answer
    assert "did you mean" not in answer


def test_a_file_with_feet_names_the_key_that_there_is():
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, "[house]\nroost_in = 120\n")
    assert str(caught.value) == (
        "test.toml, line 9: house.roost_in = 120: is not a key here: write roost_m, in metres "
        "(inches times 0.0254), or roost_ft, in feet (inches times 0.08333)"
    )


@pytest.mark.parametrize(
    ("value", "unit", "other", "expected"),
    [
        # NIST Handbook 44, appendix C: a foot is 0.3048 m and an inch 2.54 cm, exactly.
        (10, "ft", "m", 3.048),
        (12, "in", "cm", 30.48),
        (1, "ft2", "m2", 0.09290304),
        # The freezing and the boiling point of water (NIST Handbook 44, appendix C, has t_F =
        # 1.8 t_C + 32).
        (32, "f", "c", 0),
        (100, "c", "f", 212),
        (1, "in2", "cm2", 6.4516),
        (144, "in2", "ft2", 1),
        (3000, "mm", "m", 3),
        (10_000, "cm2", "m2", 1),
        (1_000_000, "mm2", "m2", 1),
    ],
)
def test_units_are_turned_into_each_other(value, unit, other, expected):
    assert converted(value, unit, other) == pytest.approx(expected, rel=1e-12)
