"""A timer's list that is in use: when the door moves by the settings in its JSON file."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN, weekday_of
from daylatch.clock import DoorClock, Fold, WallTime
from daylatch.door.timer.json import FORMAT, GENERATOR
from daylatch.door.works.in_use import InUseError, within
from daylatch.plan.due import DueTimes
from daylatch.site.timer import WEEKDAYS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Times
    from daylatch.door.works.in_use import FindDue
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


_SIDES = ("open", "close")


class _Setting(NamedTuple):
    """A setting: its dates, and by weekday its minutes of each movement; None while it is off."""

    first: dt.date
    last: dt.date
    minutes: tuple[tuple[int, ...] | None, ...]


def read_list(content: bytes, site: Site) -> ListInUse:
    """Return a list that is in use, from the JSON file of it.

    Raises
    ------
    InUseError
        If it is none, cut short, newer than this program, or another house's.
    """
    made_by = "name the file that `daylatch settings --to json` wrote and that is in the timer"
    try:
        data = json.loads(content)
        generator = data["generator"]
        if generator["name"] != GENERATOR:
            raise InUseError(f'is "{generator["name"]}" and no timer\'s list: {made_by}')
        if generator["format"] > FORMAT:
            raise InUseError(
                f"is of format {generator['format']}, and this daylatch knows {FORMAT}: update it, "
                "or make the list again"
            )
        if data["site"]["id"] != site.id:
            raise InUseError(f"is another house's (another id): {made_by}")
        clock = DoorClock(data["timer"]["clock"])
        settings = tuple(map(_setting, data["settings"]))
        if not settings:
            raise InUseError(f"has no settings: {made_by}")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, InUseError):
            raise
        raise InUseError(f"is no whole timer's list as JSON: {made_by}") from error
    return ListInUse(clock, settings)


def _setting(row: dict[str, Any]) -> _Setting:
    minutes: list[tuple[int, ...] | None] = [None] * len(WEEKDAYS)
    for program in row["programs"]:
        times = [_minutes(program, name) for name in _SIDES]
        for day in program["weekdays"]:
            known = [time for time in times if time is not None]
            minutes[WEEKDAYS.index(day)] = tuple(known) if len(known) == len(times) else None
    first, last = (dt.date.fromisoformat(row[key]) for key in ("from", "until"))
    return _Setting(first, last, tuple(minutes))


def _minutes(program: dict[str, Any], name: str) -> int | None:
    time = program[name]
    if time is None:
        return None
    return WallTime.parse(time).minutes + DAY_MIN * int(program[f"{name}_day"])


@dataclass(frozen=True)
class ListInUse:
    """A timer's list that is in use."""

    clock: DoorClock
    settings: tuple[_Setting, ...]

    @property
    def first(self) -> np.datetime64:
        """The first date that it covers [datetime64[D]]."""
        return np.datetime64(self.settings[0].first, "D")

    @property
    def last(self) -> np.datetime64:
        """The last date that it covers [datetime64[D]]."""
        return np.datetime64(self.settings[-1].last, "D")

    def times(self, plan: Plan) -> DueTimes:
        """Return when the door moves by it on the days of a plan."""
        sides: NDArray[Any] = np.full((len(_SIDES), len(plan)), np.timedelta64("NaT", "m"))
        weekdays = weekday_of(plan.dates)
        for setting in self.settings:
            first, last = (np.datetime64(date, "D") for date in (setting.first, setting.last))
            for index in np.flatnonzero((plan.dates >= first) & (plan.dates <= last)):
                minutes = setting.minutes[weekdays[index]]
                if minutes is not None:
                    sides[:, index] = [np.timedelta64(minute, "m") for minute in minutes]
        opens, closes = (self._instants(plan, side) for side in sides)
        return DueTimes(opens, closes, within(plan.dates, self))

    def agrees(self, plan: Plan, times: DueTimes, find_due: FindDue) -> Flags:
        """Return on which days of a plan that is what the site file now asks for."""
        fresh = find_due(plan)
        same = np.ones(len(plan), np.bool_)
        for found, now in ((times.open_utc, fresh.open_utc), (times.close_utc, fresh.close_utc)):
            same &= (found == now) | (np.isnat(found) & np.isnat(now))
        return same

    def remedy(self, site: Site, year: int) -> str:
        """Return the command that makes a new one for a year, beside the one in use."""
        return f"daylatch settings {site.file_name} --year {year} -o new-{year}.json"

    def _instants(self, plan: Plan, minutes: NDArray[Any]) -> Times:
        """Return when the timer's clock first shows minutes of the days."""
        shown: Times = plan.dates.astype("datetime64[m]") + minutes
        match self.clock:
            case DoorClock.WALL:
                return plan.zone.to_instants(shown, Fold.EARLIER)
            case DoorClock.STANDARD:
                standard: Times = shown - plan.zone.standard_offset(plan.dates)
                return standard
            case DoorClock.UTC:
                return shown
