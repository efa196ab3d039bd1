"""Sizes that are likely in another unit are told with that unit; likely ones are left alone."""

import re
from pathlib import Path

import pytest

from daylatch.site.told.sizes import BOX_SIDE_CM, SHARED, doubtful_sizes
from sites import UTRECHT, site

PAGE = Path(__file__).parents[3] / "docs/how-to/does-the-house-fit.md"


def doubts(birds, keys):
    """Return what is told of a house, the key before the words."""
    flock = f"[flock]\nbirds = {birds}\n" if birds else ""
    found = doubtful_sizes(site(UTRECHT, f"{flock}[house]\n{keys}\n").settings)
    return [f"{'.'.join(doubt.path)} = {doubt.found}: {doubt.words}" for doubt in found]


@pytest.mark.parametrize(
    ("birds", "keys", "told"),
    [
        (
            12,
            "floor_m2 = 3.7\nroost_m = 10",
            "house.roost_m = 10: 10 m of roost for 12 birds is 83 cm a bird, in a house of 3.7 m2: "
            "if that is 10 feet, write roost_ft = 10",
        ),
        (
            12,
            "roost_m = 120",
            "house.roost_m = 120: 120 m of roost for 12 birds is 1000 cm a bird: if that is 120 "
            "inches, write roost_m = 3.05, or if that is 120 centimetres, write roost_m = 1.2",
        ),
        (
            1000,
            "roost_m = 900",
            "house.roost_m = 900: 900 m of roost for 1000 birds is 90 cm a bird: if that is 900 "
            "feet, write roost_ft = 900",
        ),
        (
            12,
            "roost_m = 0.25",
            "house.roost_m = 0.25: 0.25 m of roost for 12 birds is 2.1 cm a bird: if that is for "
            "one bird, write roost_m = 3",
        ),
        (
            6,
            "floor_m2 = 18",
            "house.floor_m2 = 18: 18 m2 of house floor for 6 birds is 3 m2 a bird: if that is 18 "
            "square feet, write floor_ft2 = 18",
        ),
        (
            6,
            "floor_m2 = 2592",
            "house.floor_m2 = 2592: 2592 m2 of house floor for 6 birds is 430 m2 a bird: if that "
            "is 2592 square inches, write floor_m2 = 1.67",
        ),
        (
            6,
            "floor_ft2 = 1.7",
            "house.floor_ft2 = 1.7: 1.7 sq ft of house floor for 6 birds is 0.28 sq ft a bird: if "
            "that is 1.7 square metres, write floor_m2 = 1.7, or if that is for one bird, write "
            "floor_ft2 = 10.2",
        ),
        (
            6,
            "[run]\nfloor_ft2 = 5",
            "run.floor_ft2 = 5: 5 sq ft of run floor for 6 birds is 0.83 sq ft a bird: if that is "
            "5 square metres, write floor_m2 = 5, or if that is for one bird, write floor_ft2 = 30",
        ),
        (
            6,
            "[run]\nfloor_m2 = 1000",
            "run.floor_m2 = 1000: 1000 m2 of run floor for 6 birds is 170 m2 a bird: if that is "
            "1000 square feet, write floor_ft2 = 1000",
        ),
        (
            None,
            "nest_box_cm = [12, 12, 18]",
            "house.nest_box_cm = [12, 12, 18]: 12 x 12 x 18 cm is an odd size for a nest box: if "
            "that is 12 x 12 x 18 inches, write nest_box_in = [12, 12, 18]",
        ),
        (
            None,
            "nest_box_cm = [1, 1, 1.5]",
            "house.nest_box_cm = [1, 1, 1.5]: 1 x 1 x 1.5 cm is an odd size for a nest box: if "
            "that is 1 x 1 x 1.5 feet, write nest_box_cm = [30.5, 30.5, 45.7]",
        ),
        (
            None,
            "nest_box_cm = [0.3, 0.3, 0.35]",
            "house.nest_box_cm = [0.3, 0.3, 0.35]: 0.3 x 0.3 x 0.35 cm is an odd size for a nest "
            "box: if that is 0.3 x 0.3 x 0.35 metres, write nest_box_cm = [30, 30, 35]",
        ),
        (
            6,
            "vents_cm2 = 40000",
            "house.vents_cm2 = 40000: 40000 cm2 of vents for 6 birds is 6700 cm2 a bird: if that "
            "is 40000 square millimetres, write vents_cm2 = 400",
        ),
        (
            6,
            "vents_cm2 = 0.04",
            "house.vents_cm2 = 0.04: 0.04 cm2 of vents for 6 birds is 0.0067 cm2 a bird: if that "
            "is 0.04 square feet, write vents_cm2 = 37.2, or if that is 0.04 square metres, write "
            "vents_cm2 = 400",
        ),
        (
            6,
            "littered_m2 = 16",
            "house.littered_m2 = 16: 16 m2 of litter for 6 birds is 2.7 m2 a bird: if that is 16 "
            "square feet, write littered_ft2 = 16",
        ),
        (
            None,
            "floor_m2 = 1.5\nwall_m = 16",
            "house.wall_m = 16: 16 m is more than twice round a house of 1.5 m2: if that is 16 "
            "feet, write wall_ft = 16",
        ),
        (
            1,
            "[run]\nfloor_m2 = 90000",
            "run.floor_m2 = 90000: 90000 m2 of run floor for 1 bird is 90000 m2 a bird: if that is "
            "90000 square inches, write floor_m2 = 58.1, or if that is 90000 square centimetres, "
            "write floor_m2 = 9",
        ),
    ],
)
def test_an_odd_size_is_told_with_the_unit_in_which_it_would_be_likely(birds, keys, told):
    assert doubts(birds, keys) == [f"{told}; if it is right, leave it"]


