"""Due times for commands: with the file that is in use, if the site file names one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.beside import IN_USE, BesideError, read_beside
from daylatch.commands.now import warn
from daylatch.door.works.due import make_due
from daylatch.door.works.in_use import InUseError
from daylatch.errors import Problem, SiteError
from daylatch.plan.due_words import file_troubles
from daylatch.site.messages import show_value
from daylatch.site.reading.site_file import line_of_key

if TYPE_CHECKING:
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


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
        return make_due(plan, read_beside(plan.site, name, *IN_USE))
    except (BesideError, InUseError) as error:
        raise _problem(plan.site, name, str(error)) from error


def warn_about_file(due: Due) -> None:
    """Warn of what is amiss with the file in use, where the result itself does not name it."""
    for trouble in file_troubles(due):
        warn(trouble)


def _problem(site: Site, name: str, remedy: str) -> SiteError:
    line = line_of_key(site, ("door", "in_use"))
    return SiteError(site.file_name, [Problem("door.in_use", show_value(name), remedy, line)])
