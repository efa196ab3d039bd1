"""The skyline of a site for commands: from its lists, or from the file that it names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.beside import BesideError, read_beside
from daylatch.errors import Problem, SiteError
from daylatch.site.messages import show_value
from daylatch.site.reading import line_of_key

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
    if table.azimuth is not None and table.elevation is not None:
        from daylatch.sun.skyline import make_skyline  # noqa: PLC0415 - few sites have one

        return make_skyline(table.azimuth, table.elevation)
    if table.file is None:
        return None
    from daylatch.site.values.skyline_file import read_skyline_file  # noqa: PLC0415

    try:
        return read_skyline_file(read_beside(site, table.file, *_FILE))
    except (BesideError, ValueError) as error:
        line = line_of_key(site, ("skyline", "file"))
        problem = Problem("skyline.file", show_value(table.file), str(error), line)
        raise SiteError(site.file_name, [problem]) from error
