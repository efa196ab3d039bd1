"""Measures of a house and its birds: units of two systems, and how an amount is written in both."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from daylatch.site.keys.units import converted

if TYPE_CHECKING:
    from collections.abc import Iterable


class Unit(NamedTuple):
    """A unit of measure.

    Attributes
    ----------
    shown : str
        As it is written.
    base : str
        The unit that amounts of its kind are computed in.
    factor : float
        How many of those it is.
    other : str
        Its counterpart in the other system; empty without one.
    """

    shown: str
    base: str
    factor: float
    other: str


# The avoirdupois pound is 453.59237 g and the US gallon 231 cubic inches, exactly
# (US National Bureau of Standards, Federal Register 24:5445, 1959; NIST Handbook 44, appendix C).
UNITS = {
    "m2": Unit("m2", "m2", 1.0, "ft2"),
    "ft2": Unit("sq ft", "m2", converted(1, "ft2", "m2"), "m2"),
    "cm2": Unit("cm2", "cm2", 1.0, "in2"),
    "in2": Unit("sq in", "cm2", converted(1, "in", "cm") ** 2, "cm2"),
    "cm": Unit("cm", "cm", 1.0, "in"),
    "in": Unit("in", "cm", converted(1, "in", "cm"), "cm"),
    "g": Unit("g", "g", 1.0, "oz"),
    "oz": Unit("oz", "g", 28.349523125, "g"),
    "kg": Unit("kg", "g", 1000.0, "lb"),
    "lb": Unit("lb", "g", 453.59237, "kg"),
    "ml": Unit("ml", "ml", 1.0, "fl_oz"),
    "fl_oz": Unit("US fl oz", "ml", 29.5735295625, "ml"),
    "l": Unit("l", "ml", 1000.0, "gal"),
    "gal": Unit("US gal", "ml", 3785.411784, "l"),
    "h": Unit("h", "h", 1.0, ""),
    "birds": Unit("birds", "birds", 1.0, ""),
}
"""Every unit by the name that norms have for it."""

FT2 = UNITS["ft2"].factor
"""A square foot [m2]."""
_LARGER = {"g": "kg", "ml": "l"}


FIGURES = 3
"""To how many figures an amount is written."""
GIVEN_FIGURES = 4
"""To how many, if it is as the keeper measured it."""


def figure_text(value: float, figures: int = FIGURES) -> str:
    """Return a number to so many figures: ``0.279``, ``3``, ``2790``.

    The last zeros behind the point are left out.
    """
    if value == 0:
        return "0"
    places = figures - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount_text(values: Iterable[float], unit: str, figures: int = FIGURES) -> str:
    """Return an amount, or a range of it, in its own unit: ``2 to 4 sq ft``."""
    texts = list(dict.fromkeys(figure_text(value, figures) for value in values))
    shown = UNITS[unit].shown
    if unit == "birds" and texts == ["1"]:
        shown = "bird"
    return f"{' to '.join(texts)} {shown}"


def both_text(base_values: Iterable[float], unit: str, figures: int = FIGURES) -> str:
    """Return an amount in a unit and in its counterpart: ``2 to 4 sq ft (0.186 to 0.372 m2)``.

    Parameters
    ----------
    base_values
        One value or the ends of a range, in the unit's base.
    unit
        The one that comes first.
    figures
        To how many figures.
    """
    values = list(base_values)
    names = filter(None, (unit, UNITS[unit].other))
    texts = [
        amount_text((value / UNITS[name].factor for value in values), name, figures)
        for name in names
    ]
    return " ".join([texts[0], *(f"({text})" for text in texts[1:])])


def sides_text(sides_cm: tuple[float, ...], unit: str) -> str:
    """Return the sides of a box in a unit and in its counterpart."""
    texts = []
    for name in (unit, UNITS[unit].other):
        sides = [amount_text((side / UNITS[name].factor,), name).split()[0] for side in sides_cm]
        texts.append(f"{' x '.join(sides)} {UNITS[name].shown}")
    return f"{texts[0]} ({texts[1]})"


def total_text(base_values: Iterable[float], base: str) -> str:
    """Return about how many grams or millilitres, in both systems.

    To two figures, since intakes are known no better; in kilograms or litres from one of them on.
    """
    values = list(base_values)
    larger = _LARGER[base]
    return both_text(values, larger if max(values) >= UNITS[larger].factor else base, 2)
