"""Whether the house fits: verdicts, cases by date, what must be inside, and the words."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.birds.fit import json as fit_json
from daylatch.birds.fit import text as fit_text
from daylatch.birds.fit.fit import check_fit
from daylatch.birds.fit.line import REQUIREMENTS
from daylatch.birds.fit.stays import Case, share_of_days
from daylatch.birds.fit.verdicts import Verdict, judge, judge_most
from daylatch.birds.nights.nights import make_nights
from daylatch.errors import SiteError
from daylatch.plan.due import exactly
from daylatch.site.norms import MEASURED, Norms, all_norms, names_of
from daylatch.site.values.measures import BOTH
from sites import FALLBACKS, LONGYEARBYEN, UTRECHT, Spot, plan, site

PASS, TIGHT, FAIL = Verdict.PASS, Verdict.TIGHT, Verdict.FAIL
NOT_CHECKED, DOES_NOT_ARISE = Verdict.NOT_CHECKED, Verdict.DOES_NOT_ARISE
NORTH = Spot(69.2, 17.9, "Europe/Oslo")
LATE = '[open]\nnot_before = "09:00"\n'
SQUARE_FOOT = 0.09290304
FT2 = st.integers(1, 4000).map(lambda tenths: tenths / 10)


def fit(settings="", spot=UTRECHT, first="2027-02-01", last=None):
    return check_fit(make_nights(exactly(plan(spot, first, last, settings))))


def line(requirement, settings, **dates):
    found = fit(settings, **dates)
    return next(line for line in found.lines if line.requirement == requirement)


def verdict(requirement, settings, **dates):
    return line(requirement, settings, **dates).verdict


def ranges(dates):
    return (str(dates[0]), str(dates[-1]), len(dates)) if len(dates) else None


# --- A figure against a norm -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "figures", "expected"),
    [
        (1.99, (2.0, 4.0), FAIL),
        (2.0, (2.0, 4.0), TIGHT),
        (3.99, (2.0, 4.0), TIGHT),
        (4.0, (2.0, 4.0), PASS),
        (14.9, (15.0,), FAIL),
        (15.0, (15.0,), TIGHT),
        (16.5, (15.0,), TIGHT),
        (16.6, (15.0,), PASS),
    ],
)
def test_enough_of_something(value, figures, expected):
    assert judge(value, figures) is expected


@pytest.mark.parametrize(
    ("value", "figures", "expected"),
    [
        (5.1, (4.0, 5.0), FAIL),
        (5.0, (4.0, 5.0), TIGHT),
        (4.1, (4.0, 5.0), TIGHT),
        (4.0, (4.0, 5.0), PASS),
        (7.1, (7.0,), FAIL),
        (7.0, (7.0,), TIGHT),
        (6.3, (7.0,), TIGHT),
        (6.2, (7.0,), PASS),
    ],
)
def test_few_enough_of_something(value, figures, expected):
    assert judge_most(value, figures) is expected


def test_the_arithmetic_of_units_loses_no_verdict():
    for birds in range(1, 400):
        for feet, expected in ((2, TIGHT), (4, PASS)):
            total = birds * feet
            text = f"[flock]\nbirds = {birds}\n[house]\nfloor_ft2 = {total}\n"
            house = site(UTRECHT, text).settings.house
            figures = all_norms()["floor-2-to-4-sq-ft"].base_figures()
            assert judge(house.area_m2 / birds, figures) is expected


# --- Each requirement --------------------------------------------------------------------------

SIX = "[flock]\nbirds = 6\n[house]\n"


@pytest.mark.parametrize(
    ("requirement", "keys", "expected"),
    [
        ("floor_asleep", "floor_ft2 = 11.9", FAIL),
        ("floor_asleep", "floor_ft2 = 12", TIGHT),
        ("floor_asleep", "floor_m2 = 1.12", TIGHT),
        ("floor_asleep", "floor_m2 = 1.11", FAIL),
        ("floor_asleep", "floor_ft2 = 24", PASS),
        ("floor_asleep", "floor_m2 = 2.23", PASS),
        ("floor_asleep", "floor_m2 = 2.22", TIGHT),
        ("roost", "roost_m = 0.89", FAIL),
        ("roost", "roost_m = 0.9", TIGHT),
        ("roost", "roost_m = 1", PASS),
        ("birds_per_nest", "nest_boxes = 0", FAIL),
        ("birds_per_nest", "nest_boxes = 1", FAIL),
        ("birds_per_nest", "nest_boxes = 2", PASS),
        ("nest_box", "nest_box_cm = [30, 40, 40]", FAIL),
        ("nest_box", "nest_box_cm = [40, 31, 40]", TIGHT),
        ("nest_box", "nest_box_cm = [40, 40, 34]", PASS),
        ("nest_box", "nest_boxes = 0\nnest_box_cm = [9, 9, 9]", DOES_NOT_ARISE),
        ("litter", "littered_share = 0", FAIL),
        ("litter", "littered_share = 1\nfloor_m2 = 0.14", FAIL),
        ("litter", "littered_share = 1\nfloor_m2 = 0.16", TIGHT),
        ("litter", "littered_share = 1\nfloor_m2 = 1", PASS),
        ("litter", "littered_share = 0.5\nfloor_m2 = 0.28", FAIL),
        ("litter", "littered_share = 0.5\nfloor_m2 = 0.32", TIGHT),
        ("litter", "littered_share = 0.5\nfloor_m2 = 2", PASS),
        ("litter", "littered_m2 = 0.14\nfloor_m2 = 0.3", FAIL),
        ("litter", "littered_ft2 = 10\nfloor_ft2 = 20", PASS),
        # A third of the floor (SSI 2002/334 Sch. 3A 3(e)).
        ("litter", "littered_share = 0.33\nfloor_m2 = 2", FAIL),
        ("litter", "littered_m2 = 0.6\nfloor_m2 = 2", FAIL),
        ("litter", "littered_ft2 = 7\nfloor_ft2 = 21", PASS),
        ("litter", "littered_m2 = 0.6", NOT_CHECKED),
        ("litter", "littered_m2 = 0.1", FAIL),
        ("vents", "vents_cm2 = 4000", NOT_CHECKED),
        ("run_floor", "[run]\nfloor_ft2 = 59", FAIL),
        ("run_floor", "[run]\nfloor_ft2 = 61", TIGHT),
        ("run_floor", "[run]\nfloor_m2 = 7", PASS),
    ],
)
def test_verdicts(requirement, keys, expected):
    assert verdict(requirement, SIX + keys) is expected


def test_sides_of_a_nest_box_are_compared_by_length():
    keys = SIX + 'nest_box_cm = [50, 32, 32]\n[norms]\nnest_box = "box-12-12-18-in"\n'
    assert verdict("nest_box", keys) is TIGHT
    assert verdict("nest_box", keys.replace("[50, 32, 32]", "[32, 32, 50]")) is TIGHT
    assert verdict("nest_box", keys.replace("[50, 32, 32]", "[45, 45, 45]")) is FAIL


def test_a_figure_stands_in_both_systems_and_a_failure_says_for_how_many_there_is_room():
    found = line("floor_asleep", SIX + "floor_ft2 = 10")
    assert found.found == "1.67 sq ft (0.155 m2) a bird"
    assert found.wanted == "at least 2 sq ft (0.186 m2) a bird, better 4 sq ft (0.372 m2)"
    assert found.notes == ("By this norm there is room for 5 birds.",)
    assert line("roost", SIX + "roost_m = 0.2").notes == ("By this norm there is room for 1 bird.",)
    assert line("roost", SIX + "roost_m = 0.1").notes == (
        "By this norm there is room for no birds.",
    )
    assert line("roost", SIX + "roost_m = 1.8").found == "30 cm (11.8 in) a bird"
    box = line("nest_box", SIX + "nest_box_cm = [40, 30, 40]")
    assert box.found == "15.7 x 11.8 x 15.7 in (40 x 30 x 40 cm)"
    assert box.notes == ("Short by 0.189 in (0.48 cm).",)
    assert line("vents", SIX + "vents_cm2 = 400").found == "400 cm2 (62 sq in)"


@pytest.mark.parametrize("requirement", ["floor_asleep", "roost", "birds_per_nest", "litter"])
def test_another_norm_gives_another_verdict(requirement):
    keys = SIX + "floor_ft2 = 9\nroost_m = 0.95\nnest_boxes = 1\nlittered_share = 1\n"
    names = names_of(requirement)
    verdicts = {
        name: verdict(requirement, f'{keys}[norms]\n{requirement} = "{name}"\n') for name in names
    }
    expected = {
        "floor_asleep": {
            "floor-2-to-4-sq-ft": FAIL,
            "floor-3-to-4-sq-ft": FAIL,
            "floor-1.5-to-2-sq-ft": TIGHT,
            "floor-1.5-sq-ft": TIGHT,
            "floor-by-weight": NOT_CHECKED,
            "floor-9-hens-per-m2": PASS,
        },
        "roost": {
            "roost-15-cm": TIGHT,
            "roost-18-cm": FAIL,
            "roost-6-in": TIGHT,
            "roost-6-in-canada": TIGHT,
            "roost-8-to-10-in": FAIL,
        },
        "birds_per_nest": {"nest-for-4-to-5": FAIL, "nest-for-7": PASS, "nest-for-7-eu": PASS},
        "litter": {"litter-250-cm2": PASS},
    }[requirement]
    assert verdicts == expected


@pytest.mark.parametrize(
    ("size", "expected", "note"),
    [
        ("bantam", PASS, None),
        ("heavy", TIGHT, None),
        ("medium", NOT_CHECKED, "floor-by-weight gives no figure for medium birds: choose another "
         "under [norms]."),
        (None, NOT_CHECKED, "floor-by-weight goes by size: add size under [flock]."),
    ],
)  # fmt: skip
def test_a_norm_by_size_needs_a_figure_for_that_size(size, expected, note):
    flock = f"[flock]\nbirds = 6\n{f'size = {json.dumps(size)}' if size else ''}\n"
    found = line(
        "floor_asleep",
        f'{flock}[house]\nfloor_ft2 = 18\n[norms]\nfloor_asleep = "floor-by-weight"\n',
    )
    assert found.verdict is expected
    assert found.notes == ((note,) if note else ())
    assert found.found == "3 sq ft (0.279 m2) a bird"


@pytest.mark.parametrize(
    ("requirement", "keys", "note"),
    [
        (
            "floor_asleep",
            "[house]\n",
            "Add birds under [flock] and floor_m2 or floor_ft2 under [house].",
        ),
        ("floor_asleep", "[flock]\nbirds = 6\n", "Add floor_m2 or floor_ft2 under [house]."),
        ("floor_asleep", "[house]\nfloor_m2 = 2\n", "Add birds under [flock]."),
        ("roost", "[flock]\nbirds = 6\n", "Add roost_m or roost_ft under [house]."),
        ("run_floor", "[flock]\nbirds = 6\n", "Add floor_m2 or floor_ft2 under [run]."),
        ("birds_per_nest", "[house]\nnest_boxes = 3\n", "Add birds under [flock]."),
        ("birds_per_nest", "[flock]\nbirds = 6\n", "Add nest_boxes under [house]."),
        ("nest_box", "[flock]\nbirds = 6\n", "Add nest_box_cm or nest_box_in under [house]."),
        ("litter", "[flock]\nbirds = 6\n", "Add littered_share under [house]."),
        (
            "litter",
            "[flock]\nbirds = 6\n[house]\nlittered_share = 1\n",
            "Add floor_m2 or floor_ft2 under [house].",
        ),
    ],
)
def test_what_is_missing_is_not_checked_and_said(requirement, keys, note):
    found = line(requirement, keys)
    assert found.verdict is NOT_CHECKED
    assert found.notes == (note,)
    assert found.values == ()


def test_an_old_file_without_litter_on_the_whole_floor_is_not_said_to_have_none():
    litter = line("litter", SIX + "floor_m2 = 2\nlitter = false")
    assert (litter.verdict, litter.found) == (NOT_CHECKED, "")
    assert litter.notes == ("Add littered_share under [house].",)
    assert line("litter", SIX + "littered_share = 0").found == "none littered"


@pytest.mark.parametrize(
    ("keys", "found", "notes"),
    [
        (
            "floor_m2 = 2\nlittered_share = 0.3",
            "1000 cm2 (155 sq in) a bird, 30 % of the floor",
            ("That is less than 1/3 of the floor.",),
        ),
        ("floor_m2 = 2\nlittered_m2 = 2", "3330 cm2 (517 sq in) a bird, the whole floor", ()),
        (
            "littered_m2 = 1.2",
            "2000 cm2 (310 sq in) a bird",
            (
                "Whether that is 1/3 of the floor is not known: add floor_m2 or floor_ft2 under "
                "[house].",
            ),
        ),
    ],
)
def test_littered_floor_is_told_with_its_share(keys, found, notes):
    litter = line("litter", SIX + keys)
    assert (litter.found, litter.notes) == (found, notes)


@pytest.mark.parametrize("dates", [{"first": "2027-01-01"}, {"first": "2027-07-01"}])
def test_every_requirement_has_a_line_in_its_order(dates):
    found = fit(SIX + LATE, **dates)
    assert [line.requirement for line in found.lines] == list(REQUIREMENTS)
    # Awake inside or not, there is a line for each that can be chosen a norm for.
    assert set(MEASURED) <= set(REQUIREMENTS)


def test_what_is_eaten_and_drunk_is_told_in_the_unit_of_its_norm():
    found = fit(SIX + LATE, first="2027-07-01")
    told = {
        line.requirement: list(fit_text.describe_needs(line, BOTH))
        for line in found.lines
        if line.needs
    }
    assert set(told) == {"feed", "water"}
    assert all(" g (" in text or " kg (" in text for text in told["feed"])
    assert all(" ml (" in text or " l (" in text for text in told["water"])


# --- Which case holds when ---------------------------------------------------------------------


def test_in_winter_birds_only_sleep_inside():
    found = fit(SIX, first="2027-01-01", last="2027-01-31")
    assert ranges(found.stays.asleep) == ("2027-01-01", "2027-01-31", 31)
    assert not found.stays.are_awake
    # The door opens 15 min after civil dawn, rounded up to a whole minute.
    assert 15 / 60 <= found.stays.most_awake_h <= 16 / 60
    awake = [line for line in found.lines if line.case is Case.AWAKE]
    assert {line.requirement for line in awake} == {
        "floor_awake",
        "feed",
        "water",
        "something_to_do",
    }
    assert all(line.verdict is DOES_NOT_ARISE for line in awake)


def test_a_late_opening_makes_summer_nights_awake_ones_at_52_north():
    found = fit(SIX + LATE, first="2027-01-01", last="2027-12-31")
    waking_h = make_nights(exactly(found.plan)).waking / np.timedelta64(1, "h")
    dates = found.plan.dates
    np.testing.assert_array_equal(found.stays.awake, dates[waking_h > 2])
    np.testing.assert_array_equal(found.stays.asleep, dates[waking_h <= 2])
    assert 100 < len(found.stays.awake) < 330
    assert found.stays.most_awake_h == waking_h.max()


@pytest.mark.parametrize("awake_h", [0, 1.5, 3, 24])
def test_the_keeper_says_from_when_a_night_is_an_awake_one(awake_h):
    found = fit(f"{SIX}{LATE}[norms]\nawake_h = {awake_h}\n", first="2027-01-01", last="2027-12-31")
    waking_h = make_nights(exactly(found.plan)).waking / np.timedelta64(1, "h")
    assert len(found.stays.awake) == (waking_h > awake_h).sum()
    assert len(found.stays.asleep) + len(found.stays.awake) == 365


def test_white_nights_at_69_north_are_awake_ones():
    limits = FALLBACKS.replace('"05:30"', '"05:30"\nnot_before = "05:30"').replace(
        '"22:30"', '"22:30"\nnot_after = "22:30"'
    )
    found = fit(SIX + limits, spot=NORTH, first="2027-01-01", last="2027-12-31")
    # From 22:30 to 05:30 are seven hours, all light.
    assert found.stays.most_awake_h == 7.0
    assert "2027-06-21" in found.stays.awake.astype(str)
    assert "2027-12-21" in found.stays.asleep.astype(str)
    assert "2027-12-21" in found.stays.long.astype(str)
    assert len(found.stays.asleep) + len(found.stays.awake) == 365


ORDER = "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-21\nshut = true\n"


def test_a_housing_order_shuts_days_and_its_night_is_of_no_other_case():
    found = fit(SIX + ORDER, first="2027-02-01", last="2027-02-28")
    assert ranges(found.stays.shut) == ("2027-02-08", "2027-02-21", 14)
    asleep = found.stays.asleep.astype(str)
    assert "2027-02-06" in asleep
    assert "2027-02-22" in asleep
    # Its lock-in holds the days that are shut.
    assert "2027-02-07" not in asleep
    assert len(found.stays.awake) == 0
    assert found.stays.are_awake


def test_days_shut_for_want_of_light_at_69_north_count_as_shut():
    found = fit(
        SIX + '[open]\nlight = "sunrise"\n[close]\nlight = "sunset"\n',
        spot=NORTH,
        first="2027-12-10",
        last="2027-12-12",
    )
    assert ranges(found.stays.shut) == ("2027-12-10", "2027-12-12", 3)
    assert found.stays.most_awake_h is None
    assert verdict("something_to_do", SIX + ORDER, first="2027-02-10") is NOT_CHECKED


def test_a_lock_in_without_a_known_end_is_not_called_harmless():
    keys = SIX + "floor_m2 = 9\n[[span]]\nfrom = 2027-01-02\nuntil = 2029-01-01\nshut = true\n"
    found = fit(keys, first="2027-01-01")
    assert ranges(found.stays.unknown) == ("2027-01-01", "2027-01-01", 1)
    for requirement in ("floor_awake", "feed", "water", "something_to_do"):
        assert verdict(requirement, keys, first="2027-01-01") is NOT_CHECKED


def test_long_nights_are_named_and_ask_for_more_without_a_figure():
    found = fit(SIX + "floor_ft2 = 30", first="2027-01-01", last="2027-12-31")
    length_h = make_nights(exactly(found.plan)).length / np.timedelta64(1, "h")
    assert len(found.stays.long) == (length_h > 14).sum() > 60
    floor = found.lines[0]
    assert floor.verdict is PASS
    assert floor.notes == (
        f"{len(found.stays.long)} nights over 14 h: common practice wants more floor then, with "
        "feed and water inside, and names no figure.",
    )
    short = line("floor_asleep", SIX + "floor_ft2 = 30", first="2027-06-01", last="2027-06-30")
    assert short.notes == ()


# --- Space to be awake in ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("run", "expected", "found", "note"),
    [
        (
            "[run]\nfloor_ft2 = 41\njoined = true\ncovered = true\n",
            TIGHT,
            "10.2 sq ft (0.945 m2) a bird, in house and run",
            "The run has a roof, as some housing orders want: your order decides.",
        ),
        (
            "[run]\nfloor_ft2 = 90\njoined = true\ncovered = false\n",
            PASS,
            "18.3 sq ft (1.7 m2) a bird, in house and run",
            "The run has no roof, and a housing order may want one: your order decides.",
        ),
        (
            "[run]\nfloor_ft2 = 90\njoined = true\n",
            PASS,
            "18.3 sq ft (1.7 m2) a bird, in house and run",
            "Add covered under [run]: a housing order may want a roof; your order decides.",
        ),
        (
            "[run]\nfloor_ft2 = 90\njoined = false\n",
            FAIL,
            "3.33 sq ft (0.31 m2) a bird, in the house",
            "The run is not joined, so only the house counts.",
        ),
        (
            "[run]\nfloor_ft2 = 90\n",
            FAIL,
            "3.33 sq ft (0.31 m2) a bird, in the house",
            "The run is not said to be joined, so only the house counts: add joined under [run].",
        ),
        ("[run]\njoined = true\n", NOT_CHECKED, "", "Add floor_m2 or floor_ft2 under [run]."),
    ],
)
def test_a_joined_run_counts_as_waking_space(run, expected, found, note):
    keys = SIX + "floor_ft2 = 20\n" + run + ORDER
    waking = line("floor_awake", keys, first="2027-02-10")
    assert waking.verdict is expected
    assert waking.found == found
    assert waking.notes[-1] == note


def test_waking_space_without_the_house_floor_is_not_checked():
    keys = "[flock]\nbirds = 6\n[run]\nfloor_m2 = 50\njoined = true\n" + ORDER
    waking = line("floor_awake", keys, first="2027-02-10")
    assert waking.verdict is NOT_CHECKED
    assert waking.notes == ("Add floor_m2 or floor_ft2 under [house].",)


# --- Feed and water ----------------------------------------------------------------------------


def needs(requirement, keys, **dates):
    return line(requirement, keys, **dates).needs


def test_feed_for_shut_days_by_the_published_intake():
    # 25 lb a day for 100 hens (Pennsylvania State College): 100 hens for 14 days eat 350 lb.
    (need,) = needs(
        "feed",
        "[flock]\nbirds = 100\n[house]\nfeed_inside = true\n" + ORDER,
        first="2027-02-01",
        last="2027-02-28",
    )
    assert (str(need.first), str(need.last), need.shut_days) == ("2027-02-08", "2027-02-21", 14)
    assert need.share == 14
    assert need.least == need.most == pytest.approx(350 * 453.59237)


@pytest.mark.parametrize(
    ("size", "least", "most"),
    # alpinevet.com.au, Feeding backyard poultry (Australia), in g a day; none for medium birds,
    # for which the 25 lb of 100 hens hold.
    [("bantam", 80, 80), ("light", 100, 120), ("heavy", 180, 180), ("medium", 113.398, 113.398)],
)
def test_feed_goes_by_the_size_of_the_birds(size, least, most):
    flock = f'[flock]\nbirds = 10\nsize = "{size}"\n'
    (need,) = needs("feed", flock + ORDER, first="2027-02-10")
    assert (need.least, need.most) == pytest.approx((10 * least, 10 * most), rel=1e-5)


@pytest.mark.parametrize(
    ("size", "why"),
    [
        ('size = "medium"\n', "gives no figure for medium birds: choose another under [norms]."),
        ("", "goes by size: add size under [flock]."),
    ],
)
def test_feed_by_size_without_a_figure_tells_no_amount_and_judges_what_is_inside(size, why):
    keys = (
        f"[flock]\nbirds = 6\n{size}[house]\nfeed_inside = true\n[norms]\nfeed = 'feed-by-size'\n"
    )
    feed = line("feed", keys + ORDER, first="2027-02-10")
    assert (feed.verdict, feed.needs, feed.wanted) == (PASS, (), "")
    assert feed.notes == (f"How much is not known: feed-by-size {why}",)


@pytest.mark.parametrize(
    ("norm", "birds", "least_l", "most_l"),
    [
        # 180 to 320 l a day for 1000 hens (Poultry Industry Council, Ontario).
        ("water-180-to-320-l-per-1000", 1000, 180, 320),
        # 6 l for 12 adults (The Country Smallholder, as quoted).
        ("water-6-l-per-12", 12, 6, 6),
        # 5 US gallons for 100 birds (heraldcourier.com, 2020-08-10, Virginia): 18.9 l.
        ("water-5-gal-per-100", 100, 18.927, 18.927),
    ],
)
def test_water_for_a_shut_day_by_the_published_intakes(norm, birds, least_l, most_l):
    keys = f'[flock]\nbirds = {birds}\n[norms]\nwater = "{norm}"\n' + ORDER
    (need,) = needs("water", keys, first="2027-02-10")
    assert need.shut_days == 1
    assert (need.least / 1000, need.most / 1000) == pytest.approx((least_l, most_l), rel=1e-4)


def test_a_shut_day_in_the_polar_night_counts_whole():
    dark = '[open]\nlight = "sunrise"\n[close]\nlight = "sunset"\n'
    (need,) = needs(
        "feed", "[flock]\nbirds = 10\n" + dark, spot=LONGYEARBYEN,
        first="2027-12-20", last="2027-12-21",
    )  # fmt: skip
    assert need.share == 2
    assert need.least == pytest.approx(2 * 10 * 113.398, rel=1e-4)


def test_a_lock_in_through_whole_dark_days_holds_them_whole_and_nothing_of_dark_parts():
    dark = '[open]\ndark_fallback = "10:00"\n[close]\ndark_fallback = "13:00"\n'
    order = "[[span]]\nfrom = 2027-12-20\nuntil = 2027-12-22\nshut = true\n"
    nights = make_nights(exactly(plan(LONGYEARBYEN, "2027-12-18", "2027-12-19", dark + order)))
    assert [share_of_days(nights, row) for row in range(2)] == [0, 3]


def test_every_run_of_shut_days_is_told_by_itself():
    second = "[[span]]\nfrom = 2027-02-25\nuntil = 2027-02-25\nshut = true\n"
    found = needs("feed", SIX + ORDER + second, first="2027-02-01", last="2027-02-28")
    assert [(str(need.first), need.shut_days) for need in found] == [
        ("2027-02-08", 14),
        ("2027-02-25", 1),
    ]


def share_by_the_sun(made, index):
    """Return the light shut in of an evening and the next morning, from the plan's own events."""
    sun = made.sun
    evening = (sun.dusk[index] - made.close_utc[index]) / (sun.dusk[index] - sun.dawn[index])
    after = index + 1
    morning = (made.open_utc[after] - sun.dawn[after]) / (sun.dusk[after] - sun.dawn[after])
    return max(evening, 0) + max(morning, 0)


