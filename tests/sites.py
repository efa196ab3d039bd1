"""Sites and plans for tests, made the way a keeper makes them: from the text of a file."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

ID = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"


class Spot(NamedTuple):
    """A place and its zone."""

    latitude: float
    longitude: float
    zone: str


UTRECHT = Spot(52.09, 5.12, "Europe/Amsterdam")
SINGAPORE = Spot(1.29, 103.85, "Asia/Singapore")
TAMPERE = Spot(61.5, 23.76, "Europe/Helsinki")
NY_ALESUND = Spot(78.92, 11.93, "Arctic/Longyearbyen")
LONGYEARBYEN = Spot(78.22, 15.65, "Arctic/Longyearbyen")
KIRITIMATI = Spot(1.87, -157.4, "Pacific/Kiritimati")
APIA = Spot(-13.83, -171.77, "Pacific/Apia")
LORD_HOWE = Spot(-31.55, 159.08, "Australia/Lord_Howe")

HOUSE = f"""\
id = "{ID}"
name = "Test house"
[place]
latitude = 52.1
longitude = 5.2
zone = "Europe/Amsterdam"
"""
"""How the site file of a house begins, and all that it must say."""
FALLBACKS = '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'


def site(spot: Spot, settings: str = "", *, name: str = "Test house", head: str = "") -> Site:
    """Return a site at a spot, with the text of further tables."""
    return read_site(
        f'id = "{ID}"\nname = "{name}"\n{head}\n[place]\nlatitude = {spot.latitude}\n'
        f'longitude = {spot.longitude}\nzone = "{spot.zone}"\n{settings}',
        "test.toml",
    )


def plan(spot: Spot, first: str, last: str | None = None, settings: str = "") -> Plan:
    """Return the plan of a site at a spot."""
    start = dt.date.fromisoformat(first)
    end = dt.date.fromisoformat(last) if last else start
    return make_plan(site(spot, settings), start, end)


def wall(plan: Plan, instants: np.ndarray) -> list[str]:
    """Return instants as wall-clock date-times, ``YYYY-MM-DDTHH:MM`` or ``NaT``."""
    return [str(time) for time in plan.on_wall(instants).wall]


def opens(plan: Plan) -> list[str]:
    """Return the openings on the wall clock."""
    return wall(plan, plan.open_utc)


def closes(plan: Plan) -> list[str]:
    """Return the closings on the wall clock."""
    return wall(plan, plan.close_utc)


def minutes(durations: np.ndarray) -> list[int | None]:
    """Return durations as whole minutes."""
    return [None if np.isnat(d) else int(d // np.timedelta64(1, "m")) for d in durations]
