"""What is said of a place beside its times, each in one sentence, where the site file knows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daylatch.plan.due import Due


def place_sentences(due: Due) -> list[tuple[str, str]]:
    """Return sentences on the days of a plan, each with a label.

    Raises
    ------
    SiteError
        If a file that the site file names cannot be read.
    """
    site = due.plan.site
    sentences = []
    if site.settings.skyline is not None:
        from daylatch.commands.birds.sunlight import sun_sentence  # noqa: PLC0415 - for few sites

        sentences.append(("Sunlight", sun_sentence(due)))
    if site.settings.load is not None:
        from daylatch.commands.door.power_told import power_sentence  # noqa: PLC0415 - as above

        sentences.append(("Power", power_sentence(site, due.plan.dates[0].item())))
    return [(label, text) for label, text in sentences if text]


def warn_of_place(due: Due) -> None:
    """Warn of what a site file gives of its place and is likely a slip; raises as above."""
    if due.plan.site.settings.skyline is not None:
        from daylatch.commands.birds.sunlight import (  # noqa: PLC0415 - for few sites
            sunlight_of,
            warn_about_south,
        )

        sunlight = sunlight_of(due)
        if sunlight is not None:
            warn_about_south(sunlight)
