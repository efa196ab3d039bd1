"""Time zones, and nothing else knows about them.

Instants are UTC; wall-clock times are what a clock in the kitchen shows. A wall-clock time that
does not exist (a *gap*) means the first instant after the gap; one that exists twice (a *fold*)
means the earlier or the later instant, as the caller asks. The rules are those of ``pytz``,
which end in 2037; ``docs/decisions/`` says why and what follows.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from enum import Enum
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pytz

from daylatch.arrays import DAY, DAY_MIN, MINUTE
from daylatch.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Hashable

    from daylatch.arrays import Flags, Minutes, Times


LAST_YEAR_OF_RULES = 2037
# Two changes that cancel each other never lie closer than this (the tests ask every zone).
_PROBE = dt.timedelta(days=5)


class Fold(Enum):
    """Which of two instants a repeated wall-clock time means."""

    EARLIER = "earlier"
    LATER = "later"


@dataclass(frozen=True)
class WallTime:
    """A time of day on a clock, without a date: minutes since midnight."""

    minutes: int

    def __post_init__(self) -> None:
        if not 0 <= self.minutes < DAY_MIN:
            raise ValueError("a wall-clock time lies between 00:00 and 23:59")

    def __str__(self) -> str:
        return f"{self.minutes // 60:02d}:{self.minutes % 60:02d}"

    @classmethod
    def parse(cls, text: str) -> WallTime:
        """Read ``HH:MM``, 24-hour.

        Raises
        ------
        ValueError
            For anything else.
        """
        match = re.fullmatch(r"(\d{1,2}):(\d{2})", text, re.ASCII)
        if not match or int(match[1]) > 23 or int(match[2]) > 59:
            raise ValueError('write a 24-hour time in quotes, like "06:30"')
        return cls(int(match[1]) * 60 + int(match[2]))


class DoorClock(Enum):
    """What the door's own clock keeps."""

    WALL = "wall"
    STANDARD = "standard"
    UTC = "utc"


@dataclass(frozen=True, eq=False)
class LocalTimes:
    """Wall-clock times with their distance from UTC: never mixed with instants.

    Attributes
    ----------
    wall : datetime64[m]
        What the clock shows.
    offset : timedelta64[m]
        Wall clock minus UTC.
    """

    wall: Times
    offset: Minutes


class UnknownZoneError(ValueError):
    """A name that is not in the time-zone database."""


# There are some 600, and a run over the whole planet would thrash fewer.
@cache
def get_zone(name: str) -> Zone:
    """Return a zone by its IANA name, such as ``Europe/Amsterdam``.

    Raises
    ------
    UnknownZoneError
        If there is no such zone.
    """
    # Only what pytz lists, letter by letter: it would also take other cases.
    if name not in pytz.all_timezones_set:
        raise UnknownZoneError(name)
    try:
        return Zone(name)
    except OSError as error:
        raise UnknownZoneError(name) from error


def zone_names() -> list[str]:
    """Return every name that `get_zone` takes."""
    return list(pytz.all_timezones)


def zone_at(latitude_deg: float, longitude_deg: float) -> str | None:
    """Return the zone in which a place lies, found offline; None where none is known."""
    from tzfpy import get_tz  # noqa: PLC0415 - 0.1 s, and only for sites without a zone

    name = get_tz(longitude_deg, latitude_deg)
    return name if name in pytz.all_timezones_set else None


def country_of(name: str) -> str | None:
    """Return the country (ISO 3166) of a zone, by the database's list; None if it has none."""
    return next(
        (country for country, zones in pytz.country_timezones.items() if name in zones), None
    )


def zone_landmark(name: str) -> tuple[float, float] | None:
    """Return latitude and longitude [deg] of the place a zone is named after, if it is listed.

    From the ``zone.tab`` of the time-zone database.
    """
    try:
        with pytz.open_resource("zone.tab") as file:  # type: ignore[attr-defined]
            rows = file.read().decode().splitlines()
    except OSError:
        return None
    for row in rows:
        fields = row.split("\t")
        if not row.startswith("#") and fields[2] == name:
            # ISO 6709: +DDMM+DDDMM or +DDMMSS+DDDMMSS.
            match = re.fullmatch(r"([+-])(\d{2})(\d{2})\d*([+-])(\d{3})(\d{2})\d*", fields[1])
            assert match is not None
            latitude = int(match[2]) + int(match[3]) / 60
            longitude = int(match[5]) + int(match[6]) / 60
            return (
                -latitude if match[1] == "-" else latitude,
                -longitude if match[4] == "-" else longitude,
            )
    return None


