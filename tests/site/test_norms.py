"""Norms: the data file, the choice in the site file, and the words."""

import pytest

from daylatch.errors import SiteError
from daylatch.site.norms import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    MEASURED,
    PUBLISHED,
    SECONDARY,
    Norms,
    all_norms,
    names_of,
)
from daylatch.site.tables import table_model
from daylatch.site.values.measures import BOTH, UNITS, figure_text
from daylatch.site.writing import Writing
from sites import UTRECHT, site

NORMS = list(all_norms().values())
KEYS = [key for key in Norms.model_fields if not key.endswith("_h")]


@pytest.mark.parametrize("norm", NORMS, ids=lambda norm: norm.name)
def test_every_norm_is_whole(norm):
    assert norm.unit in UNITS
    assert norm.mark in {PUBLISHED, SECONDARY, COMMON_PRACTICE, FROM_MEMORY}
    # What is common practice says so, and never borrows a source; all else names one.
    assert bool(norm.source) is (norm.mark != COMMON_PRACTICE)
    assert norm.scope
    assert norm.year == "undated" or 1900 < int(norm.year) < 2100
    assert bool(norm.figures) is not bool(norm.by_size)
    assert set(norm.by_size) <= {"bantam", "light", "medium", "heavy"}
    for figures in (norm.figures, *norm.by_size.values()):
        assert list(figures) == sorted(figures)
        assert len(figures) in ({3} if norm.requirement == "nest_box" else {0, 1, 2})
        assert all(figure > 0 for figure in figures)
    if norm.requirement in ("birds_per_nest", "nest_box"):
        assert norm.figures


def test_names_are_given_once():
    text = [norm.name for norm in NORMS]
    assert len(set(text)) == len(text)
    assert all(name == name.lower() and " " not in name for name in text)


@pytest.mark.parametrize("key", KEYS)
def test_every_default_is_a_norm_of_its_requirement(key):
    assert Norms().norm(key).requirement == key
    assert Norms().norm(key).name in names_of(key)


def test_every_requirement_of_a_house_can_be_chosen_for():
    others = {"day_length", "dark"}
    assert {norm.requirement for norm in NORMS} == set(KEYS) | others


@pytest.mark.parametrize("key", KEYS)
def test_every_requirement_is_held_against_keys_of_the_site_file(key):
    measured = MEASURED[key]
    assert measured.keys
    assert set(measured.keys) <= set(table_model(measured.table).model_fields)


def test_a_site_file_chooses_and_says_from_when_a_night_counts():
    norms = site(
        UTRECHT, '[norms]\nroost = "roost-18-cm"\nawake_h = 3\nlong_night_h = 12.5\n'
    ).settings.norms
    assert norms.norm("roost").base_figures() == (18.0,)
    assert norms.norm("feed").name == "feed-25-lb-per-100"
    assert (norms.awake_h, norms.long_night_h) == (3.0, 12.5)
    assert site(UTRECHT).settings.norms is None


ROOSTS = "roost-15-cm, roost-18-cm, roost-6-in, roost-6-in-canada, roost-8-to-10-in"


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            'roost = "roost-15-c"',
            'norms.roost = "roost-15-c": no such norm; did you mean roost-15-cm? Write one of '
            + ROOSTS,
        ),
        ('roost = "xyz"', f'norms.roost = "xyz": no such norm: write one of {ROOSTS}'),
        (
            'roost = "litter-250-cm2"',
            'norms.roost = "litter-250-cm2": is a norm of litter, not of roost: write one of '
            + ROOSTS,
        ),
        (
            'litter = "dark-8-h"',
            'norms.litter = "dark-8-h": is a norm of dark, not of litter: write one of '
            "litter-250-cm2",
        ),
        (
            'roost = "\\u001b[31m"',
            f'norms.roost = "\N{REPLACEMENT CHARACTER}[31m": no such norm: write one of {ROOSTS}',
        ),
        ("roost = 15", "norms.roost = 15: write text in quotes"),
        ('rooost = "x"', 'norms.rooost = "x": is not a key here; did you mean roost?'),
        ("awake_h = -1", "norms.awake_h = -1: must be at least 0"),
        ("long_night_h = 25", "norms.long_night_h = 25: must be at most 24"),
    ],
)
def test_a_norm_that_does_not_exist_names_those_that_do(line, message):
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, f"[norms]\n{line}\n")
    assert str(caught.value) == f"test.toml, line 9: {message}"


def test_every_wrong_norm_is_named_at_once():
    with pytest.raises(SiteError) as caught:
        site(UTRECHT, '[norms]\nroost = "a"\nfeed = "b"\nawake_h = 99\n')
    assert [problem.key for problem in caught.value.problems] == [
        "norms.roost",
        "norms.feed",
        "norms.awake_h",
    ]


