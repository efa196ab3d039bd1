"""A second opinion on every plan: the same light events, computed by ``astral``.

``astral`` follows other formulas (Meeus by way of the NOAA spreadsheets), so that both can hardly
be wrong together. Its day labels slip near the date line and near midnight, therefore each event
is matched by instant among the days around; and the two are compared as altitudes, because near
white nights seconds of arc are minutes of time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from astral import Observer, SunDirection
from astral.sun import sunrise, sunset, time_at_elevation

from daylatch.arrays import DAY
from daylatch.errors import SecondOpinionError
from daylatch.sun.crossings import sun_position
from daylatch.sun.lights import HORIZON_ALTITUDE_DEG

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from daylatch.arrays import Times


DISAGREEMENT_DEG = 0.5
"""A difference this large is a disagreement. In a trial astral lay up to 0.35 deg off on grazing
days, and 17 s to 38 s of time elsewhere; an hour is 5 deg or more wherever it matters."""

MOST_UNCHECKED_RUNNING = 2
ASTRAL_LATITUDE_LIMIT_DEG = 89.8
_KEPT_ANSWERS = 16_384
"""Of twenty years at a place: what makes several plans of it asks for the same ones again."""
_HALF_DAY = np.timedelta64(12, "h")


@dataclass(frozen=True)
class SecondOpinion:
    """What the independent computation said.

    Attributes
    ----------
    checked : int
        Light events that were compared.
    worst_deg : float
        Largest difference, as an altitude of the Sun.
    worst_s : float
        Largest difference in time [s].
    unchecked : tuple of datetime64[D]
        UTC dates of light events that it lacks.
    beyond_reach : bool
        Whether the site lies nearer to a pole than it computes.
    """

    checked: int
    worst_deg: float
    worst_s: float
    unchecked: tuple[np.datetime64, ...]
    beyond_reach: bool


NOT_ASKED = SecondOpinion(0, 0.0, 0.0, (), beyond_reach=False)


def ask_second_opinion(
    latitude_deg: float,
    longitude_deg: float,
    rising: tuple[Times, NDArray[np.float64]],
    setting: tuple[Times, NDArray[np.float64]],
) -> SecondOpinion:
    """Compare light events with astral's.

    Parameters
    ----------
    latitude_deg, longitude_deg
        The site.
    rising, setting
        For consecutive days: the events [datetime64[us], UTC], NaT without one; and the altitude
        of the Sun's centre at each [deg].

    Raises
    ------
    SecondOpinionError
        If an event of either side is off by `DISAGREEMENT_DEG` or more, or if astral lacks more
        than `MOST_UNCHECKED_RUNNING` events running.
    """
    if abs(latitude_deg) > ASTRAL_LATITUDE_LIMIT_DEG:
        return SecondOpinion(0, 0.0, 0.0, (), beyond_reach=True)
    checked, worst_deg, worst_s = 0, 0.0, 0.0
    unchecked: list[np.datetime64] = []
    for direction, (events, altitudes) in (
        (SunDirection.RISING, rising),
        (SunDirection.SETTING, setting),
    ):
        lacking = np.zeros(events.shape, np.bool_)
        for altitude in sorted(set(altitudes.tolist())):
            here = (altitudes == altitude) & ~np.isnat(events)
            if not here.any():
                continue
            ours = events[here]
            theirs = _astral_events(latitude_deg, longitude_deg, ours, altitude, direction)
            off_deg = np.abs(
                sun_position(latitude_deg, longitude_deg, theirs).altitude_deg - altitude
            )
            if np.any(off_deg >= DISAGREEMENT_DEG):
                worst = int(np.argmax(off_deg))
                raise SecondOpinionError(
                    "the second opinion on the Sun disagrees, so there is no plan: astral has it "
                    f"pass {altitude:g} degrees at {theirs[worst].astype('datetime64[s]')} UTC, "
                    f"where daylatch finds it {off_deg[worst]:.2f} degrees away; please report this"
                )
            distance = _distances(ours, theirs)
            matched = distance < _HALF_DAY
            lacking[here] = ~matched
            checked += int(matched.sum())
            worst_deg = max(worst_deg, float(off_deg.max(initial=0.0)))
            worst_s = max(worst_s, *(distance[matched] / np.timedelta64(1, "s")).tolist(), 0.0)
        _refuse_runs(events, lacking)
        unchecked += list(events[lacking].astype("datetime64[D]"))
    return SecondOpinion(checked, worst_deg, worst_s, tuple(unchecked), beyond_reach=False)


def _astral_events(
    latitude_deg: float,
    longitude_deg: float,
    events: Times,
    altitude_deg: float,
    direction: SunDirection,
) -> Times:
    """Return astral's events on the UTC days of our events and around, in order of time."""
    days = events.astype("datetime64[D]")
    wanted = sorted({day for shift in (-1, 0, 1) for day in (days + shift * DAY).tolist()})
    found = [
        event
        for day in wanted
        if (event := _ask_astral(latitude_deg, longitude_deg, day, altitude_deg, direction))
    ]
    return np.sort(np.array(found, "datetime64[us]"))


@lru_cache(maxsize=_KEPT_ANSWERS)
def _ask_astral(
    latitude_deg: float,
    longitude_deg: float,
    day: dt.date,
    altitude_deg: float,
    direction: SunDirection,
) -> dt.datetime | None:
    """Return astral's event of a UTC day, without its zone; None without one."""
    observer = Observer(latitude_deg, longitude_deg, 0.0)
    try:
        if altitude_deg == HORIZON_ALTITUDE_DEG:
            horizon_event = sunrise if direction is SunDirection.RISING else sunset
            return horizon_event(observer, day).replace(tzinfo=None)
        # Its own refraction would be counted on top of a depression that is geometric.
        event = time_at_elevation(observer, altitude_deg, day, direction, with_refraction=False)
        return event.replace(tzinfo=None)
    except ValueError:
        # astral has no such event that day, or stumbles over it; which one shows in what lacks.
        return None


def _distances(ours: Times, theirs: Times) -> NDArray[np.timedelta64[Any]]:
    """Return the distance of each of our events to astral's nearest."""
    if theirs.size == 0:
        return np.full(ours.shape, DAY)
    after = np.clip(np.searchsorted(theirs, ours), 0, len(theirs) - 1)
    before = np.maximum(after - 1, 0)
    return np.minimum(np.abs(theirs[after] - ours), np.abs(theirs[before] - ours))


def _refuse_runs(events: Times, lacking: NDArray[np.bool_]) -> None:
    run = 0
    for event, lacks in zip(events, lacking, strict=True):
        run = run + 1 if lacks else 0
        if run > MOST_UNCHECKED_RUNNING:
            raise SecondOpinionError(
                f"the second opinion on the Sun finds no event on more than "
                f"{MOST_UNCHECKED_RUNNING} days running up to {event.astype('datetime64[D]')}, "
                "where daylatch does, so there is no plan; please report this"
            )
