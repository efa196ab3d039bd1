"""The skyline of a site for commands: from its lists, or from the file that it names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.beside import BesideError, read_beside
from daylatch.errors import Problem, SiteError
from daylatch.site.messages import show_value
from daylatch.site.reading.site_file import line_of_key

if TYPE_CHECKING:
    from daylatch.site.tables import Site
    from daylatch.sun.skyline import Skyline

_FILE = ("a CSV file with the columns azimuth and elevation, or a horizon file of PVGIS", "file")


def skyline_of(site: Site) -> Skyline | None:
    """Return what hides the Sun at a site; None if its file says nothing of it.

    Raises
    ------
    SiteError
        If the file that it names cannot be read, or is none of a skyline.
    """
    table = site.settings.skyline
    if table is None:
        return None
    if table.azimuth and table.elevation:
        from daylatch.sun.skyline import make_skyline  # noqa: PLC0415 - few sites have one

        return make_skyline(table.azimuth, table.elevation)
    if table.lacking is not None:
        raise _problem(site, table.lacking, "", table.remedy)
    if table.file is None:
        return None
    from daylatch.site.reading.skyline_file import read_skyline_file  # noqa: PLC0415

    try:
        return read_skyline_file(read_beside(site, table.file, *_FILE))
    except (BesideError, ValueError) as error:
        raise _problem(site, "file", show_value(table.file), str(error)) from error


def _problem(site: Site, key: str, found: str, remedy: str) -> SiteError:
    line = line_of_key(site, ("skyline", key))
    return SiteError(site.file_name, [Problem(f"skyline.{key}", found, remedy, line)])
