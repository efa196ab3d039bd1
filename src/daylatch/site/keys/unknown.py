"""Which key was meant by one that does not exist: never one in another unit without saying so."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

from daylatch.site.keys.units import KEY_UNITS, are_of_one_kind, converted, split_unit
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

_ALIKE = 0.65
"""From which likeness on a key may have been meant, of 1."""


def unknown_key(key: str, allowed: Sequence[str]) -> str:
    """Return what would be right instead of a key that is not known.

    Parameters
    ----------
    key
        As the file has it.
    allowed
        The keys of its table.
    """
    return "is not a key here" + (
        _meant(key, allowed) or f"; there are {', '.join(sorted(allowed))}"
    )


def _meant(key: str, allowed: Sequence[str]) -> str:
    """Return words that offer the known key most like an unknown one, or nothing."""
    best = max(allowed, key=lambda known: _likeness(key, known), default="")
    if _likeness(key, best) < _ALIKE:
        return ""
    name, unit = split_unit(key)
    # One measure may have a key for each of several units.
    stem = split_unit(best)[0]
    units = {known: split_unit(known)[1] for known in allowed if split_unit(known)[0] == stem}
    same = [known for known, other in units.items() if other == unit]
    if same or not units[best]:
        return f"; did you mean {same[0] if same else best}?"
    if not unit:
        offers = [f"{known} (in {KEY_UNITS[other].words})" for known, other in units.items()]
        return f"; did you mean {listed(offers, 'or')}?"
    if name != stem and not any(are_of_one_kind(unit, other) for other in units.values()):
        return ""
    return ": write " + ", or ".join(_turned_into(known, unit, units[known]) for known in units)


def _likeness(key: str, known: str) -> float:
    """Return how like two keys are, of 1: as they are written, or without their units."""
    pairs = ((known, key), (split_unit(known)[0], split_unit(key)[0]))
    return max(difflib.SequenceMatcher(None, *pair).ratio() for pair in pairs)


def _turned_into(known: str, given: str, wanted: str) -> str:
    """Return a known key with its unit, and how to come to it from the unit that was given."""
    text = f"{known}, in {KEY_UNITS[wanted].words}"
    if not are_of_one_kind(given, wanted):
        return text
    return f"{text} ({KEY_UNITS[given].words} times {converted(1, given, wanted):.4g})"
