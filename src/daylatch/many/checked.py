"""Plans of many houses with their second opinions: by ``astral`` on a sample, on arrays for all.

A single plan is compared with ``astral`` as a whole, which takes longer than a thousand plans in
blocks. So of many, a sample is: drawn by a seed that stands in the manifest, and always the house
nearest to a pole, where the Sun is hardest. On all houses stands the check on arrays, which also
finds events that are missing.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import beside_sites, column_of
from daylatch.errors import SecondOpinionError
from daylatch.plan.block import BLOCK_SITES, plan_block
from daylatch.sun.array_opinion import EventColumns, check_events
from daylatch.sun.second_opinion import ask_second_opinion

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.errors import DaylatchError
    from daylatch.plan.door_times import DoorTimes
    from daylatch.site.tables import Site

SAMPLED_OF = 1000
"""Of so many houses one is compared with ``astral`` (this program's choice, no source)."""
SEED = 1
# The Earth turns by 15 degrees an hour of mean solar time.
_US_PER_DEGREE = 240_000_000.0


class CheckedBlock(NamedTuple):
    """The plans of a block that passed.

    Attributes
    ----------
    sites : tuple of Site
        Whose they are.
    times : DoorTimes or None
        Days x sites; None if there are none.
    refused : tuple
        Sites without a plan, each with the error that says why.
    events, by_astral : int
        How many light events the check on arrays compared, and ``astral``.
    unsure : int
        On how many sides of days the check could not say whether there is an event.
    """

    sites: tuple[Site, ...]
    times: DoorTimes | None
    refused: tuple[tuple[Site, DaylatchError], ...]
    events: int
    by_astral: int
    unsure: int


def sample(sites: Sequence[Site], name: str) -> set[str]:
    """Return the identities of the sites that ``astral`` is asked about.

    Parameters
    ----------
    sites
        Of one part of the work.
    name
        What the part is called: with `SEED` it makes the draw.
    """
    if not sites:
        return set()
    polar = max(sites, key=lambda site: (abs(site.latitude_deg), site.id))
    count = -(-len(sites) // SAMPLED_OF)
    # A draw by names, not of secrets.
    drawn = random.Random(f"{SEED} {name}").sample(sorted(site.id for site in sites), count)
    return {polar.id, *drawn}


def checked_blocks(
    sites: Sequence[Site], start: dt.date, end: dt.date, sampled: set[str]
) -> Iterator[CheckedBlock]:
    """Yield the plans of sites of one `clock_group` in blocks, sorted by latitude.

    Parameters
    ----------
    sites
        Whose plans.
    start, end
        First and last civil date, both included.
    sampled
        From `sample`.

    Raises
    ------
    PlanError
        If the range is reversed or reaches past what can be computed.
    """
    in_order = sorted(sites, key=lambda site: (site.latitude_deg, site.id))
    for begin in range(0, len(in_order), BLOCK_SITES):
        some = in_order[begin : begin + BLOCK_SITES]
        # No column of a dataset tells of the guard.
        block = plan_block(some, start, end, with_guard=False)
        refused: list[tuple[Site, DaylatchError]] = list(block.refused)
        if block.times is None:
            yield CheckedBlock((), None, tuple(refused), 0, 0, 0)
            continue
        yield _check(block.sites, block.times, refused, sampled)


def _check(
    sites: tuple[Site, ...],
    times: DoorTimes,
    refused: list[tuple[Site, DaylatchError]],
    sampled: set[str],
) -> CheckedBlock:
    latitude, longitude = (
        np.array([getattr(site, name) for site in sites])
        for name in ("latitude_deg", "longitude_deg")
    )
    opening, closing = times.settings.open.altitude_deg, times.settings.close.altitude_deg
    opinion = check_events(
        latitude,
        longitude,
        _solar_days(times, longitude),
        EventColumns(times.open_event_utc, opening, times.open_sky),
        EventColumns(times.close_event_utc, closing, times.close_sky),
    )
    bad = {fault.site: SecondOpinionError(fault.sentence()) for fault in opinion.faults}
    by_astral = 0
    for column, site in enumerate(sites):
        if site.id in sampled and column not in bad:
            try:
                by_astral += ask_second_opinion(
                    site.latitude_deg,
                    site.longitude_deg,
                    (times.open_event_utc[:, column], opening[:, column]),
                    (times.close_event_utc[:, column], closing[:, column]),
                ).checked
            except SecondOpinionError as error:
                bad[column] = error
    if bad:
        kept = [column for column in range(len(sites)) if column not in bad]
        refused += [(sites[column], error) for column, error in bad.items()]
        sites = tuple(sites[column] for column in kept)
        times = column_of(times, kept)
    return CheckedBlock(
        sites,
        times if sites else None,
        tuple(refused),
        opinion.checked,
        by_astral,
        opinion.unsure,
    )


def _solar_days(times: DoorTimes, longitude_deg: NDArray[np.float64]) -> Times:
    """Return the days of local mean solar time that flock days are: those of their transits."""
    east = (longitude_deg * _US_PER_DEGREE).astype(np.int64).view("timedelta64[us]")
    days = (times.sun.transit + east).astype("datetime64[D]")
    same = beside_sites(days[:, 0], 1)
    return same if (days == same).all() else days