def test_the_share_of_a_night_is_that_of_each_days_light():
    made = plan(UTRECHT, "2027-05-01", "2027-07-31", LATE + "[close]\noffset_min = -60\n")
    nights = make_nights(exactly(made))
    for index in (0, 40, 90):
        assert share_of_days(nights, index) == pytest.approx(share_by_the_sun(made, index))
    longest = int(nights.waking.argmax())
    (need,) = needs(
        "feed",
        SIX + LATE + "[close]\noffset_min = -60\n",
        first="2027-05-01",
        last="2027-07-31",
    )
    assert need.first == made.dates[longest]
    assert need.shut_days == 0
    assert need.share == pytest.approx(share_by_the_sun(made, longest))
    assert need.least == pytest.approx(6 * 113.398 * need.share, rel=1e-4)
    assert need.awake_min == round(float(nights.waking[longest] / np.timedelta64(1, "m")))


def test_the_last_night_of_a_range_is_known_beyond_it():
    keys = LATE + ORDER
    whole = make_nights(exactly(plan(UTRECHT, "2027-02-01", "2027-03-01", keys)))
    short = make_nights(exactly(plan(UTRECHT, "2027-02-01", "2027-02-07", keys)))
    assert share_of_days(short, 5) == pytest.approx(share_of_days(whole, 5))
    # The order's days, though none of them is in the range, and the two sides of its night.
    assert share_of_days(short, 6) == pytest.approx(share_of_days(whole, 6))
    assert 14 < share_of_days(short, 6) < 15


