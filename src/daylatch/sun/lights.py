"""The lights by which doors open and close: names for depressions of the Sun's centre.

One line a light. The site file takes it, tables and traces name it, and the reference of the site
file lists it, all from here.
"""

from __future__ import annotations

from typing import NamedTuple

SUN_ON_HORIZON_DEG = 0.8333
"""Depression of the Sun's centre at sunrise and sunset: 34' of refraction + 16' of semidiameter
(US Naval Observatory, "Rise, Set, and Twilight Definitions")."""


class NamedLight(NamedTuple):
    """One light with its names.

    Attributes
    ----------
    depression_deg : float
        Of the Sun's centre below the horizon.
    opens, closes : str
        What the site file calls it for an opening and for a closing.
    dawn, dusk : str
        What texts call its two crossings.
    guards : bool
        Whether it may be the guard against predators' hours.
    """

    depression_deg: float
    opens: str
    closes: str
    dawn: str
    dusk: str
    guards: bool = True


LIGHTS = (
    NamedLight(SUN_ON_HORIZON_DEG, "sunrise", "sunset", "sunrise", "sunset", guards=False),
    NamedLight(6.0, "civil", "civil", "civil dawn", "civil dusk"),
    NamedLight(12.0, "nautical", "nautical", "nautical dawn", "nautical dusk"),
    NamedLight(18.0, "astronomical", "astronomical", "astronomical dawn", "astronomical dusk"),
)
DEPRESSION_DEG = {
    name: light.depression_deg for light in LIGHTS for name in (light.opens, light.closes)
}
"""Named depressions of the Sun's centre below the horizon [deg]."""
HORIZON_ALTITUDE_DEG = -SUN_ON_HORIZON_DEG
CIVIL_ALTITUDE_DEG = -DEPRESSION_DEG["civil"]
_HALVES = ("dawn", "dusk")
_EVENTS = {-light.depression_deg: (light.dawn, light.dusk) for light in LIGHTS}


def altitude_of(light: float | str) -> float:
    """Return the altitude of the Sun's centre [deg] at a light given by name or as a depression."""
    return -DEPRESSION_DEG[light] if isinstance(light, str) else -float(light)


def light_text(light: float | str) -> str:
    """Return a light given by name or as a depression as a keeper would say it."""
    return light if isinstance(light, str) else f"{light:g}° below the horizon"


def light_words(light: float | str) -> str:
    """Return the same with the Sun's place for a name: ``civil, Sun 6° below the horizon``."""
    if not isinstance(light, str):
        return f"Sun {light_text(light)}"
    return f"{light}, Sun {DEPRESSION_DEG[light]:g}° below the horizon"


def start_words(side: int, altitude_deg: float, offset_min: int = 0) -> str:
    """Return when a movement is by the light alone: ``15 min after civil dawn``, ``at sunrise``.

    Parameters
    ----------
    side
        0 at dawn, 1 at dusk.
    altitude_deg
        Of the Sun's centre at the light event.
    offset_min
        How long after the light event [min].
    """
    if altitude_deg in _EVENTS:
        event = _EVENTS[altitude_deg][side]
    else:
        where = "above" if altitude_deg > 0 else "below"
        event = f"{_HALVES[side]} with the Sun {abs(altitude_deg):g}° {where} the horizon"
    if offset_min == 0:
        return f"at {event}"
    return f"{abs(offset_min)} min {'after' if offset_min > 0 else 'before'} {event}"


def event_name(side: int, altitude_deg: float) -> str:
    """Return the name of a light event, such as ``civil dawn`` or ``Sun 8° down at dusk``.

    Parameters
    ----------
    side
        0 at dawn, 1 at dusk.
    altitude_deg
        Of the Sun's centre.
    """
    if altitude_deg in _EVENTS:
        return _EVENTS[altitude_deg][side]
    place = f"{-altitude_deg:g}° down" if altitude_deg <= 0 else f"{altitude_deg:g}° up"
    return f"Sun {place} at {_HALVES[side]}"
