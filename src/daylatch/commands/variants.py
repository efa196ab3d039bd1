"""Two sets of rules to compare: a site file, and changes to it or another file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.console import printable
from daylatch.errors import UsageError
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.site.tables import Site


def load_variants(
    path: Path, other: Path | None, changes: Sequence[str]
) -> tuple[Site, Site, str, str]:
    """Return both sites, and what they are called beside each other.

    Parameters
    ----------
    path
        The site file.
    other
        Another site file, if that is what is compared.
    changes
        Settings to change in the first file instead, each ``key=value``.

    Raises
    ------
    UsageError
        If neither or both are given.
    SiteError
        As `load_site`.
    """
    if (other is None) == (not changes):
        raise UsageError(
            "say what to compare with: settings to change, like --with close.offset_min=35, or "
            "another site file" + (", not both" if changes else "")
        )
    # The file by itself first, so that its own slips are not taken for those of the changes.
    first = load_site(path)
    if other is not None:
        return first, load_site(other), printable(path.name), printable(other.name)
    return first, load_site(path, changes), "as it is", printable(" ".join(changes))