@pytest.mark.parametrize("requirement", ["feed", "water"])
@pytest.mark.parametrize(
    ("inside", "expected"), [("true", PASS), ("false", FAIL), (None, NOT_CHECKED)]
)
def test_feed_and_water_must_be_within_reach(requirement, inside, expected):
    key = f"{requirement}_inside = {inside}\n" if inside else ""
    found = line(requirement, SIX + key + ORDER, first="2027-02-10")
    assert found.verdict is expected
    assert len(found.needs) == 1
    added = f"Add {requirement}_inside under [house]."
    assert (added in found.notes) is (inside is None)


def test_amounts_are_not_guessed_without_a_number_of_birds():
    keys = "[house]\nfeed_inside = true\nwater_inside = false\n" + ORDER
    feed = line("feed", keys, first="2027-02-10")
    assert (feed.verdict, feed.needs) == (NOT_CHECKED, ())
    assert feed.notes == ("Add birds under [flock].",)
    assert verdict("water", keys, first="2027-02-10") is FAIL


def test_what_stands_in_a_joined_run_may_be_said_to_be_inside():
    keys = SIX + "feed_inside = false\n[run]\njoined = true\n" + ORDER
    note = "If it stands in the joined run, write feed_inside = true."
    assert note in line("feed", keys, first="2027-02-10").notes
    apart = keys.replace("joined = true", "joined = false")
    assert note not in line("feed", apart, first="2027-02-10").notes


