"""What is said of a place beside its times, each in one sentence, where the site file knows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.commands.now import warn
from daylatch.errors import SiteError

if TYPE_CHECKING:
    from daylatch.birds.sunlight.sunlight import Sunlight
    from daylatch.plan.due import Due


class OfPlace(NamedTuple):
    """What is known of a place on the days of a plan.

    Attributes
    ----------
    sunlight : Sunlight or None
        Direct sun, if a skyline is known.
    sentences : list of (str, str)
        Each with a label.
    """

    sunlight: Sunlight | None
    sentences: list[tuple[str, str]]


def of_place(due: Due) -> OfPlace:
    """Return what is known of a place.

    No door moves by any of it, so that a file which cannot be read is warned of and left out.
    """
    sunlight = sunlight_of(due)
    sentences = []
    if sunlight is not None:
        from daylatch.birds.sunlight.words import one_sentence  # noqa: PLC0415 - for few sites

        sentences.append(("Sunlight", one_sentence(sunlight)))
    plan, settings = due.plan, due.plan.site.settings
    has_battery = settings.battery is not None and settings.battery.full_wh is not None
    if settings.load is not None and (settings.panel is not None or has_battery):
        from daylatch.commands.door.site_power import year_of_power  # noqa: PLC0415 - as above

        told = year_of_power(plan.site, plan.dates[0].item())
        sentences += [("Power", told)] * bool(told)
    return OfPlace(sunlight, sentences)


def sunlight_of(due: Due) -> Sunlight | None:
    """Return direct sun on the days of a plan; None if no skyline is known, after a warning if it
    cannot be read.
    """
    if due.plan.site.settings.skyline is None:
        return None
    from daylatch.birds.sunlight.sunlight import make_sunlight  # noqa: PLC0415 - for few sites
    from daylatch.commands.skyline import skyline_of  # noqa: PLC0415 - as above

    try:
        skyline = skyline_of(due.plan.site)
    except SiteError as error:
        warn(f"direct sun is left out: {error}")
        return None
    return None if skyline is None else make_sunlight(due, skyline)
