"""One row of a plan: a day, its two movements, and how each came about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    import numpy as np

    from daylatch.plan.daily.rules import Rule, Side
    from daylatch.site.tables import Span
    from daylatch.sun.crossings import SkyState


@dataclass(frozen=True)
class Step:
    """One rule's part in a door time: the rule, and by how many minutes it moved it."""

    rule: Rule
    minutes: int


@dataclass(frozen=True)
class Movement:
    """One movement of one day, with its trace.

    Attributes
    ----------
    side : Side
        Opening or closing.
    time_utc : datetime64[m] or None
        None if the door stays shut.
    decided_by : Rule
        The rule that decided it.
    event_utc : datetime64[us] or None
        The light event.
    sky : SkyState
        What the Sun does about that light on this side.
    altitude_deg : float
        That light: the altitude of the Sun's centre.
    offset_min : int
        The keeper's offset.
    start_utc : datetime64[m] or None
        Where the movement began, before any rule moved it.
    started_by : Rule
        What it began with.
    steps : tuple of Step
        The rules that moved it, in their order.
    """

    side: Side
    time_utc: np.datetime64 | None
    decided_by: Rule
    event_utc: np.datetime64 | None
    sky: SkyState
    altitude_deg: float
    offset_min: int
    start_utc: np.datetime64 | None
    started_by: Rule
    steps: tuple[Step, ...]


@dataclass(frozen=True, eq=False)
class PlannedDay:
    """One row of the plan."""

    date: dt.date
    open: Movement
    close: Movement
    head_count_utc: np.datetime64 | None
    second_pass: bool
    spans: tuple[Span, ...]
    open_shortfall_min: int
    night_shortfall_min: int
