"""Entries of flocks for the tests of what is learned from them, by a rule that is known."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from daylatch.clock import get_zone
from daylatch.diary.entries import Entry
from daylatch.diary.roosting.half import learn
from daylatch.diary.roosting.instants import light_instants
from daylatch.diary.roosting.looks import Half, find_looks
from sites import UTRECHT, site

if TYPE_CHECKING:
    from collections.abc import Iterable

    from daylatch.diary.roosting.half import Learned, NotTold
    from daylatch.site.tables import Site

TODAY = dt.date(2026, 11, 27)
NO_OPENINGS = np.array([], "datetime64[m]")
HERE = site(UTRECHT)


def dates(first: str, days: int) -> np.ndarray:
    return np.datetime64(first) + np.arange(days)


def light_on(first: str, days: int, light_deg: float = 4.0, here: Site = HERE) -> np.ndarray:
    """Return when the Sun is so deep on evenings [datetime64[s]]."""
    found = light_instants(Half.EVENING, here, dates(first, days), light_deg)
    return found.astype("datetime64[s]")


def entries(what: str, instants: Iterable[np.datetime64], **more: object) -> list[Entry]:
    return [Entry(np.datetime64(at, "s"), what, **more) for at in instants]


def spread(days: int, minutes: float = 6.0, seed: int = 0) -> np.ndarray:
    """Return minutes about nothing, as evenings differ [timedelta64[s]]."""
    drawn = np.random.default_rng(seed).normal(0, minutes * 60, days)
    return drawn.round().astype("timedelta64[s]")


def of_evenings(
    said: list[Entry], here: Site = HERE, share: float | None = None
) -> Learned | NotTold:
    looks = find_looks(Half.EVENING, said, here, get_zone(here.zone), NO_OPENINGS)
    return learn(looks, here, get_zone(here.zone), share, TODAY)


def moments(days: int, first: str = "2026-08-25", **more: object) -> Learned | NotTold:
    """Return what is learned of evenings about 4° that differ by chance."""
    return of_evenings(entries("last_in", light_on(first, days) + spread(days)), **more)
