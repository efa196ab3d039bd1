"""Published figures of housing, feed and water, against the norms as the program holds them.

Each case names its source and the figure there. Where a figure is known in two units, or for one
bird and for many, the second is the check: it is compared within the rounding with which it is
printed. The sources differ by country and kind of keeping and are no law for a
small flock; EU and UK rules for laying hens hold from 350 hens up.
"""

import pytest

from daylatch.site.norms import COMMON_PRACTICE, FROM_MEMORY, PUBLISHED, SECONDARY, all_norms
from daylatch.site.values.measures import UNITS

# Norm, unit, figures for a bird in that unit, within what they are printed, mark.
FIGURES = [
    # at least 25 lb per 100 Leghorns a day at half lay or more: extension poultry specialist,
    # Pennsylvania State College, newspapers.lib.utah.edu 9295289; a quarter of a pound, 113.4 g.
    ("feed-25-lb-per-100", "lb", [0.25], 0.0005, PUBLISHED),
    ("feed-25-lb-per-100", "g", [113.4], 0.05, PUBLISHED),
    # From memory, to be confirmed.
    ("feed-100-to-130-g", "g", [100, 130], 0, FROM_MEMORY),
    # 180-320, typical 250 L/1000 hens/day: Poultry Industry Council, Ontario.
    ("water-180-to-320-l-per-1000", "l", [0.180, 0.320], 1e-9, PUBLISHED),
    # 220 (50 % lay) to 270 (90 %) L/1000 at 21 C: Poultry CRC, Australia, as quoted.
    ("water-220-to-270-l-per-1000", "ml", [220, 270], 1e-9, SECONDARY),
    # 6 L per 12 adults at the minimum, 500 ml a hen: The Country Smallholder, as quoted.
    ("water-6-l-per-12", "ml", [500], 1e-9, SECONDARY),
    # at least 5 gal/100 birds (189 ml): extension column, heraldcourier.com 2020-08-10, Virginia.
    ("water-5-gal-per-100", "ml", [189], 0.5, PUBLISHED),
    # at most 9 hens a square metre of usable area: Directive 1999/74/EC Art. 4; 0.111 m2 or
    # 1.2 sq ft.
    ("floor-9-hens-per-m2", "m2", [0.111], 0.0005, PUBLISHED),
    ("floor-9-hens-per-m2", "ft2", [1.2], 0.05, PUBLISHED),
    ("waking-9-hens-per-m2", "m2", [0.111], 0.0005, PUBLISHED),
    # at most 2,500 hens a hectare, one to 4 m2: Regulation (EC) 589/2008 Annex II 1(c), in force
    # in the UK; repealed in the EU by Regulation (EU) 2023/2465.
    ("run-4-m2", "m2", [10_000 / 2500], 0, PUBLISHED),
    # 3-4 sq ft indoor + 10 sq ft outdoor per hen: poultry.extension.org. 4 sq ft are 0.3716 m2
    # and 10 are 0.929 m2 by plain arithmetic.
    ("floor-3-to-4-sq-ft", "m2", [0.2787, 0.3716], 0.00005, PUBLISHED),
    ("run-10-sq-ft", "m2", [0.929], 0.0005, PUBLISHED),
    # min 1.5, usual 2 sq ft indoor; 2 sq ft outdoor: ask.extension.org Q257347.
    ("floor-1.5-to-2-sq-ft", "ft2", [1.5, 2], 1e-9, PUBLISHED),
    ("run-2-sq-ft", "ft2", [2], 1e-9, PUBLISHED),
    # at least 1.5 sq ft: extension column, heraldcourier.com 2020-08-10, Virginia.
    ("floor-1.5-sq-ft", "ft2", [1.5], 1e-9, PUBLISHED),
    # about 2.0 sq ft, all litter: NFACC code 2017, as summarised; 12 in are a foot.
    ("waking-2-sq-ft", "in2", [288], 1e-9, SECONDARY),
    # 15 cm a hen: SSI 2002/334 Sch. 3A 3(d), superseded (from memory: by SSI 2010/388). 18 cm:
    # Regulation (EC) 889/2008 Annex III, quoted; lapsed in the EU.
    ("roost-15-cm", "cm", [15], 0, PUBLISHED),
    ("roost-18-cm", "cm", [18], 0, SECONDARY),
    # 6 in a bird: extension column, heraldcourier.com 2020-08-10; NFACC code 2017, as summarised.
    ("roost-6-in", "cm", [15.24], 1e-9, PUBLISHED),
    ("roost-6-in-canada", "in", [6], 1e-9, SECONDARY),
    # 8-10 in: from memory, to be confirmed.
    ("roost-8-to-10-in", "in", [8, 10], 1e-9, FROM_MEMORY),
    # 1 per 7 hens: SSI 2002/334 Sch. 3A 3(c). 1 per 4-5 hens, 12 x 12 x 18 in:
    # ask.extension.org Q257347.
    ("nest-for-7", "birds", [7], 0, PUBLISHED),
    # The Directive that this article transposes; its own text was not read.
    ("nest-for-7-eu", "birds", [7], 0, FROM_MEMORY),
    ("nest-for-4-to-5", "birds", [4, 5], 0, PUBLISHED),
    ("box-12-12-18-in", "in", [12, 12, 18], 1e-9, PUBLISHED),
    # 250 cm2 a hen: SSI 2002/334 Sch. 3A 3(e).
    ("litter-250-cm2", "cm2", [250], 0, PUBLISHED),
    # 14-16 h: Univ. of Arizona AZ2185 (2026); extension column, heraldcourier.com 2020-08-10; Univ.
    # of Nebraska (2004), quoted. About 12 h; at most 16-17 h of use: Univ. of Missouri (2023),
    # quoted.
    ("day-14-to-16-h", "h", [14, 16], 0, PUBLISHED),
    ("day-14-to-16-h-virginia", "h", [14, 16], 0, PUBLISHED),
    ("day-14-to-16-h-nebraska", "h", [14, 16], 0, SECONDARY),
    ("day-12-to-17-h", "h", [12, 17], 0, SECONDARY),
    # about one third of the day: Directive 1999/74/EC Annex 3. At least 8 h: Defra compendium
    # 8.4.4.
    ("dark-a-third", "h", [24 / 3], 0, PUBLISHED),
    ("dark-8-h", "h", [8], 0, PUBLISHED),
    # Common practice, no source.
    ("floor-2-to-4-sq-ft", "ft2", [2, 4], 1e-9, COMMON_PRACTICE),
    ("waking-10-sq-ft", "ft2", [10], 1e-9, COMMON_PRACTICE),
    ("box-12-12-12-in", "in", [12, 12, 12], 1e-9, COMMON_PRACTICE),
]


