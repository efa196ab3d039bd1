"""The flock's own light, of evenings and of mornings, and what the door makes of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.roosting.half import MOSTLY_MOMENTS, Learned, learn
from daylatch.diary.roosting.instants import minutes_past
from daylatch.diary.roosting.looks import TOLD, Half, find_looks
from daylatch.diary.roosting.shares import largest_share, make_claims

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from daylatch.birds.compare.comparison import Comparison
    from daylatch.diary.entries import Entry
    from daylatch.diary.roosting.finding import NotTold
    from daylatch.diary.roosting.looks import Looks
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

_USUAL_SHARE = 0.95


class Ahead(NamedTuple):
    """By how much the last bird is in before the door is due to shut, as its rules are now.

    Attributes
    ----------
    share : float
        On how large a share of evenings at least, of 1.
    minutes : float
        At least so many [min]; negative if birds may still be out when it shuts.
    """

    share: float
    minutes: float


class Costs(NamedTuple):
    """What a proposal costs or gains in the year to come.

    Attributes
    ----------
    comparison : Comparison or None
        The plan as it is, and as it would be; None if the latter cannot be made.
    trouble : str
        Why not.
    """

    comparison: Comparison | None
    trouble: str = ""


@dataclass(frozen=True, eq=False)
class Roosting:
    """What is learned of a flock.

    Attributes
    ----------
    site : Site
        Whose flock.
    source : str
        Where the entries come from, for people.
    first, last : date
        Between which days the birds were looked at.
    evening, morning : Learned, NotTold or None
        What is learned of either; None where nothing was seen.
    ahead : Ahead or None
        How much earlier than the door the birds are; None if the evenings are too few for that.
    costs : Costs or None
        Of what is proposed; None if nothing is, or nobody asked.
    """

    site: Site
    source: str
    first: dt.date
    last: dt.date
    evening: Learned | NotTold | None
    morning: Learned | NotTold | None
    ahead: Ahead | None
    costs: Costs | None = None

    @property
    def learned(self) -> list[Learned]:
        """What is learned, of the halves of which anything is."""
        return [half for half in (self.evening, self.morning) if isinstance(half, Learned)]

    def at(self, costs: Costs) -> Roosting:
        """Return the same with what its proposal costs."""
        return replace(self, costs=costs)


def make_roosting(
    due: Due, entries: Sequence[Entry], source: str, wanted: float | None, today: dt.date
) -> Roosting | None:
    """Return what entries tell of a flock's light; None if none of them does.

    Parameters
    ----------
    due
        When the door is due on the days of the entries, by the rules of today.
    entries
        In any order.
    source
        Where they come from, for people.
    wanted
        The share of days that the keeper chooses, of 1; None for the usual one.
    today
        From when on the coming half-year is looked at.

    Raises
    ------
    PlanError
        If flock days cannot be told at the place.
    """
    plan = due.plan
    told = [one for one in entries if one.what in TOLD]
    halves: dict[Half, Learned | NotTold | None] = {}
    dates = []
    for half in Half:
        looks = _on_open_days(find_looks(half, told, plan.site, plan.zone, due.told_open_utc), due)
        halves[half] = None
        if len(looks) or looks.aside or looks.unsure:
            halves[half] = learn(looks, plan.site, plan.zone, wanted, today)
            dates += looks.dates.tolist()
    if not dates:
        return None
    evening = halves[Half.EVENING]
    return Roosting(
        plan.site,
        source,
        min(dates),
        max(dates),
        evening,
        halves[Half.MORNING],
        _ahead(evening, due) if isinstance(evening, Learned) else None,
    )


def _on_open_days(looks: Looks, due: Due) -> Looks:
    """Leave out days on which a span keeps the door shut: the birds never went out."""
    shut = due.plan.dates[due.plan.settings.shut]
    kept = ~np.isin(looks.dates, shut)
    names = ("dates", "solar_days", "exact_utc", "after_utc", "until_utc")
    columns = {name: getattr(looks, name)[kept] for name in names}
    return replace(looks, on_shut_days=int((~kept).sum()), **columns)


def _ahead(evening: Learned, due: Due) -> Ahead | None:
    """Return by how much the birds are earlier than the door, on the evenings that were seen."""
    closes = dict(zip(due.plan.dates.tolist(), due.told_close_utc, strict=True))
    never = np.datetime64("NaT", "m")
    close = np.array([closes.get(date, never) for date in evening.looks.dates.tolist()])
    is_known = ~np.isnat(close)
    latest = minutes_past(evening.looks.latest_utc, close.astype("datetime64[us]"))
    values = np.where(np.isnan(latest), np.inf, latest)[is_known]
    share = min(_USUAL_SHARE, largest_share(len(values), int(np.isinf(values).sum())))
    has_shape = evening.looks.is_exact.mean() >= MOSTLY_MOMENTS
    claims, _ = make_claims(values, [share], has_shape=has_shape) if share else ([], [])
    return Ahead(share, -claims[0].value) if claims else None
