"""What commands about nights share: the lock-ins of a plan, by due times and with the lamp."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import lamp_light
from daylatch.birds.nights.nights import NO_LAMP, make_nights
from daylatch.commands.due import due_of, warn_about_file
from daylatch.door.works.due import on_to_the_opening

if TYPE_CHECKING:
    from daylatch.birds.nights.nights import Nights
    from daylatch.files.forms import Form
    from daylatch.plan.plan import Plan


def nights_of(plan: Plan, form: Form | None = None) -> Nights:
    """Return the lock-ins of a plan.

    Parameters
    ----------
    plan
        Its days.
    form
        In which they are told. Where that has no room for what is amiss with a file in use, the
        keeper is warned.

    Raises
    ------
    DaylatchError
        If due times or the lamp's times cannot be found.
    """
    due, laying = due_of(plan), plan.site.settings.laying
    if form is not None and form.name == "csv":
        warn_about_file(due)
    light = NO_LAMP
    if laying is not None and laying.lamp != "none":
        light = lamp_light(make_day_lengths(on_to_the_opening(due)))
    return make_nights(due, light)
