"""The words that pictures share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.clock import DoorClock
from daylatch.paper.pictures.scales import date_text
from daylatch.plan.summary import describe_clocks

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan

_KEEPS = {DoorClock.UTC: "UTC", DoorClock.STANDARD: "standard time all year"}


def date_words(plan: Plan) -> str:
    """Return a plan's dates."""
    first, last = (date_text(plan.dates[end].item()) for end in (0, -1))
    return first if first == last else f"{first} to {last}"


def hours_words(plan: Plan) -> str:
    """Return which clock's hours a picture shows."""
    if plan.door_clock is DoorClock.WALL:
        return f"hours by the {describe_clocks(plan)}"
    return (
        f"hours by the wall clock of {plan.site.zone}; the door's own clock keeps "
        f"{_KEEPS[plan.door_clock]}"
    )
