"""What is learned of one half of the days: the light, the spread, outliers, and shares of days."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.diary.roosting.doubts import GRAVE, find_doubts, spread_of
from daylatch.diary.roosting.finding import BELIEVED_DEG, NotTold, find_light, rounded
from daylatch.diary.roosting.instants import (
    depression_of,
    light_instants,
    minutes_past,
    usual_minutes_a_degree,
)
from daylatch.diary.roosting.lag import Lag, OtherSeason, any_lag, find_lag, look_ahead
from daylatch.diary.roosting.shares import SHARES, Claim, Refused, largest_share, make_claims

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.clock import Zone
    from daylatch.diary.roosting.doubts import Doubt
    from daylatch.diary.roosting.looks import Half, Looks
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

OUTLIER_MIN = 20.0
OUTLIER_SPREADS = 3.5
"""An outlier is further off than either (our choice, no source)."""
_MOSTLY_MOMENTS = 0.9
"""With fewer of the days known to the moment, what is seen is spread as the looks are."""
_STEPS_MIN = (30, 15, 10, 5)
"""To which steps logs are rounded; one counts if so many of the times are in it."""
_MOSTLY = 0.9
USUAL_SHARE = 0.95
"""What is promised if the keeper says nothing, as far as the log carries it."""
LEAST_SHARE = 0.8
"""Of days: for fewer nothing is proposed, unless the keeper wants it (our choice, no source)."""
_MOST_LATE = 1
"""One far too late is what the bound by shape is for; two are no chance any more, but a habit."""


class Proposal(NamedTuple):
    """What could stand in the site file.

    Attributes
    ----------
    light_deg : float
        Depression [deg].
    offset_min : int
        Minutes past it.
    share : float
        Of evenings on which all are in by then, of 1.
    """

    light_deg: float
    offset_min: int
    share: float


@dataclass(frozen=True, eq=False)
class Learned:
    """What is learned of one half of the days.

    The arrays have an element for each day of `looks`.

    Attributes
    ----------
    looks : Looks
        What was seen.
    light_deg : float
        The median depression of the Sun's centre, to hundredths [deg].
    error_deg, error_min : float
        Half of the interval in which it lies at 95 % confidence, in degrees and as minutes.
    spread_min : float
        By how much two of three days differ from it [min].
    light_utc : datetime64[us]
        When the Sun came to it; NaT where it did not.
    minutes : float64
        How long after that the moment was [min]; NaN where it is not known.
    latest_min : float64
        The latest that it can have been [min]; infinite where that is not known, NaN where the
        light does not come.
    outliers : bool
        Far from the others.
    claims, refused : list
        On which shares of days it is over by when, and what would take more days.
    chosen : float
        The share that the keeper wants, or the largest up to the usual one.
    proposal : Proposal or None
        What could stand in the site file; None if the chosen share is refused, or it is doubted
        whether these are birds.
    lag : Lag
        Beside the light.
    other_season : OtherSeason or None
        How little it says of the coming half-year.
    doubts : list of Doubt
        Why it may be wrong.
    slack_min : float
        Half of the step to which the times are rounded, which is in every bound [min].
    is_of_moments : bool
        Whether nearly all days are known to the moment, and not by looks.
    has_shape : bool
        Whether they are spread as `make_claims` must know to go by the shape of the spread.
    """

    looks: Looks
    light_deg: float
    error_deg: float
    error_min: float
    spread_min: float
    light_utc: Times
    minutes: Floats
    latest_min: Floats
    outliers: Flags
    claims: list[Claim]
    refused: list[Refused]
    chosen: float
    proposal: Proposal | None
    lag: Lag
    other_season: OtherSeason | None
    doubts: list[Doubt]
    slack_min: float
    is_of_moments: bool
    has_shape: bool

    @property
    def half(self) -> Half:
        """Which half of the days."""
        return self.looks.half

    @property
    def days(self) -> int:
        """On how many days with that light something was seen."""
        return int((~np.isnat(self.light_utc)).sum())

    @property
    def largest(self) -> float:
        """The largest share that the log carries."""
        return largest_share(self.days, int(np.isinf(self.latest_min).sum()))

    @property
    def is_doubted(self) -> bool:
        """Whether it is so doubtful that no door may go by it."""
        return bool(GRAVE & set(self.doubts))

    @property
    def without_outliers(self) -> Claim | None:
        """What could be claimed of the chosen share if no day were far from the others."""
        values = self.latest_min[~self.outliers & ~np.isnan(self.latest_min)]
        claims, _ = make_claims(
            values + self.slack_min, [self.chosen], has_shape=self.is_of_moments
        )
        return claims[0] if claims else None

    def claim_of(self, share: float) -> Claim | None:
        """Return what is claimed of a share."""
        return next((one for one in self.claims if one.share == share), None)


def learn(
    looks: Looks, site: Site, zone: Zone, wanted: float | None, today: dt.date
) -> Learned | NotTold:
    """Return what is learned of a half of the days, or why nothing is.

    Parameters
    ----------
    looks
        What was seen.
    site, zone
        Where.
    wanted
        The share of days that the keeper chooses; None for the usual one, or the largest that
        there is.
    today
        From when on the coming half-year is looked at.
    """
    found = find_light(looks, site)
    if isinstance(found, NotTold):
        return found
    light, kept, lights = found
    half, sun_deg = looks.half, rounded(light.sun_deg)
    light_utc = light_instants(half, site, looks.solar_days, sun_deg)
    minutes = minutes_past(looks.exact_utc, light_utc)
    latest = minutes_past(looks.latest_utc, light_utc)
    latest = np.where(np.isnat(looks.latest_utc) & ~np.isnat(light_utc), np.inf, latest)
    rate = usual_minutes_a_degree(half, site, looks.solar_days[kept], sun_deg)
    known = minutes[np.isfinite(minutes)]
    spread = spread_of(known) if light.spread_deg is None else light.spread_deg * rate
    values = latest[~np.isnan(latest)]
    largest = largest_share(len(values), int(np.isinf(values).sum()))
    chosen = wanted if wanted is not None else min(USUAL_SHARE, largest)
    shares = sorted({*SHARES, chosen, largest} - {0.0})
    slack = _half_a_step(looks, zone)
    outliers = _outliers(looks, light_utc, minutes, latest, spread)
    is_of_moments = len(known) >= _MOSTLY_MOMENTS * len(values)
    has_shape = is_of_moments and int((outliers & (latest > 0)).sum()) <= _MOST_LATE
    claims, refused = make_claims(values + slack, shares, has_shape=has_shape)
    moments = looks.exact_utc[kept & looks.is_exact]
    # Of another light than theirs alone, moments tell no lag.
    is_theirs = light.spread_deg is None and len(lights) == 1 and not looks.waited.any()
    lag = find_lag(half, site, moments) if is_theirs else any_lag(sun_deg, rate)
    learned = Learned(
        looks=looks,
        light_deg=depression_of(half, sun_deg),
        error_deg=light.error_deg,
        error_min=light.error_deg * rate,
        spread_min=spread,
        light_utc=light_utc,
        minutes=minutes,
        latest_min=latest,
        outliers=outliers,
        claims=claims,
        refused=refused,
        chosen=chosen,
        proposal=None,
        lag=lag,
        other_season=look_ahead(half, site, zone, light._replace(sun_deg=sun_deg), lag, today),
        doubts=list(find_doubts(looks, zone, minutes, light, lights)),
        slack_min=slack,
        is_of_moments=is_of_moments,
        has_shape=has_shape,
    )
    return replace(learned, proposal=_proposal(learned, site, is_wanted=wanted is not None))


def _proposal(learned: Learned, site: Site, *, is_wanted: bool) -> Proposal | None:
    """Return what could stand in the site file; None if too little can be promised of it."""
    claim = learned.claim_of(learned.chosen)
    is_too_small = learned.chosen < LEAST_SHARE and not is_wanted
    if claim is None or is_too_small or learned.is_doubted:
        return None
    light_deg, lag = learned.light_deg, learned.lag
    low, high = BELIEVED_DEG
    if lag.is_told_apart and low <= depression_of(learned.half, lag.sun_deg) <= high:
        # That light holds through the year, so the bound is told from it.
        sun_deg = rounded(lag.sun_deg)
        light = light_instants(learned.half, site, learned.looks.solar_days, sun_deg)
        latest = minutes_past(learned.looks.latest_utc, light)
        latest = np.where(np.isinf(learned.latest_min), np.inf, latest)
        values = latest[~np.isnan(latest)] + learned.slack_min
        claims, _ = make_claims(values, [learned.chosen], has_shape=learned.has_shape)
        if claims:
            claim, light_deg = claims[0], depression_of(learned.half, sun_deg)
    return Proposal(light_deg, math.ceil(claim.value), claim.share)


def _outliers(
    looks: Looks, light_utc: Times, minutes: Floats, latest: Floats, spread: float
) -> Flags:
    """Return what is far from the others: a moment, a yes long before, a no long after."""
    far = max(OUTLIER_MIN, OUTLIER_SPREADS * spread)
    after = minutes_past(looks.after_utc, light_utc)
    return np.where(looks.is_exact, np.abs(minutes) > far, (latest < -far) | (after > far))


def _half_a_step(looks: Looks, zone: Zone) -> float:
    """Return half of the step to which the times are rounded [min]: so much later each can be."""
    instants = looks.latest_utc[~np.isnat(looks.latest_utc)]
    wall = zone.to_local(instants).wall.astype("datetime64[s]").astype(np.int64)
    for step in _STEPS_MIN:
        if len(wall) and (wall % (step * 60) == 0).mean() >= _MOSTLY:
            return step / 2
    return 0.5 if len(wall) and (wall % 60 == 0).all() else 0.0
