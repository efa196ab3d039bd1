"""How instants, durations, places and dates are written: one way, everywhere."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY, DAY_MIN, MINUTE
from daylatch.clock import WallTime

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from daylatch.arrays import Minutes, Times
    from daylatch.clock import LocalTimes, Zone


_HALF_MINUTE = np.timedelta64(30, "s")
_SECOND = np.timedelta64(1, "s")
_NO_BREAK = "\N{NO-BREAK SPACE}"
# No text of a keeper's holds it, since it is invisible.
_UNBROKEN = "\N{WORD JOINER}"
WIDTH = 80
"""Columns that text is broken at."""


def local_text(times: LocalTimes) -> list[str]:
    """Return wall-clock times as RFC 3339 with their distance from UTC; empty without a time."""
    # A cast writes them as `numpy.datetime_as_string` would, in less time.
    walls = times.wall.astype("datetime64[s]").astype("U19").tolist()
    offsets = times.offset.astype("timedelta64[m]").astype(np.int64).tolist()
    missing = np.isnat(times.wall)
    ends = {
        minutes: offset_text(np.timedelta64(minutes, "m"))
        for minutes in set(np.array(offsets)[~missing].tolist())
    }
    return [
        "" if is_missing else wall + ends[offset]
        for wall, offset, is_missing in zip(walls, offsets, missing.tolist(), strict=True)
    ]


def utc_text(instants: Times, unit: str = "s") -> list[str]:
    """Return instants as RFC 3339 in UTC, rounded to the unit; empty without one."""
    half = np.timedelta64(500_000 if unit == "s" else 500, "us")
    rounded = (instants.astype("datetime64[us]") + half).astype(f"datetime64[{unit}]")
    texts = rounded.astype("U23").tolist()
    return [
        "" if missing else f"{text}Z"
        for text, missing in zip(texts, np.isnat(instants).tolist(), strict=True)
    ]


def machine_time(minutes: int) -> str:
    """Return a time of day for programs, ``HH:MM``, from minutes since any midnight.

    It stays so, whatever face people are shown.
    """
    return str(WallTime(minutes % DAY_MIN))


class ClockFace:
    """How times of day are written for people: from ``00:00`` to ``23:59``.

    `Site.face` says which face a site's readers are shown. Programs are given `machine_time`, and
    the site file has a notation of its own, which is that of `WallTime`.
    """

    width = 5
    """How many characters a time of day has at most, for columns."""

    def time(self, minutes: int, seconds: int | None = None) -> str:
        """Return a time of day, from minutes since any midnight, to the second if given one."""
        hour, minute = divmod(minutes % DAY_MIN, 60)
        return f"{hour:02d}:{minute:02d}" + ("" if seconds is None else f":{seconds:02d}")

    def hour(self, hour: int) -> str:
        """Return a full hour of an axis, which counts on to 24."""
        return f"{hour:02d}:00"

    def aligned(self, time: str) -> str:
        """Return a time of day, what stands above it or nothing, as wide as a column of them."""
        return time.ljust(self.width)

    def head(self, title: str) -> str:
        """Return what stands above a column of times that may have brackets around them."""
        return title

    def times(self, wall: Times) -> list[str]:
        """Return wall-clock times as times of day; empty without one."""
        of_day = (wall - wall.astype("datetime64[D]")).astype("timedelta64[m]")
        minutes = of_day.astype(np.int64).tolist()
        return [
            "" if missing else self.time(minute)
            for minute, missing in zip(minutes, np.isnat(wall), strict=True)
        ]

    def time_at(self, zone: Zone, instant_utc: np.datetime64) -> str:
        """Return an instant as the time of day that a wall clock shows; empty without one."""
        return self.times(zone.to_local(np.array([instant_utc])).wall)[0]

    def moment(self, wall: np.datetime64, *, to_seconds: bool = False) -> str:
        """Return a wall-clock time with its date, such as ``2027-01-31 08:05``."""
        date = wall.astype("datetime64[D]")
        minutes, seconds = divmod(int((wall - date) // _SECOND), 60)
        return f"{date} {self.time(minutes, seconds if to_seconds else None)}"

    def instant(self, zone: Zone, instant_utc: np.datetime64, *, to_seconds: bool = False) -> str:
        """Return an instant as a wall clock shows it, with its date."""
        wall = instant_utc + zone.offset_at(np.array([instant_utc]))[0]
        return self.moment(wall, to_seconds=to_seconds)


class TwelveHourFace(ClockFace):
    """From ``midnight`` over ``11:59 AM`` and ``noon`` to ``11:59 PM``.

    Both 12 o'clocks have their names, because people take "12 AM" and "12 PM" for either of them
    (National Institute of Standards and Technology, "Times of day FAQs": use noon and midnight).
    Else as the locale data of the Unicode consortium has it for English in the USA (CLDR, ``h:mm
    a``).
    """

    width = 8

    def time(self, minutes: int, seconds: int | None = None) -> str:
        """Return a time of day, from minutes since any midnight, to the second if given one."""
        hour, minute = divmod(minutes % DAY_MIN, 60)
        if not minute and not seconds and not hour % 12:
            return "noon" if hour else "midnight"
        to_second = "" if seconds is None else f":{seconds:02d}"
        return f"{hour % 12 or 12}:{minute:02d}{to_second} {'AM' if hour < 12 else 'PM'}"

    def hour(self, hour: int) -> str:
        """Return a full hour of an axis, which counts on to 24."""
        return self.time(hour * 60).replace(":00", "")

    def aligned(self, time: str) -> str:
        """Return a time of day, what stands above it or nothing, as wide as a column of them."""
        return time.rjust(self.width)

    def head(self, title: str) -> str:
        """Return what stands above a column of times that may have brackets around them."""
        return f" {self.aligned(title)}"


FACE_24_HOURS = ClockFace()
FACE_12_HOURS = TwelveHourFace()


def minutes_text(durations: Minutes) -> list[str]:
    """Return durations as whole minutes; empty without one."""
    return ["" if minutes is None else str(minutes) for minutes in minute_counts(durations)]


def minute_counts(durations: Minutes) -> list[int | None]:
    """Return durations as whole minutes; None without one."""
    minutes: list[int | None] = durations.astype("timedelta64[m]").astype(np.int64).tolist()
    for index in np.flatnonzero(np.isnat(durations)).tolist():
        minutes[index] = None
    return minutes


def offset_text(offset: np.timedelta64) -> str:
    """Return a distance from UTC as ``+01:00``."""
    minutes = int(offset // MINUTE)
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def duration_text(duration: np.timedelta64 | int) -> str:
    """Return a duration as ``9 h 05 min``, or with days from two on; whole numbers are minutes."""
    minutes = int(duration // MINUTE) if isinstance(duration, np.timedelta64) else duration
    hours, rest = divmod(minutes, 60)
    if hours >= 48:
        return f"{hours // 24} days {hours % 24} h {rest:02d} min"
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def duration_of(hours: float) -> str:
    """Return hours as a duration by `duration_text`, to whole minutes."""
    return duration_text(round(hours * 60))


def to_minutes(durations: Any) -> Any:
    """Return durations rounded to whole minutes [timedelta64[m]]; NaT stays NaT."""
    return (durations + _HALF_MINUTE).astype("timedelta64[m]")


def whole_parts(parts: Minutes, unit: np.timedelta64 = MINUTE, total: Any = None) -> Minutes:
    """Return the parts of a total in whole units that add up to it, as it is shown beside them.

    Parts rounded each by itself would not. All are rounded down; the units that are then missing go
    to those with the largest remainders, so that none is off by a whole unit.

    Parameters
    ----------
    parts
        timedelta64, some negative perhaps.
    unit
        Of which whole ones are wanted.
    total
        What they add up to, in whole units and less than one from their sum; their sum, rounded, if
        left out.

    Returns
    -------
    timedelta64
        Of the shape of the parts.
    """
    down = parts // unit
    wanted = (2 * parts.sum() + unit) // (2 * unit) if total is None else total // unit
    first = np.argsort(-(parts - down * unit), kind="stable")[: int(wanted - down.sum())]
    down[first] += 1
    return down * unit


def hours_text(duration: np.timedelta64) -> str:
    """Return a duration as hours and minutes for a table, ``9:05``, rounded to the minute."""
    minutes = int(to_minutes(duration) // MINUTE)
    sign = "-" if minutes < 0 else ""
    return f"{sign}{abs(minutes) // 60}:{abs(minutes) % 60:02d}"


def place_text(latitude_deg: float, longitude_deg: float) -> str:
    """Return coordinates with their halves of the Earth, such as ``52.09 N 5.12 E``."""
    # Four decimals are about ten metres.
    north, east = (f"{round(abs(value), 4):.7g}" for value in (latitude_deg, longitude_deg))
    return f"{north} {'S' if latitude_deg < 0 else 'N'} {east} {'W' if longitude_deg < 0 else 'E'}"


def date_ranges(dates: Times, most: int = 8) -> str:
    """Return dates as runs: ``2027-06-01 to 2027-07-12, 2027-12-24``; long lists are cut short."""
    breaks = np.flatnonzero(np.diff(dates) > DAY)
    firsts = dates[np.append(0, breaks + 1)]
    lasts = dates[np.append(breaks, len(dates) - 1)]
    runs = [
        str(first) if first == last else f"{first} to {last}"
        for first, last in zip(firsts[:most], lasts[:most], strict=True)
    ]
    more = f" and {len(firsts) - most} more" if len(firsts) > most else ""
    return ", ".join(runs) + more


_HALF_OF_THE_DAY = re.compile(r"(?<=\d) (?=[AP]M\b)")
"""What stands within a time of day."""


def unbroken_times(text: str, joint: str = _NO_BREAK) -> str:
    """Return a text in which no line breaks within a time of day.

    Parameters
    ----------
    text
        Any.
    joint
        What then stands between a time and its half of the day.
    """
    return _HALF_OF_THE_DAY.sub(joint, text)


def broken(text: str, first: str = "", further: str = "") -> list[str]:
    """Return a text broken at `WIDTH`, but within no time of day.

    Parameters
    ----------
    text
        One paragraph.
    first, further
        What stands before its first line, and before the others.
    """
    whole = unbroken_times(text, _UNBROKEN)
    lines = textwrap.wrap(whole, WIDTH, initial_indent=first, subsequent_indent=further)
    return [line.replace(_UNBROKEN, " ") for line in lines]


def wrapped(lines: Iterable[str]) -> list[str]:
    """Return lines broken at `WIDTH`, with what follows set under the beginning of its line."""
    out: list[str] = []
    for line in lines:
        indent = line[: len(line) - len(line.lstrip())]
        out += broken(line, further=indent) or [""]
    return out


def labelled(entries: Iterable[tuple[str, str]], room: int) -> list[str]:
    """Return labels with their texts in a column beside them, broken at `WIDTH`."""
    out: list[str] = []
    for label, text in entries:
        out += broken(text, label.ljust(room), " " * room)
    return out


def setting_text(value: object) -> str:
    """Return a setting of the site file as a keeper would say it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return " x ".join(f"{item:g}" for item in value)
    return str(getattr(value, "value", "none" if value is None else value))


def capital(text: str) -> str:
    """Return a text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def days_text(count: int) -> str:
    """Return ``1 day`` or ``3 days``."""
    return f"{count} day{'' if count == 1 else 's'}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return words as a list in a sentence: ``a, b and c``, or with another last word between."""
    return f" {last} ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