@pytest.mark.parametrize(
    ("temperature", "norm", "least", "most", "note"),
    [
        # +30 to 50 % above 32 C (Poultry CRC, as quoted).
        ("hot", "water-220-to-270-l-per-1000", 286, 405, "Raised by 30 to 50 % for heat, as the "
         "norm says."),
        ("hot", "water-180-to-320-l-per-1000", 180, 320, "This norm has no figure for heat, when "
         "birds drink more; water-220-to-270-l-per-1000 has."),
        ("mild", "water-220-to-270-l-per-1000", 220, 270, None),
        ("cold", "water-220-to-270-l-per-1000", 220, 270, "Water freezes overnight: look each "
         "morning. No source counts cold in."),
        (None, "water-220-to-270-l-per-1000", 220, 270, "Heat and cold are not counted in: "
         "add temperature under [flock]."),
    ],
)  # fmt: skip
def test_water_is_scaled_only_where_the_norms_source_says_how(temperature, norm, least, most, note):
    warmth = f'temperature = "{temperature}"\n' if temperature else ""
    found = line(
        "water",
        f"[flock]\nbirds = 1000\n{warmth}[house]\nwater_inside = true\n"
        f'[norms]\nwater = "{norm}"\n{ORDER}',
        first="2027-02-10",
    )
    assert (found.needs[0].least, found.needs[0].most) == pytest.approx((least * 1000, most * 1000))
    assert found.notes == ((note,) if note else ())


