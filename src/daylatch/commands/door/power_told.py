"""A door's power in one sentence, for what is told beside other matters."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.site.tables import Site


def power_sentence(site: Site, first: dt.date) -> str:
    """Return one sentence on how a door's battery fares in the year from a date on.

    Empty where the site file does not give its tables; trouble is a warning.
    """
    settings = site.settings
    has_battery = settings.battery is not None and settings.battery.full_wh is not None
    if settings.load is None or (settings.panel is None and not has_battery):
        return ""
    from daylatch.commands.door.site_power import year_of_power  # noqa: PLC0415 - if asked for

    return year_of_power(site, first)
