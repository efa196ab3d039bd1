"""Blocks of light events as the program finds them, and faults planted in them one a site.

For the tests and the benchmark of the check on arrays. Half of the sites lie between 60 and 90
degrees, half anywhere; of every second site the fault is planted within three days of one on which
an event begins or ceases to be, if there is such a day and the kind of fault allows.
"""

from typing import NamedTuple

import numpy as np

from daylatch.sun.array_opinion import MARGIN_DEG, EventColumns, check_events
from daylatch.sun.crossings import SkyState, sun_crossings, sun_position, sun_transits

KINDS = (
    "missing",
    "doubled",
    "swapped with the day's other",
    "swapped with the next day's",
    "shifted by 0.5 to 5 deg",
)
DAYS = 370
LIGHTS_DEG = (-0.8333, -6.0, -12.0, -18.0)
LEAST_SHIFT_DEG, MOST_SHIFT_DEG = 0.5, 5.0
# An event that passes an end of its side by less cannot be missed by a check that knows the
# declination to 0.0018 deg: its margin and that error.
GRAZING_DEG = MARGIN_DEG + 0.0018
NEAR_DAYS = 3
DAY = np.timedelta64(1, "D")


class Block(NamedTuple):
    """Light events of sites x days: times and skies are (side, days, sites)."""

    latitude_deg: np.ndarray
    longitude_deg: np.ndarray
    days: np.ndarray
    altitude_deg: np.ndarray
    times: np.ndarray
    skies: np.ndarray

    def opinion(self):
        sides = (
            EventColumns(times, self.altitude_deg, sky)
            for times, sky in zip(self.times, self.skies, strict=True)
        )
        return check_events(self.latitude_deg, self.longitude_deg, self.days, *sides)

    def crossings(self, more_deg=0.0):
        """Return the times of the crossings of another altitude."""
        found = sun_crossings(
            self.latitude_deg, self.longitude_deg, self.days, self.altitude_deg + more_deg
        )
        return np.stack([found.rising, found.setting])


class Planted(NamedTuple):
    """A block with faults, where they are, and by how much a missing event passed the ends."""

    block: Block
    sites: np.ndarray
    side: np.ndarray
    row: np.ndarray
    clearance_deg: np.ndarray


def find_block(latitude_deg, longitude_deg, days, altitude_deg):
    """Return what the program finds; days have an axis of sites."""
    found = sun_crossings(latitude_deg, longitude_deg, days, altitude_deg)
    times = np.stack([found.rising, found.setting])
    skies = np.stack([found.dawn_sky, found.dusk_sky])
    return Block(latitude_deg, longitude_deg, days, altitude_deg, times, skies)


def random_block(generator, sites, first_year=1902, last_year=2099):
    """Return a block of a random stretch of days."""
    far = generator.uniform(60.0, 90.0, sites) * generator.choice([-1.0, 1.0], sites)
    latitude = np.where(generator.random(sites) < 0.5, far, generator.uniform(-90.0, 90.0, sites))
    longitude = generator.uniform(-180.0, 180.0, sites)
    first = np.datetime64(f"{first_year}-01-01")
    last = np.datetime64(f"{last_year}-12-31") - DAYS
    days = first + generator.integers(0, (last - first).astype(int) + 1) + np.arange(DAYS)
    altitude = np.where(
        generator.random((1, sites)) < 0.7,
        generator.choice(LIGHTS_DEG, (1, sites)),
        generator.uniform(-18.0, 6.0, (1, sites)),
    )
    return find_block(latitude, longitude, days[:, None], altitude)


def _choose(generator, allowed, edges):
    """Choose a side and a day of each site where a fault is allowed; whether there is one."""
    lot = generator.random(allowed.shape)
    hard = generator.random(allowed.shape[2]) < 0.5
    lot = np.where(allowed, lot + np.where(edges & hard, 1.0, 0.0), -1.0)
    flat = lot.reshape(-1, allowed.shape[2])
    side, row = np.unravel_index(flat.argmax(axis=0), allowed.shape[:2])
    return side, row, flat.max(axis=0) >= 0.0


def _edges(present):
    """Return where an event begins or ceases to be within a few days."""
    near = np.zeros(present.shape, bool)
    for shift in range(1, NEAR_DAYS + 1):
        differ = present[:, shift:] != present[:, :-shift]
        near[:, shift:] |= differ
        near[:, :-shift] |= differ
    return near


def plant(generator, block, kind):
    """Plant a fault of a kind in each site that has a day for it."""
    times, skies = block.times.copy(), block.skies.copy()
    present = ~np.isnat(times)
    allowed = present.copy()
    shifted = times
    if kind == KINDS[1]:
        allowed[:, 1:] &= present[:, :-1]
        allowed[:, 0] = False
    elif kind == KINDS[2]:
        allowed &= present[::-1]
    elif kind == KINDS[3]:
        allowed[:, :-1] &= present[:, 1:]
        allowed[:, -1] = False
    elif kind == KINDS[4]:
        sites = block.latitude_deg.size
        by_deg = generator.uniform(LEAST_SHIFT_DEG, MOST_SHIFT_DEG, (1, sites))
        shifted = block.crossings(by_deg * generator.choice([-1.0, 1.0], (1, sites)))
        allowed &= ~np.isnat(shifted)
    side, row, found = _choose(generator, allowed, _edges(present))
    site = np.flatnonzero(found)
    side, row = side[site], row[site]
    here = (side, row, site)
    clearance = np.full(site.size, np.inf)
    if kind == KINDS[0]:
        clearance, skies[here] = clearance_and_sky(block, side, row, site)
        times[here] = np.datetime64("NaT")
    elif kind == KINDS[1]:
        times[here] = block.times[side, row - 1, site]
    elif kind == KINDS[2]:
        times[0, row, site], times[1, row, site] = times[1, row, site], times[0, row, site]
    elif kind == KINDS[3]:
        times[here], times[side, row + 1, site] = times[side, row + 1, site], times[here]
    else:
        times[here] = shifted[here]
    planted = block._replace(times=times, skies=skies)
    return Planted(planted, site, side, row, clearance)


def clearance_and_sky(block, side, row, site):
    """Return by how much events passed the ends of their sides, and the sky without them."""
    place = block.latitude_deg[site], block.longitude_deg[site]
    days = block.days[row, 0]
    _, transit = sun_transits(place[1], days)
    lower, _ = sun_transits(place[1], days + side * DAY)
    wanted = block.altitude_deg[0, site]
    top = sun_position(*place, transit).altitude_deg - wanted
    bottom = sun_position(*place, lower).altitude_deg - wanted
    sky = np.where(top >= 0.0, SkyState.ALWAYS_ABOVE, SkyState.ALWAYS_BELOW)
    return np.minimum(top, -bottom), sky
