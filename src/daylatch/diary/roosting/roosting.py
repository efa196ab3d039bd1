"""The flock's own light, of evenings and of mornings, and what the door makes of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import get_zone
from daylatch.diary.roosting.doubts import Doubt
from daylatch.diary.roosting.half import USUAL_SHARE, Learned, learn
from daylatch.diary.roosting.instants import minutes_past
from daylatch.diary.roosting.looks import KINDS, TOLD, Half, find_looks
from daylatch.diary.roosting.shares import LEAST_TOLD, largest_share, make_claims

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daylatch.birds.compare.comparison import Comparison
    from daylatch.diary.entries import Entry
    from daylatch.diary.roosting.finding import NotTold
    from daylatch.diary.roosting.looks import Looks
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

_NEARLY_ALL = 0.8


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


class UnderRules(NamedTuple):
    """On how many evenings all are in before the door shuts, by some rules.

    Attributes
    ----------
    name : str
        What the rules are called; empty for those as they are.
    evenings, in_time : int
        Evenings on which the door opened by them, and those of them on which all were in by then.
    at_least : float
        On how large a share of all evenings that is so, at the usual confidence, of 1.
    ahead : Ahead or None
        How much earlier than the door the birds are; None if the evenings are too few for that.
    """

    name: str
    evenings: int
    in_time: int
    at_least: float
    ahead: Ahead | None


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
    rules : tuple of UnderRules
        What the door makes of the evenings by its rules as they are, first, and by others that
        were asked for; empty if they give no plan of those days, or there are no evenings.
    no_plan : str
        Why the door's rules give no plan of those days; empty if they do.
    costs : Costs or None
        Of what is proposed; None if nothing is, or nobody asked.
    """

    site: Site
    source: str
    first: dt.date
    last: dt.date
    evening: Learned | NotTold | None
    morning: Learned | NotTold | None
    rules: tuple[UnderRules, ...]
    no_plan: str = ""
    costs: Costs | None = None

    @property
    def ahead(self) -> Ahead | None:
        """How much earlier than the door the birds are, by its rules as they are."""
        return self.rules[0].ahead if self.rules else None

    @property
    def learned(self) -> list[Learned]:
        """What is learned, of the halves of which anything is."""
        return [half for half in (self.evening, self.morning) if isinstance(half, Learned)]


def make_roosting(
    site: Site,
    due: Due | None,
    entries: Sequence[Entry],
    source: str,
    wanted: float | None,
    today: dt.date,
) -> Roosting:
    """Return what entries tell of a flock's light.

    Parameters
    ----------
    site
        Whose flock.
    due
        When the door is due on the days of the entries, by the rules of today; None if those give
        no plan of them.
    entries
        In any order; one of `KINDS` at least.
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
    zone = get_zone(site.zone)
    told = [one for one in entries if one.what in TOLD]
    openings = np.array([], "datetime64[m]") if due is None else due.told_open_utc
    halves: dict[Half, Learned | NotTold | None] = {}
    for half in Half:
        looks = find_looks(half, told, site, zone, openings)
        if due is not None:
            looks = _on_open_days(looks, due)
        found = None
        if len(looks) or looks.aside or looks.unsure or looks.on_shut_days:
            found = learn(looks, site, zone, wanted, today)
        if isinstance(found, Learned) and due is not None and _is_from_plan(found, due):
            found = replace(found, doubts=[*found.doubts, Doubt.FROM_PLAN], proposal=None)
        halves[half] = found
    evening = halves[Half.EVENING]
    dates = [zone.date_at(one.instant_utc) for one in told if one.what in KINDS]
    return Roosting(
        site,
        source,
        min(dates),
        max(dates),
        evening,
        halves[Half.MORNING],
        (under_rules(evening, "", due),)
        if isinstance(evening, Learned) and due is not None
        else (),
    )


def _on_open_days(looks: Looks, due: Due) -> Looks:
    """Leave out days on which a span keeps the door shut: the birds never went out."""
    shut = due.plan.dates[due.plan.settings.shut]
    kept = ~np.isin(looks.dates, shut)
    names = ("dates", "solar_days", "exact_utc", "after_utc", "until_utc", "waited")
    columns = {name: getattr(looks, name)[kept] for name in names}
    return replace(looks, on_shut_days=int((~kept).sum()), **columns)


def _is_from_plan(found: Learned, due: Due) -> bool:
    """Return whether nearly all moments are the minute at which the door is due."""
    is_evening = found.half is Half.EVENING
    planned = due.told_close_utc if is_evening else due.told_open_utc
    exact = found.looks.exact_utc[found.looks.is_exact]
    at_due = np.isin(exact.astype("datetime64[m]"), planned[~np.isnat(planned)])
    return bool(len(exact) and at_due.mean() >= _NEARLY_ALL)


def under_rules(evening: Learned, name: str, due: Due) -> UnderRules:
    """Return on which evenings all were in before a door shuts, and what that says of all evenings.

    Parameters
    ----------
    evening
        What was learned.
    name
        What the rules are called.
    due
        When the door is due by them, on the days that were seen.
    """
    closes = dict(zip(due.plan.dates.tolist(), due.told_close_utc, strict=True))
    never = np.datetime64("NaT", "m")
    close = np.array([closes.get(date, never) for date in evening.looks.dates.tolist()])
    is_known = ~np.isnat(close)
    late = minutes_past(evening.looks.latest_utc, close.astype("datetime64[us]"))
    values = np.where(np.isnan(late), np.inf, late + evening.slack_min)[is_known]
    beyond = int((values > 0).sum())
    at_least = largest_share(len(values), beyond)
    return UnderRules(
        name,
        evenings=len(values),
        in_time=len(values) - beyond,
        at_least=at_least,
        ahead=_ahead(values, at_least),
    )


def _ahead(values: Floats, at_least: float) -> Ahead | None:
    """Return by how much all are in before the door, of minutes after it on each evening.

    On the usual share if that is in time, else on the one that is. By the evenings alone: limits
    and spans of the door are in these minutes, so that they are not spread as the birds are.
    """
    largest = largest_share(len(values), int(np.isinf(values).sum()))
    usual = min(USUAL_SHARE, largest)
    share = min(usual, at_least) if at_least >= LEAST_TOLD else usual
    if share < LEAST_TOLD:
        return None
    (claim,), _ = make_claims(values, [share], has_shape=False)
    return Ahead(share, -claim.value)