def test_heat_never_scales_feed():
    keys = '[flock]\nbirds = 100\ntemperature = "hot"\n' + ORDER
    (need,) = needs("feed", keys, first="2027-02-10")
    assert need.least == need.most == pytest.approx(25 * 453.59237)


# --- What must hold ----------------------------------------------------------------------------

BETTER = [FAIL, TIGHT, PASS]
SHARED = ("floor_asleep", "roost", "floor_awake", "run_floor", "birds_per_nest", "litter")


def house_of(birds, house_ft2, run_ft2):
    return (
        f"[flock]\nbirds = {birds}\n[house]\nfloor_ft2 = {house_ft2}\nroost_m = 2\nwall_m = 2\n"
        f"nest_boxes = 3\nlittered_share = 1\n[run]\nfloor_ft2 = {run_ft2}\njoined = true\n" + ORDER
    )


PLAN = plan(UTRECHT, "2027-02-07", "2027-02-10", ORDER)


def verdicts_of(text):
    """Return the verdicts on another house with the same plan."""
    found = check_fit(make_nights(exactly(replace(PLAN, site=site(UTRECHT, text)))))
    return {line.requirement: line.verdict for line in found.lines}


@given(birds=st.integers(1, 60), more=st.integers(1, 60), house=FT2, run=FT2)
def test_more_birds_never_improve_a_verdict(birds, more, house, run):
    few = verdicts_of(house_of(birds, house, run))
    many = verdicts_of(house_of(birds + more, house, run))
    for requirement in SHARED:
        assert BETTER.index(many[requirement]) <= BETTER.index(few[requirement])


