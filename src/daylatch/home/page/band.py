"""The day as a band: night, twilight and light, the door's open time over it, and what is due.

Places along it are in percent of its length, so that it fits any screen.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.sun.crossings import sun_position
from daylatch.sun.lights import HORIZON_ALTITUDE_DEG
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.home.page.present import Present
    from daylatch.plan.due import Due

_MINUTE = np.timedelta64(1, "m")
_AFTER_THE_COUNT = np.timedelta64(20, "m")
# From dark to light: at which altitude of the Sun each begins, what it is, and its shade.
_SKY_DEG = (-18.0, -12.0, -6.0, HORIZON_ALTITUDE_DEG)
_SKY = ("night", "twilight", "twilight", "twilight", "light")
_ROOM_FOR_A_WORD = 16.0
"""How long a stretch of the sky must be to be named on the band, on a small phone [%]."""
_TICK_HOURS = 3
_LABELLED_HOURS = 6
_NEAR_THE_END = 14.0


class Sky(NamedTuple):
    """A stretch of the sky: its shade from 0 (night) to 4 (light), and its name where it fits."""

    begins: float
    length: float
    shade: int
    name: str


class Mark(NamedTuple):
    """Something at an instant of the day.

    Attributes
    ----------
    kind : str
        ``opens``, ``shuts``, ``count`` or ``now``.
    at : float
        Where on the band [%].
    words : str
        What, and at what time of day.
    """

    kind: str
    at: float
    words: str


class Tick(NamedTuple):
    """A full hour of the wall clock; its label is empty where there is no room for it."""

    at: float
    label: str


class Band(NamedTuple):
    """The band of a flock day.

    Attributes
    ----------
    words : str
        What it shows, for those who cannot see it.
    sky : list of Sky
        From its beginning to its end.
    open : tuple of float
        Where the door's open time begins and how long it is [%]; empty on a day it stays shut.
    marks : list of Mark
        In the order of time.
    ticks : list of Tick
        Full hours.
    """

    words: str
    sky: list[Sky]
    open: tuple[float, ...]
    marks: list[Mark]
    ticks: list[Tick]

    @property
    def now(self) -> Mark:
        """Where the present is."""
        return next(mark for mark in self.marks if mark.kind == "now")

    @property
    def now_anchor(self) -> str:
        """On which side of its line the label of the present stands, as SVG has it."""
        at = self.now.at
        if at < _NEAR_THE_END:
            return "start"
        return "end" if at > 100 - _NEAR_THE_END else "middle"


def make_band(due: Due, index: int, present: Present) -> Band:
    """Return the band of a flock day.

    Parameters
    ----------
    due
        When the door moves.
    index
        Which day of it.
    present
        The instant, which lies in that day.
    """
    plan = due.plan
    begins = plan.day_start_utc[index].astype("datetime64[m]")
    ends = plan.day_end_utc[index].astype("datetime64[m]") + _MINUTE
    count = due.head_count_utc[index]
    if not np.isnat(count):
        # Near white nights heads are counted after the day's lowest Sun.
        ends = max(ends, count.astype("datetime64[m]") + _AFTER_THE_COUNT)
    minutes = np.arange(begins, ends, _MINUTE)
    length = len(minutes)

    def at(instant_utc: np.datetime64) -> float:
        return round(float((instant_utc - begins) / _MINUTE) * 100 / length, 2)

    opens, closes = due.told_open_utc[index], due.told_close_utc[index]
    is_open = not np.isnat(opens)
    marks = [Mark("now", at(present.now_utc), f"now {present.time(present.now_utc)}")]
    if is_open:
        marks += [
            Mark("opens", at(opens), f"opens {present.time(opens)}"),
            Mark("shuts", at(closes), f"shuts {present.time(closes)}"),
        ]
    if not np.isnat(count):
        marks.append(Mark("count", at(count), f"count heads {present.time(count)}"))
    marks.sort(key=lambda mark: mark.at)
    sky = list(_sky(plan.site.latitude_deg, plan.site.longitude_deg, minutes))
    return Band(
        words=capital(", ".join([*(mark.words for mark in marks), *_sky_words(sky, length)])) + ".",
        sky=sky,
        open=(at(opens), round(at(closes) - at(opens), 2)) if is_open else (),
        marks=marks,
        ticks=list(_ticks(minutes, present)),
    )


def _sky(latitude_deg: float, longitude_deg: float, minutes: Times) -> Iterator[Sky]:
    altitude = sun_position(latitude_deg, longitude_deg, minutes).altitude_deg
    shades = np.digitize(altitude, _SKY_DEG)
    breaks = np.flatnonzero(np.diff(shades)) + 1
    edges = [0, *breaks.tolist(), len(minutes)]
    for first, last in pairwise(edges):
        begins, length = 100 * first / len(minutes), 100 * (last - first) / len(minutes)
        shade = int(shades[first])
        has_room = length >= _ROOM_FOR_A_WORD
        yield Sky(round(begins, 2), round(length, 2), shade, _SKY[shade] if has_room else "")


def _sky_words(sky: list[Sky], minutes: int) -> Iterator[str]:
    """Yield how long it is light, twilight and night."""
    for name in ("light", "twilight", "night"):
        share = sum(one.length for one in sky if _SKY[one.shade] == name) / 100
        if share:
            yield f"{name} for about {round(share * minutes / 60)} h"


def _ticks(minutes: Times, present: Present) -> Iterator[Tick]:
    wall = present.zone.to_local(minutes).wall
    of_day = ((wall - wall.astype("datetime64[D]")) // _MINUTE).astype(np.int64)
    for place in np.flatnonzero(of_day % (60 * _TICK_HOURS) == 0).tolist():
        at = 100 * place / len(minutes)
        hour = int(of_day[place]) // 60
        inside = _NEAR_THE_END / 3 <= at <= 100 - _NEAR_THE_END / 3
        label = present.face.hour(hour) if hour % _LABELLED_HOURS == 0 and inside else ""
        yield Tick(round(at, 2), label)
