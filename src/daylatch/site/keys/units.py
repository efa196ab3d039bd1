"""The unit that ends a key's name, and other units in which people give such a figure."""

from __future__ import annotations

from typing import NamedTuple


class KeyUnit(NamedTuple):
    """A unit as names of keys have it.

    Attributes
    ----------
    words : str
        What it is called, of several.
    kind : str
        What it measures.
    factor : float
        How many of the first unit of its kind it is.
    zero : float
        Where the first unit of its kind has its zero, for temperatures.
    """

    words: str
    kind: str
    factor: float
    zero: float = 0.0


# The foot is 0.3048 m and the inch 0.0254 m, exactly (US National Bureau of Standards, Federal
# Register 24:5445, 1959).
KEY_UNITS = {
    "m": KeyUnit("metres", "length", 1.0),
    "cm": KeyUnit("centimetres", "length", 0.01),
    "mm": KeyUnit("millimetres", "length", 0.001),
    "ft": KeyUnit("feet", "length", 0.3048),
    "in": KeyUnit("inches", "length", 0.0254),
    "m2": KeyUnit("square metres", "area", 1.0),
    "cm2": KeyUnit("square centimetres", "area", 1e-4),
    "mm2": KeyUnit("square millimetres", "area", 1e-6),
    "ft2": KeyUnit("square feet", "area", 0.09290304),
    "in2": KeyUnit("square inches", "area", 0.00064516),
    "h": KeyUnit("hours", "time", 3600.0),
    "min": KeyUnit("minutes", "time", 60.0),
    "s": KeyUnit("seconds", "time", 1.0),
    "c": KeyUnit("degrees Celsius", "temperature", 1.0),
    "f": KeyUnit("degrees Fahrenheit", "temperature", 5 / 9, 32.0),
    "ppm": KeyUnit("parts per million", "share", 1.0),
}
"""Units by how they end the names of keys: those of the site file, and those that people try."""
_SPELT = {
    "m": ("metre", "metres", "meter", "meters"),
    "ft": ("feet", "foot"),
    "in": ("inch", "inches"),
    "m2": ("sqm", "sq_m"),
    "ft2": ("sqft", "sq_ft"),
    "in2": ("sqin", "sq_in"),
    "h": ("hour", "hours", "hr", "hrs"),
    "min": ("minute", "minutes", "mins"),
    "s": ("second", "seconds", "sec"),
}
_ENDINGS = {name: name for name in KEY_UNITS} | {
    spelt: name for name, others in _SPELT.items() for spelt in others
}
# The longer first, so that "floor_sq_ft" is not in feet.
_BY_LENGTH = sorted(_ENDINGS, key=len, reverse=True)
SMALLER = {"m": "mm", "cm": "mm", "m2": "cm2", "ft2": "in2", "cm2": "mm2"}
"""The unit in which a figure that is far too large for its key was likely given."""


def split_unit(key: str) -> tuple[str, str]:
    """Return what a key is called without its unit, and the unit; empty for a key without one."""
    for ending in _BY_LENGTH:
        if key.endswith(f"_{ending}"):
            return key.removesuffix(f"_{ending}"), _ENDINGS[ending]
    return key, ""


def are_of_one_kind(unit: str, other: str) -> bool:
    """Return whether one unit can be turned into the other."""
    return KEY_UNITS[unit].kind == KEY_UNITS[other].kind


def converted(value: float, unit: str, other: str) -> float:
    """Return a value in another unit of its kind."""
    one, another = KEY_UNITS[unit], KEY_UNITS[other]
    return (value - one.zero) * one.factor / another.factor + another.zero