@given(birds=st.integers(1, 60), house=FT2, run=FT2, more=FT2)
def test_more_floor_never_worsens_a_verdict(birds, house, run, more):
    little = verdicts_of(house_of(birds, house, run))
    for wider in (house_of(birds, house + more, run), house_of(birds, house, run + more)):
        much = verdicts_of(wider)
        for requirement in SHARED:
            assert BETTER.index(much[requirement]) >= BETTER.index(little[requirement])


@given(birds=st.integers(1, 60), house=FT2, run=FT2)
def test_square_metres_and_square_feet_of_one_floor_give_one_verdict(birds, house, run):
    feet = house_of(birds, house, run)
    metres = feet.replace(
        f"floor_ft2 = {house}\nroost", f"floor_m2 = {house * SQUARE_FOOT!r}\nroost"
    )
    metres = metres.replace(f"floor_ft2 = {run}\n", f"floor_m2 = {run * SQUARE_FOOT!r}\n")
    assert "floor_ft2" not in metres
    assert verdicts_of(metres) == verdicts_of(feet)


# --- Slips -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ("[house]\nfloor_m2 = 0", "line 9: house.floor_m2 = 0: must be more than 0"),
        ("[run]\nfloor_ft2 = 0", "line 9: run.floor_ft2 = 0: must be more than 0"),
        ("[flock]\nbirds = -3", "line 9: flock.birds = -3: must be at least 1"),
        (
            '[flock]\ntemperature = "warm"',
            "line 9: flock.temperature = \"warm\": write one of 'cold', 'mild' or 'hot'",
        ),
        (
            "[house]\nroost_m = 3\nwall_m = 2.5",
            "line 9: house.roost_m = 3: is more roost than the wall it runs along (wall_m = 2.5): "
            "shorten it, or count a wall once for each roost along it; if that is 3 feet, write "
            "roost_ft = 3",
        ),
        (
            "[house]\nfloor_m2 = 1.5\nroost_m = 5.01",
            "line 10: house.roost_m = 5.01: is more roost than the floor holds, at most 5 m with "
            "0.3 m between roosts (Directive 1999/74/EC Art. 4): correct the roost or the floor, "
            "or add wall_m, the length of wall that it runs along; if that is 5.01 feet, write "
            "roost_ft = 5.01",
        ),
        (
            "[house]\nfloor_m2 = 0.3\nroost_m = 30",
            "line 10: house.roost_m = 30: is more roost than the floor holds, at most 1 m with "
            "0.3 m between roosts (Directive 1999/74/EC Art. 4): correct the roost or the floor, "
            "or add wall_m, the length of wall that it runs along",
        ),
        (
            "[house]\nlittered_share = 0.5\nlittered_m2 = 1",
            "line 8: house: give the litter once, as littered_share, as littered_m2 or as "
            "littered_ft2",
        ),
        (
            "[house]\nfloor_m2 = 1.5\nlittered_m2 = 16",
            "line 8: house: littered_m2 = 16 is more than the floor has: correct one of them, or "
            "write littered_share = 1 if the whole floor is littered",
        ),
        ("[house]\nlittered_share = 50", "line 9: house.littered_share = 50: must be at most 1"),
        (
            "[house]\nroost_m = 3000",
            "line 9: house.roost_m = 3000: must be at most 1000 metres (3000 millimetres are 3)",
        ),
        (
            "[house]\nnest_box_cm = [300, 34, 34]",
            "line 9: house.nest_box_cm.1 = 300: must be at most 200 centimetres (300 millimetres "
            "are 30)",
        ),
        (
            "[house]\nroost_m = 6\nfloor_ft2 = 18",
            "line 9: house.roost_m = 6: is more roost than the floor holds, at most 5.57 m with "
            "0.3 m between roosts (Directive 1999/74/EC Art. 4): correct the roost or the floor, "
            "or add wall_m, the length of wall that it runs along; if that is 6 feet, write "
            "roost_ft = 6",
        ),
        ("[house]\nwall_m = 0", "line 9: house.wall_m = 0: must be more than 0"),
    ],
)
def test_what_cannot_be_is_refused_with_its_key_value_and_remedy(keys, message):
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, keys + "\n")
    assert str(caught.value) == f"test.toml, {message}"


@pytest.mark.parametrize(
    "keys",
    [
        "floor_m2 = 1.5\nroost_m = 5",
        "floor_m2 = 0.6\nroost_m = 2",
        "floor_m2 = 1.5\nroost_m = 9\nwall_m = 9",
        "roost_m = 9",
    ],
)
def test_as_much_roost_as_there_is_room_for_is_taken(keys):
    assert site(UTRECHT, f"[house]\n{keys}\n").settings.house.roost_m is not None


# --- Words and files ---------------------------------------------------------------------------


def test_the_demo_site_in_text(daylatch, alder_row):
    ran = daylatch("fit", "--year", "2027")
    assert (ran.status, ran.err) == (0, "")
    assert re.sub(r"rules \S+$", "rules X", ran.out, flags=re.M) == DEMO


