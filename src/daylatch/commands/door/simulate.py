"""``daylatch simulate``: what a door would do, with a clock that is not always right."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.clock import get_zone
from daylatch.commands.door.table import by_site_file
from daylatch.commands.instants import parse_instant
from daylatch.commands.now import warn
from daylatch.commands.output import hand_over, load
from daylatch.console import printable
from daylatch.door.reader.compiled import read_with_c
from daylatch.door.simulate.simulated_door import ClockSetting, ClockTroubles, Outage, simulate
from daylatch.door.table.encode import encode
from daylatch.errors import UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.choices.works import WORKS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from daylatch.clock import Zone
    from daylatch.commands.asked import Asked
    from daylatch.commands.door.table import TableOptions
    from daylatch.files.occasion import Occasion

_MOST_PPM = 100_000
_MOST_WRONG_MIN = 10_000_000
_MOST_DAYS = 1830


class Troubles(NamedTuple):
    """What was typed of the clock's troubles."""

    drift_ppm: float
    settings: Sequence[str]
    outages: Sequence[str]
    misses_changes: bool
    loses_time: bool

    def read(self) -> ClockTroubles:
        """Return them.

        Raises
        ------
        UsageError
            If one cannot be read.
        """
        if not (math.isfinite(self.drift_ppm) and abs(self.drift_ppm) <= _MOST_PPM):
            raise UsageError(
                f"--drift is {self.drift_ppm:g}: write parts per million, from -{_MOST_PPM} to "
                f"{_MOST_PPM}; a plain crystal has about 20"
            )
        settings = sorted(map(_setting, self.settings), key=lambda s: s.instant_utc)
        outages = tuple(map(_outage, self.outages))
        if self.loses_time and not outages:
            raise UsageError("--loses-time is for cuts of power: add --power-cut FROM/UNTIL")
        return ClockTroubles(
            self.drift_ppm, tuple(settings), self.misses_changes, outages, self.loses_time
        )


def run(asked: Asked, troubles: Troubles, *, table: TableOptions) -> None:
    """Simulate a door and print where it and the plan differ, or write that to a file."""
    form = asked.form("simulate")
    clock = troubles.read()
    wish = table.wish()
    site, first, last = load(asked)
    wish = by_site_file(wish, site)
    works = site.settings.door.works
    if works != "controller":
        warn(
            f"the site file says that the door is worked by {WORKS[works].words}; what is "
            "simulated here is a controller with a table"
        )
    if site.settings.door.in_use is not None:
        warn(
            "this simulates the table that the site file asks for now, and not "
            f"{printable(site.settings.door.in_use)}, which is in use"
        )
    _refuse_outside(clock, get_zone(site.zone), first, last)
    days = (last - first).days + 1
    if days > _MOST_DAYS:
        raise UsageError(
            f"{first} to {last} are {days} days, too many to go through minute by minute: ask for "
            f"{_MOST_DAYS} (five years) at most"
        )

    def content(write: Callable[..., Any], occasion: Callable[[], Occasion]) -> bytes:
        when = occasion()
        plan = make_plan(site, first - dt.timedelta(days=1), last)
        table_bytes = encode(
            plan,
            within_min=wish.within_min,
            clock_margin_min=wish.clock_margin_min,
            on_progress=when.on_progress,
        )
        reader = read_with_c(table_bytes)
        made: bytes = write(simulate(plan, reader.doors, clock), when)
        return made

    hand_over(asked, form, site, content, about=f"{first} to {last}")


def _refuse_outside(clock: ClockTroubles, zone: Zone, first: dt.date, last: dt.date) -> None:
    """Refuse what happens before or after the dates, and so would be left out unsaid."""
    begins = [(setting.instant_utc, setting.instant_utc, "--set") for setting in clock.settings]
    cuts = [(outage.begin_utc, outage.end_utc, "--power-cut") for outage in clock.outages]
    for begin, end, option in (*begins, *cuts):
        if zone.date_at(end) < first or zone.date_at(begin) > last:
            raise UsageError(
                f"{option} at {begin}Z lies outside of {first} to {last}: ask for other dates with "
                "--from and --until, or leave it out"
            )


def _setting(text: str) -> ClockSetting:
    """Read when a clock is set, and by how many minutes wrong."""
    instant, comma, minutes = text.partition(",")
    if not comma:
        return ClockSetting(parse_instant(instant, "--set").astype("datetime64[m]"))
    try:
        wrong = int(minutes)
        if abs(wrong) > _MOST_WRONG_MIN:
            raise ValueError
    except ValueError:
        raise UsageError(
            f'--set is "{text}": after the comma, write how many minutes fast the clock is then, '
            "like 60, or -60 for slow"
        ) from None
    return ClockSetting(parse_instant(instant, "--set").astype("datetime64[m]"), wrong)


def _outage(text: str) -> Outage:
    begin, slash, end = text.partition("/")
    if not slash:
        raise UsageError(
            f'--power-cut is "{text}": write when it begins and ends, like '
            "2027-01-05T22:00Z/2027-01-06T09:30Z"
        )
    ends = [parse_instant(word, "--power-cut").astype("datetime64[m]") for word in (begin, end)]
    if np.diff(ends) <= np.timedelta64(0, "m"):
        raise UsageError(f'--power-cut is "{text}": it ends before it begins; swap them')
    return Outage(*ends)
