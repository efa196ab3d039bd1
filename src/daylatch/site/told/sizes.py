"""Sizes of a house that are possible but seldom meant: likely a figure in another unit.

A size is doubted where no house is likely to have it. The limits are wide on purpose, since a norm
says what is too little; they only have to tell feet from metres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from daylatch.site.keys.units import KEY_UNITS, are_of_one_kind, converted, split_unit
from daylatch.site.messages import toml_text
from daylatch.site.values.measures import UNITS, figure_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.site.housing import House, Run
    from daylatch.site.messages import KeyPath
    from daylatch.site.tables import SiteFile


class Shared(NamedTuple):
    """What the birds share, and between what no amount of it is doubted.

    Attributes
    ----------
    what : str
        What it is called.
    requirement : str
        Of which requirement of a house it is.
    least, most : float
        For a bird, in the unit.
    unit : str
        As names of keys have it.
    """

    what: str
    requirement: str
    least: float
    most: float
    unit: str


# The least is under the 550 cm2 of a hen in the cages of before (Directive 1999/74/EC Art. 5, from
# memory); the most is four times the 4 sq ft that norms ask for at the most.
_HOUSE_FLOOR = Shared("house floor", "floor_asleep", 0.05, 1.5, "m2")
# The least is under the 2 sq ft of the norm that asks for least (run-2-sq-ft); the most is 25 times
# the 4 m2 of the one that asks for most (run-4-m2).
_RUN_FLOOR = Shared("run floor", "run_floor", 0.15, 100.0, "m2")
# A third of the 15 cm, and twice the 10 in, that norms ask for.
_ROOST = Shared("roost", "roost", 0.05, 0.5, "m")
# A fifth of the 250 cm2 of the norm; the most is that of the floor.
_LITTER = Shared("litter", "litter", 0.005, 1.5, "m2")
# Common practice, no source: a hole of 2.5 cm, and half a square metre of open front.
_VENTS = Shared("vents", "vents", 5.0, 5000.0, "cm2")
SHARED = {
    "house.floor_m2": _HOUSE_FLOOR,
    "house.floor_ft2": _HOUSE_FLOOR,
    "house.roost_m": _ROOST,
    "house.roost_ft": _ROOST,
    "house.vents_cm2": _VENTS,
    "house.vents_in2": _VENTS,
    "house.littered_m2": _LITTER,
    "house.littered_ft2": _LITTER,
    "run.floor_m2": _RUN_FLOOR,
    "run.floor_ft2": _RUN_FLOOR,
}
"""The keys of what the birds share."""
BOX_SIDE_CM = (20.0, 120.0)
"""Between what no side of a nest box is doubted (common practice, no source: bantams have boxes of
8 in, and several hens may share a wide one)."""
# A bird's part of a length is told in the smaller unit.
_SMALLER = {"m": "cm", "ft": "in"}
# A house twice as long as wide has one roost of this many times the root of its floor along it, and
# twice round its walls this many (plain arithmetic).
_ALONG = math.sqrt(2.0)
_TWICE_ROUND = 6 * math.sqrt(2.0)
# The units in which such a figure may have been given, the likeliest first.
_TRIED = ("ft", "m", "in", "cm", "mm", "ft2", "m2", "in2", "cm2", "mm2")


@dataclass(frozen=True)
class Doubt:
    """A size that is likely another one.

    Attributes
    ----------
    path : tuple of str
        The table and the key.
    found : str
        Its value as TOML has it.
    words : str
        What is odd about it, and what to write if it was another unit.
    requirement : str
        Of which requirement of a house it is.
    """

    path: KeyPath
    found: str
    words: str
    requirement: str


def doubtful_sizes(settings: SiteFile) -> Iterator[Doubt]:
    """Yield the sizes of the house and its run that are likely in another unit than their key's."""
    house = settings.house
    birds = settings.flock.birds if settings.flock is not None else None
    if house is not None:
        yield from _box(house)
        yield from _wall(house, birds)
    for path, shared in SHARED.items():
        table, _, key = path.partition(".")
        total = getattr(getattr(settings, table), key, None)
        # That there are no vents is said with 0.
        if birds and total:
            yield from _shared(settings, path, shared, total, birds)