@pytest.mark.parametrize(
    ("birds", "keys"),
    [
        (6, "floor_ft2 = 18\nroost_m = 1.8\nnest_box_cm = [34, 34, 34]\nvents_cm2 = 400"),
        (12, "floor_m2 = 3.7\nroost_m = 3.05\nwall_m = 4\nlittered_m2 = 1.5"),
        # A pair in a small house, with a roost along it.
        (2, "floor_m2 = 1.5\nroost_m = 1.7"),
        (3, "floor_m2 = 4.4"),
        # Bantams by the least of any norm, in a small run, and boxes of 8 in.
        (10, "floor_ft2 = 7.5\nnest_box_cm = [20.3, 25, 25]\n[run]\nfloor_ft2 = 20"),
        # What an orchard gives, and what a barn holds.
        (12, "[run]\nfloor_m2 = 1000"),
        (350, "floor_m2 = 40\nroost_m = 60\nwall_m = 60\nvents_cm2 = 90000"),
        # No vents, no litter and no nest box are no small ones.
        (6, "vents_cm2 = 0\nlittered_share = 0\nnest_boxes = 0"),
        # Not known for how many.
        (None, "floor_m2 = 18\nroost_m = 40\nvents_cm2 = 40000"),
    ],
)
def test_a_likely_size_is_left_alone(birds, keys):
    assert doubts(birds, keys) == []


@pytest.mark.parametrize("path", [path for path in SHARED if "roost" not in path])
def test_the_limits_are_those_that_are_written(path):
    table, _, key = path.partition(".")
    shared = SHARED[path]
    factor = {"ft2": 0.09290304, "in2": 6.4516}.get(key.rpartition("_")[2], 1)
    for limit, inside in ((shared.least, 1.01), (shared.most, 0.99)):
        for change, odd in ((inside, False), (1 / inside, True)):
            amount = 10 * limit * change / factor
            found = doubts(
                10, f"[{table}]\n{key} = {amount}" if table != "house" else f"{key} = {amount}"
            )
            assert bool(found) is odd


def test_the_page_has_the_limits_and_their_reasons():
    page = PAGE.read_text()
    (table,) = re.findall(r"\| size \| not doubted between \|.*?\n\n", page, re.S)
    rows = [row.split("|")[1:4] for row in table.strip().splitlines()[2:]]
    assert len(rows) == 7
    assert all(why.strip() for _, _, why in rows)
    for shared in SHARED.values():
        low, high = (
            f"{limit * (100 if shared.unit == 'm' else 1):g}"
            for limit in (shared.least, shared.most)
        )
        assert any(f"{low} and {high} " in between for _, between, _ in rows), shared
    assert any(f"{BOX_SIDE_CM[0]:g} and {BOX_SIDE_CM[1]:g} cm" in between for _, between, _ in rows)


@pytest.mark.parametrize("command", [("check",), ("fit", "--year", "2027")])
def test_both_commands_warn_with_the_line_and_change_nothing(command, daylatch, alder_row):
    text = alder_row.read_text().replace("roost_m = 1.8", "roost_m = 5")
    alder_row.write_text(text)
    ran = daylatch(*command)
    assert ran.status == 0
    number = 1 + text.splitlines().index("roost_m = 5")
    assert ran.err == (
        f"warning: site.toml, line {number}: house.roost_m = 5: 5 m of roost for 6 birds is 83 cm "
        "a bird, in a house of 18 sq ft: if that is 5 feet, write roost_ft = 5; if it is right, "
        "leave it\n"
    )
    assert alder_row.read_text() == text


def test_what_is_written_of_the_fit_keeps_the_doubt(daylatch, alder_row, tmp_path):
    alder_row.write_text(alder_row.read_text().replace("roost_m = 1.8", "roost_m = 5"))
    text = " ".join(daylatch("fit", "--year", "2027").out.split())
    assert "Look again roost: a size may be in another unit" in text
    assert "if that is 5 feet, write roost_ft = 5; if it is right, leave it. Norm roost" in text
    assert '"doubts":["5 m of roost for 6 birds' in "".join(
        daylatch("fit", "--year", "2027", "--to", "json").out.replace('": ', '":').replace("\n", "")
    )


def test_a_plan_does_not_speak_of_the_roost(daylatch, alder_row):
    alder_row.write_text(alder_row.read_text().replace("roost_m = 1.8", "roost_m = 5"))
    assert daylatch("plan", "--year", "2027").err == ""
