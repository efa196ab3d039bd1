"""What commands about nights share: the lock-ins of a plan, by due times and with the lamp."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import lamp_light
from daylatch.birds.nights.nights import NO_LAMP, make_nights
from daylatch.commands.due import due_of
from daylatch.door.works.due import with_next_opening

if TYPE_CHECKING:
    from daylatch.birds.nights.nights import Nights
    from daylatch.plan.plan import Plan


def nights_of(plan: Plan) -> Nights:
    """Return the lock-ins of a plan.

    Raises
    ------
    DaylatchError
        If due times or the lamp's times cannot be found.
    """
    laying = plan.site.settings.laying
    light = NO_LAMP
    if laying is not None and laying.lamp != "none":
        light = lamp_light(make_day_lengths(with_next_opening(plan)))
    return make_nights(due_of(plan), light)
