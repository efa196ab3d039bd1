"""What is usual in a country: how times, lengths and weeks are written, paper, norms for hens.

A new file takes its settings from here. Clocks and weeks are the locale data of the Unicode
consortium (CLDR), as ``Babel`` has them for the language that most people there speak. Units and
paper are CLDR's too (``supplementalData``, ``measurementData``), which ``Babel`` does not carry:
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

_US_UNITS = frozenset({"LR", "MM", "US"})
_LETTER = frozenset(
    {"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"}
)
_WEEKDAY = {0: "monday", 4: "friday", 5: "saturday", 6: "sunday"}
# The member states (eur-lex.europa.eu, Treaty on European Union, Art. 52, after 2020-01-31).
_EU = frozenset(
    {
        *("AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU"),
        *("IE", "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"),
    }
)
# What the program compares with anyway is not repeated, unless it says whose it is.
_NORMS_US = {
    "floor_asleep": "floor-3-to-4-sq-ft",
    "run_floor": "run-10-sq-ft",
    "roost": "roost-6-in",
    "birds_per_nest": "nest-for-4-to-5",
    "nest_box": "box-12-12-18-in",
    "feed": "feed-25-lb-per-100",
    "water": "water-5-gal-per-100",
}
_NORMS_EU = {
    "floor_asleep": "floor-9-hens-per-m2",
    "floor_awake": "waking-9-hens-per-m2",
    "birds_per_nest": "nest-for-7-eu",
}
_NORMS_UK = {
    **_NORMS_EU,
    "run_floor": "run-4-m2",
    "birds_per_nest": "nest-for-7",
}


@dataclass(frozen=True)
class Customs:
    """What is usual in a country, as a site file has it.

    Attributes
    ----------
    writing : mapping
        The keys of ``[writing]``; none for a country that is not known.
    norms : mapping
        Those of ``[norms]``; none where no rules or advice of the country's are known.
    whose : str
        Where the norms come from, in words.
    """

    writing: Mapping[str, Any] = field(default_factory=dict)
    norms: Mapping[str, Any] = field(default_factory=dict)
    whose: str = ""


def customs_of(country: str | None) -> Customs:
    """Return what is usual in a country.

    Parameters
    ----------
    country
        Its two letters (ISO 3166); None if it is not known.
    """
    if country is None:
        return Customs()
    usual = _clock_and_week(country)
    if not usual:
        return Customs()
    writing = {
        **usual,
        "units": "us" if country in _US_UNITS else "metric",
        "paper": "letter" if country in _LETTER else "a4",
    }
    return Customs(writing, *norms_of(country))


def norms_of(country: str | None) -> tuple[Mapping[str, str], str]:
    """Return the norms of a country, as `Customs` has them, and where they come from."""
    if country == "US":
        return _NORMS_US, "advice of the extension services of the USA"
    if country == "GB":
        return _NORMS_UK, "rules of the United Kingdom"
    if country in _EU:
        return _NORMS_EU, "rules of the European Union"
    return {}, ""


def _clock_and_week(country: str) -> dict[str, str]:
    """Return how times of day are written, and with what weeks begin; nothing if not known."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 - for new files only

    try:
        locale = Locale.parse(f"und_{country}")
    except UnknownLocaleError:
        return {}
    # The letters of a pattern: H and k count hours to 24, h and K to 12 (UTS 35, part 4).
    pattern = locale.time_formats["short"].pattern
    return {
        "clock": "24h" if {"H", "k"} & set(pattern) else "12h",
        "week_begins": _WEEKDAY[locale.first_week_day],
    }
