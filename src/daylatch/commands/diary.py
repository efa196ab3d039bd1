"""The diary of a site, as commands find it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.diary.store.store import Diary

if TYPE_CHECKING:
    from daylatch.site.tables import Site

ENDING = ".diary"


def diary_of(site: Site) -> Diary:
    """Return a site's diary: the file that the site file names, or the one beside it."""
    given = site.settings.diary
    if given is not None and given.file is not None:
        return Diary(Path(site.folder) / given.file, site.id)
    return Diary(Path(site.file_name).with_suffix(ENDING), site.id)
