"""Stretches of time as shapes of a chart: dates across, the time of day up.

A chart has a column for each date of a range. A column holds the stretches of its date: whole
minutes since midnight as the wall clock shows them, in order and apart from each other. It may
begin at another hour than midnight and holds a whole day from there on. At a clock
change a shape steps from one column to the next. What holds before and after an hour that the clock
leaves out holds in it too, so that there is no hole; an hour that it shows twice is there once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.birds.nights.nights import light_of
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.sun.crossings import sun_crossings
from daylatch.sun.lights import DEPRESSION_DEG, HORIZON_ALTITUDE_DEG

if TYPE_CHECKING:
    from collections.abc import Iterable

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.clock import Zone
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan


Stretch = tuple[int, int]
Columns = list[list[Stretch]]
Point = tuple[int, int]
Loop = list[Point]

_MOST_SHIFT_H = 11

LIGHTS_DEG = (
    -DEPRESSION_DEG["astronomical"],
    -DEPRESSION_DEG["nautical"],
    -DEPRESSION_DEG["civil"],
    HORIZON_ALTITUDE_DEG,
)
"""Altitudes of the Sun's centre that bound the twilights, from night to day [deg]."""


def day_count(plan: Plan) -> int:
    """Return how many dates a plan's chart has, with those that the calendar skipped."""
    return int((plan.dates[-1] - plan.dates[0]).astype(int)) + 1


def open_columns(due: Due, among: Flags | None = None, begin_min: int = 0) -> Columns:
    """Return when the door is open; on some of the plan's flock days only, if they are given."""
    plan, rows = due.plan, due.is_open if among is None else due.is_open & among
    opens, closes = due.told_open_utc[rows], due.told_close_utc[rows]
    return on_dates(plan.zone, plan.dates[0], day_count(plan), opens, closes, begin_min)


