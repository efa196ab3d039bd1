"""The list for a lamp's timer: each of its burns by itself, counted by calendar years.

A morning and an evening burn have settings of their own, so that none spans dates with another set
of burns: where one does not burn, its program is off and the other's goes on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.birds.lamp_list.lamp_movements import BURNS, LAMP_WORDS, LampBurn
from daylatch.door.timer.list_of_years import list_of_years
from daylatch.door.timer.timer_days import moves_on
from daylatch.door.works.years import whole_years
from daylatch.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.door.timer.timer_list import TimerList
    from daylatch.plan.plan import Plan
    from daylatch.site.timer import Timer


class NoBurnError(PlanError):
    """The lamp burns on no date of a range."""


@dataclass(frozen=True, eq=False)
class LampList:
    """The settings of a lamp's timer.

    Attributes
    ----------
    plan : Plan
        Whose dates they are for.
    timer : Timer
        What the timer can do, and what the keeper wants.
    burns : tuple of (LampBurn, TimerList)
        Each burn that there is, with its list.
    """

    plan: Plan
    timer: Timer
    burns: tuple[tuple[LampBurn, TimerList], ...]


def make_lamp_list(plan: Plan, timer: Timer, tried_out: Sequence[str] = ()) -> LampList:
    """Return the settings of the timer of a site's lamp.

    Parameters
    ----------
    plan
        Of the dates that are asked for; its site wants a lamp.
    timer
        What the timer can do, and what is wanted.
    tried_out
        What the site file would have to say for the list to be the one it means.

    Raises
    ------
    NoBurnError
        If the lamp burns on none of the dates.
    PlanError
        If there is no such list, or the timer does not hold enough programs.
    """
    there = [burn for burn in BURNS if moves_on(plan, burn.movements).any()]
    if not there:
        raise NoBurnError(
            f"the lamp does not burn on any day from {plan.dates[0]} to {plan.dates[-1]}"
        )
    each = _share(timer, len(there))
    years = tuple(whole_years(plan))
    lists = [
        list_of_years(plan, each, years, tried_out, burn.movements, LAMP_WORDS) for burn in there
    ]
    _refuse_meeting(plan, lists)
    return LampList(plan, timer, tuple(zip(there, lists, strict=True)))


def _share(timer: Timer, burns: int) -> Timer:
    """Return the timer with the programs that each burn may fill with dates of its own."""
    if timer.programs is None:
        return timer
    each = timer.programs // burns
    if each < timer.needed_programs:
        needed = burns * timer.needed_programs
        raise PlanError(
            f"the lamp burns twice a day, which takes {needed} programs, and programs = "
            f"{timer.programs} under [laying.timer]: use a timer that holds {needed}"
        )
    return timer.model_copy(update={"programs": each}) if timer.holds_dates else timer


def _refuse_meeting(plan: Plan, lists: list[TimerList]) -> None:
    """Refuse a morning burn that ends after the evening burn has begun: that would end both."""
    if len(lists) < len(BURNS):
        return
    morning, evening = (one.moved_utc for one in lists)
    margin = np.timedelta64(2 * lists[0].timer.clock_margin_min, "m")
    met = np.flatnonzero(morning[-1] + margin >= evening[0])
    if met.size:
        raise PlanError(
            f"on {plan.dates[met[0]]} the day is so short that the morning burn would end after "
            "the evening burn has begun, which would end both: allow less tolerance, more changes, "
            "finer steps or a smaller clock margin"
        )
