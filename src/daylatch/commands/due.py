"""Due times for commands: with the file that is in use, if the site file names one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.commands.now import warn
from daylatch.door.works.due import make_due
from daylatch.door.works.in_use import InUseError
from daylatch.errors import Problem, SiteError
from daylatch.plan.due_words import file_troubles
from daylatch.site.messages import show_value
from daylatch.site.reading import line_of_key

if TYPE_CHECKING:
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_MOST_BYTES = 10_000_000


def due_of(plan: Plan) -> Due:
    """Return when the door will really move on the days of a plan.

    Raises
    ------
    SiteError
        If the file in use cannot be read, or is none of this house's.
    PlanError
        If a year that is touched has no plan, or no list.
    """
    name = plan.site.settings.door.in_use
    if name is None:
        return make_due(plan)
    try:
        return make_due(plan, _read(plan.site, name))
    except InUseError as error:
        raise _problem(plan.site, name, str(error)) from error


def warn_about_file(due: Due) -> None:
    """Warn of what is amiss with the file in use, where the result itself does not name it."""
    for trouble in file_troubles(due):
        warn(trouble)


def _read(site: Site, name: str) -> bytes:
    path = Path(site.folder) / name
    try:
        if path.exists() and not path.is_file():
            raise _problem(site, name, "is no file: name the table or list that is in the door")
        with path.open("rb") as stream:
            # Not all of it, since a device may have no end.
            content = stream.read(_MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        remedy = f"cannot be read ({why}): name the file that is in the door, or take in_use out"
        raise _problem(site, name, remedy) from error
    if len(content) > _MOST_BYTES:
        raise _problem(site, name, f"is over {_MOST_BYTES} bytes, and no table or list is")
    return content


def _problem(site: Site, name: str, remedy: str) -> SiteError:
    line = line_of_key(site, ("door", "in_use"))
    return SiteError(site.file_name, [Problem("door.in_use", show_value(name), remedy, line)])
