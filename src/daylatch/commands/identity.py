"""What commands do about other files with a site's ``id`` beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.now import warn
from daylatch.site.reading.identity import (
    copy_problem,
    other_house_problem,
    refuse_other_house,
    twins_of,
)

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.site.reading.identity import Twins
    from daylatch.site.tables import Site


def warn_about_twins(site: Site, path: Path) -> None:
    """Print which files beside a site file carry its ``id``."""
    twins = twins_of(site, path)
    if twins.houses:
        warn(other_house_problem(site, twins.houses).sentence(site.file_name))
    _warn_about_copies(site, twins)


def refuse_to_mix(site: Site, path: Path) -> None:
    """See that a calendar of this site cannot be mixed with another house's; copies are said.

    Raises
    ------
    SiteError
        If it could.
    """
    twins = twins_of(site, path)
    refuse_other_house(site, twins)
    _warn_about_copies(site, twins)


def _warn_about_copies(site: Site, twins: Twins) -> None:
    if twins.copies:
        warn(copy_problem(site, twins.copies).sentence(site.file_name))