DEMO = """\
daylatch house fit
Alder Row (demo)
51.72 N 0.41 E, 2027-01-01 to 2027-12-31; time-zone rules X
6 medium birds; house 18 sq ft (1.672 m2); run 6 m2 (64.58 sq ft)

Asleep only     274 nights: 2027-01-01 to 2027-02-06, 2027-02-22 to 2027-05-10,
                2027-07-26 to 2027-12-31
Awake inside    76 nights with over 2 h of light behind a shut door: 2027-05-11
                to 2027-07-25
Shut all day    14 days: 2027-02-08 to 2027-02-21
Over 14 h shut  69 nights: 2027-01-01 to 2027-01-24, 2027-11-17 to 2027-12-31

Fail            feed inside and water inside
Tight           house floor and run floor
Not checked     something to do and vents

Each line below says what your house has; under it stands what the norm (a
published figure to compare with) asks for, and where that comes from. Tight:
enough, but only just, or less than the better figure.

To sleep inside, every night
  tight          House floor     3 sq ft (0.279 m2) a bird
                 Norm floor-2-to-4-sq-ft asks for at least 2 sq ft (0.186 m2) a
                 bird, better 4 sq ft (0.372 m2): common practice, no source;
                 birds that only sleep inside.
                 69 nights over 14 h: common practice wants more floor then,
                 with feed and water inside, and names no figure.
  pass           Roost           30 cm (11.8 in) a bird
                 Norm roost-15-cm asks for at least 15 cm (5.91 in) a bird: SSI
                 2002/334 Sch. 3A 3(d), after Directive 1999/74/EC Art. 4;
                 Scotland and EU, from 350 hens up; SSI 2002/334 is superseded
                 (from memory: by SSI 2010/388).

To be awake inside, 2027-02-08 to 2027-02-21, 2027-05-11 to 2027-07-25
  pass           Waking space    13.8 sq ft (1.28 m2) a bird, in house and run
                 Norm waking-10-sq-ft asks for at least 10 sq ft (0.929 m2) a
                 bird: common practice, no source; house and joined run.
                 The run has no roof, and a housing order may want one: your
                 order decides.
  fail           Feed inside     none within reach
                 Norm feed-25-lb-per-100 asks for 113 g (4 oz) a bird and day
                 (25 lb for 100 birds): Pennsylvania State College extension, in
                 a Utah newspaper (newspapers.lib.utah.edu 9295289); USA,
                 Leghorns of which half or more lay; at the least; an old text;
                 undated.
                 99 g (3.5 oz) for all birds, for the night from 2027-06-17 (2 h
                 39 min of light)
                 9.5 kg (21 lb) for all birds, for 2027-02-08 to 2027-02-21 (14
                 days shut)
                 If it stands in the joined run, write feed_inside = true.
  fail           Water inside    none within reach
                 Norm water-180-to-320-l-per-1000 asks for 180 to 320 ml (6.09
                 to 10.8 US fl oz) a bird and day (180 to 320 l for 1000 birds):
                 Poultry Industry Council, Ontario; Canada, laying hens; typical
                 250 l per 1000; undated.
                 160 to 280 ml (5.3 to 9.4 US fl oz) for all birds, for the
                 night from 2027-06-17 (2 h 39 min of light)
                 15 to 27 l (4 to 7.1 US gal) for all birds, for 2027-02-08 to
                 2027-02-21 (14 days shut)
                 If it stands in the joined run, write water_inside = true.
                 Heat and cold are not counted in: add temperature under
                 [flock].
  not checked    Something to do
                 Bored, confined birds peck feathers: give space, perches and
                 hanging greens (common practice, no source). A file cannot
                 tell: look.

On any date
  tight          Run floor       10.8 sq ft (1 m2) a bird
                 Norm run-10-sq-ft asks for at least 10 sq ft (0.929 m2) a bird:
                 poultry.extension.org, Space allowances in housing for small
                 and backyard poultry flocks; USA, backyard hens; undated.
  pass           Nest boxes      3 birds a box
                 Norm nest-for-4-to-5 asks for at most 5 birds a box, better 4:
                 ask.extension.org Q257347, Darke County; Ohio, USA, backyard
                 hens; 2015.
  pass           Nest size       13.4 x 13.4 x 13.4 in (34 x 34 x 34 cm)
                 Norm box-12-12-12-in asks for at least 12 x 12 x 12 in (30.5 x
                 30.5 x 30.5 cm): common practice, no source; laying hens.
  pass           Litter          2790 cm2 (432 sq in) a bird, the whole floor
                 Norm litter-250-cm2 asks for at least 250 cm2 (38.8 sq in) a
                 bird and 1/3 of the floor: SSI 2002/334 Sch. 3A 3(e); Scotland,
                 from 350 hens up; superseded (from memory: by SSI 2010/388).
  not checked    Vents
                 No norm with a figure is known. Watch the air: people smell
                 ammonia at 20 to 30 ppm, keep it under 25 ppm (Penn State, read
                 where it is quoted); birds show signs above 20 to 25 ppm (UC
                 Davis, 2020, read where it is quoted).

A norm is advice, or law for others, and no permit: local law and any housing
order come first. EU and UK rules for laying hens hold from 350 hens up.
A schedule does not see the birds: count heads at dusk. A door can injure a bird
or shut one out: test its obstruction stop. Wiring, mains and batteries follow
local electrical codes and a licensed practitioner. Local animal-welfare and
housing orders come first.
"""


@pytest.mark.parametrize(
    "settings",
    ["", SIX + ORDER, SIX + "floor_m2 = 1\nnest_boxes = 0\n" + LATE, LATE + ORDER],
)
def test_text_fits_a_terminal(settings):
    text = fit_text.render(fit(settings, first="2027-01-01", last="2027-12-31")).decode()
    assert max(map(len, text.splitlines())) <= 80
    assert text == "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
    assert "local law and any" in text
    assert "count heads at dusk" in text