def whole_days_begin(*dues: Due) -> int:
    """Return where columns begin that part no day's open time [min since midnight].

    A door that closes after midnight would else leave slivers at the foot of the next dates. It is
    the full hour nearest to midnight over which no open time reaches; midnight if there is none.
    """
    first_min, last_min = DAY_MIN, 0
    for due in dues:
        dates = due.plan.dates[due.is_open].astype("datetime64[m]")
        for times in (due.told_open_utc, due.told_close_utc):
            wall = due.plan.on_wall(times[due.is_open]).wall
            of_day = ((wall - dates) // MINUTE).tolist()
            first_min, last_min = min([first_min, *of_day]), max([last_min, *of_day])
    hours = sorted(range(-_MOST_SHIFT_H, _MOST_SHIFT_H + 1), key=abs)
    whole = (60 * hour for hour in hours if last_min - DAY_MIN <= 60 * hour <= first_min)
    return next(whole, 0)


def sky_columns(plan: Plan, begin_min: int = 0) -> list[Columns]:
    """Return all the time that there is, then when the Sun is above each of `LIGHTS_DEG`."""
    site, first, days = plan.site, plan.dates[0], day_count(plan)
    around = find_flock_days(site.longitude_deg, plan.zone, first, plan.dates[-1], spare=1)
    lower = around.lower_utc
    thresholds = np.array(LIGHTS_DEG)[:, None]
    sun = sun_crossings(site.latitude_deg, site.longitude_deg, around.solar_days, thresholds)
    out = [on_dates(plan.zone, first, days, lower[:1], lower[-1:], begin_min)]
    for row in range(len(LIGHTS_DEG)):
        light = light_of(
            lower[:-1],
            around.transit_utc,
            lower[1:],
            (sun.rising[row], sun.setting[row], sun.dawn_sky[row], sun.dusk_sky[row]),
        )
        out.append(on_dates(plan.zone, first, days, light.start, light.end, begin_min))
    return out


def on_dates(
    zone: Zone,
    first: np.datetime64,
    days: int,
    start_utc: Times,
    end_utc: Times,
    begin_min: int = 0,
) -> Columns:
    """Return stretches of time on the dates on which a wall clock shows them.

    Parameters
    ----------
    zone
        The wall clock.
    first
        datetime64[D], the first column's date.
    days
        How many columns.
    start_utc, end_utc
        datetime64, rounded to the nearest minute; what lies outside the columns is cut off.
    begin_min
        Where each column begins, in minutes since its midnight; before it, if negative.
    """
    half = np.timedelta64(30, "s")
    starts, ends = ((t + half).astype("datetime64[m]") for t in (start_utc, end_utc))
    columns: Columns = [[] for _ in range(days)]
    if not starts.size:
        return columns
    gaps: Minutes = np.zeros(starts.shape, "timedelta64[m]")
    for change in zone.changes(starts.min(), ends.max()):
        at = change.instant_utc.astype("datetime64[m]")
        across = (starts < at) & (at < ends)
        later = ends[across]
        skipped = np.timedelta64(change.minutes if 0 < change.minutes < DAY_MIN else 0, "m")
        gaps = np.append(np.where(across, skipped, gaps), gaps[across])
        ends = np.append(np.where(across, at, ends), later)
        starts = np.append(starts, np.full(later.shape, at))
    begin = first.astype("datetime64[m]") + np.timedelta64(begin_min, "m")
    lows = (starts + zone.offset_at(starts) - begin) // MINUTE
    highs = lows + (ends + gaps - starts) // MINUTE
    for low, high in zip(lows.tolist(), highs.tolist(), strict=True):
        # A stretch past the end of a column goes on at the foot of the next one.
        for day in range(max(low // DAY_MIN, 0), min((high - 1) // DAY_MIN + 1, days)):
            foot = day * DAY_MIN
            within = max(low - foot, 0), min(high - foot, DAY_MIN)
            columns[day].append((within[0] + begin_min, within[1] + begin_min))
    return [joined(column) for column in columns]


def joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Return stretches in order, those that touch or overlap made one, empty ones left out."""
    out: list[Stretch] = []
    for low, high in sorted(stretches):
        if low >= high:
            continue
        if out and low <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return out


def without(stretches: list[Stretch], taken: list[Stretch]) -> list[Stretch]:
    """Return the parts of a column's stretches that are in none of another's."""
    out = []
    for low, high in stretches:
        for taken_low, taken_high in taken:
            if taken_high <= low or taken_low >= high:
                continue
            if taken_low > low:
                out.append((low, taken_low))
            low = max(low, taken_high)  # noqa: PLW2901 - what is left of it
        if low < high:
            out.append((low, high))
    return out


def minus(columns: Columns, others: Columns) -> Columns:
    """Return the parts of each column that are not in another's."""
    return [without(column, other) for column, other in zip(columns, others, strict=True)]


def longest_stretch(columns: Columns) -> int:
    """Return how long the longest stretch of any column is [min]; 0 if there is none."""
    return max((high - low for column in columns for low, high in column), default=0)


def outline(columns: Columns) -> list[Loop]:
    """Return the exact outline of a shape of columns, each one wide, as closed loops.

    A loop's first point is not repeated at its end. The shape lies to the left of its way round,
    so that holes run the other way than what holds them.
    """
    following: dict[Point, list[Point]] = {}

    def edge(begin: Point, end: Point) -> None:
        following.setdefault(begin, []).append(end)

    before: list[Stretch] = []
    for x, column in enumerate([*columns, []]):
        if column != before:
            for low, high in without(before, column):
                edge((x, low), (x, high))
            for low, high in without(column, before):
                edge((x, high), (x, low))
        for low, high in column:
            edge((x, low), (x + 1, low))
            edge((x + 1, high), (x, high))
        before = column
    loops = []
    while following:
        begin = next(iter(following))
        loop, point = [begin], _take(following, begin)
        while point != begin:
            loop.append(point)
            point = _take(following, point)
        loops.append(_corners(loop))
    return loops


def _take(following: dict[Point, list[Point]], point: Point) -> Point:
    """Return where an outline goes on from a point, which is then used up."""
    ends = following[point]
    end = ends.pop()
    if not ends:
        del following[point]
    return end


def _corners(loop: Loop) -> Loop:
    """Return a loop without the points at which it goes straight on."""
    return [
        point
        for before, point, after in zip(
            [loop[-1], *loop[:-1]], loop, [*loop[1:], loop[0]], strict=True
        )
        if not (before[0] == point[0] == after[0] or before[1] == point[1] == after[1])
    ]