@pytest.mark.parametrize(
    ("name", "size", "text"),
    [
        ("floor-2-to-4-sq-ft", None, "2 to 4 sq ft (0.186 to 0.372 m2)"),
        ("run-4-m2", None, "4 m2 (43.1 sq ft)"),
        ("floor-9-hens-per-m2", None, "1 m2 for 9 birds, 0.111 m2 (1.2 sq ft) each"),
        ("feed-25-lb-per-100", None, "25 lb for 100 birds, 113 g (4 oz) each"),
        ("box-12-12-18-in", None, "12 x 12 x 18 in (30.5 x 30.5 x 45.7 cm)"),
        ("nest-for-4-to-5", None, "4 to 5 birds"),
        ("dark-8-h", None, "8 h"),
        ("floor-by-weight", "heavy", "3 to 3.5 sq ft (0.279 to 0.325 m2)"),
        ("floor-by-weight", "light", ""),
        ("floor-by-weight", None, ""),
    ],
)
def test_figures_stand_in_both_systems_the_published_one_first(name, size, text):
    assert all_norms()[name].wanted_text(size) == text


@pytest.mark.parametrize(
    ("name", "text"),
    [
        (
            "roost-15-cm",
            "SSI 2002/334 Sch. 3A 3(d), after Directive 1999/74/EC Art. 4; Scotland and EU, from "
            "350 hens up; SSI 2002/334 is superseded (from memory: by SSI 2010/388)",
        ),
        (
            "roost-18-cm",
            "Regulation (EC) 889/2008 Annex III, read where it is quoted; UK, organic hens; lapsed "
            "in the EU",
        ),
        (
            "nest-for-4-to-5",
            "ask.extension.org Q257347, Darke County; Ohio, USA, backyard hens; 2015",
        ),
        (
            "feed-100-to-130-g",
            "often given for modern hens, from memory: confirm it; laying hens; undated",
        ),
        ("floor-2-to-4-sq-ft", "common practice, no source; birds that only sleep inside"),
    ],
)
def test_a_source_stands_with_its_scope_and_year_and_how_well_it_is_known(name, text):
    assert all_norms()[name].source_text() == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (3.0, "3"),
        (0.278709, "0.279"),
        (0.0697, "0.0697"),
        (11.811, "11.8"),
        (99.96, "100"),
        (2787.0912, "2790"),
        (40.0, "40"),
        (100_000.0, "100000"),
    ],
)
def test_numbers_have_three_figures_and_no_exponent(value, text):
    assert figure_text(value) == text


def test_amounts_in_both_systems():
    assert BOTH.amount((0.09290304,), "m2") == "0.0929 m2 (1 sq ft)"
    assert BOTH.amount((30.48,), "in") == "12 in (30.5 cm)"
    assert BOTH.amount((1.0,), "birds") == "1 bird"
    assert BOTH.amount((1.672254,), "ft2", 4) == "18 sq ft (1.672 m2)"
    # Two ends that look alike are one.
    assert BOTH.amount((15.0, 15.001), "cm") == "15 cm (5.91 in)"


def test_totals_turn_to_the_larger_unit_and_have_two_figures():
    assert BOTH.total((98.6, 98.6), "g") == "99 g (3.5 oz)"
    assert BOTH.total((900.0, 1100.0), "g") == "0.9 to 1.1 kg (2 to 2.4 lb)"
    assert BOTH.total((156.0, 278.0), "ml") == "160 to 280 ml (5.3 to 9.4 US fl oz)"
    assert BOTH.total((15_120.0, 26_880.0), "ml") == "15 to 27 l (4 to 7.1 US gal)"


# --- What each source says ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "words"),
    [
        # As their pages have it: what is a minimum there is called one.
        ("water-6-l-per-12", "UK, small flocks; at the least"),
        ("water-5-gal-per-100", "Virginia, USA, backyard hens; at the least"),
        ("feed-25-lb-per-100", "at the least"),
        ("floor-1.5-sq-ft", "at the least"),
    ],
)
def test_a_minimum_is_called_one(name, words):
    assert words in all_norms()[name].source_text()


def test_no_condition_is_added_to_a_page_that_makes_none():
    assert all_norms()["floor-1.5-to-2-sq-ft"].scope == "Ohio, USA, backyard hens"


def test_the_column_of_virginia_is_cited_with_its_date_wherever_it_is_used():
    cited = {norm.name for norm in NORMS if "heraldcourier.com, 2020-08-10" in norm.source}
    assert cited == {
        "floor-1.5-sq-ft",
        "roost-6-in",
        "water-5-gal-per-100",
        "day-14-to-16-h-virginia",
    }
    assert all("Virginia, USA" in all_norms()[name].scope for name in cited)


