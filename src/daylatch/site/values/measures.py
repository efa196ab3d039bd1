"""Measures of a house and its birds: units of two systems, and how an amount is written."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from daylatch.site.keys.units import converted

if TYPE_CHECKING:
    from collections.abc import Iterable


METRIC, US = "metric", "us"
"""The systems of units, as the site file calls them."""


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
    system : str
        `METRIC` or `US`; empty for what both have.
    """

    shown: str
    base: str
    factor: float
    other: str
    system: str


# The avoirdupois pound is 453.59237 g and the US gallon 231 cubic inches, exactly
# (US National Bureau of Standards, Federal Register 24:5445, 1959; NIST Handbook 44, appendix C).
UNITS = {
    "m2": Unit("m2", "m2", 1.0, "ft2", METRIC),
    "ft2": Unit("sq ft", "m2", converted(1, "ft2", "m2"), "m2", US),
    "cm2": Unit("cm2", "cm2", 1.0, "in2", METRIC),
    "in2": Unit("sq in", "cm2", converted(1, "in2", "cm2"), "cm2", US),
    "m": Unit("m", "cm", 100.0, "ft", METRIC),
    "ft": Unit("ft", "cm", converted(1, "ft", "cm"), "m", US),
    "cm": Unit("cm", "cm", 1.0, "in", METRIC),
    "in": Unit("in", "cm", converted(1, "in", "cm"), "cm", US),
    "g": Unit("g", "g", 1.0, "oz", METRIC),
    "oz": Unit("oz", "g", 28.349523125, "g", US),
    "kg": Unit("kg", "g", 1000.0, "lb", METRIC),
    "lb": Unit("lb", "g", 453.59237, "kg", US),
    "ml": Unit("ml", "ml", 1.0, "fl_oz", METRIC),
    "fl_oz": Unit("US fl oz", "ml", 29.5735295625, "ml", US),
    "l": Unit("l", "ml", 1000.0, "gal", METRIC),
    "gal": Unit("US gal", "ml", 3785.411784, "l", US),
    "h": Unit("h", "h", 1.0, "", ""),
    "birds": Unit("birds", "birds", 1.0, "", ""),
}
"""Every unit by the name that norms have for it."""

FT2 = UNITS["ft2"].factor
"""A square foot [m2]."""
_LARGER = {"g": "kg", "ml": "l"}


FIGURES = 3
"""To how many figures an amount is written."""
GIVEN_FIGURES = 4
"""To how many, if it is as the keeper measured it."""
_FIGURES_OF_INTAKE = 2


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


@dataclass(frozen=True)
class Measures:
    """How lengths, areas, weights, volumes and temperatures are written for people.

    `Site.measures` says which way a site's readers are shown.

    Attributes
    ----------
    system : str
        `METRIC`, or `US`, that alone; empty for both, the unit that an amount was given in first.
    """

    system: str = ""

    def amount(self, base_values: Iterable[float], unit: str, figures: int = FIGURES) -> str:
        """Return an amount, or a range of it: ``2 to 4 sq ft (0.186 to 0.372 m2)``.

        Parameters
        ----------
        base_values
            One value or the ends of a range, in the unit's base.
        unit
            In which it was given.
        figures
            To how many figures.
        """
        return self._together(self._units(unit), base_values, figures)

    def given(self, value: float, unit: str) -> str:
        """Return a size as the keeper gave it, or in the units that the keeper writes."""
        if not self.system:
            return f"{value:g} {UNITS[unit].shown}"
        return self.amount((value * UNITS[unit].factor,), unit, GIVEN_FIGURES)

    def published(self, base_values: Iterable[float], unit: str) -> str:
        """Return an amount that stands in a source, always with what it is there."""
        own, *_ = self._units(unit)
        units = [own, unit] if own != unit else self._units(unit)
        return self._together(units, base_values, FIGURES)

    def sides(self, sides_cm: Iterable[float], unit: str) -> str:
        """Return the sides of a box, given in a unit: ``12 x 12 x 12 in``."""
        return self._boxes(self._units(unit), sides_cm)

    def published_sides(self, sides_cm: Iterable[float], unit: str) -> str:
        """Return the sides of a box that stand in a source, always with what they are there."""
        own, *_ = self._units(unit)
        return self._boxes([own, unit] if own != unit else self._units(unit), sides_cm)

    def total(self, base_values: Iterable[float], base: str) -> str:
        """Return about how many grams or millilitres, as an amount or a range.

        To two figures, since intakes are known no better; in kilograms or litres from one of them
        on, in pounds or gallons likewise.
        """
        values = list(base_values)
        larger = _LARGER[base]
        own, *_ = self._units(larger)
        unit = larger if max(values) >= UNITS[own].factor else base
        return self.amount(values, unit, _FIGURES_OF_INTAKE)

    def temperature(self, *values_c: float) -> str:
        """Return a temperature, or a range of them: ``-10 to 35 °C``."""
        unit = "f" if self.system == US else "c"
        shown = (f"{converted(value, 'c', unit):.4g}" for value in values_c)
        return f"{' to '.join(shown)} °{unit.upper()}"

    def _units(self, unit: str) -> list[str]:
        """Return in which units an amount is written."""
        known = UNITS[unit]
        if not self.system:
            return [unit, known.other] if known.other else [unit]
        return [unit if known.system in ("", self.system) else known.other]

    def _together(self, units: list[str], base_values: Iterable[float], figures: int) -> str:
        values = list(base_values)
        first, *others = (
            amount_text((value / UNITS[name].factor for value in values), name, figures)
            for name in units
        )
        return " ".join([first, *(f"({text})" for text in others)])

    def _boxes(self, units: list[str], sides_cm: Iterable[float]) -> str:
        sides = list(sides_cm)
        first, *others = (
            f"{' x '.join(figure_text(side / UNITS[name].factor) for side in sides)} "
            f"{UNITS[name].shown}"
            for name in units
        )
        return " ".join([first, *(f"({text})" for text in others)])


BOTH = Measures()
"""Both systems, as programs and the reference of norms are given them."""