def zone_rules_version() -> str:
    """Return the version of the time-zone database, such as ``2026f``."""
    return str(pytz.OLSON_VERSION)  # type: ignore[attr-defined]


def zone_rules_date() -> dt.date:
    """Return a date on or shortly before which these zone rules were published.

    The database carries no date. It holds the leap-second list that was current when it was
    published, which is renewed every half year, and the year of its version.
    """
    year_begins = dt.date(int(zone_rules_version()[:4]), 1, 1)
    try:
        with pytz.open_resource("leapseconds") as file:  # type: ignore[attr-defined]
            found = re.search(rb"#updated \d+ \((\d{4}-\d\d-\d\d)", file.read())
    except OSError:
        found = None
    listed = dt.date.fromisoformat(found[1].decode()) if found else year_begins
    return max(year_begins, listed)


@dataclass(frozen=True)
class ClockChange:
    """A change of a zone's distance from UTC, at an instant."""

    instant_utc: np.datetime64
    before: np.timedelta64
    after: np.timedelta64

    @property
    def minutes(self) -> int:
        """Minutes by which clocks are put on (negative: back)."""
        return int((self.after - self.before) // MINUTE)


# No zone has had a distance with seconds since (found by looking at all of the database, 2026f).
_LAST_SECONDS = dt.date(1972, 12, 31)
_TWO_DAYS_WIDER = np.array([-2, 2], "timedelta64[D]")


def _midnights(dates: Times) -> Times:
    return dates.astype("datetime64[m]")


class Zone:
    """The wall clock of one time zone."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._zone = pytz.timezone(name)

    def offset_at(self, instants_utc: Times) -> Minutes:
        """Return wall clock minus UTC at each instant [timedelta64[m]]."""
        if instants_utc.size == 0:
            return np.zeros(instants_utc.shape, "timedelta64[m]")
        starts, offsets = self._table(instants_utc)
        row = np.searchsorted(starts, instants_utc.astype("datetime64[s]"), side="right") - 1
        return np.where(np.isnat(instants_utc), np.timedelta64("NaT", "m"), offsets[row])

    def to_local(self, instants_utc: Times) -> LocalTimes:
        """Return what the wall clock shows at instants [datetime64[m]]; NaT stays NaT."""
        offset = self.offset_at(instants_utc)
        wall: Times = instants_utc.astype("datetime64[m]")
        return LocalTimes(wall + offset, offset)

    def date_at(self, instant_utc: np.datetime64) -> dt.date:
        """Return the civil date at an instant."""
        date: dt.date = self.to_local(np.array([instant_utc])).wall[0].item().date()
        return date

    def last_with_seconds(self, first: dt.date, last: dt.date) -> dt.date | None:
        """Return the last date whose noon UTC has a distance of the wall clock with seconds.

        The zone library rounds such a distance to the minute, as that of Monrovia, 44 min 30 s
        behind until 1972.

        Parameters
        ----------
        first, last
            Between which it is looked for.
        """
        day = min(last, _LAST_SECONDS)
        if day < first:
            return None
        # Of the same data, and for early dates only.
        from zoneinfo import ZoneInfo  # noqa: PLC0415

        with pytz.open_resource(self.name) as file:  # type: ignore[attr-defined]
            exact = ZoneInfo.from_file(file)
        while day >= first:
            noon = dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)
            offset = noon.astimezone(exact).utcoffset()
            if offset is not None and offset % dt.timedelta(minutes=1):
                return day
            day -= dt.timedelta(days=1)
        return None

    def to_instants(self, wall: Times, fold: Fold) -> Times:
        """Return the instants of wall-clock date-times [datetime64[m]]; NaT stays NaT.

        Inside a gap, the first instant after it; inside a fold, the one asked for.
        """
        if wall.size == 0:
            return wall.astype("datetime64[m]")
        starts, offsets = self._table(wall)
        ends = np.append(starts[1:], np.datetime64("9999-01-01", "s"))
        seconds = wall.astype("datetime64[s]")
        if fold is Fold.EARLIER:
            row = np.searchsorted(ends[:-1] + offsets[:-1], seconds, side="right")
            found = np.maximum(seconds - offsets[row], starts[row])
        else:
            row = np.maximum(np.searchsorted(starts + offsets, seconds, side="right") - 1, 0)
            found = np.minimum(seconds - offsets[row], ends[row])
        # A gap that ends between two minutes (some before 1940) ends with the next whole minute.
        up = found + np.timedelta64(59, "s")
        return np.where(np.isnat(wall), np.datetime64("NaT", "m"), up.astype("datetime64[m]"))

    def occurrence_nearest(
        self, minutes_of_day: Minutes, dates: Times, target_utc: Times, fold: Fold
    ) -> Times:
        """Return the occurrence of a wall-clock time that lies nearest to an instant.

        Parameters
        ----------
        minutes_of_day
            timedelta64[m] since midnight; NaT gives NaT.
        dates
            datetime64[D]: occurrences on this date, the one before and the one after count.
        target_utc
            datetime64.
        fold
            What a repeated time means.
        """
        days = np.stack([dates - DAY, dates, dates + DAY])
        options = self.to_instants(_midnights(days) + minutes_of_day, fold)
        distance = np.abs(options - target_utc.astype("datetime64[m]"))
        distance[np.isnat(distance)] = np.timedelta64(999, "D")
        choice = np.argmin(distance, axis=0)
        return np.asarray(np.take_along_axis(options, choice[None], axis=0)[0])

    def noons(self, dates: Times) -> tuple[Times, Flags]:
        """Return 12:00 wall-clock time of each date as an instant, and the dates held twice.

        A date that the calendar skipped gives NaT; of a date that it held twice the first noon.
        """
        wall = _midnights(dates) + np.timedelta64(12, "h")
        earlier = self.to_instants(wall, Fold.EARLIER)
        twice = self.to_instants(wall, Fold.LATER) - earlier > np.timedelta64(12, "h")
        skipped = self.to_local(earlier).wall.astype("datetime64[D]") != dates
        return np.where(skipped, np.datetime64("NaT", "m"), earlier), twice

    def changes(self, first_utc: np.datetime64, last_utc: np.datetime64) -> list[ClockChange]:
        """Return the clock changes after the first instant, up to and with the last one."""
        starts, offsets = self._table(np.array([first_utc, last_utc]))
        return [
            ClockChange(start, before, after)
            for start, before, after in zip(starts[1:], offsets[:-1], offsets[1:], strict=True)
            if first_utc < start <= last_utc
        ]

    def standard_offset(self, dates: Times) -> Minutes:
        """Return standard time minus UTC: the smallest offset in each date's calendar year.

        So a clock that is set once and knows no daylight saving keeps winter time, also where
        the law calls summer time the standard (Dublin, Casablanca before 2026).
        """
        years = dates.astype("datetime64[Y]").astype(np.int64) + 1970
        out = np.empty(dates.shape, "timedelta64[m]")
        for year in range(int(years.min(initial=9999)), int(years.max(initial=0)) + 1):
            offsets, _ = self._year(year)
            out[years == year] = min(offsets)
        return out

    def clock_offset(
        self, clock: DoorClock, instants_utc: Times, dates: Times | None = None
    ) -> Minutes:
        """Return what a clock that is right shows at instants, minus UTC [timedelta64[m]].

        Parameters
        ----------
        clock
            What it keeps.
        instants_utc
            datetime64.
        dates
            datetime64[D], of each instant, since standard time is that of a year; those on the
            wall if left out.
        """
        match clock:
            case DoorClock.WALL:
                return self.offset_at(instants_utc)
            case DoorClock.STANDARD:
                if dates is None:
                    dates = self.to_local(instants_utc).wall.astype("datetime64[D]")
                return self.standard_offset(dates)
            case DoorClock.UTC:
                return np.zeros(instants_utc.shape, "timedelta64[m]")

    @property
    def rules_end(self) -> dt.date | None:
        """The last date for which the zone rules hold; None for a zone without clock changes."""
        offsets, _ = self._year(LAST_YEAR_OF_RULES)
        return dt.date(LAST_YEAR_OF_RULES, 12, 31) if len(offsets) > 1 else None

    def require_rules(self, last_date: dt.date) -> None:
        """Refuse a date past the end of the zone rules, where they would be silently wrong.

        Raises
        ------
        PlanError
            For a zone that still changes its clocks when the rules end.
        """
        if last_date > dt.date(LAST_YEAR_OF_RULES, 12, 31) and self.rules_end is not None:
            raise PlanError(
                f"the rules for {self.name} end with {LAST_YEAR_OF_RULES} and the plan would reach "
                f"{last_date}, where its clock changes are not known: end it by {self.rules_end}"
            )

    def behaviour(self, first: np.datetime64, last: np.datetime64) -> Hashable:
        """Return what equals that of any zone whose clocks go alike between two dates, and end."""
        starts, offsets = self._table(np.array([first, last]))
        return starts.tobytes(), offsets.tobytes(), self.rules_end

    def _table(self, times: Times) -> tuple[Times, Minutes]:
        """Return starts [datetime64[s], UTC] and offsets of every stretch that ``times`` touch.

        Two days more on each side, so that wall-clock times are covered like instants.
        """
        # NaT is passed over.
        ends = [np.fmin.reduce(times, axis=None), np.fmax.reduce(times, axis=None)]
        if np.isnat(ends[0]):
            ends = [np.datetime64("2000-01-01")] * 2
        years = (np.array(ends).astype("datetime64[D]") + _TWO_DAYS_WIDER).astype("datetime64[Y]")
        first, last = (years.astype(np.int64) + 1970).tolist()
        return self._stretches(first, last)

    @lru_cache(maxsize=1024)  # noqa: B019 - zones are themselves cached for good
    def _stretches(self, first: int, last: int) -> tuple[Times, Minutes]:
        """Return starts and offsets of every stretch of some UTC years."""
        starts: list[np.datetime64] = []
        offsets: list[np.timedelta64] = []
        for year in range(first, last + 1):
            for start, offset in zip(*reversed(self._year(year)), strict=True):
                if not offsets or offset != offsets[-1]:
                    starts.append(start)
                    offsets.append(offset)
        return np.array(starts, "datetime64[s]"), np.array(offsets, "timedelta64[m]")

    @cache  # noqa: B019 - zones are themselves cached for good
    def _year(self, year: int) -> tuple[list[np.timedelta64], list[np.datetime64]]:
        """Return offsets and their starts within a UTC year, the first starting with it.

        Only the public side of pytz is asked: the offset every few days, and between two that
        differ the instant of the change by halving.
        """
        time = dt.datetime(year, 1, 1)  # noqa: DTZ001 - pytz takes UTC as naive
        end = dt.datetime(year + 1, 1, 1)  # noqa: DTZ001
        offset = self._offset(time)
        starts, offsets = [time], [offset]
        while time < end:
            later = min(time + _PROBE, end)
            if self._offset(later) != offset:
                change = self._bisect(time, later)
                if change < end:
                    starts.append(change)
                    offsets.append(self._offset(change))
                offset = self._offset(later)
            time = later
        return [np.timedelta64(o, "m") for o in offsets], [np.datetime64(s, "s") for s in starts]

    def _bisect(self, low: dt.datetime, high: dt.datetime) -> dt.datetime:
        before = self._offset(low)
        while high - low > dt.timedelta(seconds=1):
            middle = low + dt.timedelta(seconds=(high - low).total_seconds() // 2)
            if self._offset(middle) == before:
                low = middle
            else:
                high = middle
        return high

    def _offset(self, naive_utc: dt.datetime) -> dt.timedelta:
        offset = self._zone.fromutc(naive_utc).utcoffset()
        assert offset is not None
        return offset