LAPSED = {
    "SSI 2002/334": "superseded (from memory: by SSI 2010/388)",
    "589/2008": "repealed in the EU by Regulation (EU) 2023/2465",
    "889/2008": "lapsed in the EU",
}


@pytest.mark.parametrize("norm", NORMS, ids=lambda norm: norm.name)
def test_a_law_that_no_longer_holds_says_what_became_of_it(norm):
    law = next((law for law in LAPSED if law in norm.source), None)
    assert norm.status.endswith(LAPSED[law] if law else "")
    assert bool(norm.status) is (law is not None)
    if law and law.endswith("2008"):
        assert norm.scope.startswith("UK")


COUNTRIES = ("USA", "UK", "EU", "Canada", "Australia", "Scotland")


@pytest.mark.parametrize("norm", NORMS, ids=lambda norm: norm.name)
def test_every_norm_that_was_read_names_its_country(norm):
    if norm.mark in (PUBLISHED, SECONDARY):
        assert any(country in norm.scope for country in COUNTRIES)


# A name that was ever published stays, since site files have it.
PUBLISHED_NAMES = """
floor-2-to-4-sq-ft floor-3-to-4-sq-ft floor-1.5-to-2-sq-ft floor-by-weight floor-9-hens-per-m2
waking-10-sq-ft waking-2-sq-ft waking-9-hens-per-m2 run-10-sq-ft run-2-sq-ft run-4-m2 roost-15-cm
roost-18-cm roost-6-in roost-6-in-canada roost-8-to-10-in nest-for-4-to-5 nest-for-7
box-12-12-12-in box-12-12-18-in litter-250-cm2 feed-25-lb-per-100 feed-100-to-130-g
water-180-to-320-l-per-1000 water-220-to-270-l-per-1000 water-6-l-per-12 water-5-gal-per-100
"""


@pytest.mark.parametrize("name", PUBLISHED_NAMES.split())
def test_a_name_of_before_still_loads(name):
    requirement = all_norms()[name].requirement
    made = site(UTRECHT, f'[norms]\n{requirement} = "{name}"\n')
    assert made.settings.norms.norm(requirement).name == name
    assert made.warnings == ()


# --- Which norm holds --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "name"),
    [
        ("bantam", "feed-by-size"),
        ("light", "feed-by-size"),
        ("heavy", "feed-by-size"),
        # The page has no figure for these.
        ("medium", "feed-25-lb-per-100"),
        (None, "feed-25-lb-per-100"),
    ],
)
def test_feed_goes_by_size_where_the_size_is_given_and_known(size, name):
    assert Norms().norm("feed", size).name == name


def test_a_norm_that_the_file_names_holds_for_any_size():
    chosen = site(UTRECHT, '[norms]\nfeed = "feed-25-lb-per-100"\n').settings.norms
    assert chosen.norm("feed", "bantam").name == "feed-25-lb-per-100"
    assert Norms().norm("floor_asleep", "bantam").name == "floor-2-to-4-sq-ft"


@pytest.mark.parametrize(
    ("name", "size", "text"),
    [
        (
            "floor-2-to-4-sq-ft",
            None,
            "at least 2 sq ft (0.186 m2) a bird, better 4 sq ft (0.372 m2)",
        ),
        ("roost-15-cm", None, "at least 15 cm (5.91 in) a bird"),
        (
            "floor-9-hens-per-m2",
            None,
            "at least 0.111 m2 (1.2 sq ft) a bird (1 m2 for 9 birds)",
        ),
        ("nest-for-4-to-5", None, "at most 5 birds a box, better 4"),
        ("nest-for-7", None, "at most 7 birds a box"),
        ("box-12-12-12-in", None, "at least 12 x 12 x 12 in (30.5 x 30.5 x 30.5 cm)"),
        ("litter-250-cm2", None, "at least 250 cm2 (38.8 sq in) a bird and 1/3 of the floor"),
        ("feed-25-lb-per-100", None, "113 g (4 oz) a bird and day (25 lb for 100 birds)"),
        ("feed-by-size", "light", "100 to 120 g (3.53 to 4.23 oz) a bird and day"),
        ("feed-by-size", "medium", ""),
    ],
)
def test_what_a_norm_asks_for_is_said_as_a_least_and_a_better_one(name, size, text):
    assert all_norms()[name].asks_text(size) == text


def test_a_norm_whose_law_no_longer_holds_loads_with_a_notice():
    norms = site(UTRECHT, '[norms]\nroost = "roost-18-cm"\nrun_floor = "run-4-m2"\n').settings.norms
    assert list(norms.told(Writing().ways)) == [
        "Run floor for each bird: run-4-m2, 4 m2 (43.1 sq ft); retired: repealed in the EU by "
        "Regulation (EU) 2023/2465",
        "Length of roost for each bird: roost-18-cm, 18 cm (7.09 in); retired: lapsed in the EU",
    ]