def _shared(
    settings: SiteFile, path: str, shared: Shared, total: float, birds: int
) -> Iterator[Doubt]:
    """Yield a doubt of what is shared out among the birds, if no bird has so little or so much."""
    table, _, key = path.partition(".")
    unit, most, where = split_unit(key)[1], shared.most, ""
    house = settings.house
    if shared is _ROOST and house is not None and house.area_m2 is not None:
        # One roost along the house is longer than a bird or two need, and quite usual.
        most = max(most, _ALONG * math.sqrt(house.area_m2) / birds)
        where = f", in a house of {_floor_text(house)}"
    small = _SMALLER.get(unit, unit)
    each = f"{figure_text(converted(total / birds, unit, small), 2)} {UNITS[small].shown}"
    count = "1 bird" if birds == 1 else f"{birds} birds"
    told = f"{total:g} {_shown(unit)} of {shared.what} for {count} is {each} a bird{where}"

    def is_likely(totals: list[float]) -> bool:
        return shared.least <= converted(totals[0] / birds, unit, shared.unit) <= most

    yield from _doubt(getattr(settings, table), path, told, is_likely, shared.requirement, birds)


def _wall(house: House, birds: int | None) -> Iterator[Doubt]:
    """Yield a doubt of a wall that is longer than the birds need and than twice round the house."""
    given, wall_m = house.given("wall"), house.wall_length_m
    if given is None or wall_m is None or house.area_m2 is None:
        return
    wall, unit = given
    root_m = math.sqrt(house.area_m2)
    most_m = max(_TWICE_ROUND * root_m, _ROOST.most * (birds or 0))
    if wall_m <= most_m:
        return
    told = f"{wall:g} {unit} is more than twice round a house of {_floor_text(house)}"

    def is_likely(walls: list[float]) -> bool:
        # A wall shorter than the shorter side is offered for no unit.
        return root_m / 2 <= converted(walls[0], unit, "m") <= most_m

    yield from _doubt(house, f"house.wall_{unit}", told, is_likely, "roost")


def _box(house: House) -> Iterator[Doubt]:
    given = house.given("nest_box")
    if given is None:
        return
    sides, unit = given
    told = f"{_values_text(sides)} {unit} is an odd size for a nest box"
    least, most = BOX_SIDE_CM

    def is_likely(sides: list[float]) -> bool:
        return all(least <= converted(side, unit, "cm") <= most for side in sides)

    yield from _doubt(house, f"house.nest_box_{unit}", told, is_likely, "nest_box")


def _doubt(
    table: House | Run,
    path: str,
    told: str,
    is_likely: Callable[[list[float]], bool],
    requirement: str,
    birds: int = 1,
) -> Iterator[Doubt]:
    """Yield a doubt of a size that is not likely, with each unit in which it would be.

    Parameters
    ----------
    told
        What is odd about it.
    is_likely
        Whether a figure, or several, in the unit of the key is likely.
    birds
        Among how many it is shared out.
    """
    name, _, key = path.partition(".")
    given = getattr(table, key)
    values = given if isinstance(given, list) else [given]
    if is_likely(values):
        return
    stem, unit = split_unit(key)
    offers = []
    for other in _TRIED:
        turned = [converted(value, other, unit) for value in values]
        if other == unit or not are_of_one_kind(other, unit) or not is_likely(turned):
            continue
        words = f"{_values_text(values)} {KEY_UNITS[other].words}"
        # Where there is a key for that unit, the figure can stay.
        if f"{stem}_{other}" in type(table).model_fields:
            offers.append(f"if that is {words}, write {stem}_{other} = {toml_text(given)}")
        else:
            right = [float(figure_text(value)) for value in turned]
            right_text = toml_text(right if isinstance(given, list) else right[0])
            offers.append(f"if that is {words}, write {key} = {right_text}")
    if birds > 1 and is_likely([value * birds for value in values]):
        offers.append(f"if that is for one bird, write {key} = {values[0] * birds:.4g}")
    remedy = ", or ".join(offers) or "measure it again"
    found = toml_text(given)
    yield Doubt((name, key), found, f"{told}: {remedy}; if it is right, leave it", requirement)


def _values_text(values: list[float]) -> str:
    return " x ".join(f"{value:g}" for value in values)


def _shown(unit: str) -> str:
    """Return a unit in short."""
    return UNITS[unit].shown if unit in UNITS else unit


def _floor_text(house: House) -> str:
    """Return the floor of a house as the file gives it."""
    key = "floor_m2" if house.floor_ft2 is None else "floor_ft2"
    return f"{getattr(house, key):g} {_shown(split_unit(key)[1])}"