def test_a_site_without_birds_or_house_is_told_what_to_add(daylatch, tmp_path):
    (tmp_path / "site.toml").write_text(
        'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "Bare"\n'
        '[place]\nlatitude = 52\nlongitude = 5\nzone = "Europe/Amsterdam"\n'
    )
    ran = daylatch("fit", "--year", "2027")
    assert (ran.status, ran.err) == (0, "")
    assert "so nothing is\nchecked" in ran.out
    assert "Asleep only     365 nights" in ran.out
    assert "pass" not in ran.out
    # What it offers is taken.
    example = re.search(r"\n\n(  \[flock\].*?)\n\n[A-Z]", ran.out, re.S)[1]
    with (tmp_path / "site.toml").open("a") as file:
        file.write(example)
    again = daylatch("fit", "--year", "2027")
    assert again.status == 0
    assert "pass           Roost" in again.out


HOSTILE = '<script>alert("x")</script> $x_1$ [bold]=1+1[/bold] \N{SNOWMAN}, a very long name'


def test_the_keepers_text_comes_through_as_it_is(daylatch, tmp_path):
    (tmp_path / "site.toml").write_text(
        f"id = \"6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11\"\nname = '{HOSTILE}'\n"
        '[place]\nlatitude = 52\nlongitude = 5\nzone = "Europe/Amsterdam"\n'
        "[flock]\nbirds = 6\n",
        encoding="utf-8",
    )
    text = daylatch("fit", "--year", "2027")
    assert " ".join(text.out.split("\n52 N")[0].split()) == f"daylatch house fit {HOSTILE}"
    data = json.loads(daylatch("fit", "--year", "2027", "--to", "json").out)
    assert data["site"]["name"] == HOSTILE


def test_the_file_for_programs_says_what_the_text_says(daylatch, alder_row):
    data = json.loads(daylatch("fit", "--year", "2027", "--to", "json").out)
    assert data["generator"]["name"] == "daylatch fit"
    assert data["shut_all_day"] == [{"from": "2027-02-08", "until": "2027-02-21", "count": 14}]
    assert sum(run["count"] for run in data["asleep_only"] + data["awake_inside"]) == 350
    assert "local law" in data["local_law"]
    assert "count heads" in data["caution"]
    by_name = {line["requirement"]: line for line in data["requirements"]}
    assert [line["verdict"] for line in data["requirements"]] == [
        "tight", "pass", "pass", "fail", "fail", "not checked", "tight", "pass", "pass", "pass",
        "not checked",
    ]  # fmt: skip
    floor = by_name["floor_asleep"]
    assert floor["values"] == [pytest.approx(18 * SQUARE_FOOT / 6, abs=1e-6)]
    assert floor["norm"] == {
        "name": "floor-2-to-4-sq-ft",
        "figures": [0.185806, 0.371612],
        "unit": "m2",
        "source": "",
        "scope": "birds that only sleep inside",
        "year": "undated",
        "mark": "common practice",
        "status": "",
    }
    assert by_name["roost"]["norm"]["status"] == (
        "SSI 2002/334 is superseded (from memory: by SSI 2010/388)"
    )
    assert by_name["roost"]["doubts"] == []
    assert by_name["feed"]["needs"][1] == {
        "from": "2027-02-08",
        "until": "2027-02-21",
        "shut_days": 14,
        "awake_min": 0,
        "share_of_days": 14.0,
        "least": 9525.4,
        "most": 9525.4,
    }
    assert by_name["vents"]["norm"] is None


def test_files_are_told_apart_and_foreign_ones_kept(daylatch, alder_row, tmp_path):
    for name in ("fit.txt", "fit.json"):
        assert daylatch("fit", "--year", "2027", "-o", name).status == 0
        again = daylatch("fit", "--year", "2027", "-o", name)
        assert "already up to date" in again.out + again.err
    text, data = (tmp_path / name for name in ("fit.txt", "fit.json"))
    assert fit_text.wrote(text.read_bytes())
    assert not fit_text.wrote(data.read_bytes())
    assert fit_json.wrote(data.read_bytes())
    assert not fit_json.wrote(text.read_bytes())
    daylatch("plan", "--year", "2027", "-o", "plan.json")
    plan_file = (tmp_path / "plan.json").read_bytes()
    ran = daylatch("fit", "--year", "2027", "-o", "plan.json")
    assert ran.status == 6
    assert (tmp_path / "plan.json").read_bytes() == plan_file


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["--to", "csv"], 2, '--to is "csv": write one of text, json'),
        (["--from", "2027-13-01"], 2, "write a date of the calendar"),
        (["nowhere.toml"], 3, "cannot be read"),
    ],
)
def test_bad_wishes_end_with_one_message(daylatch, alder_row, arguments, status, words):
    ran = daylatch("fit", *arguments)
    assert ran.status == status
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert ran.out == ""


def test_the_how_to_shows_what_the_program_says(daylatch, alder_row):
    page = (Path(__file__).parents[3] / "docs/how-to/does-the-house-fit.md").read_text()
    shown = re.findall(r"```text\n(.*?)```", page, re.S)
    printed = daylatch("fit", "--year", "2027").out
    *blocks, warning, refusal = shown
    assert len(blocks) >= 3
    for block in blocks:
        assert block in printed
    text = alder_row.read_text()
    for roost_m, told in (("5", warning), ("9", refusal)):
        alder_row.write_text(text.replace("roost_m = 1.8", f"roost_m = {roost_m}"))
        number = re.compile(r"line \d+")
        assert number.sub("line N", told) == number.sub("line N", daylatch("fit").err)


def test_every_requirement_with_a_norm_is_checked():
    requirements = {line.requirement for line in fit("").lines}
    keys = {key for key in Norms.model_fields if not key.endswith("_h")}
    assert requirements == keys | {"something_to_do", "vents"}


def test_what_falls_short_never_looks_like_what_is_asked_for():
    """A roost of 137 cm for 9 birds is 15.22 cm a bird, and 6 in are 15.24 cm."""
    text = '[flock]\nbirds = 9\n[house]\nroost_m = 1.37\n[norms]\nroost = "roost-6-in"\n'
    found = line("roost", text + '[writing]\nunits = "metric"\n')
    assert found.verdict is Verdict.FAIL
    assert found.found == "15.22 cm a bird"
    assert found.wanted == "at least 15.2 cm (6 in) a bird"
