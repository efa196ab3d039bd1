"""A timer's list that is in use: when the door moves by the settings in its JSON file."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from itertools import pairwise
from shlex import quote
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN, weekday_of
from daylatch.clock import DoorClock, WallTime
from daylatch.door.timer.json import FORMAT, GENERATOR
from daylatch.door.works.in_use import InUseError, within
from daylatch.plan.due import DueTimes
from daylatch.site.messages import show_value
from daylatch.site.timer import WEEKDAYS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags
    from daylatch.door.works.in_use import FindDue
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site


ONE_DAY = dt.timedelta(days=1)
_SIDES = ("open", "close")


class _Setting(NamedTuple):
    """A setting: its dates, and by weekday its minutes of each movement; None while it is off."""

    first: dt.date
    last: dt.date
    minutes: tuple[tuple[int, ...] | None, ...]


_MADE_BY = "name the file that `daylatch settings --to json` wrote and that is in the timer"
_MOST_SETTINGS = 5000


def read_list(content: bytes, site: Site) -> ListInUse:
    """Return a list that is in use, from the JSON file of it.

    Raises
    ------
    InUseError
        If it is none, cut short, newer than this program, or another house's.
    """
    try:
        data = json.loads(content)
        generator, house = data["generator"], data["site"]["id"]
        if generator["name"] != GENERATOR:
            raise InUseError(f"is {show_value(generator['name'])} and no timer's list: {_MADE_BY}")
        form = _whole(generator["format"])
        if form > FORMAT:
            raise InUseError(
                f"is of format {show_value(form)}, and this daylatch knows {FORMAT}: update it, or "
                "make the list again"
            )
        if house != site.id:
            raise InUseError(f"is another house's (another id): {_MADE_BY}")
        clock = DoorClock(data["timer"]["clock"])
        if not 1 <= len(data["settings"]) <= _MOST_SETTINGS:
            raise ValueError
        settings = tuple(map(_setting, data["settings"]))
        if any(later.first != before.last + ONE_DAY for before, later in pairwise(settings)):
            raise ValueError
    except InUseError:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InUseError(f"is no whole timer's list as JSON: {_MADE_BY}") from error
    return ListInUse(clock, settings)


def _whole(value: Any) -> int:
    """Return a whole number; anything else is none."""
    if type(value) is not int or value < 1:
        raise ValueError
    return value


def _setting(row: dict[str, Any]) -> _Setting:
    """Read a setting: each weekday of its dates has an opening before its closing, or none has."""
    first, last = (dt.date.fromisoformat(row[key]) for key in ("from", "until"))
    minutes: list[tuple[int, ...] | None] = [None] * len(WEEKDAYS)
    told: list[str] = []
    for program in row["programs"]:
        times = _minutes(program)
        told += program["weekdays"]
        for day in program["weekdays"]:
            minutes[WEEKDAYS.index(day)] = times
    here = {
        (first + number * ONE_DAY).weekday() for number in range(min((last - first).days, 6) + 1)
    }
    if last < first or len(told) != len(set(told)):
        raise ValueError
    if row["programs"] and any(minutes[day] is None for day in here):
        raise ValueError
    return _Setting(first, last, tuple(minutes))


def _minutes(program: dict[str, Any]) -> tuple[int, ...] | None:
    """Read a program's times in minutes since its date's midnight; None if it has none."""
    texts, shifts = ([program[f"{side}{more}"] for side in _SIDES] for more in ("", "_day"))
    if texts == [None] * len(texts):
        return None
    if any(type(shift) is not int or abs(shift) > 1 for shift in shifts):
        raise ValueError
    opens, closes = (
        WallTime.parse(text).minutes + DAY_MIN * shift
        for text, shift in zip(texts, shifts, strict=True)
    )
    if opens >= closes:
        raise ValueError
    return opens, closes


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
        midnight = plan.dates.astype("datetime64[m]")
        opens, closes = (plan.first_shown(self.clock, midnight + side) for side in sides)
        return DueTimes(opens, closes, within(plan.dates, self))

    def agrees(self, plan: Plan, times: DueTimes, find_due: FindDue) -> Flags:
        """Return on which days of a plan that is what the site file now asks for."""
        fresh = find_due(plan)
        same = np.ones(len(plan), np.bool_)
        for found, now in ((times.open_utc, fresh.open_utc), (times.close_utc, fresh.close_utc)):
            same &= (found == now) | (np.isnat(found) & np.isnat(now))
        return same

    def remedy(self, site: Site, dates: str, number: str) -> str:
        """Return the command that makes a new one for some dates, beside the one in use."""
        return f"daylatch settings {quote(site.file_name)} {dates} -o new-{number}.json"
