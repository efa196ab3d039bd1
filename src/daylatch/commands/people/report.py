"""``daylatch report``: one page of everything."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.nights.summary import summarize_nights
from daylatch.commands.birds.shut_in import nights_of
from daylatch.commands.birds.sunlight import sunlight_of
from daylatch.commands.dates import refuse_undrawable
from daylatch.commands.flock import with_birds_on
from daylatch.commands.happened.flock_light import going_in
from daylatch.commands.now import marked_date_at, warn
from daylatch.commands.output import hand_over, load
from daylatch.commands.place.sentences import place_sentences
from daylatch.door.works.years import whole_years
from daylatch.errors import PlanError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.commands.asked import Asked
    from daylatch.door.timer.timer_list import TimerList
    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan


def run(asked: Asked) -> None:
    """Write a site's report."""
    form = asked.form_of_file(
        "report",
        "say where the page goes, such as -o report.html",
    )
    site, first, last = load(asked)
    site = with_birds_on(site, last)
    refuse_undrawable(first, last, "page")

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        plan = make_plan(site, first, last)
        long = np.timedelta64(round(site.settings.long_night_h * 60), "m")
        nights = nights_of(plan)
        birds = going_in(site, marked_date_at(site))
        made: bytes = write(
            summarize_nights(nights, long),
            make_day_lengths(plan),
            marked_date_at(site),
            _door_timer(plan),
            _lamp_timer(plan),
            [*[("Going in", birds)] * bool(birds), *place_sentences(nights.due)],
            sunlight_of(nights.due),
        )
        return made

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def _door_timer(plan: Plan) -> TimerList | None:
    """Return the list of the door's timer, if one works it and no other list is in use."""
    if plan.site.works != "timer" or plan.site.settings.door.in_use is not None:
        return None
    from daylatch.door.timer.list_of_years import list_of_years  # noqa: PLC0415 - for timers only
    from daylatch.site.timer import Timer  # noqa: PLC0415

    timer = plan.site.settings.timer or Timer.model_construct()
    return list_of_years(plan, timer, whole_years(plan))


def _lamp_timer(plan: Plan) -> LampList | None:
    """Return the list of the lamp's timer, if there is one and it burns on these dates."""
    laying = plan.site.settings.laying
    if laying is None or laying.lamp == "none" or laying.timer is None:
        return None
    from daylatch.birds.lamp_list.lamp_list import (  # noqa: PLC0415 - for lamps only
        NoBurnError,
        make_lamp_list,
    )

    try:
        return make_lamp_list(plan, laying.timer)
    except NoBurnError:
        return None
    except PlanError as error:
        warn(f"the list of the lamp's timer is left out: {error}")
        return None