@pytest.mark.parametrize(("name", "unit", "figures", "printed_to", "mark"), FIGURES)
def test_a_norm_has_the_figures_of_its_source(name, unit, figures, printed_to, mark):
    norm = all_norms()[name]
    assert norm.mark == mark
    assert UNITS[unit].base == UNITS[norm.unit].base or (unit, norm.unit) == ("in2", "ft2")
    held = [value * _in_base(norm.unit) / _in_base(unit) for value in _as_published(norm)]
    assert held == pytest.approx(figures, abs=printed_to, rel=1e-12)


def _as_published(norm):
    """Return the figures for a bird in the unit of the source."""
    return [figure / UNITS[norm.unit].factor for figure in norm.base_figures()]


def _in_base(unit):
    """Return a unit in its base, areas of both kinds in square centimetres."""
    return UNITS[unit].factor * (10_000 if UNITS[unit].base == "m2" else 1)


def test_every_norm_with_one_set_of_figures_stands_here():
    one_set = {norm.name for norm in all_norms().values() if not norm.by_size}
    assert {case[0] for case in FIGURES} == one_set


def test_floor_by_body_weight():
    # K-State Wild West District, Housing Tips for Small Poultry Flocks, 2020-10-28: 0.75 to 1 sq ft
    # for breeds of 1.3 to 1.5 lb, 3 to 3.5 sq ft for 7.5 to 8 lb; nothing between is quoted.
    norm = all_norms()["floor-by-weight"]
    assert norm.mark == PUBLISHED
    square_foot = 0.09290304
    assert norm.base_figures("bantam") == pytest.approx((0.75 * square_foot, square_foot))
    assert norm.base_figures("heavy") == pytest.approx((3 * square_foot, 3.5 * square_foot))
    assert norm.base_figures("light") is norm.base_figures("medium") is norm.base_figures() is None


def test_feed_by_size():
    # alpinevet.com.au, Feeding backyard poultry (Australia, undated): 100 to 120 g a day for
    # lighter breeds, about 80 g for bantams, about 180 g for heavy ones; nothing for sizes between.
    norm = all_norms()["feed-by-size"]
    assert norm.mark == PUBLISHED
    assert norm.base_figures("bantam") == (80,)
    assert norm.base_figures("light") == (100, 120)
    assert norm.base_figures("heavy") == (180,)
    assert norm.base_figures("medium") is norm.base_figures() is None


def test_littered_floor_is_also_a_third_of_it():
    # 250 cm2 a hen and a third of the floor: SSI 2002/334 Sch. 3A 3(e).
    assert {norm.name: norm.one_part_in for norm in all_norms().values() if norm.one_part_in} == {
        "litter-250-cm2": 3
    }


def test_only_the_source_that_says_so_scales_water_in_heat():
    # +30-50 % above 32 C: Poultry CRC, Australia, as quoted.
    assert {norm.name: norm.hot for norm in all_norms().values() if norm.hot} == {
        "water-220-to-270-l-per-1000": (1.3, 1.5)
    }


@pytest.mark.parametrize(
    ("unit", "base", "factor"),
    [
        # The international foot is 0.3048 m and the inch 2.54 cm, exactly; the pound 453.59237 g;
        # the US gallon 231 cubic inches, of 128 fluid ounces (NIST Handbook 44, appendix C).
        ("ft2", "m2", 0.3048**2),
        ("ft2", "m2", 0.09290304),
        ("in", "cm", 2.54),
        ("in2", "cm2", 2.54**2),
        ("lb", "g", 453.59237),
        ("oz", "g", 453.59237 / 16),
        ("gal", "ml", 231 * 2.54**3),
        ("fl_oz", "ml", 231 * 2.54**3 / 128),
        # A US pint is 473 ml: an eighth of a gallon.
        ("gal", "ml", 8 * 473.176473),
    ],
)
def test_conversions_are_the_legal_ones(unit, base, factor):
    assert UNITS[unit].base == base
    assert UNITS[unit].factor == pytest.approx(factor, rel=1e-12)
